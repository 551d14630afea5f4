"""Every value of the model stands in HTML and PDF: of whole calibrations, and as marks."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import get_args

import pytest
from pydantic import BaseModel

from daq.report.certificate import CertificateModel
from daq.report.certificate.html import html_of
from daq.report.certificate.pdf import pdf_of
from tests.daq.report.certificate.making import STORIES, troubled
from tests.daq.report.reading import as_read, html_text, leaves, pdf_text

FORMATS = {"html": lambda model: html_text(html_of(model)), "pdf": lambda m: pdf_text(pdf_of(m))}
WORDS_OF_CODE = (
    "state", "unit", "shown_unit", "run", "series", "direction", "word", "zero", "role",
    "as_found", "as_left", "agrees",
)  # fmt: skip
"""Fields that may only be one of some words; a mark cannot stand for them."""

AS_WRITTEN = (
    "nominal", "limit", "range", "step", "drift_per_year", "largest_expanded", "range_from",
    "range_to", "values",
)  # fmt: skip
"""Lengths that are shown with the digits that they have, so that their exact figure is shown too;
but the range of repeats, which is exact under "As recorded"."""

ROUNDED = ("budgets", "correction", "line", "monte_carlo")
"""Shown rounded for the last run only; exact, under "As recorded", for every run."""


def is_repeated(path):
    if path[-1] == "exact" and any(name in path for name in AS_WRITTEN):
        return True
    if path[-1] == "exact" and "repeats" in path:
        return "readings" in path  # the points have them
    if path[-1] == "meaning":
        return "characteristics" in path  # under "Decision rule"
    if path[:2] == ("runs", 0) and path[2] in ROUNDED:
        return path[-1] in ("shown", "words", "share") or path[-1].endswith("_shown")
    return False


@pytest.fixture(scope="module")
def full():
    """A certificate in which every field that there is has a value."""
    model = troubled().model()
    method = model.method.model_copy(update={"remarks": ("it goes up only",)})
    return model.model_copy(update={"why": ("it was",), "method": method})


def models_in(model):
    found = {model}
    for field in model.model_fields.values():
        waiting = [field.annotation]
        while waiting:
            each = waiting.pop()
            waiting += get_args(each)
            if isinstance(each, type) and issubclass(each, BaseModel):
                found |= models_in(each)
    return found


def test_the_full_certificate_has_a_value_in_every_field(full):
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
    every = {(model, name) for model in models_in(CertificateModel) for name in model.model_fields}
    assert every - filled == set()


@pytest.mark.parametrize(
    ("story", "form"), [*((each, "html") for each in STORIES), ("untouched", "pdf")]
)
def test_every_value_of_a_calibration_is_in_its_document(story, form):
    model = STORIES[story]().model()
    text = FORMATS[form](model).lower()
    values = [
        (path, value)
        for path, value in leaves(model)
        if value is not None and not isinstance(value, bool)
    ]
    assert len(values) > 2000
    assert [each for each in values if as_read(each[1]).lower() not in text] == []


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
        if value is None or path[-1] in WORDS_OF_CODE or path[-2:] == ("adjustment", "what"):
            return value
        if path[0] == "deviations" and path[-1] == "what":
            return value
        if path == ("why", 0):
            return value  # a certificate has none
        if isinstance(value, str):
            mark = f"mark{number}ofaword"
        elif isinstance(value, datetime):
            mark = value.replace(microsecond=0) + timedelta(days=400, seconds=61 * number)
        elif isinstance(value, date):
            mark = date(2031, 1, 1) + timedelta(days=number)
        else:
            mark = number * 1000 + 7 if isinstance(value, int) else Decimal(f"{number}.25")
        marks[path] = mark
        return mark

    model = CertificateModel.model_validate(marked(full.model_dump()))
    text = FORMATS[form](model).lower()
    assert {type(mark) for mark in marks.values()} == {str, int, datetime, date, Decimal}
    lost = [path for path, mark in marks.items() if as_read(mark).lower() not in text]
    assert [path for path in lost if not is_repeated(path)] == []
