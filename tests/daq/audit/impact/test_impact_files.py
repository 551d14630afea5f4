"""Impact from the files of a log, in the open format."""

import csv

import pytest

from daq.audit.errors import IntakeError
from daq.audit.impact import GROUPS
from daq.audit.impact.from_source import impact_in_files
from daq.cli.impact import command

POINTS = [
    "gauge", "run", "seq", "at_us", "found", "way", "nominal_nm", "reference_nm", "indicated_nm",
]  # fmt: skip
CAPTURES = [
    "gauge", "seq", "at_us", "job", "feature", "value_nm", "u_nm", "lower_nm", "upper_nm",
]  # fmt: skip


def points(gauge, run, first, at_us, error_nm):
    return [
        (gauge, run, first + i, at_us + i, "as found", way, n, n, n + error_nm)
        for i, (n, way) in enumerate(((0, "up"), (10_000_000, "up"), (10_000_000, "down")))
    ]


@pytest.fixture
def log(tmp_path):
    """Two gauges, of which one is found bad; three captures of each."""

    def write(name, header, rows):
        with open(tmp_path / f"{name}.csv", "w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows([header, *rows])

    taken = [(1, 1_000), (2, 1_500), (3, 2_500)]
    write(
        "points",
        POINTS,
        [
            row
            for gauge, error in (("DI-7", 20_000), ("DI-8", 1_000))
            for row in (
                *points(gauge, f"{gauge}/1", 1, 990, 1_000),
                *points(gauge, f"{gauge}/2", 4, 2_000, error),
            )
        ],
    )
    write(
        "captures",
        CAPTURES,
        [
            (gauge, seq, at, "E-204", "rack", 5_000_000, 400, 4_990_000, 5_100_000)
            for gauge in ("DI-7", "DI-8")
            for seq, at in taken
        ],
    )
    write("gauges", ["gauge", "limit_nm"], [("DI-7", 10_000), ("DI-8", 10_000)])
    return tmp_path


def test_the_captures_of_the_bad_gauge_flip(log):
    impact = impact_in_files([log])
    found, left = impact.touched
    assert (found.period.gauge, found.period.run.run) == ("DI-7", "DI-7/2")
    assert found.captures.seq.tolist() == [1, 2]
    assert [GROUPS[group] for group in found.group] == ["flips", "flips"]
    assert found.corrected_mm == pytest.approx([4.98, 4.98], abs=1e-12)
    assert (found.captures.job[0], found.captures.feature[0]) == ("E-204", "rack")
    assert left.period.what == "left"
    assert left.captures.seq.tolist() == [3]
    assert impact.remarks == ()
    assert impact.is_whole


def test_one_gauge_may_be_asked_for(log):
    assert len(impact_in_files([log], gauge="DI-7").touched) == 2
    assert impact_in_files([log], gauge="DI-8").touched == ()
    with pytest.raises(IntakeError, match="no gauge 'DI-9' in the log"):
        impact_in_files([log], gauge="DI-9")


def test_without_what_judges_a_gauge_nothing_is_said_to_be_good(log):
    (log / "gauges.csv").unlink()
    with pytest.raises(IntakeError, match="Nothing in the log says when a gauge is out"):
        impact_in_files([log])


def test_without_captures_it_is_refused(log):
    (log / "captures.csv").unlink()
    with pytest.raises(IntakeError, match="Impact needs gauge, seq, at_us, value_nm"):
        impact_in_files([log])


def test_a_row_that_cannot_be_read_leaves_the_answer_open(log):
    with open(log / "captures.csv", "a", encoding="utf-8") as file:
        file.write("DI-8,4,1600,E-204,rack,much,400,4990000,5100000\n")
    impact = impact_in_files([log])
    assert not impact.is_whole
    assert any("captures.csv" in each and "1 row" in each for each in impact.remarks)


def test_the_command_reads_the_files_of_a_log(log, capsys):
    status = command.main(["--all", "--log", str(log)], standalone_mode=False)
    out = capsys.readouterr().out
    assert status == 1
    assert out.startswith("DI-7: found out of limits by calibration DI-7/2 of 1970-01-01")
    assert "job E-204, rack: 5.0000 mm → 4.9800 mm, within → out" in out
    assert command.main(["DI-8", "--log", str(log)], standalone_mode=False) == 0
