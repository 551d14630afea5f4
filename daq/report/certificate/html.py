"""The certificate as one HTML file that needs no other file and asks nothing of any network."""

from dataclasses import fields

from daq.report.certificate.layout import layout_of
from daq.report.certificate.model import CertificateModel
from daq.report.drawing import in_font
from daq.report.html import FONT, environment_of_pages


def html_of(model: CertificateModel) -> str:
    """The certificate as HTML: for a screen, and by its print style for A4 paper.

    Printed, every page has the number and which page of how many it is. Words of records are
    escaped, whatever they are.
    """
    from markupsafe import Markup

    environment = environment_of_pages()
    environment.filters["css_string"] = lambda words: Markup(css_string(words))
    laid = layout_of(model)
    return environment.get_template("certificate.html.jinja").render(
        {each.name: getattr(laid, each.name) for each in fields(laid)},
        # The chart escapes what is written in it.
        drawn=lambda svg: Markup(in_font(svg, FONT)),
    )


def css_string(words: str) -> str:
    """Words as a string of CSS, in which no character but letters and digits stands for itself."""
    shown = "".join(
        each if each.isascii() and each.isalnum() else f"\\{ord(each):06x}"
        for each in " ".join(words.split())
    )
    return f'"{shown}"'
