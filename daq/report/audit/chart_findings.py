"""How many findings each rule has, and each site, as SVG."""

from collections.abc import Iterator, Sequence

from daq.ink.svg import INK, SOFT, fitted, line, write
from daq.report.audit.marks import FILLS, WIDTH, bar
from daq.report.audit.model import SEVERITIES, RuleBar, SiteLine
from daq.report.drawing import picture

ROW, NAMES, WORD = 21.0, 340.0, 54.0
HIGH, LONG = 11.0, 90.0
"""Height of a bar, and the length of the longest one in a table."""


def rules_chart(bars: Sequence[RuleBar]) -> str:
    """A bar for each rule with findings, as they are ordered; a tick of ink for the smallest."""
    most = max(each.findings for each in bars)
    room = WIDTH - NAMES - WORD - 70
    parts: list[str] = []
    for place, each in enumerate(bars):
        y = 4 + place * ROW
        long = max(each.findings / most * room, 2.0)
        parts.append(write(0, y + 12, fitted(each.title, NAMES - WORD, 11.5), size=11.5))
        parts.append(write(NAMES, y + 12, each.severity, ink=SOFT, anchor="end"))
        parts.append(bar("rule", (NAMES + 12, y + 2, long, HIGH), FILLS[each.severity]))
        parts.append(write(NAMES + 12 + long + 7, y + 12, each.shown, bold=True))
    axis = (NAMES + 12, 2.0, NAMES + 12, 4 + len(bars) * ROW)
    parts.append(line("axis", axis, f'stroke="{INK}"'))
    return picture(WIDTH, 8 + len(bars) * ROW, "Findings of each rule", parts)


def site_bar(site: SiteLine, most: int) -> str:
    """The findings of one site as a bar in three parts, beside the bar of the worst site."""
    title = f"{site.high} high, {site.medium} medium, {site.low} low"
    return picture(LONG + 2, HIGH + 4, title, list(_parts(site, most)))


def _parts(site: SiteLine, most: int) -> Iterator[str]:
    x = 1.0
    for severity in SEVERITIES:
        number = {"high": site.high, "medium": site.medium, "low": site.low}[severity]
        if number:
            long = number / most * LONG
            yield bar(f"site-{severity}", (x, 2, long, HIGH), FILLS[severity])
            x += long
