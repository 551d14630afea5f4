"""Every value of the model stands in the HTML and in the PDF: of real jobs, and with marks."""

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import get_args

import pytest
from pydantic import BaseModel

from daq.report.html import html_of
from daq.report.lines import Doubt, ToDo
from daq.report.model import JobReport
from daq.report.pdf import pdf_of
from tests.daq.report.making import good_job, poor_job
from tests.daq.report.reading import as_read, html_text, leaves, pdf_text

FORMATS = {"html": lambda report: html_text(html_of(report)), "pdf": lambda r: pdf_text(pdf_of(r))}
WORDS_OF_CODE = ("status", "state", "unit", "shown_unit")
"""Fields that may only be one of some words; a mark cannot stand for them."""

IN_SHORT = ("as_found", "as_left", "latest", "locking_shift")
"""What repeats figures of a result that stands whole under "As recorded"."""


def is_repeated(path):
    return path[-1] == "exact" and any(name in path for name in IN_SHORT)


@pytest.fixture
def full(tmp_path):
    """A report in which every field that there is has a value."""
    job = poor_job(tmp_path / "log")
    job.used(job.calibration("setting", "overdue", usable=False))
    report = job.report()
    rack = report.steps[1]
    whole = rack.targets[2].model_copy(update={"latest": rack.targets[2].as_found})
    spread = rack.across[0].model_copy(update={"missing": ("injector 9",)})
    rack = rack.model_copy(
        update={"targets": (*rack.targets[:2], whole, rack.targets[3]), "across": (spread,)}
    )
    return report.model_copy(
        update={
            "steps": (report.steps[0], rack, report.steps[2]),
            "doubts": (Doubt(step="rack", targets=("injector 1",), why="it was", captures=(3,)),),
            "to_do": (ToDo(step="rack", targets=("injector 2",), what="to measure"),),
        }
    )


def models_in(model):
    """A model and every model within it."""
    found = {model}
    for field in model.model_fields.values():
        waiting = [field.annotation]
        while waiting:
            each = waiting.pop()
            waiting += get_args(each)
            if isinstance(each, type) and issubclass(each, BaseModel):
                found |= models_in(each)
    return found


def test_the_full_report_has_a_value_in_every_field(full):
    """So that no field can be forgotten by the tests below."""
    filled = set()

    def look(value):
        if isinstance(value, BaseModel):
            for name in type(value).model_fields:
                if getattr(value, name) not in (None, (), ""):
                    filled.add((type(value), name))
                look(getattr(value, name))
        elif isinstance(value, tuple):
            for each in value:
                look(each)

    look(full)
    every = {(model, name) for model in models_in(JobReport) for name in model.model_fields}
    assert every - filled == set()


@pytest.mark.parametrize("form", FORMATS)
@pytest.mark.parametrize("make", [good_job, poor_job])
def test_every_value_of_a_job_is_in_the_report(make, form, tmp_path):
    report = make(tmp_path / "log").report()
    text = FORMATS[form](report)
    values = [(path, value) for path, value in leaves(report) if value is not None]
    assert len(values) > 900
    missing = [
        (path, value)
        for path, value in values
        if as_read(value).lower() not in text.lower() and not is_repeated(path)
    ]
    assert missing == []


@pytest.mark.parametrize("form", FORMATS)
def test_every_field_of_the_model_is_shown_in_its_own_right(full, form):
    """Each value is put in the place of a mark that is nowhere else, and must be found again."""
    marks = {}

    def marked(value, path=()):
        number = 10_001 + len(marks)
        if isinstance(value, dict):
            return {name: marked(each, (*path, name)) for name, each in value.items()}
        if isinstance(value, tuple):
            return tuple(marked(each, (*path, at)) for at, each in enumerate(value))
        if value is None or path[-1] in WORDS_OF_CODE:
            return value
        if isinstance(value, str):
            mark = f"mark{number}ofaword"
        elif isinstance(value, datetime):
            mark = datetime(2031, 1, 1, tzinfo=UTC) + timedelta(seconds=61 * number)
        else:
            mark = number * 1000 + 7 if isinstance(value, int) else Decimal(f"{number}.25")
        marks[path] = mark
        return mark

    report = JobReport.model_validate(marked(full.model_dump()))
    text = FORMATS[form](report)
    # A gauge's resolution among others: every kind of value is there.
    assert {type(mark) for mark in marks.values()} == {str, int, datetime, Decimal}
    lost = [path for path, mark in marks.items() if as_read(mark).lower() not in text.lower()]
    assert [path for path in lost if not is_repeated(path)] == []


def test_what_is_only_shown_rounded_stands_exactly_among_the_records(tmp_path):
    report = poor_job(tmp_path / "log").report()
    count = 0
    for step in report.steps:
        for target in step.targets:
            results = {each.record: each for each in target.results}
            for short in filter(None, (target.as_found, target.as_left, target.latest)):
                whole = results[short.record]
                assert short.value.exact == whole.value
                assert short.expanded.exact == report.coverage_factor * whole.u
                assert short.deviation.exact == whole.deviation
                count += 1
    assert count == 16  # 8 targets, found and left
