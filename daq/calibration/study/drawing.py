"""The pieces that a study's pictures are drawn with, as SVG elements.

Everything can be told apart without colour: by form, by dash, or by a word beside it.
"""

from collections.abc import Iterator, Sequence
from decimal import Decimal

from daq.ink.svg import INK, SOFT, Frame, clean, line, write

RULE, BAND, FILL = "#dadee3", "#e9ebee", "#15497f"


def halo(text: str) -> str:
    """Text with a white edge, so that it is read where lines cross it."""
    return text.replace(
        "<text ", '<text paint-order="stroke" stroke="#ffffff" stroke-width="3" ', 1
    )


def path(kind: str, points: Sequence[tuple[float, float]], look: str) -> str:
    """Straight lines from point to point, not filled unless ``look`` says so."""
    steps = " L".join(f"{x:.2f},{y:.2f}" for x, y in points)
    fill = "" if "fill=" in look else 'fill="none" '
    return f'<path class="{kind}" d="M{steps}" {fill}{look}/>'


def picture(width: float, height: float, title: str, parts: Sequence[str]) -> str:
    """An SVG image on white that needs nothing else; ``title`` is what it shows, in words."""
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}" '
            f'width="{width:g}" height="{height:g}" role="img" font-family="sans-serif">',
            f"<title>{clean(title)}</title>",
            f'<rect width="{width:g}" height="{height:g}" fill="#ffffff"/>',
            write(14, 22, title, size=14, bold=True),
            *parts,
            "</svg>\n",
        ]
    )


def room(values: Sequence[float], share: float = 0.08) -> tuple[float, float]:
    """From below the lowest value to above the highest; never nothing."""
    low, high = min(values), max(values)
    if low == high:
        low, high = low - (abs(low) * 1e-3 or 1.0), high + (abs(high) * 1e-3 or 1.0)
    return low - share * (high - low), high + share * (high - low)


def ticks(low: float, high: float, most: int = 7) -> Iterator[tuple[float, str]]:
    """Round values from ``low`` to ``high``, at most so many, each with its digits."""
    step = next(
        step
        for exponent in range(-15, 16)
        for lead in (1, 2, 5)
        if (high - low) / float(step := Decimal(lead).scaleb(exponent)) <= most
    )
    first, last = -int(-low // float(step)), int(high // float(step))
    for number in range(first, last + 1):
        at = number * step
        yield float(at), f"{at:f}".replace("-", "−")


def scale(frame: Frame, words: str) -> Iterator[str]:
    """Faint lines at round values, their digits, what is measured, and the frame."""
    for at, digits in ticks(frame.low, frame.high):
        y = frame.y(at)
        yield line("grid", (frame.left, y, frame.right, y), f'stroke="{RULE}"')
        yield write(frame.left - 7, y + 4, digits, anchor="end")
    middle = (frame.top + frame.bottom) / 2
    yield write(17, middle, words, anchor="middle", ink=SOFT, turned=True)
    corners = [
        (frame.left, frame.top),
        (frame.left, frame.bottom),
        (frame.right, frame.bottom),
    ]
    yield path("frame", corners, f'stroke="{INK}"')


def apart(places: Sequence[float], least: float, top: float, bottom: float) -> list[float]:
    """Heights for labels: each near its place, ``least`` from the next, between the two ends."""
    order = sorted(range(len(places)), key=places.__getitem__)
    found = [0.0] * len(places)
    last = top - least
    for i in order:
        last = found[i] = max(places[i], last + least)
    over = bottom
    for i in reversed(order):
        found[i] = min(found[i], over)
        over = found[i] - least
    return found


SIGNS = ("disc", "ring", "square", "hollow square", "triangle", "hollow triangle")
DASHES = ("", "7 3", "2 3", "9 3 2 3", "4 2 1 2", "12 4")


def sign(number: int, x: float, y: float, size: float = 3.6) -> str:
    """The sign of the series with this number: a form, filled or hollow."""
    kind = SIGNS[number % len(SIGNS)]
    fill = "#ffffff" if kind.startswith(("ring", "hollow")) else INK
    look = f'fill="{fill}" stroke="{INK}" stroke-width="1.2"'
    if kind in ("disc", "ring"):
        return f'<circle class="value" cx="{x:.2f}" cy="{y:.2f}" r="{size:g}" {look}/>'
    if kind.endswith("square"):
        return (
            f'<rect class="value" x="{x - size:.2f}" y="{y - size:.2f}" width="{2 * size:g}" '
            f'height="{2 * size:g}" {look}/>'
        )
    up = 1.2 * size
    corners = [(x, y - up), (x + up, y + size), (x - up, y + size)]
    return path("value", [*corners, corners[0]], look)


def dash(number: int) -> str:
    """The attributes of the line of the series with this number."""
    pattern = DASHES[number % len(DASHES)]
    dashes = f' stroke-dasharray="{pattern}"' if pattern else ""
    return f'stroke="{INK}" stroke-width="1.1"{dashes}'
