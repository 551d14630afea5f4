"""Elements as XML in UTF-8.

Imports ``lxml``; ``daq.report.dcc.making`` imports this where it is needed.
"""

from lxml import etree

from daq.report.dcc.tree import NAMESPACES, Element


def xml_of(root: Element) -> bytes:
    """A document, indented, so that a message can name a line of it."""
    made = etree.Element(_qualified(root.name), dict(root.attributes), nsmap=NAMESPACES)
    _fill(made, root)
    return etree.tostring(made, xml_declaration=True, encoding="UTF-8", pretty_print=True)


def _fill(made: etree._Element, given: Element) -> None:
    if given.text:
        made.text = given.text
    for each in given.children:
        _fill(etree.SubElement(made, _qualified(each.name), dict(each.attributes)), each)


def _qualified(name: str) -> str:
    prefix, _, local = name.partition(":")
    return f"{{{NAMESPACES[prefix]}}}{local}"
