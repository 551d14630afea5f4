"""Which of the user's files are the published schema: by what they say of themselves.

Files are known by their target namespace and version, not by their names. What a schema imports
from elsewhere is taken from the same files, wherever it says that it lies.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from daq.report.dcc.errors import SchemaError
from daq.report.dcc.tree import NAMESPACES


@dataclass(frozen=True, slots=True)
class SchemaFile:
    """One schema: its file's name, what it describes, which version, what it takes from others.

    ``imports`` are pairs of a namespace and the place where the schema says that it lies.
    """

    name: str
    raw: bytes
    namespace: str
    version: str
    imports: tuple[tuple[str, str], ...]


def chosen(known: Sequence[SchemaFile], version: str, where: str) -> SchemaFile:
    """The DCC schema of a version.

    Raises:
        SchemaError: there is none, or several that differ; ``where`` names the folder.
    """
    ours = [each for each in known if each.namespace == NAMESPACES["dcc"]]
    if not ours:
        raise SchemaError(
            f"{where} holds no DCC schema: no .xsd file there is of the namespace "
            f"{NAMESPACES['dcc']}. Put the published files of version {version} into it."
        )
    fitting = [each for each in ours if each.version == version]
    if not fitting:
        there = ", ".join(f"{each.version or 'none stated'} ({each.name})" for each in ours)
        raise SchemaError(
            f"{where} holds the DCC schema of another version: {there}. The document is of "
            f"version {version}; put the published files of that version into it."
        )
    return _only(fitting, where, f"the DCC schema of version {version}")


def places_of(
    first: SchemaFile, known: Sequence[SchemaFile], where: str
) -> Iterator[tuple[str, bytes]]:
    """The content for every place that a schema names, and for what that names in its turn.

    Raises:
        SchemaError: something that is named is not among the files; ``where`` names the folder.
    """
    waiting, seen = [first], {first.name}
    while waiting:
        asking = waiting.pop()
        for namespace, place in asking.imports:
            found = _imported(asking, namespace, place, known, where)
            yield place, found.raw
            if found.name not in seen:
                seen.add(found.name)
                waiting.append(found)


def _imported(
    asking: SchemaFile, namespace: str, place: str, known: Sequence[SchemaFile], where: str
) -> SchemaFile:
    named = place.replace("\\", "/").rpartition("/")[2]
    fitting = [each for each in known if each.namespace == namespace]
    if not fitting:
        raise SchemaError(
            f"{where} is not whole: {asking.name} needs the schema of {namespace} ({named}), and "
            "no file there is of that namespace. Put it beside the others."
        )
    # Several versions: the one whose version, or else whose name, stands in the place.
    by_version = [each for each in fitting if each.version and f"v{each.version}/" in place]
    by_name = [each for each in fitting if each.name == named]
    what = f"the schema of {namespace} that {asking.name} needs"
    return _only(by_version or by_name or fitting, where, what)


def _only(fitting: Sequence[SchemaFile], where: str, what: str) -> SchemaFile:
    if len({each.raw for each in fitting}) > 1:
        names = ", ".join(each.name for each in fitting)
        raise SchemaError(
            f"{where} holds {what} in several files that differ: {names}. Leave one of them there."
        )
    return fitting[0]
