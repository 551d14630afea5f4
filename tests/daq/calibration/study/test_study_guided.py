"""Guided studies: the order, what comes next after any interruption, results as from a file."""

import hashlib
import random
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest

from daq.calibration.errors import PlanError
from daq.calibration.study import StudyError
from daq.calibration.study.analysis import Asked, studied
from daq.calibration.study.guided import (
    Stamp,
    begun,
    captured,
    ended,
    next_task,
    session_at,
    taken_back,
)
from daq.calibration.study.guided_kept import KeptStudy, csv_of, kept_study, studies_in, table_of
from daq.calibration.study.guided_plan import study_plan_from_bytes
from daq.calibration.study.table import read_table
from daq.logbook import Logbook
from tests.daq.calibration.study.study_data import rows
from tests.daq.logbook.conftest import make_capture

CROSSED = """
[study]
title = "ring grooves"
design = "crossed"
parts = ["1", "2", "3"]
appraisers = ["Ada", "Ben"]
trials = 2
tolerance = "0.05 mm"
seed = 7
"""
BIAS = """
[study]
title = "blocks"
design = "bias"
trials = 3

[[references]]
part = "5 mm block"
value = "5.0003 mm"

[[references]]
part = "zero"
value = "0 mm"
"""
STABILITY = """
[study]
title = "ring R4"
design = "stability"
parts = ["ring R4"]
trials = 3
"""
AT = datetime(2026, 3, 2, 8, 0, tzinfo=UTC)
GAUGE = {
    "gauge_label": "D07",
    "identity": "usb-1",
    "profile": "signed-decimal-line",
    "resolution_mm": Decimal("0.001"),
}


def plan(text):
    return study_plan_from_bytes(text.encode(), "plan.toml")


def stamp(minutes=0):
    return Stamp("C. Lead", AT + timedelta(minutes=minutes))


def new(text):
    first = begun(plan(text), stamp=stamp(), station="bench 2", gauge=GAUGE)
    return KeptStudy(first)


def capture_of(value):
    made = make_capture()
    return made.model_copy(update={"value_mm": Decimal(value)})


def take(study, value, minutes=0, **session):
    task = next_task(study, **session)
    point = captured(study, task, capture_of(value), stamp(minutes))
    study.add(point)
    return point


def test_every_turn_comes_once_in_an_order_that_the_seed_alone_sets():
    order = plan(CROSSED).order
    turns = [(each.part, each.appraiser, each.trial) for each in order]
    assert len(set(turns)) == len(turns) == 12
    assert plan(CROSSED).order == order
    others = {plan(CROSSED.replace("seed = 7", f"seed = {n}")).order for n in range(20)}
    assert len(others) > 15
    assert plan(CROSSED.replace("seed = 7\n", "")).seed == int(
        hashlib.sha256(CROSSED.replace("seed = 7\n", "").encode()).hexdigest()[:8], 16
    )


def test_an_appraiser_has_all_parts_of_a_trial_one_after_the_other():
    order = plan(CROSSED).order
    for start in range(0, 12, 3):
        block = order[start : start + 3]
        assert len({(each.appraiser, each.trial) for each in block}) == 1
    assert [each.trial for each in order] == sorted(each.trial for each in order)


def test_the_order_can_be_worked_out_again_by_hand():
    first = plan(CROSSED).order[:3]
    appraiser = min("Ada", "Ben", key=lambda who: hashlib.sha256(f"7|1|{who}".encode()).digest())
    parts = sorted("123", key=lambda p: hashlib.sha256(f"7|1|{appraiser}|{p}".encode()).digest())
    assert [(each.appraiser, each.part) for each in first] == [(appraiser, p) for p in parts]


def test_a_study_is_walked_to_its_end():
    study = new(CROSSED)
    for number, turn in enumerate(study.begun.order, 1):
        task = next_task(study)
        assert (task.kind, task.place, task.turn) == ("measure", number, turn)
        assert task.title == f"{turn.appraiser}: part {turn.part}, trial {turn.trial}"
        assert (task.done, task.of, task.more) == (number - 1, 12, ())
        take(study, "12.340")
    assert next_task(study).kind == "end"
    study.add(ended(study, "complete", "", stamp()))
    assert next_task(study) is None


def test_earlier_values_are_shown_only_where_the_plan_says_so():
    study = new(CROSSED + "blind = false\n")
    for _ in range(6):
        take(study, "12.340")
    assert next_task(study).more[0].startswith("before: 12.340 mm by ")


def test_a_value_taken_again_takes_the_former_back_and_both_stay(tmp_path):
    study = new(CROSSED)
    take(study, "12.340")
    wrong = take(study, "13.000")
    note = taken_back(study, "slipped", stamp())
    assert (note.about, note.purpose) == (wrong.uid, "withdrawal")
    study.add(note)
    assert next_task(study).place == 2
    take(study, "12.341")
    assert len(study.points) == 3
    assert study.standing_points[2].value_mm == Decimal("12.341")
    study.add(taken_back(study, "look again", stamp(), place=1))
    assert next_task(study).place == 1
    with pytest.raises(StudyError, match="no value yet"):
        taken_back(study, "what", stamp(), place=9)


def test_a_capture_that_was_taken_back_takes_its_value_with_it():
    study = new(CROSSED)
    point = take(study, "12.340")
    study.add(taken_back(study, "x", stamp()).model_copy(update={"about": point.capture}))
    assert next_task(study).place == 1


def test_an_unfinished_study_gives_no_values():
    study = new(CROSSED)
    take(study, "12.340")
    with pytest.raises(StudyError, match="'ring grooves' has 1 of 12 values; go on with it"):
        table_of(study)


def published():
    """AIAG's 10 parts, 3 operators and 3 trials as a guided study; the values as millimetres."""
    table = rows("crossed_10x3x3")
    text = (
        '[study]\ntitle = "ten"\ndesign = "crossed"\ntrials = 3\nseed = 5\ntolerance = "4 mm"\n'
        f"parts = {[str(n) for n in range(1, 11)]}\nappraisers = ['A', 'B', 'C']\n"
    )
    values = {(row["part"], row["operator"], int(row["trial"])): row["value"] for row in table}
    return text, values


def test_the_published_study_comes_out_as_from_its_file():
    text, values = published()
    study = new(text)
    while (task := next_task(study)).kind == "measure":
        turn = task.turn
        take(study, values[turn.part, turn.appraiser, turn.trial])
    guided = studied(table_of(study), Asked(tolerance="4 mm"))
    lines = "".join(f"{p},{o},{t},{v},mm\n" for (p, o, t), v in values.items())
    from_file = studied(
        read_table(f"part,operator,trial,value,unit\n{lines}", "f.csv"), Asked(tolerance="4 mm")
    )
    for ours, theirs in zip(guided.studies, from_file.studies, strict=True):
        assert {e.name: e.sd for e in ours.components} == pytest.approx(
            {e.name: e.sd for e in theirs.components}, rel=1e-12
        )
    by_variance, by_range = guided.studies
    shares = [each.component("measurement").of_sd for each in (by_variance, by_range)]
    assert [round(100 * share, 1) for share in shares] == [27.9, 26.7]


def test_values_of_a_bias_study_stand_against_their_references():
    study = new(BIAS)
    assert len(study.begun.order) == 6
    while (task := next_task(study)).kind == "measure":
        assert "trial" in task.title
        take(study, "5.0013" if task.turn.part == "5 mm block" else "0.0002")
    result = studied(table_of(study), Asked())
    assert [(each.reference, each.n) for each in result.study.at] == [(0.0, 3), (5.0003, 3)]
    assert result.study.at[1].bias == pytest.approx(0.001)


def test_a_check_standard_is_measured_session_by_session_without_an_end():
    study = new(STABILITY)
    for day in range(4):
        minutes = day * 24 * 60
        first = session_at(study, stamp(minutes).at)
        assert first == 3 * day + 1
        for n in range(3):
            assert next_task(study, session=first).title == f"ring R4: value {n + 1} of this round"
            take(study, f"25.00{day + n}", minutes + n, session=first)
        assert next_task(study, session=first) is None
    lines = csv_of(study).splitlines()
    assert lines[0] == "at,value,unit"
    assert lines[1] == "2026-03-02,25.000,mm"
    result = studied(table_of(study), Asked())
    assert len(result.names) == 4
    assert [chart.name for chart in result.study.charts] == ["averages of 3", "ranges"]


def test_sessions_of_one_day_are_told_apart_by_their_time():
    study = new(STABILITY.replace("trials = 3", "trials = 1"))
    for minutes in (0, 1, 300):
        take(study, "25.000", minutes, session=session_at(study, stamp(minutes).at))
    assert [line.split(",")[0] for line in csv_of(study).splitlines()[1:]] == [
        "2026-03-02 08:00:00",
        "2026-03-02 08:01:00",
        "2026-03-02 13:00:00",
    ]


def test_a_session_that_was_interrupted_goes_on_soon_or_never():
    study = new(STABILITY)
    take(study, "25.000")
    assert session_at(study, stamp(60).at) == 1
    assert next_task(study, session=1).place == 2
    later = session_at(study, stamp(24 * 60).at)
    assert later == 4
    for n in range(3):
        take(study, "25.001", 24 * 60 + n, session=later)
    assert csv_of(study).count("25.000") == 0
    assert csv_of(study).count("25.001") == 3
    with pytest.raises(StudyError, match="no value yet"):
        taken_back(study, "old", stamp(), session=7)


def keep(book, study, number):
    """The next value captured and kept, as a run does it."""
    capture = make_capture(number)
    point = captured(study, next_task(study), capture, stamp(number))
    book.append_many([capture, point])
    study.add(point)
    return point


def test_what_the_logbook_has_is_the_study_at_any_moment(tmp_path):
    study, rng, number = new(published()[0]), random.Random(3), 0
    with Logbook.open(tmp_path / "log") as book:
        other = begun(plan(CROSSED), stamp=stamp(), station="x", gauge=GAUGE)
        book.append_many([make_capture(), study.begun, other])
        while next_task(study).kind == "measure":
            number += 1
            keep(book, study, number)
            if rng.random() < 0.1:
                note = taken_back(study, "again", stamp())
                book.append(note)
                study.add(note)
            if rng.random() < 0.1:
                study = kept_study(book, study.begun.uid)
        assert [each.uid for each in studies_in(book)] == [study.begun.uid, other.uid]
        again = kept_study(book, study.begun.uid)
        assert again.standing_points == study.standing_points
        assert len(again.points) > 90
        assert csv_of(again) == csv_of(study)
        assert kept_study(book, other.uid).points == []
        assert kept_study(book, again.points[0].uid) is None


def test_a_point_that_says_another_value_than_its_capture_is_refused(tmp_path):
    study = new(CROSSED)
    with Logbook.open(tmp_path / "log") as book:
        book.append(study.begun)
        point = keep(book, study, 1)
        assert kept_study(book, study.begun.uid).points == [point]
        wrong = captured(study, next_task(study), capture_of("13.5"), stamp())
        book.append(wrong.model_copy(update={"capture": point.capture}))
        with pytest.raises(StudyError, match=r"value 2 .* 13\.5 mm, and its capture 12\.341 mm"):
            kept_study(book, study.begun.uid)
    with Logbook.open(tmp_path / "another") as book:
        book.append_many([study.begun, wrong])
        with pytest.raises(StudyError, match="its capture is not there"):
            kept_study(book, study.begun.uid)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (CROSSED.replace('"3"]', '"2"]'), 'plan.toml:5: study.parts.3: "2" stands twice'),
        (CROSSED.replace('["Ada", "Ben"]', '["Ada"]'), "plan.toml:6: study.appraisers: a crossed"),
        (CROSSED.replace("trials = 2", "trials = 1"), "plan.toml:7: study.trials: repeatability"),
        (
            CROSSED.replace('"0.05 mm"', '"0.05"'),
            "plan.toml:8: study.tolerance: '0.05' has no unit",
        ),
        (CROSSED.replace("crossed", "cross"), "plan.toml:4: study.design:"),
        (CROSSED.replace("trials = 2", "trails = 2"), 'did you mean "trials"?'),
        (CROSSED + "[[references]]\npart = '1'\nvalue = '1 mm'\n", "they are for a study of bias"),
        (BIAS.split("[[")[0], "plan.toml:4: study.design: a study of bias needs [[references]]"),
        (BIAS.replace("trials = 3", 'parts = ["a"]'), "study.parts: a study of bias has"),
        (BIAS.replace('"zero"', '"5 mm block"'), "references.2.part:"),
        (BIAS.replace("trials = 3", 'tolerance = "1 mm"'), "study.tolerance: it is for a crossed"),
        (
            STABILITY.replace('["ring R4"]', '["a", "b"]'),
            "study.parts: stability is studied on one",
        ),
        (STABILITY + 'appraisers = ["a"]\n', "study.appraisers: whoever measures"),
        (BIAS.replace("trials = 3", "trials = 101"), "study.trials: 101 must be at most 100"),
        ("", "study: is missing"),
    ],
)
def test_a_mistake_in_a_plan_is_told_with_file_and_line(text, says):
    with pytest.raises(PlanError) as told:
        plan(text)
    assert says in str(told.value)


@pytest.mark.parametrize(
    "change",
    [
        {"order": ()},
        {"references_mm": (Decimal(1),)},
        {"tolerance_mm": Decimal(0)},
        {"trials": 3},
        {"design": "stability"},
        {"design": "bias"},
    ],
)
def test_a_first_record_that_contradicts_itself_cannot_be_made(change):
    first = new(CROSSED).begun
    with pytest.raises(ValueError, match=r"order|references|tolerance"):
        type(first).model_validate({**first.model_dump(), **change})
