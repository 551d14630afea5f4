"""The elements of a document as plain values, before they become XML.

Names carry a prefix, ``dcc:`` or ``si:``. The order of the children is the order in the document.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from daq.report.dcc.errors import NotStatedError

NAMESPACES = {"dcc": "https://ptb.de/dcc", "si": "https://ptb.de/si"}
"""What the prefixes stand for."""

BLANKS = " \t\r\n"
"""What XML calls white space."""

_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Characters that XML 1.0 does not allow, not even as a reference (production 2, ``Char``)."""


@dataclass(frozen=True, slots=True)
class Element:
    """One element: either children or text, never both."""

    name: str
    children: tuple["Element", ...] = ()
    text: str = ""
    attributes: Mapping[str, str] = field(default_factory=dict)


Part = Element | Iterable[Element] | None


def element(name: str, *parts: Part, **attributes: str) -> Element:
    """An element of its parts; None and empty attributes are left out."""
    children: list[Element] = []
    for part in parts:
        if isinstance(part, Element):
            children.append(part)
        elif part is not None:
            children += part
    return Element(name, tuple(children), attributes=_stated(attributes))


def leaf(name: str, words: str, **attributes: str) -> Element:
    """An element of text; characters that XML does not allow are written out."""
    return Element(name, text=allowed(words), attributes=_stated(attributes))


def line(name: str, words: str, **attributes: str) -> Element | None:
    """An element whose text may not be empty nor begin or end with blanks; None if it would."""
    bare = words.strip(BLANKS)
    return leaf(name, bare, **attributes) if bare else None


def must(name: str, words: str, why: str, **attributes: str) -> Element:
    """As ``line``, for what must be there.

    Raises:
        NotStatedError: there are no words; with ``why``.
    """
    found = line(name, words, **attributes)
    if found is None:
        raise NotStatedError(why)
    return found


def ours(name: str, *words: str) -> Element | None:
    """Text of restpoint's own, in English, a paragraph for each of ``words`` that is not empty."""
    return _rich(name, words, "en")


def theirs(name: str, *words: str) -> Element | None:
    """Text that somebody typed, in whatever language that is."""
    return _rich(name, words, "")


def name_of(words: str, name: str = "dcc:name") -> Element:
    """A name of restpoint's own."""
    return element(name, leaf("dcc:content", words, lang="en"))


def typed_name(words: str, name: str = "dcc:name") -> Element:
    """A name that somebody typed."""
    return element(name, leaf("dcc:content", words))


def allowed(words: str) -> str:
    """``words`` with every character that XML does not allow written out, such as ``\\x07``."""
    return _NOT_XML.sub(_written_out, words)


def _written_out(found: re.Match[str]) -> str:
    code = ord(found[0])
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}"


def paragraphs(words: Iterable[str], lang: str = "") -> list[Element]:
    """The content of a text, one for each of ``words`` that is not empty."""
    return [leaf("dcc:content", each, lang=lang) for each in words if each.strip(BLANKS)]


def _rich(name: str, words: Iterable[str], lang: str) -> Element | None:
    contents = paragraphs(words, lang)
    return element(name, contents) if contents else None


def _stated(attributes: Mapping[str, str]) -> dict[str, str]:
    return {name: allowed(words) for name, words in attributes.items() if words}
