"""Who the laboratory is, from a small TOML file: name, address, contact."""

from typing import Annotated, Any

from pydantic import Field

from daq.report.certificate.errors import LaboratoryError
from daq.report.certificate.lines import Laboratory
from drivers.form import Form
from drivers.toml_form import check_toml

LARGEST_BYTES = 20_000
"""No file with a name and an address is larger."""

_Line = Annotated[str, Field(min_length=1, max_length=300)]


class LaboratoryFile(Form):
    """``lab.toml``: every key may be left out, and is then not stated.

    ``dcc`` is for the export of that name (`daq.report.dcc`), which reads and checks it itself.
    """

    name: _Line = ""
    address: tuple[_Line, ...] = ()
    contact: _Line = ""
    dcc: dict[str, Any] = Field(default_factory=dict)


def laboratory_from_bytes(raw: bytes, name: str) -> Laboratory:
    """The laboratory in a file's bytes.

    Args:
        raw: the file's content; UTF-8.
        name: the file's name, for the messages.

    Raises:
        LaboratoryError: with every mistake as ``file:line: key: what is wrong``.
    """
    if len(raw) > LARGEST_BYTES:
        raise LaboratoryError(f"{name}: it is far too large; check which file it is")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = 1 + raw.count(b"\n", 0, error.start)
        raise LaboratoryError(f"{name}:{line}: it is not UTF-8 text; save it as UTF-8") from error
    file, problems = check_toml(text, name, LaboratoryFile)
    if file is None:
        raise LaboratoryError("\n".join(problems))
    return Laboratory(name=file.name, address=file.address, contact=file.contact)
