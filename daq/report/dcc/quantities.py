"""Quantities after the D-SI: exact decimals with their unit, and their expanded uncertainty.

Every figure is written as it was recorded, with all its digits and a point, and none is rounded.
In a list every value has an entry of its own for the unit, the uncertainty and the coverage factor.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from daq.logbook.fields import decimal_text, time_text
from daq.report.dcc.errors import DccError
from daq.report.dcc.tree import Element, element, leaf, name_of, ours
from daq.report.lines import Amount

MM = r"\milli\metre"
ONE = r"\one"
CELSIUS = r"\degreecelsius"
KELVIN = r"\kelvin"
EXPANSION = r"\micro\metre\metre\tothe{-1}\kelvin\tothe{-1}"
"""Micrometres for a metre and a kelvin."""


@dataclass(frozen=True, slots=True)
class Expanded:
    """An expanded uncertainty in the unit of its value: U = k·u with coverage probability p."""

    value: Decimal
    k: Decimal
    p: Decimal

    def __post_init__(self) -> None:
        if self.value < 0 or self.k < 1 or not 0 <= self.p <= 1:
            raise DccError(
                f"U = {self.value} with k = {self.k} and a coverage probability of {self.p} cannot "
                "stand in a DCC: U is never below 0, k never below 1, and the probability is from "
                "0 to 1. Look at the result in the logbook that says so."
            )


def real(
    value: Decimal, unit: str, expanded: Expanded | None = None, at: datetime | None = None
) -> Element:
    """``si:real``: one value."""
    return element(
        "si:real",
        leaf("si:value", decimal_text(value)),
        leaf("si:unit", unit),
        None if at is None else leaf("si:dateTime", time_text(at)),
        None if expanded is None else _expanded(expanded),
    )


def reals(
    values: Sequence[Decimal], unit: str, expanded: Sequence[Expanded] | None = None
) -> Element:
    """``si:realListXMLList``: values of one unit, with an uncertainty each or none at all.

    Raises:
        DccError: there are not as many uncertainties as values.
    """
    if expanded is not None and len(expanded) != len(values):
        raise DccError(f"There are {len(values)} values and {len(expanded)} uncertainties.")
    return element(
        "si:realListXMLList",
        _list("si:valueXMLList", map(decimal_text, values)),
        _list("si:unitXMLList", [unit] * len(values)),
        None if expanded is None else _all_expanded(expanded),
    )


def words_list(words: Sequence[str]) -> Element:
    """``dcc:charsXMLList``: words without blanks."""
    return _list("dcc:charsXMLList", words)


def quantity(
    name: str,
    what: Element,
    kind: str,
    *about: str,
    tag: str = "dcc:quantity",
    uid: str = "",
) -> Element:
    """A quantity with its name; ``about`` describes it, ``kind`` is the end of its ``refType``."""
    described = ours("dcc:description", *about)
    return element(tag, name_of(name), described, what, id=uid, refType=ref_type(kind))


def ref_type(kind: str) -> str:
    """A ``refType`` of restpoint's own; docs/dcc.md has them all."""
    return f"restpoint_{kind}"


def exact_mm(amount: Amount) -> Decimal:
    """A length as it was recorded, in millimetres.

    Raises:
        DccError: it is in another unit.
    """
    if amount.unit != "mm":
        raise DccError(f"{amount.exact} {amount.unit} is no length in millimetres.")
    return amount.exact


def _expanded(each: Expanded) -> Element:
    return element(
        "si:expandedUnc",
        leaf("si:uncertainty", decimal_text(each.value)),
        leaf("si:coverageFactor", decimal_text(each.k)),
        leaf("si:coverageProbability", decimal_text(each.p)),
    )


def _all_expanded(every: Sequence[Expanded]) -> Element:
    return element(
        "si:expandedUncXMLList",
        _list("si:uncertaintyXMLList", [decimal_text(each.value) for each in every]),
        _list("si:coverageFactorXMLList", [decimal_text(each.k) for each in every]),
        _list("si:coverageProbabilityXMLList", [decimal_text(each.p) for each in every]),
    )


def _list(name: str, words: "Sequence[str] | map[str]") -> Element:
    return leaf(name, " ".join(words))
