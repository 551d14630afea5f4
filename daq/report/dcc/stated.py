"""What a DCC must say and neither the records nor a certificate have: the table ``[dcc]``.

It stands in the laboratory's file, beside its name and its address.
"""

from collections.abc import Iterator
from typing import Annotated, Literal, get_args

from pydantic import ConfigDict, Field

from daq.report.certificate.model import CertificateModel
from daq.report.dcc.errors import DccError, NotStatedError
from daq.report.dcc.tree import BLANKS
from drivers.form import Form
from drivers.toml_form import check_toml

Performed = Literal["laboratory", "customer", "laboratoryBranch", "customerBranch", "other"]
"""Where a calibration is done, in the words of the schema."""

_CHOICES = " or ".join(f'"{each}"' for each in get_args(Performed))
_Line = Annotated[str, Field(min_length=1, max_length=300)]


class Stated(Form):
    """``[dcc]``: every key may be left out; what a document needs of them is then asked for.

    ``country`` is the laboratory's, two letters after ISO 3166-1. ``performed`` says where the
    calibration was done. ``customer`` stands in where the records name none; its first line is the
    name.
    """

    country: Annotated[str, Field(pattern="^[A-Z]{2}$")] = ""
    performed: Performed | None = None
    customer: tuple[_Line, ...] = ()


NOTHING_STATED = Stated()
"""Of which nothing was said."""


class _File(Form):
    """The laboratory's file, of which only ``[dcc]`` is looked at here."""

    model_config = ConfigDict(frozen=True, extra="ignore")

    dcc: Stated = NOTHING_STATED


def stated_from_bytes(raw: bytes, name: str) -> Stated:
    """The table ``[dcc]`` of the laboratory's file; nothing stated if it has none.

    Args:
        raw: the file's content; UTF-8.
        name: the file's name, for the messages.

    Raises:
        DccError: with every mistake as ``file:line: key: what is wrong``.
    """
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = 1 + raw.count(b"\n", 0, error.start)
        raise DccError(f"{name}:{line}: it is not UTF-8 text; save it as UTF-8") from error
    file, problems = check_toml(text, name, _File)
    if file is None:
        raise DccError("\n".join(problems))
    return file.dcc


def require_stated(model: CertificateModel, stated: Stated) -> None:
    """Refuse a document that would have to say what nobody stated.

    Raises:
        NotStatedError: with all that is missing, and the key to state each by.
    """
    missing = [why for words, why in _asked(model, stated) if not words.strip(BLANKS)]
    if missing:
        raise NotStatedError(*missing)


def _asked(model: CertificateModel, stated: Stated) -> Iterator[tuple[str, str]]:
    """What must not be empty, and what to say where it is."""
    file = "in the laboratory's file"
    yield model.laboratory.name, f'The laboratory has no name: put name = "…" {file}.'
    yield (
        "".join(model.laboratory.address),
        f'The laboratory has no address: put address = ["…", "…"] {file}.',
    )
    yield (
        stated.country,
        'The laboratory has no country: put country = "…", two letters after ISO 3166-1, under '
        f"[dcc] {file}.",
    )
    yield (
        stated.performed or "",
        "Nobody said where the calibration was done: put performed = "
        f"{_CHOICES} under [dcc] {file}.",
    )
    yield (
        model.customer + "".join(stated.customer),
        f'The records name no customer: put customer = ["…"] under [dcc] {file}. Whoever '
        "calibrates gauges of the house names the house.",
    )
    yield (
        model.authorised_by,
        "Nobody answers for the certificate: whoever ended the calibration typed no name, and a "
        "DCC names the person responsible. Calibrate again, and type it at the end.",
    )
    yield model.gauge.label, "The gauge's label is empty: enter the gauge with one."
    yield model.number, "The certificate's number is empty: end the calibration with one."
