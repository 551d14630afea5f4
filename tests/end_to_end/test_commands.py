"""The commands as their user types them, on a simulated gauge."""

import pytest

from tests.end_to_end.road import captures_in, json_lines, restpoint


def test_read_prints_one_settled_value_for_scripts(bench_with):
    bench = bench_with("decimal-line", noise_mm=0.0003)
    status, out, _ = restpoint("read", f"decimal-line@{bench.ports['gauge']}", "--json")
    (value,) = json_lines(out)
    assert status == 0
    assert value["value_mm"] == pytest.approx(12.34, abs=3 * value["u_mm"])
    assert value["n"] > 3


@pytest.mark.parametrize(
    ("limits", "status", "outcome"), [("± 0.05 mm", 0, "in"), ("± 0.01 mm", 1, "high")]
)
def test_read_answers_a_verdict_by_its_exit_status(bench_with, limits, status, outcome):
    bench = bench_with("counts-sum")
    got, out, _ = restpoint(
        "read", f"counts-sum@{bench.ports['gauge']}", "--json",
        "--nominal", "12.30 mm", "--limits", limits, "--source", "sheet 1",
    )  # fmt: skip
    assert (got, json_lines(out)[0]["outcome"]) == (status, outcome)


@pytest.mark.parametrize(
    ("profile", "served", "words"),
    [
        ("marked-xor", "marked-xor", "press the gauge's data key"),
        ("numeric-query", "decimal-line", "no frame that the profile numeric-query knows"),
        ("modbus-registers", "marked-xor", "nothing came within"),
    ],
)
def test_read_tells_the_silences_apart(bench_with, profile, served, words):
    bench = bench_with(served)
    status, out, error = restpoint("read", f"{profile}@{bench.ports['gauge']}", "--within", "1.5")
    assert (status, out) == (3, "")
    assert words in error


def test_a_port_that_is_not_there_is_said_in_one_line():
    status, _, error = restpoint("read", "decimal-line@/dev/no-such-port")
    assert status == 3
    assert error.startswith("restpoint: There is no port /dev/no-such-port. Plug the gauge in")
    assert error.count("\n") == 1


def test_capture_keeps_values_that_log_shows_verifies_and_exports(bench_with, tmp_path):
    bench, book = bench_with("fixed-fields"), tmp_path / "job.logbook"
    status, out, _ = restpoint(
        "capture", f"fixed-fields@{bench.ports['gauge']}", "--logbook", book, "--count", 1,
        "--nominal", "12.30 mm", "--limits", "± 0.05 mm", "--source", "sheet 1",
        "--operator", "R. Vale", "--trace", tmp_path / "raw.csv", "--for", 15,
    )  # fmt: skip
    assert status == 0
    assert f"1 captured in {book}" in out
    (record,) = captures_in(book)
    assert record.operator == "R. Vale"

    status, out, _ = restpoint("log", "show", book)
    assert (status, "height" in out or "12.34" in out) == (0, True)
    status, out, _ = restpoint("log", "verify", book)
    assert (status, "intact, 2 records" in out) == (0, True)
    status, _, error = restpoint("log", "export", book, tmp_path / "out.csv")
    assert (status, "2 records written" in error) == (0, True)

    # The raw trace, run again against the same limits, gives the same rest.
    status, out, _ = restpoint(
        "replay", tmp_path / "raw.csv", "--profile", "fixed-fields", "--json",
        "--nominal", "12.30 mm", "--limits", "± 0.05 mm", "--source", "sheet 1",
    )  # fmt: skip
    assert status == 0
    assert json_lines(out)[0]["value_mm"] == pytest.approx(float(record.value_mm), abs=1e-6)


def test_a_tampered_logbook_is_answered_no(bench_with, tmp_path):
    import sqlite3

    bench, book = bench_with("counts-sum"), tmp_path / "job.logbook"
    restpoint(
        "capture", f"counts-sum@{bench.ports['gauge']}", "--logbook", book, "--count", 1,
        "--for", 15,
    )  # fmt: skip
    with sqlite3.connect(book) as db:
        for (name,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'"):
            db.execute(f"DROP TRIGGER {name}")
        db.execute("UPDATE records SET body = replace(body, '12.34', '12.30') WHERE sequence = 2")
    db.close()
    status, out, _ = restpoint("log", "verify", book)
    assert status == 1
    assert "record 2" in out


def test_watch_prints_plain_lines_where_there_is_no_terminal(bench_with):
    bench = bench_with("decimal-line")
    status, out, _ = restpoint("watch", f"decimal-line@{bench.ports['gauge']}", "--for", 3)
    assert status == 0
    assert "at rest" in out
    assert "\x1b" not in out


def test_watch_prints_json_for_programs(bench_with):
    bench = bench_with("counts-sum")
    _, out, _ = restpoint("watch", f"counts-sum@{bench.ports['gauge']}", "--for", 3, "--json")
    lines = json_lines(out)
    assert lines[-1]["motion"] == "at rest"
    assert lines[-1]["length_mm"] == 12.34
    assert {line["link"] for line in lines} <= {"no signal", "live"}
    assert lines[-1]["link"] == "live"


def test_demo_sets_four_lengths_with_one_gauge_at_a_time(tmp_path):
    status, out, error = restpoint(
        "demo", "--one-gauge", "--logbook", tmp_path / "d.logbook", timeout_s=60
    )
    assert (status, error) == (0, "")
    assert "4 of 4 lengths captured" in out
    assert "is intact: 5 records" in out
    assert {r.verdict.outcome for r in captures_in(tmp_path / "d.logbook")} == {"in"}
