"""The pieces that the charts of an audit share.

How bad a thing is shows by how dark it is filled: high solid, medium grey, low hollow; each with
its word or its figure beside it.
"""

from daq.ink.svg import INK, SOFT, line
from daq.report.audit.model import Severity

WIDTH = 700.0
GREY = "#a9b1b9"
FILLS: dict[Severity, str] = {"high": INK, "medium": GREY, "low": "#fff"}


def bar(kind: str, box: tuple[float, float, float, float], fill: str) -> str:
    """A bar from (x, y), so wide and so high."""
    x, y, width, height = box
    return (
        f'<rect class="{kind}" x="{x:.2f}" y="{y:.2f}" width="{width:.2f}" '
        f'height="{height:.2f}" fill="{fill}" stroke="{INK}" stroke-width="0.9"/>'
    )


def spread(kind: str, ends: tuple[float, float, float], y: float, weight: float) -> str:
    """A bar from one end to the other with caps; ``ends`` as x, x, and half the caps' height."""
    low, high, cap = ends
    look = f'stroke="{INK}" stroke-width="{weight:g}"'
    return "".join(
        (
            line(kind, (low, y, high, y), look),
            line(f"{kind}-cap", (low, y - cap, low, y + cap), look),
            line(f"{kind}-cap", (high, y - cap, high, y + cap), look),
        )
    )


def dot(kind: str, x: float, y: float, *, filled: bool) -> str:
    """A disc, or a ring."""
    fill = INK if filled else "#fff"
    return (
        f'<circle class="{kind}" cx="{x:.2f}" cy="{y:.2f}" r="3.8" fill="{fill}" '
        f'stroke="{INK}" stroke-width="1.3"/>'
    )


def faint(y: float, left: float, right: float) -> str:
    """A thin line that leads the eye along a row."""
    look = f'stroke="{SOFT}" stroke-width="0.4" stroke-dasharray="1 3"'
    return line("row", (left, y, right, y), look)
