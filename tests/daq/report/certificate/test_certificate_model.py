"""What a certificate says of a calibration, and when there is none."""

from datetime import date
from decimal import Decimal

import pytest

from daq.calibration.kept import kept_calibration
from daq.logbook import Entry
from daq.logbook.fields import new_uid
from daq.report.certificate import (
    CertificateError,
    CertificateModel,
    Typed,
    certificate_of,
    proof_of,
)
from tests.daq.report.certificate.making import (
    EAST,
    LABORATORY,
    Story,
    adjusted,
    broken_off,
    gauge,
    troubled,
    unfinished,
    untouched,
)


def test_it_says_as_found_and_as_left_of_a_gauge_that_was_adjusted():
    model = adjusted().model()
    assert (model.state, model.title, model.why) == ("issued", "Calibration certificate", ())
    assert (model.number, model.mark) == ("2026-0042", "Certificate 2026-0042")
    assert (model.verdict.as_found, model.verdict.as_left) == ("fail", "pass")
    assert model.verdict.meaning == "within the limits, by at least the guard band"
    assert [run.run for run in model.runs] == ["as found", "as left"]
    assert model.adjustment.what == "adjusted"
    assert "the spindle was cleaned" in model.adjustment.words


def test_as_found_is_as_left_of_a_gauge_that_was_not_adjusted():
    model = untouched().model()
    assert (model.verdict.as_found, model.verdict.as_left) == ("pass", "pass")
    assert [run.run for run in model.runs] == ["as found"]
    assert "so that as found is as left" in model.adjustment.words


def test_u_is_rounded_up_and_the_value_to_its_place():
    """JCGM 100:2008, 7.2.6: U = 2.0211 × 0.58 µm = 1.172… µm."""
    model = adjusted().model()
    span = next(each for each in model.runs[0].characteristics if each.what == "span error")
    assert span.result.expanded.exact == Decimal("0.001172238")
    assert (span.result.expanded.shown, span.result.value.shown) == ("0.0012", "0.0094")
    assert span.limit.shown == "0.006"
    point = model.runs[0].points[1]
    assert (point.error.value.shown, point.reading.shown) == ("+0.0023", "1.5023")
    assert (point.error.value.exact, point.reading.exact) == (
        Decimal("0.00230"),
        Decimal("1.50234"),
    )


def test_a_probability_is_never_rounded_to_be_surer_than_it_is():
    run = adjusted().model().runs[1]
    shown = {each.what: (each.p_conform_shown, each.risk_shown) for each in run.characteristics}
    repeat = next(each for each in run.characteristics if each.what == "repeatability")
    assert repeat.p_conform > Decimal("0.9806")
    assert shown["repeatability"] == ("98.0 %", "2.0 %")
    assert shown["hysteresis"] == ("at least 99.9 %", "at most 0.1 %")
    assert shown["one-way span"] == ("", "")


def test_what_nobody_stated_is_empty():
    model = untouched(place="", customer="", order="").model(Typed())
    assert (model.laboratory.name, model.laboratory.address, model.laboratory.contact) == (
        "", (), "",
    )  # fmt: skip
    assert (model.place, model.customer, model.gauge.condition) == ("", "", "")
    assert model.dates.received is None


def test_nobody_authorises_it_unless_a_name_was_typed():
    assert adjusted().model().authorised_by == "C. Head"
    model = adjusted(ended={"authorised_by": ""}).model()
    assert model.authorised_by == ""
    assert model.authorised_words == "Not authorised; no name was given."
    assert model.state == "issued"


def test_the_next_day_stands_there_with_what_it_rests_on_and_only_if_it_was_set():
    due = adjusted().model().due
    assert due.on == date(2027, 6, 1)
    assert due.rests_on == "12 months after 2026-06-01, by the fixed interval"
    assert "was set by whoever ended the calibration" in due.note
    assert adjusted(ended={"due": None, "due_words": ""}).model().due is None
    assert adjusted().model(Typed(LABORATORY, with_due=False)).due is None


def test_dates_are_those_of_the_zone_that_is_asked_for():
    story = untouched()
    assert story.model(zone=EAST).dates.begun.local == "2026-06-01 09:08:30 (UTC+02:00)"
    dates = story.model().dates
    assert (dates.received, dates.performed_from, dates.issued) == (
        date(2026, 5, 29), date(2026, 6, 1), date(2026, 6, 1),
    )  # fmt: skip


def test_traceability_names_the_standard_its_certificate_and_its_last_day():
    words = [each.words for each in troubled().model().statements if each.about == "Traceability"]
    assert len(words) == 2
    for each in ("blocks-1", "INV-2026-014", "Invented laboratory", "2028-01-10"):
        assert each in words[0]
    assert "zeroed on plate" in words[1]


def test_what_went_otherwise_is_told():
    model = troubled().model()
    assert [each.what for each in model.deviations] == ["begun anew", "insisted", "taken back"]
    assert model.deviations[1].about == "reading 5 as found, at 2.1 mm"
    assert model.doubts == ("as left: The zero had moved by 0.004 mm at the end.",)
    assert model.remarks == ("The dial glass is scratched.",)
    assert "It may be used from 1.5 mm to 10 mm only." in model.verdict.sentences
    assert model.state == "issued"


def test_a_calibration_that_has_not_ended_is_a_draft():
    model = unfinished().model()
    assert (model.state, model.number, model.dates.issued) == ("draft", "", None)
    assert model.mark == "DRAFT, no certificate: DI-7, calibration abcd0000"
    assert model.verdict.as_left is None
    assert Story().model().runs == ()


def test_a_calibration_that_was_broken_off_is_void():
    model = broken_off().model()
    assert (model.state, model.number, model.due) == ("void", "", None)
    assert model.why == ("The calibration was broken off: the spindle sticks",)
    assert model.verdict.as_left is None


@pytest.mark.parametrize("what", ["begun", "gauge", "standard", "result", "point", "end", "gate"])
def test_a_record_that_is_taken_back_makes_it_void(what):
    story = adjusted()
    kept = story.kept
    about = {
        "begun": kept.begun, "gauge": kept.gauge, "standard": kept.standard,
        "result": next(each for each in kept.records if each.kind == "calibration result"),
        "point": next(each for each in kept.records if each.kind == "calibration point"),
        "end": kept.ended, "gate": kept.records[0],
    }[what]  # fmt: skip
    story.note(about)
    model = story.model()
    assert (model.state, model.number, model.authorised_by) == ("void", "", "")
    assert model.why
    assert "was taken back by B. Foreman" in model.why[0]
    assert "number 2026-0042" in model.mark


def test_a_capture_that_is_taken_back_makes_it_void_too():
    story = adjusted()
    story.note(next(iter(story.kept.captures.values())))
    assert story.model().state == "void"


def test_records_that_contradict_each_other_make_it_void():
    story = adjusted(ended={"as_left": "fail"})
    assert story.model().state == "void"
    assert "says 'fail' as left, its result as left says 'pass'" in story.model().why[0]
    story = adjusted(ended={"as_found": "pass"})
    assert "'pass' as found, its result says 'fail'" in story.model().why[0]
    story = adjusted(plan_sha256="0" * 64)
    assert story.model().why == ("The plan in the record does not fit its SHA-256.",)


def test_an_adjusted_gauge_without_a_result_as_left_has_no_certificate():
    story = unfinished()
    story.gate("adjusted", said="set anew")
    story.end("fail", "pass")
    model = story.model()
    assert (model.state, model.verdict.as_left) == ("void", None)
    assert model.why == ("The gauge was adjusted, and there is no result as left.",)


def test_a_result_from_before_a_run_was_begun_anew_does_not_count():
    story = unfinished()
    assert len(story.model().runs) == 1
    story.gate("anew", said="the gauge was knocked")
    assert story.model().runs == ()


def test_the_model_comes_back_from_its_json():
    model = troubled().model()
    assert CertificateModel.model_validate_json(model.model_dump_json()) == model


def test_the_proof_is_the_hash_of_the_last_record_about_it(tmp_path):
    story = adjusted(tmp_path / "a.logbook")
    before = proof_of(story.kept, story.book)
    assert before.last_hash == story.book.last().hash
    assert before.first_record == story.kept.sequences[story.kept.begun.uid]
    other = Story(gauge_facts=gauge(label="DI-8"))
    story.book.append(other.kept.begun.model_copy(update={"uid": new_uid()}))
    assert proof_of(story.kept, story.book) == before
    made = certificate_of(story.kept, before)
    assert made == certificate_of(story.kept, proof_of(story.kept, story.book))
    story.note(story.kept.ended)
    assert proof_of(story.kept, story.book).last_hash == story.book.last().hash != before.last_hash
    story.book.close()


class Entries:
    """A logbook's entries at hand."""

    id = "0f0e0d0c-0000-4000-8000-000000000001"

    def __init__(self, *entries):
        self.all = entries

    def entries(self, first=1):
        return (each for each in self.all if each.sequence >= first)


def test_no_certificate_is_made_where_a_record_cannot_be_read():
    story = adjusted()
    first = story.kept.sequences[story.kept.begun.uid]
    newer = Entry(first + 3, "0" * 64, "1" * 64, '{"format":99,"kind":"calibration point"}')
    with pytest.raises(CertificateError, match=f"Record {first + 3} of the logbook cannot be read"):
        proof_of(story.kept, Entries(newer))


def test_what_was_taken_back_before_the_end_and_said_anew_is_no_fault():
    story = Story()
    first = story.gate("conditions", temperature="25.0")
    story.note(first, "the wrong thermometer")
    story.gate("conditions", temperature="20.0")
    old = story.result("as found", story.run("as found"))
    story.note(old, "worked out anew")
    points = [each for each in story.kept.records if each.kind == "calibration point"]
    found = story.result("as found", points)
    story.gate("not adjusted")
    story.end(found.word, found.word)
    model = story.model()
    assert (model.state, model.why) == ("issued", ())
    assert model.environment.highest_c == Decimal("20.1")
    assert [each.what for each in model.deviations] == ["taken back", "taken back"]
    story.note(found, "a mistake was found")
    assert story.model().state == "void"


def test_an_end_that_was_taken_back_gives_way_to_a_later_one():
    story = untouched(ended={"certificate": "2026-0041"})
    story.note(story.kept.ended, "the wrong customer")
    assert "number 2026-0041" in story.model().mark
    assert story.model().state == "void"
    story.end("pass", "pass", certificate="2026-0042")
    model = story.model()
    assert (model.state, model.number) == ("issued", "2026-0042")


def test_a_gauge_that_was_adjusted_twice_counts_as_it_was_left_last():
    story = Story()
    found = story.result("as found", story.run("as found"))
    story.gate("adjusted", said="cleaned")
    story.result("as left", story.run("as left"))
    story.gate("adjusted", said="the scale set anew")
    assert [run.run for run in story.model().runs] == ["as found"]
    left = story.result("as left", story.run("as left"))
    story.end(found.word, left.word)
    model = story.model()
    assert model.state == "issued"
    assert model.runs[1].record == story.kept.sequences[left.uid]
    assert "cleaned; then the scale set anew" in model.adjustment.words


def test_the_invented_calibrations_are_numbered_as_their_logbook_has_them(tmp_path):
    story = troubled(tmp_path / "a.logbook")
    numbers = {each.record.uid: each.sequence for each in story.book.entries(2)}
    assert story.kept.sequences.items() <= numbers.items()
    again = kept_calibration(story.book, story.kept.begun.uid)
    assert certificate_of(again, story.proof) == certificate_of(story.kept, story.proof)
    story.book.close()
