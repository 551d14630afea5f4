"""Measuring a result again: a new record sets it aside, a reason is needed, nothing is deleted."""

import pytest

from daq.jobs.keeping import KeptJob
from daq.jobs.tasks import next_task
from daq.logbook import Capture, Logbook
from daq.logbook.job import JobException
from daq.measure.station import Station
from daq.screen.job_run import Command, JobRun
from tests.daq.jobs.fitter import BEGAN, Fitter


@pytest.fixture
def fitter():
    """Two liners are measured; the third is next."""
    fitter = Fitter()
    while next_task(fitter.stands(), fitter.captures).target != "cylinder 3":
        assert fitter.step()
    return fitter


@pytest.fixture
def run(fitter, tmp_path):
    """Runs the job with these commands, then stops; its views and the logbook's entries."""

    def work(*commands):
        kept = KeptJob(fitter.begun, [each for each in fitter.records if not_a_capture(each)])
        kept.captures.update(fitter.captures)
        asked, views = [*([each] for each in commands), [], [], [Command("quit")]], []
        with (
            Logbook.open(tmp_path / "a.logbook", at=BEGAN) as book,
            Station([], logbook=book) as station,
        ):
            before = book.last().sequence
            job = JobRun(
                station, book, fitter.sheet, kept, {}, "R. Ahlers",
                lambda view, _: views.append(view), lambda: asked.pop(0),
            )  # fmt: skip
            stands = job.run()
            added = [each.record for each in book.entries(before + 1)]
        return stands, views, added

    return work


def not_a_capture(record):
    return not isinstance(record, Capture)


def latest(fitter, target="cylinder 1"):
    return fitter.stands().target("liner projection", target).latest


def test_the_target_is_asked_for_once_more_and_its_result_stays(fitter, run):
    result = latest(fitter)
    stands, views, added = run(
        Command("again", reason="the clamp was loose", by="B. Lund", uid=result.uid)
    )
    (record,) = added
    assert isinstance(record, JobException)
    assert (record.what, record.reason, record.by) == ("again", "the clamp was loose", "B. Lund")
    assert (record.step, record.target) == ("liner projection", "cylinder 1")
    target = stands.target("liner projection", "cylinder 1")
    assert target.latest is None
    assert [each.uid for each in target.results] == [result.uid]
    assert target.as_found.uid == result.uid
    assert (views[-1].task.target, views[-1].task.kind) == ("cylinder 1", "measure")
    assert views[-1].standing.target("liner projection", "cylinder 1").latest is None


def test_who_works_answers_for_it_if_nobody_else_is_named(fitter, run):
    _, _, added = run(Command("again", reason="it was dirty", uid=latest(fitter).uid))
    assert added[0].by == "R. Ahlers"


@pytest.mark.parametrize("reason", ["", "   "])
def test_without_a_reason_nothing_is_kept(fitter, run, reason):
    stands, views, added = run(Command("again", reason=reason, uid=latest(fitter).uid))
    assert added == []
    assert "a reason is needed" in views[-1].notice
    assert stands.target("liner projection", "cylinder 1").latest is not None


@pytest.mark.parametrize("uid", ["", "no-such-result"])
def test_a_result_that_is_not_there_is_refused(run, uid):
    _, views, added = run(Command("again", reason="why not", uid=uid))
    assert added == []
    assert "only the latest result of a target" in views[-1].notice


def test_a_result_that_was_set_aside_already_is_refused(fitter, run):
    uid = latest(fitter).uid
    _, views, added = run(
        Command("again", reason="once", uid=uid), Command("again", reason="twice", uid=uid)
    )
    assert [each.reason for each in added] == ["once"]
    assert any("only the latest result" in view.notice for view in views)


def test_the_view_has_the_standing_and_the_task_that_it_was_made_from(fitter, run):
    _, views, _ = run()
    assert views[0].task.target == "cylinder 3"
    assert views[0].standing.target("liner projection", "cylinder 2").latest == latest(
        fitter, "cylinder 2"
    )
    assert views[0].standing is views[1].standing
    assert views[0].task is views[1].task
