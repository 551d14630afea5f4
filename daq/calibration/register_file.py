"""A register of standards and gauges from a TOML file, or every mistake in it."""

import difflib
import hashlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Annotated, TypeVar

from pydantic import Field

from daq.calibration.errors import RegisterError
from daq.calibration.forms import GaugeIdentity, ReferenceStandard
from daq.calibration.toml_file import Problems, form_from
from drivers.form import Form

IDENTITY = "usb:"
"""How the identity of an adapter begins; one that does not would never be found."""

Named = TypeVar("Named", ReferenceStandard, GaugeIdentity)


class RegisterFile(Form):
    """A register as the file has it."""

    standards: Annotated[tuple[ReferenceStandard, ...], Field(max_length=200)] = ()
    gauges: Annotated[tuple[GaugeIdentity, ...], Field(max_length=500)] = ()


@dataclass(frozen=True, slots=True)
class Register:
    """Standards and gauges that are sound, each known by one name.

    ``name`` is the file's name, ``fingerprint`` the SHA-256 of its bytes in hex, ``text`` all of
    it, so that a record can hold what it was.
    """

    name: str
    fingerprint: str
    standards: tuple[ReferenceStandard, ...]
    gauges: tuple[GaugeIdentity, ...]
    text: str

    def standard(self, id: str) -> ReferenceStandard:
        """The standard of this id.

        Raises:
            RegisterError: there is none; with what may have been meant.
        """
        for each in self.standards:
            if each.id == id:
                return each
        known = [each.id for each in self.standards]
        raise RegisterError(f"{self.name} has no standard {id!r}; {_meant(id, known)}")

    def gauge(self, label: str) -> GaugeIdentity:
        """The gauge of this label.

        Raises:
            RegisterError: there is none; with what may have been meant.
        """
        for each in self.gauges:
            if each.label == label:
                return each
        known = [each.label for each in self.gauges]
        raise RegisterError(f"{self.name} has no gauge {label!r}; {_meant(label, known)}")

    def gauge_by_identity(self, identity: str) -> GaugeIdentity | None:
        """The gauge behind an adapter; None if it is not known, or ``identity`` is empty."""
        return next((each for each in self.gauges if each.identity == identity), None)


def register_from_bytes(raw: bytes, name: str) -> Register:
    """The register in a file's bytes.

    Args:
        raw: the file's content; UTF-8.
        name: the file's name, for the messages.

    Raises:
        RegisterError: with every mistake at once, each as ``file:line: field: what is wrong; what
            would be right``.
    """
    file = form_from(raw, name, RegisterFile, _problems_between, RegisterError)
    return Register(
        name=name,
        fingerprint=hashlib.sha256(raw).hexdigest(),
        standards=file.standards,
        gauges=file.gauges,
        text=raw.decode("utf-8-sig"),
    )


def _problems_between(file: RegisterFile) -> Problems:
    if not file.standards and not file.gauges:
        yield ("standards",), "there is nothing in it; add [[standards]] or [[gauges]]"
    for place in _again(each.id if each else None for each in file.standards):
        yield ("standards", place, "id"), _twice(file.standards[place].id)
    for place in _again(each.label if each else None for each in file.gauges):
        yield ("gauges", place, "label"), _twice(file.gauges[place].label)
    for place, gauge in enumerate(file.gauges):
        if gauge and gauge.identity and not gauge.identity.startswith(IDENTITY):
            yield (
                ("gauges", place, "identity"),
                f'"{gauge.identity}" is no adapter\'s; write it as restpoint find prints it: '
                f"{IDENTITY}…",
            )
    for place in _again(each.identity if each else None for each in file.gauges):
        yield (
            ("gauges", place, "identity"),
            f'"{file.gauges[place].identity}" stands twice; an adapter serves one gauge, so check '
            "which",
        )


def _again(names: Iterable[str | None]) -> Iterator[int]:
    """The places of names that stood before."""
    seen: set[str] = set()
    for place, name in enumerate(names):
        if name is None:
            continue
        if name in seen:
            yield place
        seen.add(name)


def _twice(name: str) -> str:
    return f'"{name}" stands twice; give each a name of its own'


def _meant(given: str, known: list[str]) -> str:
    if near := difflib.get_close_matches(given, known, n=1):
        return f'did you mean "{near[0]}"?'
    return f"there are: {', '.join(known)}" if known else "there are none"
