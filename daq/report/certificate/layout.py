"""A certificate laid out: what both HTML and PDF set, piece by piece."""

from dataclasses import dataclass

from daq.report.certificate.blocks import Block, Facts, Tone
from daq.report.certificate.front import box_lines, front, headline, item, laboratory
from daq.report.certificate.model import CertificateModel, State
from daq.report.certificate.recorded import proof, recorded
from daq.report.certificate.sections import body


@dataclass(frozen=True, slots=True)
class Layout:
    """A certificate in its pieces.

    mark: what stands on every page. of: what was calibrated. word, tone, lines: the box on the
    first page. item, laboratory: beneath it, side by side. blocks: all that follows.
    """

    state: State
    mark: str
    of: str
    title: str
    number: str
    word: str
    tone: Tone
    lines: tuple[str, ...]
    item: Facts
    laboratory: Facts
    blocks: tuple[Block, ...]


def layout_of(model: CertificateModel) -> Layout:
    """All of a certificate, in its order."""
    word, tone = headline(model)
    return Layout(
        state=model.state,
        mark=model.mark,
        of=f"{model.gauge.kind} {model.gauge.label}",
        title=model.title,
        number=model.number,
        word=word,
        tone=tone,
        lines=box_lines(model),
        item=item(model),
        laboratory=laboratory(model),
        blocks=(*front(model), *body(model), *recorded(model), *proof(model)),
    )
