"""What is not taken for an answer, and how a calibration ends."""

from datetime import date
from decimal import Decimal

import pytest

from daq.calibration import guided
from daq.calibration.checks import Refusal
from daq.calibration.due import Proposal
from daq.calibration.entered import gauge_record, standard_record
from daq.calibration.errors import CalibrationError, PlanError
from daq.logbook.calibration import CalibrationGate
from daq.spec.rules import rule_from
from tests.daq.calibration.guided.lab import BEGAN, TECHNICIAN, Gauge, Lab
from tests.daq.calibration.invented import gauge, plan, standard

D = Decimal


def at_point(place):
    """A calibration whose next task is this reading of the plan."""
    lab = Lab()
    for _ in range(place):
        lab.step()
    assert lab.task().wanted.stop.place == place
    return lab


def test_a_temperature_outside_the_plan_is_refused_and_says_why():
    lab = Lab()
    refusal = guided.conditions(lab.stands(), D("22.5"), lab.stamp())
    assert (refusal.kind, refusal.words) == (
        "temperature",
        "It is 22.5 °C, and the plan allows 19 to 21 °C. Wait.",
    )
    gate = guided.conditions(lab.stands(), D("20.9"), lab.stamp(), "soaked overnight")
    assert (gate.gate, gate.temperature_c, gate.said) == (
        "conditions",
        D("20.9"),
        "soaked overnight",
    )


def test_a_temperature_that_has_drifted_is_refused_until_the_run_is_begun_again():
    lab = at_point(5)
    drifted = D("20.7")
    refusal = guided.conditions(lab.stands(), drifted, lab.stamp())
    assert "changed by 0.6 K" in refusal.words
    lab.say(guided.anew(lab.stands(), "warmer", lab.stamp()))
    lab.say(guided.conditions(lab.stands(), drifted, lab.stamp()))
    lab.temperature_c = drifted
    lab.work("adjusted or not")
    assert {each.temperature_c for each in lab.points()[-19:]} == {drifted}


def test_a_temperature_said_between_counts_for_the_points_after_it():
    lab = at_point(5)
    lab.say(guided.conditions(lab.stands(), D("20.3"), lab.stamp()))
    lab.work("adjusted or not")
    said = [each.temperature_c for each in lab.points()]
    assert said == [D("20.1")] * 4 + [D("20.3")] * 15
    assert lab.stands().current.first_temperature_c == D("20.1")
    assert lab.stands().current.mean_temperature_c() == D("20.258")  # (4·20.1 + 15·20.3) / 19


def test_the_result_is_at_the_mean_temperature_and_by_the_rule_of_its_beginning():
    lab = Lab(gauge(expansion=20), level=D("0.99"))
    for _ in range(5):
        lab.step()
    lab.say(guided.conditions(lab.stands(), D("20.3"), lab.stamp()))
    lab.work("adjusted or not")
    result = lab.stands().as_found.result
    assert any("at 20.258 °C" in each for each in result.remarks), result.remarks
    bounded = Lab(gauge(expansion=20), largest_expanded_mm=D("0.001")).work("adjusted or not")
    assert bounded.stands().as_found.result.word == "not judged"
    usual = Lab(gauge(expansion=20)).work("adjusted or not").stands().as_found.result
    assert usual.word == "pass"
    assert result.points[0].k > D(5) > usual.points[0].k


def test_a_drift_that_something_else_let_through_still_stops_the_run():
    lab = at_point(5)
    lab.keep(gate(lab, "conditions", "as found").model_copy(update={"temperature_c": D("20.7")}))
    assert "changed by 0.6 K" in lab.take().words


def test_a_reversal_is_refused_and_nobody_can_insist_on_it():
    lab = at_point(5)
    passed = guided.Passed(lowest_mm=D("2.9"), highest_mm=D("5.2"))
    refusal = lab.take(passed=passed, insisted=guided.Insisted("in a hurry", "M. Ostby"))
    assert (refusal.kind, refusal.may_insist) == ("reversal", False)
    assert lab.task().wanted.stop.place == 5
    assert lab.take(passed=guided.Passed(D("2.9"), D("5.002"))) is None
    point = lab.points()[-1]
    assert (point.lowest_mm, point.highest_mm, point.insisted) == (D("2.9"), D("5.002"), "")


def test_a_wrong_block_is_refused_unless_somebody_insists_and_answers_for_it():
    lab = at_point(5)
    refusal = lab.take("7.5")
    assert (refusal.kind, refusal.may_insist) == ("wrong block", True)
    assert "It looks like blocks 6 + 1.5 mm" in refusal.words
    nobody = lab.take("7.5", insisted=guided.Insisted("it is so", " "))
    assert (nobody.kind, nobody.may_insist) == ("answer", False)
    assert lab.take("5.06", insisted=guided.Insisted("bent spindle", "A. Foreman")) is None
    assert lab.points()[-1].insisted == "bent spindle (A. Foreman)"
    lab.work("adjusted or not")
    result = lab.stands().as_found.result
    assert result.word == "fail"
    assert "bent spindle (A. Foreman)" in result.doubts[-1]


def test_who_insists_on_the_block_still_may_not_reverse():
    lab = at_point(5)
    insisted = guided.Insisted("bent spindle", "A. Foreman")
    refusal = lab.take("5.06", passed=guided.Passed(D("2"), D("5.4")), insisted=insisted)
    assert refusal.kind == "reversal"


def test_insisting_where_nothing_is_wrong_leaves_no_trace():
    lab = at_point(5)
    assert lab.take(insisted=guided.Insisted("just in case", "A. Foreman")) is None
    assert lab.points()[-1].insisted == ""


@pytest.mark.parametrize(
    ("kind", "value", "facts"),
    [
        ("another gauge", "5.000", {"identity": "ADAPTER-9"}),
        ("another gauge", "5.000", {"identity": ""}),
        ("low battery", "5.000", {"status": ("battery-low",)}),
        ("gauge status", "5.000", {"status": ("held",)}),
        ("direction of count", "-5.000", {}),
        ("unit", "0.197", {}),
    ],
)
def test_a_slip_is_refused_with_its_kind_and_nothing_is_kept(kind, value, facts):
    lab = at_point(5)
    before = len(lab.transactions)
    assert lab.take(value, insisted=guided.Insisted("so what", "M. Ostby"), **facts).kind == kind
    assert len(lab.transactions) == before


def test_a_gauge_without_an_identity_of_its_own_is_taken_by_any():
    lab = Lab(gauge(identity=None))
    lab.step()
    assert lab.take(identity="whatever") is None


def test_coming_back_on_another_block_says_that_too_and_nobody_can_insist():
    lab = at_point(6)
    lab.interrupt()
    lab.step()
    refusal = lab.take("8.2", insisted=guided.Insisted("it is so", "M. Ostby"))
    assert (refusal.kind, refusal.may_insist) == ("wrong block", False)
    assert "begin the run again" in refusal.words


def test_the_uncertainty_of_a_certificate_whose_k_leaves_a_rest_can_be_kept():
    values = [each.model_dump(by_alias=True, mode="json") for each in standard().values]
    lab = Lab(blocks=standard(values=[each | {"k": 3} for each in values]))
    lab.work("adjusted or not")
    # U = 0.1 µm, k = 3: 33.3… nm a block, and 2.5 mm takes two; rounded up to a picometre.
    assert lab.points()[1].u_reference_mm == D("0.000066667")


def test_no_adjustment_may_be_said_before_it_is_known_how_the_gauge_was_found():
    lab = at_point(19)
    with pytest.raises(CalibrationError, match="lacks 1 point as found"):
        guided.adjusted(lab.stands(), "pivot cleaned", lab.stamp())
    with pytest.raises(CalibrationError, match="not known yet"):
        guided.not_adjusted(lab.stands(), lab.stamp())
    lab.step()
    with pytest.raises(CalibrationError, match="Say what was adjusted"):
        guided.adjusted(lab.stands(), " ", lab.stamp())
    assert guided.adjusted(lab.stands(), "pivot cleaned", lab.stamp()).run == "as found"


def test_after_an_adjustment_it_cannot_be_left_as_found_nor_end_without_the_whole_run_as_left():
    lab = Lab(adjusts="pivot cleaned").work("adjusted or not")
    for _ in range(19):
        lab.step()
    with pytest.raises(CalibrationError, match="cannot be left as it was found: it was"):
        guided.not_adjusted(lab.stands(), lab.stamp())
    with pytest.raises(CalibrationError, match="lacks 2 points as left"):
        guided.completed(lab.stands(), guided.Ending(certificate="C-1"), [], lab.stamp())


def test_it_cannot_end_before_somebody_has_said_whether_it_was_adjusted():
    lab = Lab().work("adjusted or not")
    with pytest.raises(CalibrationError, match="Nobody has said yet"):
        guided.completed(lab.stands(), guided.Ending(certificate="C-1"), [], lab.stamp())


def test_a_run_is_not_begun_again_without_a_reason_nor_after_it_was_decided():
    lab = at_point(3)
    with pytest.raises(CalibrationError, match="Say why"):
        guided.anew(lab.stands(), "", lab.stamp())
    lab.work("end")
    with pytest.raises(CalibrationError, match="Take that back first"):
        guided.anew(lab.stands(), "I do not like it", lab.stamp())


def test_no_number_is_given_twice_in_a_logbook():
    stands = Lab().work("end").stands()
    taken = []
    for _ in range(40):
        number = guided.certificate_number(stands, taken)
        assert number.casefold() not in {each.casefold() for each in taken}
        assert number.startswith("DI-7-20260601-")
        taken.append(number.upper())


def test_a_typed_number_that_is_there_already_is_refused():
    lab = Lab().work("end")
    told = lambda **facts: guided.completed(  # noqa: E731
        lab.stands(), guided.Ending(**{"certificate": "C-2"} | facts), ["C-1"], lab.stamp()
    )
    assert "There is a certificate c-1 already" in told(certificate=" c-1").words
    assert "needs a number" in told(certificate=" ").words
    assert "cannot be due on 2026-06-01" in told(due=date(2026, 6, 1)).words
    for ends in ({"to_mm": D("10.5")}, {"from_mm": D(5), "to_mm": D(5)}, {"from_mm": D(-1)}):
        assert "is no piece of a range of 10 mm" in told(**ends).words
    ended = told(from_mm=D(2), to_mm=D(8), authorised_by=" A. Chief ", remarks="lower half only")
    assert (ended.certificate, ended.from_mm, ended.to_mm) == ("C-2", D(2), D(8))
    assert (ended.authorised_by, ended.remarks) == ("A. Chief", "lower half only")


def test_the_due_date_is_asked_of_the_history_as_if_it_had_been_calibrated():
    stands = Lab(instrument=Gauge(wave_mm=0.008), adjusts="pivot cleaned").work("end").stands()
    asked = []

    def next_due(calibrated):
        asked.append(calibrated)
        return Proposal(date(2026, 12, 1), 6, "6 months, down from 12.", (calibrated,))

    ending = guided.proposed(stands, [], next_due)
    assert (ending.due, ending.due_words) == (date(2026, 12, 1), "6 months, down from 12.")
    assert ending.authorised_by == ""
    (calibrated,) = asked
    assert (calibrated.on, calibrated.as_found, calibrated.as_left) == (
        date(2026, 6, 1), "fail", "pass",
    )  # fmt: skip


def test_no_day_is_proposed_for_a_gauge_that_did_not_pass():
    stands = Lab(instrument=Gauge(wave_mm=0.008)).work("end").stands()
    ending = guided.proposed(stands, [], lambda _: pytest.fail("it was asked"))
    assert (ending.due, ending.due_words) == (None, "No day is set: as left it is fail.")


def test_broken_off_needs_a_reason_and_keeps_how_it_was_found():
    lab = Lab(instrument=Gauge(wave_mm=0.008), adjusts="pivot cleaned").work("adjusted or not")
    lab.step()
    with pytest.raises(CalibrationError, match="Say why"):
        guided.broken_off(lab.stands(), " ", lab.stamp())
    lab.say(guided.broken_off(lab.stands(), "spindle broke", lab.stamp()))
    ended = lab.kept.records[-1]
    assert (ended.how, ended.certificate, ended.as_found, ended.as_left) == (
        "broken off", "", "fail", None,
    )  # fmt: skip
    assert lab.task() is None
    for answer in (
        lambda: guided.broken_off(lab.stands(), "again", lab.stamp()),
        lambda: guided.conditions(lab.stands(), D(20), lab.stamp()),
        lambda: guided.adjusted(lab.stands(), "more", lab.stamp()),
        lambda: guided.taken_back(lab.stands(), "no", lab.stamp()),
    ):
        with pytest.raises(CalibrationError, match="has ended"):
            answer()


def begin(**facts):
    facts = {"device": gauge(), "blocks": standard(), "sheet": plan(), "at": BEGAN} | facts
    return guided.begun(
        gauge_record(facts["device"], TECHNICIAN, BEGAN),
        standard_record(facts["blocks"], TECHNICIAN, BEGAN),
        None,
        facts["sheet"],
        guided.Order(rule=rule_from("guarded 1U")),
        operator=TECHNICIAN,
        at=facts["at"],
    )


def test_it_begins_with_a_plan_and_a_standard_that_go_with_the_gauge_only():
    assert begin().rule == "guarded 1U"
    with pytest.raises(CalibrationError, match="for a range of 10 mm, and DI-7 has 25 mm"):
        begin(device=gauge(range="25 mm"))
    with pytest.raises(PlanError, match="blocks was due on 2026-05-31"):
        begin(blocks=standard(due="2026-05-31"))
    with pytest.raises(PlanError, match="cannot be made up"):
        begin(blocks=standard(values=[each for each in standard().values if each.nominal_mm > 2]))


def changed(lab, place, **facts):
    lab.kept.records[place] = lab.kept.records[place].model_copy(update=facts)


def gate(lab, name, run):
    begins = lab.stamp().on(lab.stands())
    return CalibrationGate(**begins, gate=name, run=run, asked="", said="", temperature_c=None)


UNSOUND = {
    "another calibration": lambda lab: changed(
        lab, 2, calibration="00000000-0000-4000-8000-000000000009"
    ),
    "without a temperature": lambda lab: changed(lab, 0, temperature_c=None),
    "a capture that does not stand before it": lambda lab: lab.kept.captures.pop(
        lab.points()[2].capture
    ),
    "says 9 mm (u = 0.0004 mm), and its capture": lambda lab: changed(lab, 3, reading_mm=D(9)),
    "adjusted before it was known": lambda lab: lab.keep(gate(lab, "adjusted", "as found")),
    "nobody has said that the gauge was adjusted": lambda lab: changed(lab, 4, run="as left"),
    "(u = 0.00001 mm), and its capture": lambda lab: changed(lab, 5, u_reading_mm=D("0.00001")),
    "is not in p.toml": lambda lab: changed(lab, 4, nominal_mm=D("4.1")),
    "a.toml:1": lambda lab: setattr(
        lab.kept, "begun",
        lab.kept.begun.model_copy(update={"plan_toml": "nonsense", "plan_name": "a.toml"}),
    ),
    "that is not sound": lambda lab: setattr(
        lab.kept, "gauge", lab.kept.gauge.model_copy(update={"range_mm": D("-1")})
    ),
}  # fmt: skip


@pytest.mark.parametrize("told", UNSOUND)
def test_records_that_contradict_each_other_are_told_and_nothing_rests_on_them(told):
    lab = at_point(6)
    UNSOUND[told](lab)
    with pytest.raises(CalibrationError) as error:
        guided.standing(lab.kept)
    assert told in str(error.value)


def test_records_after_the_end_or_as_found_after_adjusting_are_told():
    lab = Lab(adjusts="pivot cleaned").work()
    lab.kept.records.append(lab.kept.records[3])
    with pytest.raises(CalibrationError, match="goes on after its end"):
        lab.stands()
    lab = Lab(adjusts="pivot cleaned").work("adjusted or not")
    for _ in range(5):
        lab.step()
    changed(lab, -1, run="as found")
    with pytest.raises(CalibrationError, match="as found from after"):
        lab.stands()


def test_a_rule_that_is_none_is_told_when_the_last_point_comes():
    lab = at_point(19)
    lab.kept.begun = lab.kept.begun.model_copy(update={"rule": "by feel"})
    with pytest.raises(CalibrationError, match="'by feel' is no decision rule"):
        lab.take()


def test_a_calibration_that_was_taken_back_as_a_whole_does_not_go_on():
    lab = at_point(4)
    note = guided.taken_back(lab.stands(), "wrong gauge", lab.stamp())
    lab.keep(note.model_copy(update={"about": lab.kept.begun.uid}))
    with pytest.raises(CalibrationError, match="was taken back: wrong gauge"):
        lab.stands()


def test_nothing_can_be_taken_back_before_anything_was_taken():
    lab = at_point(1)
    with pytest.raises(CalibrationError, match="no point as found to take back"):
        guided.taken_back(lab.stands(), "dirt", lab.stamp())
    lab.step()
    with pytest.raises(CalibrationError, match="Say why"):
        guided.taken_back(lab.stands(), "", lab.stamp())


def test_a_result_needs_every_point():
    lab = at_point(8)
    with pytest.raises(CalibrationError, match="lacks 12 points as found"):
        guided.worked_out(lab.stands(), lab.stamp())


def test_a_reading_is_taken_for_a_point_only():
    lab = Lab()
    with pytest.raises(CalibrationError, match="No reading is asked for"):
        lab.take("0.000")


def test_monte_carlo_is_kept_where_it_is_asked_for():
    lab = at_point(19)
    lab.step()
    bare = lab.stands().as_found.result
    checked = guided.worked_out(lab.stands(), lab.stamp(), with_monte_carlo=True)
    assert bare.monte_carlo == ()
    assert len(checked.monte_carlo) == len(checked.budgets)
    assert not isinstance(checked, Refusal)
