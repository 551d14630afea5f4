"""A certificate of what an assessment records: its figures, its budgets, all of it shown."""

from decimal import Decimal

import pytest

from daq.calibration.assess import Conditions, How, assess, record_of
from daq.calibration.guided.standing import point_of
from daq.report.certificate.csv import csv_of, table_schema_of
from daq.report.certificate.html import html_of
from daq.spec import rule_from
from tests.daq.report.certificate.making import BEGAN, Story
from tests.daq.report.certificate.test_certificate_csv import problems_in
from tests.daq.report.reading import as_read, html_text, leaves

RULE = "guarded 1U"


@pytest.fixture(scope="module")
def model():
    story = Story(rule=RULE)
    story.gate("conditions", temperature="20.1")
    found = assessed(story, "as found")
    story.gate("adjusted", said="the scale was set anew")
    left = assessed(story, "as left")
    story.end(found.word, left.word)
    return story.model()


def assessed(story, run):
    records = story.run(run)
    how = How(rule_from(RULE), 0.95, Decimal("0.002"), with_monte_carlo=False, seed=1)
    made = assess(
        story.kept.prepared(), story.kept.identity, [point_of(each) for each in records], run,
        Conditions(Decimal("20.1")), BEGAN.date(), how,
    )  # fmt: skip
    record = record_of(
        made, calibration=story.kept.begun.uid, operator="A. Metrologist", at=story.at,
        uids={each.place: each.uid for each in records},
    )  # fmt: skip
    story.number(record)
    story.kept.records.append(record)
    return record


def test_it_is_a_certificate_and_says_what_the_assessment_says(model):
    assert (model.state, model.why) == ("issued", ())
    assert (model.verdict.as_found, model.verdict.as_left) == ("fail", "pass")
    span = next(each for each in model.runs[1].characteristics if each.what == "span error")
    assert span.guard.shown == span.result.expanded.shown
    assert span.at == "5 mm up, 1.5 mm down"


def test_every_value_of_it_is_in_the_html(model):
    text = html_text(html_of(model)).lower()
    rounded = ("budgets", "correction", "line")
    lost = [
        path
        for path, value in leaves(model)
        if value is not None and as_read(value).lower() not in text
    ]
    # The budgets of the first run stand exactly, not rounded.
    assert [each for each in lost if not (each[1] == 0 and each[2] in rounded)] == []


def test_its_csv_fits_the_schema(model):
    assert list(problems_in(csv_of(model), table_schema_of())) == []
