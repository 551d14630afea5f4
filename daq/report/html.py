"""The report as one HTML file that needs no other file and asks nothing of any network."""

from datetime import datetime
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from daq.report.charts import charts_of
from daq.report.drawing import in_font
from daq.report.lines import Amount
from daq.report.model import JobReport
from daq.report.tally import tally

if TYPE_CHECKING:
    import jinja2

FONT = "system-ui, 'DejaVu Sans', sans-serif"


def environment_of_pages() -> "jinja2.Environment":
    """What every HTML document is made with: escaping, and nothing that is missing goes unseen."""
    import jinja2

    return jinja2.Environment(
        loader=jinja2.PackageLoader("daq.report"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def html_of(report: JobReport) -> str:
    """The report as HTML: for a screen, and by its print style for A4 paper.

    Everything the model says is in it. Words of records are escaped, whatever they are.
    """
    from markupsafe import Markup

    environment = environment_of_pages()
    filters: dict[str, Any] = {"utc": utc, "exact": exact, "shown": shown, "listed": listed}
    environment.filters |= filters

    def drawn(picture: str) -> Markup:
        # The charts escape what is written in them.
        return Markup(in_font(picture, FONT))

    return environment.get_template("report.html.jinja").render(
        report=report,
        tally=drawn(tally(report.steps)),
        charts={step.name: [drawn(each) for each in charts_of(step)] for step in report.steps},
    )


def utc(at: datetime) -> str:
    """A time to the second, in UTC."""
    return f"{at:%Y-%m-%d %H:%M:%S}"


def exact(figure: Decimal | None) -> str:
    """A figure as recorded, every digit; nothing for None."""
    if figure is None:
        return ""
    return f"{figure if figure else abs(figure):f}".replace("-", "−")


def shown(amount: Amount | None) -> str:
    """A rounded figure with its unit; nothing for None."""
    return "" if amount is None else f"{amount.shown} {amount.shown_unit}"


def listed(numbers: tuple[int, ...]) -> str:
    """Record numbers with commas between."""
    return ", ".join(map(str, numbers))
