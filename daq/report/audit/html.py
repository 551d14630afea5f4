"""The report of an audit as one HTML file that needs no other file and no network."""

from typing import Any

from daq.report.audit.chart_curves import curves_chart
from daq.report.audit.chart_drift import drift_chart
from daq.report.audit.chart_findings import rules_chart, site_bar
from daq.report.audit.chart_horizon import horizon_chart
from daq.report.audit.chart_reliability import reliability_chart
from daq.report.audit.model import AuditReport
from daq.report.audit.words import count
from daq.report.drawing import in_font
from daq.report.html import FONT


def html_of(report: AuditReport) -> str:
    """The report as HTML: for a screen, and by its print style for A4 paper.

    Words of the log are escaped, whatever they are.
    """
    import jinja2
    from markupsafe import Markup

    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("daq.report"),
        autoescape=True,
        undefined=jinja2.StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )

    filters: dict[str, Any] = {"count": count}
    environment.filters |= filters

    def drawn(svg: str) -> Markup:
        # The pictures escape what is written in them.
        return Markup(in_font(svg, FONT))

    charts: dict[str, Any] = {"curves": [], "sites": []}
    if report.bars:
        charts["rules"] = drawn(rules_chart(report.bars))
    if report.horizon:
        charts["horizon"] = drawn(horizon_chart(report.horizon))
    if report.drift:
        charts["drift"] = drawn(drift_chart(report.drift))
    if report.reliability:
        charts["reliability"] = drawn(reliability_chart(report.reliability))
    if report.curves:
        charts["curves"] = [drawn(curves_chart(each)) for each in report.curves.gauges]
    if report.sites:
        most = max(each.high + each.medium + each.low for each in report.sites.lines) or 1
        charts["sites"] = [drawn(site_bar(each, most)) for each in report.sites.lines]
    return environment.get_template("audit.html.jinja").render(report=report, charts=charts)
