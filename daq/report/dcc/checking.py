"""Checking a document against the published schema, from files that the user has.

Imports ``lxml``; ``daq.report.dcc.making`` imports this where it is needed. Nothing is fetched.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any, cast

from lxml import etree

from daq.report.dcc.errors import InvalidDccError, SchemaError
from daq.report.dcc.schema import SchemaFile, chosen, places_of
from daq.report.dcc.tree import NAMESPACES

_XSD = "{http://www.w3.org/2001/XMLSchema}"


def check(xml: bytes, files: Mapping[str, bytes], where: str) -> None:
    """Hold a document against the schema of its own version; ``where`` names the folder.

    Raises:
        InvalidDccError: the document does not keep to the schema; with every place.
        SchemaError: there is no schema of its version, or it cannot be used.
    """
    try:
        document = etree.fromstring(xml, _parser())
    except etree.XMLSyntaxError as error:
        raise InvalidDccError("XML 1.0", (str(error),)) from error
    version = document.get("schemaVersion") or "none"
    known = tuple(_known(files, where))
    found = chosen(known, version, where)
    schema = _compiled(found, known, where)
    if not schema.validate(document):
        told = cast(Iterable[Any], schema.error_log)
        problems = tuple(f"line {each.line}, {_words(each.message)}" for each in told)
        raise InvalidDccError(f"{found.name} (version {version})", problems)


class _Files(etree.Resolver):
    """Answers for every place that a schema names, out of the files."""

    def __init__(self, by_place: Mapping[str, bytes]) -> None:
        super().__init__()
        self.by_place = by_place

    # The stubs have neither the context nor that the base may be left out.
    def resolve(  # type: ignore[override]
        self,
        system_url: str,
        public_id: str,  # noqa: ARG002
        context: object,
    ) -> object:
        # Without an answer lxml would look for the place itself.
        raw = self.by_place.get(system_url, b"<none/>")
        return self.resolve_string(raw, context)  # type: ignore[call-arg]


def _compiled(found: SchemaFile, known: Sequence[SchemaFile], where: str) -> etree.XMLSchema:
    parser = _parser()
    parser.resolvers.add(_Files(dict(places_of(found, known, where))))
    try:
        return etree.XMLSchema(etree.fromstring(found.raw, parser))
    except (etree.XMLSchemaParseError, etree.XMLSyntaxError) as error:
        raise SchemaError(
            f"{where}: the schema in {found.name} cannot be used: {error}. Put the published "
            "files into it again."
        ) from error


def _known(files: Mapping[str, bytes], where: str) -> Iterator[SchemaFile]:
    for name, raw in sorted(files.items()):
        try:
            root = etree.fromstring(raw, _parser())
        except etree.XMLSyntaxError as error:
            raise SchemaError(f"{where}: {name} is no XML file: {error}.") from error
        if root.tag == f"{_XSD}schema":
            target = root.get("targetNamespace") or ""
            imports = tuple(_imports(root, target))
            yield SchemaFile(name, raw, target, root.get("version") or "", imports)


def _imports(root: etree._Element, target: str) -> Iterator[tuple[str, str]]:
    for tag in ("import", "include", "redefine"):
        for each in root.iter(f"{_XSD}{tag}"):
            if place := each.get("schemaLocation"):
                yield (each.get("namespace") or "") if tag == "import" else target, place


def _words(message: str) -> str:
    """What the validator says, with short names: ``dcc:content`` and not its namespace."""
    for prefix, namespace in NAMESPACES.items():
        message = message.replace(f"{{{namespace}}}", f"{prefix}:")
    return message


def _parser() -> etree.XMLParser:
    """One that fetches nothing and expands nothing."""
    return etree.XMLParser(resolve_entities=False, no_network=True, load_dtd=False)
