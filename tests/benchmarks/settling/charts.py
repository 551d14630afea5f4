"""Draws what the scores come to: delay against false rests, and coverage by family."""

import math
from pathlib import Path

from . import svg
from .compare import OURS
from .families import FAMILIES, NEVER_RESTING
from .table import covered, summary

WANTED_PERCENT = (93, 99)
"""Where the coverage of a 95 % interval should be."""

Z95 = 1.96


def draw_charts(folder: Path, scores) -> None:
    """Write both charts into ``folder``."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "settling-delay-false.svg").write_text(delay_against_false(scores), "utf-8")
    (folder / "settling-coverage.svg").write_text(coverage_by_family(scores[OURS]), "utf-8")


def delay_against_false(scores) -> str:
    """A dot for each settler at its median delay, a line from there to the 95th percentile.

    Upwards: the share of all traces with a false rest, logarithmic, with nothing at the foot.
    """
    width, height, left, right, top, foot = 720, 400, 70, 24, 44, 46
    figures = {name: summary(mine) for name, mine in scores.items()}
    longest_s = math.ceil(max(f.delay_95_s for f in figures.values()))
    least, most = 0.1, 100.0
    x_of = lambda s: left + s / longest_s * (width - left - right)  # noqa: E731
    y_of = lambda percent: (  # noqa: E731
        top + math.log(most / max(percent, least)) / math.log(most / least) * (height - top - foot)
    )
    parts = [
        svg.words(left, 22, "Traces with a false rest, and delay from the true rest", bold=True)
    ]
    for percent in (0.1, 1, 10, 100):
        parts.append(svg.line(left, y_of(percent), width - right, y_of(percent), svg.PALE_GREY))
        said = "≤ 0.1 %" if percent == least else f"{percent:g} %"
        parts.append(svg.words(left - 8, y_of(percent) + 4, said, svg.GREY, "end"))
    for s in range(longest_s + 1):
        parts.append(svg.line(x_of(s), y_of(least), x_of(s), y_of(least) + 5, svg.GREY))
        parts.append(svg.words(x_of(s), y_of(least) + 20, f"{s} s", svg.GREY, "middle"))
    parts.append(
        svg.words(width - right, height - 6, "dot: median delay; line: to the 95th percentile",
                  svg.GREY, "end")
    )  # fmt: skip
    said_at: list[float] = []
    lines_at = [y_of(f.false_percent) for f in figures.values()]
    for name, f in sorted(figures.items(), key=lambda item: -item[1].false_percent):
        colour, y = svg.GREEN if name == OURS else svg.GREY, y_of(f.false_percent)
        parts.append(svg.line(x_of(f.delay_s), y, x_of(f.delay_95_s), y, colour, 2))
        parts.append(svg.dot(x_of(f.delay_s), y, 6, colour))
        # Above its line, or below where there is no room above.
        said_y = y - 9 if _is_free(y - 9, said_at, lines_at) else y + 17
        said = f"{name}: {f.false_percent:.1f} % false, {f.missed_percent:.1f} % missed"
        parts.append(svg.words(x_of(f.delay_s) + 9, said_y, said, svg.INK, bold=name == OURS))
        said_at.append(said_y)
    return svg.page(width, height, parts)


def _is_free(foot_y, said_at, lines_at):
    """Whether words standing at ``foot_y`` touch neither other words nor a line."""
    clear = all(abs(foot_y - y) >= 14 for y in said_at)
    return clear and not any(foot_y - 11 <= y <= foot_y + 4 for y in lines_at)


def coverage_by_family(mine) -> str:
    """First reports within 2 u of the truth: a dot for each family, with its binomial interval."""
    families = [family for family in FAMILIES if family not in NEVER_RESTING]
    rows = {f: [r for s in mine if s.family == f for r in s.first] for f in families}
    rows = {"all families": [r for some in rows.values() for r in some], **rows}
    width, left, right, top, row = 720, 160, 64, 46, 21
    height = top + row * len(rows) + 44
    shares = {f: wilson(int(covered(some).sum()), len(some)) for f, some in rows.items() if some}
    least = min(90, 10 * math.floor(min(low for _, low, _ in shares.values()) * 10))
    x_of = lambda percent: left + (percent - least) / (100 - least) * (width - left - right)  # noqa: E731
    low, high = WANTED_PERCENT
    bottom = top + row * len(rows)
    parts = [
        svg.words(20, 22, "First reports whose interval value ± 2 u holds the truth", bold=True),
        svg.box(x_of(low), top, x_of(high) - x_of(low), bottom - top, svg.PALE_GREEN),
        svg.words(width - right + 12, top - 8, "reports", svg.GREY),
    ]
    for percent in range(least, 101, 5 if least >= 70 else 10):
        parts.append(svg.line(x_of(percent), top, x_of(percent), bottom, svg.PALE_GREY))
        parts.append(svg.words(x_of(percent), bottom + 16, f"{percent} %", svg.GREY, "middle"))
    said = (
        f"band: {low} to {high} %; bars: 95 % interval of the share (Wilson); red: outside the band"
    )
    parts.append(svg.words(left, bottom + 36, said, svg.GREY))
    for place, (family, some) in enumerate(rows.items()):
        y = top + row * (place + 0.5)
        parts.append(svg.words(left - 12, y + 4, family, anchor="end", bold=place == 0))
        parts.append(svg.words(width - 20, y + 4, f"{len(some)}", svg.GREY, "end"))
        if family not in shares:
            continue
        share, least_share, most_share = (100 * s for s in shares[family])
        colour = svg.GREEN if most_share >= low and least_share <= high else svg.RED
        parts.append(svg.line(x_of(least_share), y, x_of(most_share), y, colour, 2))
        parts.append(svg.dot(x_of(share), y, 4.5, colour))
    return svg.page(width, height, parts)


def wilson(hits, n):
    """A share and its 95 % interval.

    Source: E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209-212.
    """
    share = hits / n
    centre = (share + Z95**2 / (2 * n)) / (1 + Z95**2 / n)
    half = Z95 * math.sqrt(share * (1 - share) / n + Z95**2 / (4 * n * n)) / (1 + Z95**2 / n)
    return share, max(0.0, centre - half), min(1.0, centre + half)
