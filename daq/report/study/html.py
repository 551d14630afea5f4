"""The report of a study as one HTML file that needs no other file and no network."""

from typing import Any

from daq.report.html import FONT, environment_of_pages, utc
from daq.report.study.model import StudyReport


def html_of(report: StudyReport) -> str:
    """The report as HTML: for a screen, and by its print style for A4 paper.

    Words of the values' file are escaped, whatever they are.
    """
    from markupsafe import Markup

    environment = environment_of_pages()

    def drawn(svg: str) -> Markup:
        # The pictures escape what is written in them.
        return Markup(in_family(svg, FONT))

    filters: dict[str, Any] = {"utc": utc, "drawn": drawn}
    environment.filters |= filters
    return environment.get_template("study.html.jinja").render(report=report)


def in_family(svg: str, family: str) -> str:
    """A study's picture in the font of what it stands in."""
    from daq.ink.svg import clean

    before, mark, after = svg.partition('font-family="')
    return before + mark + clean(family) + after[after.index('"') :] if mark else svg
