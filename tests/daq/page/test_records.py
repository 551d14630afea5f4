"""The logbook page's answers: newest first, nothing missed, one record with all about it."""

import json
import sqlite3
from decimal import Decimal

import pytest

from daq.logbook import Logbook
from daq.logbook.records import MODELS
from daq.page import records
from daq.page.errors import PageError, UnfitError
from daq.page.record_fields import fields_of, trace_of
from daq.page.records import Records, one, search
from tests.daq.jobs.fitter import BEGAN, Fitter
from tests.daq.logbook.conftest import BEGUN, make_capture, make_note, tampering


@pytest.fixture(scope="module")
def job_book(tmp_path_factory):
    """A logbook with a whole job, and a note about its first capture."""
    path = tmp_path_factory.mktemp("job") / "a.logbook"
    fitter = Fitter().work()
    first = next(each for each in fitter.records if each.kind == "capture")
    with Logbook.open(path, at=BEGAN) as book:
        book.append_many([fitter.begun, *fitter.records])
        book.append(make_note("looked at twice", about=first.uid))
    return path, fitter, first


@pytest.fixture
def reader(job_book):
    with Logbook.read(job_book[0]) as reader:
        yield reader


def all_pages(reader, **query):
    """Every page of an answer, from the newest record to the first."""
    before, found = None, []
    for _ in range(200):
        answer = search(reader, before=before, **query)
        found += answer["records"]
        before = answer["next"]
        if before is None:
            return found
    raise AssertionError("the pages do not end")


def test_all_pages_together_are_all_records_newest_first(reader):
    numbers = [each["sequence"] for each in all_pages(reader)]
    assert numbers == list(range(reader.last().sequence, 0, -1))


def test_a_page_is_no_longer_than_a_page(reader):
    answer = search(reader)
    assert len(answer["records"]) == records.PAGE
    assert answer["next"] == answer["records"][-1]["sequence"]


def test_every_word_must_stand_in_the_record_and_case_does_not_matter(reader):
    found = all_pages(reader, q="INJECTOR 4 Height", kind="job result")
    targets = [
        (each.record.step, each.record.target)
        for each in reader.entries(kind="job result")
        if each.record.target == "injector 4"
    ]
    assert {("timing height", "injector 4")} == {
        (reader.entry(each["sequence"]).record.step, reader.entry(each["sequence"]).record.target)
        for each in found
    }
    assert len(found) < len(targets)
    assert len(all_pages(reader, q='"injector 4"', kind="job result")) == len(targets)
    assert not all_pages(reader, q="injector 4 nonsense-word")


@pytest.mark.parametrize(
    ("q", "is_there"),
    [("4", False), ("42", False), ("42.6", True), ("G-1", True), ("17", True), ("g-17", True),
     ("-17", True), ("7", False), ('"bench 2"', True), ('"bench 22"', False), ("plun", False)],
)  # fmt: skip
def test_a_word_begins_a_word_and_a_whole_number_stands_alone(tmp_path, q, is_there):
    with Logbook.open(tmp_path / "a.logbook", at=BEGUN) as book:
        book.append(make_note("it reads 42.610 with G-17 at bench 2; 4.5 turns"))
        assert bool(search(book, q=q, kind="note")["records"]) is is_there


def test_a_record_is_found_by_a_part_of_its_uid_but_not_by_a_short_one(tmp_path):
    with Logbook.open(tmp_path / "a.logbook", at=BEGUN) as book:
        note = make_note("x")
        book.append(note)
        assert search(book, q=note.uid[:13])["records"]
        assert not search(book, q=note.uid[:5], kind="note")["records"]


def test_a_word_that_is_only_the_name_of_a_field_finds_nothing(reader):
    assert not all_pages(reader, q="monotonic_s")


def test_a_kind_leaves_only_records_of_that_kind(reader, job_book):
    found = all_pages(reader, kind="job result")
    _, fitter, _ = job_book
    assert {each["kind"] for each in found} == {"job result"}
    assert len(found) == sum(each.kind == "job result" for each in fitter.records)


def test_a_day_leaves_only_records_of_that_day(tmp_path):
    with Logbook.open(tmp_path / "a.logbook", at=BEGUN) as book:
        book.append(make_note("of the day before, and it names 2026-03-02"))
        book.append(make_note("of the day", at=BEGUN.replace(day=2)))
        (found,) = search(book, day="2026-03-02")["records"]
        assert found["words"].endswith(": of the day")


def test_characters_that_json_writes_otherwise_are_found(tmp_path):
    with Logbook.open(tmp_path / "a.logbook", at=BEGUN) as book:
        book.append(make_note('He said "no\\yes" to ÄNDERUNG <b>'))
        for q in ('"no\\yes"', "änderung", "<b>"):
            assert len(search(book, q=q)["records"]) == 1, q


def test_a_rare_word_far_back_takes_several_questions_and_is_found(tmp_path, monkeypatch):
    monkeypatch.setattr(records, "MOST_LOOKED_AT", 50)
    with Logbook.open(tmp_path / "a.logbook", at=BEGUN) as book:
        book.append(make_note("the needle"))
        book.append_many(make_note(f"hay {number}") for number in range(180))
        answers, before = 0, None
        while True:
            answer = search(book, q="needle", before=before)
            answers += 1
            before = answer["next"]
            if answer["records"] or before is None:
                break
        assert answer["records"][0]["sequence"] == 2
        assert answers == 4


@pytest.mark.parametrize(
    "query",
    [{"before": "0"}, {"before": "-1"}, {"before": "1;"}, {"before": "9" * 40}, {"kind": "dog"},
     {"day": "yesterday"}, {"day": "2026-3-1"}, {"q": "x" * 201}],
)  # fmt: skip
def test_a_question_that_cannot_be_understood_is_refused(job_book, query):
    with pytest.raises(UnfitError):
        Records(job_book[0]).search(query)


def test_a_query_of_nothing_gives_the_newest_page(job_book, reader):
    assert Records(job_book[0]).search({}) == search(reader)


def test_a_logbook_that_is_not_there_is_told_in_words(tmp_path):
    with pytest.raises(PageError, match=r"not\.logbook"):
        Records(tmp_path / "not.logbook").search({})
    with pytest.raises(PageError, match=r"not\.logbook"):
        Records(tmp_path / "not.logbook").one("1")


def test_before_the_first_record_there_is_nothing(reader):
    answer = search(reader, before=1)
    assert (answer["records"], answer["next"]) == ([], None)


def test_every_record_can_be_told_alone_by_number_and_by_uid(reader):
    for each in reader.entries():
        if each.sequence % 9 and each.sequence < 30:
            continue
        if each.sequence % 40:
            continue
        told = one(reader, str(each.sequence))
        assert json.loads(json.dumps(told, allow_nan=False)) == told
        assert (told["hash"], told["sequence"], told["intact"]) == (each.hash, each.sequence, True)
        assert one(reader, each.record.uid) == told


@pytest.mark.parametrize(
    "uid", ["", "0", "999999", "x", "../etc", "0" * 36, "00000000-0000-0000-0000-000000000000"]
)
def test_a_record_that_is_not_there_is_none(reader, uid):
    assert one(reader, uid) is None


def test_a_result_names_its_captures_and_a_capture_is_named_by_its_point(reader):
    entry = next(each for each in reader.entries(kind="job result"))
    told = one(reader, str(entry.sequence))
    named = {each["uid"] for each in told["refers_to"]}
    assert {*entry.record.captures, entry.record.job} <= named
    capture = one(reader, entry.record.captures[0])
    assert {each["kind"] for each in capture["referred_by"]} >= {"job point", "job result"}


def test_a_note_about_a_record_is_among_what_refers_to_it(reader, job_book):
    told = one(reader, job_book[2].uid)
    assert "looked at twice" in [each["words"] for each in told["referred_by"]][-1]
    assert told["looked_through"]


def test_no_field_of_a_capture_is_left_out():
    capture = make_capture()
    told = fields_of(capture.model_dump(mode="json"))
    names = {each["name"] for each in told["fields"]}
    assert {"operator", "gauge: label", "spec: nominal", "verdict: outcome", "note"} <= names
    values = {each["name"]: each["value"] for each in told["fields"]}
    assert values["value"] == "12.340 mm"
    assert values["u"] == "0.00041 mm"
    tables = {each["name"]: each for each in told["tables"]}
    assert tables["readings"]["columns"] == ["t, s", "text", "unit", "status"]
    assert len(tables["readings"]["rows"]) == len(tables["frames"]["rows"]) == 3


def leaves(said):
    if isinstance(said, dict):
        return [leaf for each in said.values() for leaf in leaves(each)]
    if isinstance(said, list):
        return [leaf for each in said for leaf in leaves(each)]
    return [said]


def test_everything_that_a_record_says_stands_somewhere_in_its_fields(reader):
    kinds = set()
    for entry in reader.entries():
        body = json.loads(entry.body)
        if body["kind"] in kinds:
            continue
        kinds.add(body["kind"])
        told = json.dumps(fields_of(body), ensure_ascii=False)
        for name in ("kind", "format", "uid", "at"):
            body.pop(name, None)
        for leaf in leaves(body):
            if isinstance(leaf, str):
                assert json.dumps(leaf, ensure_ascii=False)[1:-1] in told, (entry.sequence, leaf)
    assert len(kinds) >= 7


def test_a_sheet_that_a_record_keeps_stands_as_a_text_by_itself(reader, job_book):
    told = one(reader, job_book[1].begun.uid)
    (text,) = told["texts"]
    assert (text["name"], text["text"]) == ("sheet toml", job_book[1].sheet.text)


def test_the_trace_has_the_readings_and_the_limits_as_lengths():
    trace = trace_of(make_capture())
    assert trace["points"] == [[0.0, 12.339], [0.1, 12.34], [0.2, 12.34]]
    assert (trace["lower_mm"], trace["nominal_mm"], trace["upper_mm"]) == (12.2, 12.3, 12.4)
    assert trace["U_mm"] == pytest.approx(0.00082)
    assert trace["marks"]["value"] == "12.3400"
    bare = trace_of(make_capture(spec=None, deviation_mm=None, verdict=None))
    assert bare["lower_mm"] is None
    assert "lower" not in bare["marks"]


def test_a_limit_on_one_side_only_has_no_other():
    spec = make_capture().spec.model_copy(update={"lower_mm": None})
    assert trace_of(make_capture(spec=spec))["lower_mm"] is None


def test_a_record_that_was_changed_says_so(tmp_path):
    path = tmp_path / "a.logbook"
    with Logbook.open(path, at=BEGUN) as book:
        book.append(make_note("true"))
        book.append(make_note("newest"))
    with tampering(path) as connection:
        connection.execute("UPDATE records SET body = replace(body, 'true', 'false')")
    with Logbook.read(path) as reader:
        told = one(reader, "2")
        assert not told["intact"]
        assert "false" in told["words"]


@pytest.mark.parametrize("body", ["no json", "[]", '{"kind": 3}', '{"kind":"comet","format":9}'])
def test_a_record_that_nobody_can_read_is_shown_as_it_stands(tmp_path, body):
    path = tmp_path / "a.logbook"
    with Logbook.open(path, at=BEGUN) as book:
        book.append(make_note("one"))
        book.append(make_note("two"))
    with tampering(path) as connection:
        connection.execute("UPDATE records SET body = ? WHERE sequence = 2", (body,))
    with Logbook.read(path) as reader:
        told = one(reader, "2")
        assert (told["readable"], told["body"]) == (False, body)
        assert told["why"]
        assert search(reader)["records"][1]["sequence"] == 2


def test_what_somebody_wrote_comes_through_as_text(tmp_path):
    nasty = '<script>alert("x")</script>'
    with Logbook.open(tmp_path / "a.logbook", at=BEGUN) as book:
        book.append(make_note(nasty, operator="<img src=x onerror=alert(1)>"))
        told = one(book, "2")
        assert nasty in told["words"]
        assert {"name": "text", "value": nasty} in told["fields"]


def test_reading_goes_on_while_somebody_writes(tmp_path):
    path = tmp_path / "a.logbook"
    with Logbook.open(path, at=BEGUN) as book:
        book.append(make_capture())
        seen = Records(path)
        assert len(seen.search({})["records"]) == 2
        writer = sqlite3.connect(path, isolation_level=None)
        writer.execute("BEGIN IMMEDIATE")
        assert len(seen.search({})["records"]) == 2
        writer.execute("ROLLBACK")
        writer.close()
        book.append(make_capture(1))
        assert len(seen.search({})["records"]) == 3


def test_the_kinds_that_can_be_asked_for_are_all_there_are(reader):
    assert search(reader)["kinds"] == sorted({kind for kind, _ in MODELS})
    assert Decimal(len(search(reader)["kinds"])) > 10
