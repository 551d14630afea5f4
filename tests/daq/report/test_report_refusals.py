"""What no report is made from: a sheet, a record or a capture that is not as it should be."""

import pytest

from daq.logbook.book import Entry
from daq.report import JobUnreadableError, facts_of
from tests.daq.report.making import Job, good_job


@pytest.fixture
def log(tmp_path):
    return tmp_path / "log"


@pytest.mark.parametrize(
    ("begun", "said"),
    [
        ({"sheet_sha256": "0" * 64}, "and the record says 0000"),
        ({"sheet_revision": "D"}, "was begun by .* revision D, and the sheet in its record"),
        ({"variant": "900 rpm"}, "has no variant '900 rpm'"),
    ],
)
def test_a_sheet_that_is_not_the_one_of_the_record_is_refused(begun, said, log):
    with pytest.raises(JobUnreadableError, match=said):
        Job.report(_begun_otherwise(log, begun))


def _begun_otherwise(log, begun):
    class Otherwise(Job):
        def __init__(self):
            super().__init__(log)
            self.begun = self.begun.model_copy(update={"uid": self.uid(), **begun})
            self.book.append(self.begun)

    return Otherwise()


def test_a_job_whose_capture_is_not_there_is_refused(log):
    job = Job(log)
    other = Job(log.with_name("other"))
    other.count = 500
    job.result(
        "stop", "engine", "as found", "14.24",
        captures=[other.capture("14.24", "depth", "stop", "engine", "as found")],
    )  # fmt: skip
    with pytest.raises(JobUnreadableError, match="which is not in this logbook"):
        job.report()


def test_a_record_that_cannot_be_read_since_the_job_began_is_refused(log):
    job = good_job(log)
    strange = Entry(999, "0" * 64, "0" * 64, '{"format":9,"kind":"job result"}')
    with pytest.raises(JobUnreadableError, match="Record 999 of the logbook cannot be read"):
        facts_of([*job.book.entries(), strange], job.book.id, job.begun.uid)
    before = Entry(1, "0" * 64, "0" * 64, '{"format":9,"kind":"job result"}')
    assert facts_of([before, *job.book.entries(2)], job.book.id, job.begun.uid).first == 2


def test_a_record_of_a_step_that_is_not_on_the_sheet_is_refused(log):
    job = Job(log)
    job.exception("rudder", "engine", "skipped")
    with pytest.raises(JobUnreadableError, match="names the step 'rudder'"):
        job.report()
