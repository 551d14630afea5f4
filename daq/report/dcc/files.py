"""The file of a DCC: the schema's folder is read, and a document checked before it is written."""

from pathlib import Path

from daq.report.certificate.files import stem_of
from daq.report.certificate.model import CertificateModel
from daq.report.dcc.errors import DccError, SchemaError
from daq.report.dcc.making import check_dcc, dcc_of
from daq.report.dcc.stated import NOTHING_STATED, Stated, stated_from_bytes

ENDING = ".dcc.xml"
"""What the name of the file ends in."""

MOST_FILES = 100
LARGEST_BYTES = 5_000_000
"""A folder with more, or a schema that is larger, is not what it is taken for."""


def dcc_files(
    model: CertificateModel, folder: Path, lab: Path | None = None, schema: Path | None = None
) -> dict[Path, bytes]:
    """The DCC of a certificate, whole, by the path it is to be written to; nothing is written.

    Args:
        model: the certificate.
        folder: where the file is to stand.
        lab: the laboratory's file, whose table ``[dcc]`` says what the model does not have.
        schema: a folder with the published schema, to check the document against; None for none.

    Raises:
        DccError: it cannot be made, or does not keep to the schema.
    """
    made = dcc_of(model, stated_in(lab))
    if schema is not None:
        check_dcc(made, schema_files(schema), str(schema))
    return {folder / f"{stem_of(model)}{ENDING}": made}


def stated_in(lab: Path | None) -> Stated:
    """The table ``[dcc]`` of the laboratory's file; nothing stated without a file.

    Raises:
        DccError: it cannot be read, or has mistakes.
    """
    if lab is None:
        return NOTHING_STATED
    try:
        raw = lab.read_bytes()
    except OSError as error:
        raise DccError(f"{lab} cannot be read: {error.strerror}.") from error
    return stated_from_bytes(raw, lab.name)


def schema_files(folder: Path) -> dict[str, bytes]:
    """The schema files that lie in a folder, by name; folders in it are not looked into.

    Raises:
        SchemaError: it is no folder, cannot be read, or holds too much.
    """
    if not folder.is_dir():
        raise SchemaError(f"{folder} is no folder. Give the one that holds the published schema.")
    try:
        paths = [each for each in sorted(folder.iterdir()) if each.suffix.lower() == ".xsd"]
        large = [each.name for each in paths if each.stat().st_size > LARGEST_BYTES]
        if large or len(paths) > MOST_FILES:
            raise SchemaError(
                f"{folder} holds more than {MOST_FILES} schema files, or one of more than "
                f"{LARGEST_BYTES} bytes. Give a folder that holds the published schema alone."
            )
        return {each.name: each.read_bytes() for each in paths}
    except OSError as error:
        raise SchemaError(f"{folder} cannot be read: {error}.") from error
