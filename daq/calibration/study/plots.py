"""Pictures of studies of parts, operators, levels and bias, each an SVG image as text."""

from collections.abc import Iterator, Sequence

from daq.calibration.study.bias import BiasStudy, Line
from daq.calibration.study.crossed import CrossedStudy, Trial, grid_of
from daq.calibration.study.drawing import (
    BAND,
    FILL,
    RULE,
    dash,
    path,
    picture,
    room,
    scale,
    sign,
    ticks,
)
from daq.calibration.study.levels import LevelsStudy
from daq.ink.svg import INK, LETTER, SOFT, Frame, fitted, line, write

WIDTH = 760
_BAR = 13.0
_INDENTED = ("repeatability", "reproducibility", "operator", "interaction")


def components_picture(study: CrossedStudy) -> str:
    """The components of variation as bars: share of the total standard deviation and variance,
    and of the tolerance where there is one."""
    kinds = ["of total standard deviation", "of total variance"]
    if study.tolerance is not None:
        kinds.append("of tolerance, six standard deviations")
    rows = []
    for each in study.components:
        if each.name != "total":
            shares = [each.of_sd, each.of_variance, each.of_tolerance][: len(kinds)]
            rows.append((each.name, [share or 0.0 for share in shares]))
    return _bars(f"Components of variation, by {study.method}", kinds, rows)


def levels_picture(study: LevelsStudy, unit: str = "") -> str:
    """The standard deviations of the levels as bars, with that of a single value."""
    rows = [("repeatability", study.repeatability.sd), ("days alone", study.s_day)]
    if study.s_run is not None:
        rows.append(("runs alone", study.s_run))
    rows.append(("single value, all", study.u_single))
    top = max(each for _, each in rows) or 1.0
    parts: list[str] = []
    left, right, y = 150.0, WIDTH - 110.0, 46.0
    for name, sd in rows:
        parts.append(write(left - 10, y + 15, name, anchor="end", size=12))
        parts.append(_bar("sd", left, y, (right - left) * sd / top, 20.0, 0))
        shown = f"{sd:.4g} {unit}".rstrip()
        parts.append(write(left + (right - left) * sd / top + 7, y + 15, shown, size=12))
        y += 32
    parts.append(line("axis", (left, 38, left, y - 4), f'stroke="{INK}"'))
    return picture(WIDTH, y + 8, "Standard deviations by level", parts)


def operators_picture(values: Sequence[Trial], unit: str = "") -> str:
    """Every value, by part and operator, with the averages of each operator joined.

    Lines that run side by side say that an operator is off everywhere; lines that cross, that it
    depends on the part.

    Raises:
        StudyError: as ``daq.calibration.study.crossed.grid_of``.
    """
    grid = grid_of(values)
    top = 70.0
    frame = Frame(78, top, WIDTH - 16, top + 300, *room([each.value for each in values]))
    parts = [*_legend(grid.operators), *scale(frame, f"value, {unit}" if unit else "value")]
    slot = 1.0 / len(grid.parts)
    wide = (frame.right - frame.left) * slot
    for number in range(1, len(grid.parts)):
        x = frame.x(number * slot)
        parts.append(line("between", (x, frame.top, x, frame.bottom), f'stroke="{RULE}"'))
    for o in range(len(grid.operators)):
        share = (o + 1) / (len(grid.operators) + 1)
        xs = [frame.x((p + share) * slot) for p in range(len(grid.parts))]
        means = [sum(row[o]) / grid.trials for row in grid.cells]
        ends = [(x, frame.y(mean)) for x, mean in zip(xs, means, strict=True)]
        parts.append(path("averages", ends, dash(o)))
        size = min(3.6, max(1.6, wide / (3 * len(grid.operators) + 2)))
        parts += [
            sign(o, x, frame.y(value), size)
            for x, row in zip(xs, grid.cells, strict=True)
            for value in row[o]
        ]
    for p, name in enumerate(grid.parts):
        x = frame.x((p + 0.5) * slot)
        parts.append(write(x, frame.bottom + 17, fitted(name, wide, 11), anchor="middle"))
    middle = (frame.left + frame.right) / 2
    parts.append(write(middle, frame.bottom + 35, "part", anchor="middle", ink=SOFT))
    return picture(WIDTH, frame.bottom + 46, "Values by part and operator", parts)


def bias_picture(study: BiasStudy, unit: str = "") -> str:
    """The bias over the reference: values, their means, the line and the interval about it."""
    biases = [each.value - each.reference for each in study.values]
    xs = sorted({each.reference for each in study.values})
    low_x, high_x = room(xs, 0.05)
    marks = [low_x + (high_x - low_x) * k / 60 for k in range(61)]
    about = [study.line.bias(x) for x in marks] if study.line else []
    shown = [0.0, *biases, *(each.low for each in about), *(each.high for each in about)]
    frame = Frame(84, 70, WIDTH - 16, 350, *room(shown))

    def at(x: float) -> float:
        return frame.x((x - low_x) / (high_x - low_x))

    parts = []
    if about:
        edge = [(at(x), frame.y(each.high)) for x, each in zip(marks, about, strict=True)]
        back = [(at(x), frame.y(each.low)) for x, each in zip(marks, about, strict=True)]
        parts.append(path("interval", [*edge, *reversed(back)], f'fill="{BAND}"'))
    parts += scale(frame, f"bias, {unit}" if unit else "bias")
    zero = frame.y(0.0)
    parts.append(line("zero", (frame.left, zero, frame.right, zero), f'stroke="{INK}"'))
    if about:
        fit = [(at(x), frame.y(each.value)) for x, each in zip(marks, about, strict=True)]
        parts.append(path("line", fit, f'stroke="{FILL}" stroke-width="2" stroke-dasharray="8 3"'))
    for each, bias in zip(study.values, biases, strict=True):
        parts.append(sign(1, at(each.reference), frame.y(bias), 3.2))
    for mean in study.at:
        parts.append(sign(2, at(mean.reference), frame.y(mean.bias), 4.2))
    for x, digits in ticks(low_x, high_x, 9):
        parts.append(
            line("tick", (at(x), frame.bottom, at(x), frame.bottom + 4), f'stroke="{INK}"')
        )
        parts.append(write(at(x), frame.bottom + 17, digits, anchor="middle"))
    words = f"reference, {unit}" if unit else "reference"
    middle = (frame.left + frame.right) / 2
    parts.append(write(middle, frame.bottom + 35, words, anchor="middle", ink=SOFT))
    parts += _bias_legend(study.line)
    return picture(WIDTH, frame.bottom + 46, "Bias over the reference", parts)


def _bias_legend(fit: Line | None) -> Iterator[str]:
    x, y = 84.0, 50.0
    for number, words in ((1, "value"), (2, "mean of the values at a reference")):
        yield sign(number, x + 5, y - 4, 3.6)
        yield write(x + 15, y, words)
        x += 15 + LETTER * 11 * len(words) + 16
    if fit is not None:
        yield line("key", (x, y - 4, x + 26, y - 4), f'stroke="{FILL}" stroke-dasharray="8 3"')
        share = f"{100 * fit.slope.confidence:g} %"
        yield write(x + 32, y, f"line by least squares; band: {share} interval for it")


def _bars(title: str, kinds: Sequence[str], rows: Sequence[tuple[str, list[float]]]) -> str:
    """Rows of bars of shares, one bar a kind, with their figures in per cent."""
    left, right, y = 168.0, WIDTH - 70.0, 74.0
    most = max(1.0, *(share for _, shares in rows for share in shares))
    height = len(rows) * (len(kinds) * _BAR + 14)
    parts = []
    x = left
    for number, kind in enumerate(kinds):
        parts.append(_bar("key", x, 41, 14.0, 11.0, number))
        parts.append(write(x + 19, 50, kind))
        x += 19 + LETTER * 11 * len(kind) + 14
    for at, digits in ticks(0.0, 100 * most, 10):
        place = left + (right - left) * at / (100 * most)
        parts.append(line("grid", (place, y - 4, place, y + height - 8), f'stroke="{RULE}"'))
        parts.append(write(place, y + height + 8, f"{digits} %", anchor="middle", ink=SOFT))
    for name, shares in rows:
        inset = 0 if name not in _INDENTED else 1 if name.startswith("repr") else 2
        inset = 1 if name == "repeatability" else inset
        bold = inset == 0
        middle = y + len(kinds) * _BAR / 2 + 4
        parts.append(write(20 + 16 * inset, middle, name, size=12, bold=bold))
        for number, share in enumerate(shares):
            length = (right - left) * share / most
            parts.append(_bar("share", left, y + number * _BAR, length, _BAR - 2, number))
            digits = f"{100 * share:.1f} %"
            parts.append(write(left + length + 5, y + number * _BAR + 10, digits, size=10))
        y += len(kinds) * _BAR + 14
    parts.append(line("axis", (left, 66, left, y - 8), f'stroke="{INK}"'))
    return picture(WIDTH, y + 20, title, parts)


def _bar(kind: str, x: float, y: float, width: float, height: float, number: int) -> str:
    """A bar: filled, hollow or grey by its number."""
    fill = (FILL, "#ffffff", "#b9c0c8")[number % 3]
    return (
        f'<rect class="{kind}" x="{x:.2f}" y="{y:.2f}" width="{max(width, 0.0):.2f}" '
        f'height="{height:g}" fill="{fill}" stroke="{INK}" stroke-width="0.8"/>'
    )


def _legend(operators: Sequence[str]) -> Iterator[str]:
    """What sign and line each operator has, in one row above the frame."""
    x, y = 78.0, 50.0
    yield write(x, y, "operator", ink=SOFT)
    x += 62
    wide = (WIDTH - 16 - x) / len(operators)
    for number, name in enumerate(operators):
        yield line("key", (x, y - 4, x + 30, y - 4), dash(number))
        yield sign(number, x + 15, y - 4)
        shown = fitted(name, wide - 46, 11)
        yield write(x + 36, y, shown)
        x += min(36 + LETTER * 11 * len(shown) + 22, wide)
