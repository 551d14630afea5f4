"""Figures of a study as text, rounded for the eye."""

import math


def figure(value: float, digits: int = 4) -> str:
    """Significant digits; an infinite value as a sign."""
    if math.isinf(value):
        return "∞" if value > 0 else "−∞"
    return f"{value:.{digits}g}".replace("-", "−")


def amount(value: float, unit: str, digits: int = 4) -> str:
    """A figure with its unit."""
    return f"{figure(value, digits)} {unit}".rstrip()


def percent(share: float | None, digits: int = 1) -> str:
    """A share in per cent, without the sign; a dash for None."""
    return "–" if share is None else f"{100 * share:.{digits}f}"


def probability(p: float | None) -> str:
    """A p value; a dash for None."""
    if p is None:
        return "–"
    return "< 0.0001" if p < 1e-4 else f"{p:.4f}"


def headed(name: str, unit: str) -> str:
    """A column's head with the unit."""
    return f"{name}, {unit}" if unit else name


def sentence(remark: str) -> str:
    """A remark with a capital and a full stop."""
    return f"{remark[0].upper()}{remark[1:]}."
