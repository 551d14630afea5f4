"""The calibration page's part of a state: a true curve, and only what can be asked is offered."""

import json
from decimal import Decimal

import pytest

from daq.calibration.guided import curve_of
from daq.page.calibration_state import calibration_message
from daq.screen.calibration_view import CalibrationView, large_of, last_words, more_of
from tests.daq.calibration.guided.lab import Lab


def view(lab, **more):
    """As the run makes it, without a gauge."""
    stands, task = lab.stands(), lab.task()
    return CalibrationView(
        kind=task.kind, title=task.title, words=task.words, large=large_of(task),
        more=more_of(task), done=task.done, of=task.of,
        curve=curve_of(stands) if stands.current.taken else None,
        step_mm=stands.gauge.step_mm, last=last_words(stands), standing=stands, task=task, **more,
    )  # fmt: skip


def message(lab, **more):
    return calibration_message(view(lab, **more))


@pytest.fixture
def lab():
    return Lab()


def test_every_moment_of_a_whole_calibration_can_be_sent_as_json(lab):
    kinds = set()
    while lab.task() is not None:
        told = message(lab)
        kinds.add(told["kind"])
        assert json.loads(json.dumps(told, allow_nan=False)) == told
        lab.step()
    assert kinds == {"conditions", "point", "adjusted or not", "end"}


def test_at_first_the_temperature_is_asked_for_and_there_is_no_curve(lab):
    told = message(lab)
    assert (told["asks"], told["curve"], told["temperature"]) == ("temperature", None, "")
    assert told["can"] == {
        "back": False, "anew": True, "insist": False, "adjusted": False, "not adjusted": False,
    }  # fmt: skip
    lab.step()
    told = message(lab)
    assert (told["asks"], told["temperature"]) == (None, "20.1 °C")


def test_the_points_are_those_that_were_taken_with_their_errors(lab):
    for _ in range(6):
        lab.step()
    told, points = message(lab), lab.stands().current.points
    drawn = told["curve"]["points"]
    assert [(each["at_mm"], each["error_mm"]) for each in drawn] == [
        (float(each.nominal_mm), float(each.error_mm)) for each in points
    ]
    assert {each["way"] for each in drawn} == {"up"}
    assert [Decimal(each["error"]) for each in drawn] == [
        each.error_mm.quantize(Decimal("0.0001")) for each in points
    ]
    assert told["can"]["back"]
    assert told["can"]["insist"]


def test_the_limits_reach_over_the_travel_and_are_those_of_the_gauge(lab):
    for _ in range(4):
        lab.step()
    told, curve = message(lab)["curve"], curve_of(lab.stands())
    (band,) = told["limits"]
    assert (band["from_mm"], band["to_mm"]) == (told["from_mm"], told["to_mm"]) == (
        0.0, float(curve.to_mm),
    )  # fmt: skip
    assert (band["lower_mm"], band["upper_mm"]) == (float(curve.lower_mm), float(curve.upper_mm))
    assert told["within"] is curve.is_within


def test_the_next_place_is_that_of_the_block_that_is_asked_for(lab):
    lab.step()
    lab.step()
    told = message(lab)
    assert told["curve"]["next_mm"] == float(lab.task().wanted.stop.nominal_mm)
    lab.work(until="adjusted or not")
    assert message(lab)["curve"]["next_mm"] is None


def test_at_the_result_every_characteristic_stands_with_its_uncertainty_and_word(lab):
    lab.work(until="adjusted or not")
    told = message(lab)
    result = lab.task().result
    assert told["result"]["word"] == result.word
    rows = told["result"]["characteristics"]
    assert [each["what"] for each in rows] == [each.what for each in result.characteristics]
    assert all(each["U"].endswith(" mm") and each["word"] for each in rows)
    figures = [each["U"].removesuffix(" mm").replace(".", "").lstrip("0") for each in rows]
    assert {len(each) for each in figures} == {2}  # as a certificate has it
    assert told["can"]["adjusted"]
    assert told["can"]["not adjusted"]
    assert not told["can"]["anew"]


def test_after_an_adjustment_the_curve_as_found_stays_beside_the_new_one():
    lab = Lab(adjusts="the lever")
    lab.work(until="adjusted or not")
    found = len(message(lab)["curve"]["points"])
    lab.step()
    for _ in range(4):
        lab.step()
    told = message(lab)
    runs = [each["run"] for each in told["curve"]["points"]]
    assert told["run"] == told["curve"]["run"] == "as left"
    assert runs.count("as found") == found
    assert runs.count("as left") == len(lab.stands().current.points) > 0


def test_a_view_without_its_standing_still_says_its_task():
    told = calibration_message(
        CalibrationView(kind="point", title="DI-7", words="Block 5.", large=("BLOCK 5",))
    )
    assert (told["large"], told["gauge"], told["can"]["back"]) == (["BLOCK 5"], "", False)
