"""The screen of a job: the task can be read, and nothing overflows."""

import pytest
from rich.cells import cell_len

from daq.screen.job_view import HEADLINES, JobView, job_rows, plain_job_line
from daq.screen.view import BenchView

ASKED = JobView(
    kind="confirm",
    sign="crank",
    title="cylinder 5 at firing TDC",
    words="Bar on 120° in running direction: cylinder 5 at firing TDC.",
    more=("Running direction: anticlockwise, seen from the flywheel end.",),
    done=7,
    of=39,
)
MEASURED = JobView(
    kind="measure",
    sign="measure",
    title="Timing height, injector 5",
    words="Measure it.",
    done=7,
    of=39,
    bench=BenchView(gauge_label="G-09", age_s=0.1, deviation_mm=None),
    notice="the reading is still moving; hold still until it rests",
)
SIZES = [(1, 1), (20, 5), (80, 24), (110, 34), (200, 60)]


def text_of(view, width, height, **options):
    rows = job_rows(view, width, height, **options)
    return "\n".join("".join(text for text, _ in row) for row in rows)


@pytest.mark.parametrize(("width", "height"), SIZES)
@pytest.mark.parametrize("view", [ASKED, MEASURED])
@pytest.mark.parametrize("ascii_only", [False, True])
def test_it_fills_the_terminal_exactly(view, width, height, ascii_only):
    rows = job_rows(view, width, height, ascii_only=ascii_only)
    assert len(rows) == height
    assert {sum(cell_len(text) for text, _ in row) for row in rows} == {width}
    if ascii_only:
        assert text_of(view, width, height, ascii_only=True).isascii()


def test_what_is_asked_stands_at_the_top_with_how_far_the_job_is():
    first, second, *_ = text_of(ASKED, 80, 24).splitlines()
    assert first.startswith(" cylinder 5 at firing TDC")
    assert first.rstrip().endswith("7 of 39")
    assert second.strip() == ASKED.words


def test_a_measurement_shows_its_gauge_and_what_was_refused():
    text = text_of(MEASURED, 80, 24)
    assert "G-09" in text
    assert MEASURED.notice in text
    assert "space go on" in text.splitlines()[-1]


def test_long_words_are_wrapped_and_never_cut():
    view = JobView(kind="confirm", sign="step", title="t", words="word " * 60)
    text = text_of(view, 40, 24)
    assert text.count("word") == 60


def test_every_sign_can_be_drawn():
    for sign, texts in HEADLINES.items():
        view = JobView(kind="confirm", sign=sign, title="t", words="w")
        assert "█" in text_of(view, 110, 34), texts


def test_an_output_that_is_no_terminal_gets_one_line():
    assert plain_job_line(MEASURED) == (
        "7/39  Timing height, injector 5: Measure it.  "
        "[the reading is still moving; hold still until it rests]"
    )
