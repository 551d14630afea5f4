"""Commands that need no gauge: what they print, and how their exit status answers."""

import json
from decimal import Decimal
from pathlib import Path
from xml.etree import ElementTree

import pytest

from daq.cli import main

SVG = "{http://www.w3.org/2000/svg}"

TRACE = "t_s,value\n" + "".join(
    f"{n / 10:.1f},{12.0 + max(0, 30 - n) * 0.02:.3f}\n" for n in range(120)
)


@pytest.fixture
def trace(tmp_path):
    """A part that moves for three seconds and then rests at 12.000."""
    path = tmp_path / "trace.csv"
    path.write_text(TRACE)
    return path


def printed(capsys):
    return [json.loads(line) for line in capsys.readouterr().out.splitlines()]


def test_replay_prints_each_settled_value_once(trace, capsys):
    assert main(["replay", str(trace), "--json"]) == 0
    (value,) = printed(capsys)
    assert set(value) == {"value_mm", "u_mm", "n", "since_s", "until_s"}
    assert value["value_mm"] == pytest.approx(12.0)
    assert value["u_mm"] == pytest.approx(0.001 / 12**0.5, rel=0.1)
    assert 3.0 <= value["since_s"] < value["until_s"] <= 11.9


def test_replay_takes_the_display_step_from_the_digits_or_as_it_is_told(trace, capsys):
    main(["replay", str(trace), "--json", "--resolution", "0.01"])
    coarse = printed(capsys)[-1]
    assert coarse["u_mm"] == pytest.approx(0.01 / 12**0.5, rel=0.1)


def test_replay_reads_inches_exactly(tmp_path, capsys):
    path = tmp_path / "inch.csv"
    path.write_text("t_s,value,unit\n" + "".join(f"{n / 10},0.48600,in\n" for n in range(60)))
    assert main(["replay", str(path), "--json"]) == 0
    assert printed(capsys)[0]["value_mm"] == pytest.approx(0.486 * 25.4, abs=1e-9)


def test_replay_judges_by_a_specification(trace, capsys):
    words = ["--nominal", "11.98 mm", "--limits", "± 0.01 mm", "--source", "sheet 1"]
    assert main(["replay", str(trace), "--json", *words]) == 0
    (value,) = printed(capsys)
    assert value["outcome"] == "high"
    assert value["deviation_mm"] == pytest.approx(0.02)


def test_a_trace_in_which_nothing_rests_is_answered_no(tmp_path, capsys):
    path = tmp_path / "ramp.csv"
    path.write_text("t_s,value\n" + "".join(f"{n / 10},{n / 10:.3f}\n" for n in range(100)))
    assert main(["replay", str(path)]) == 1
    assert "0 settled" in capsys.readouterr().err


def test_replay_draws_the_trace_and_prints_the_same_as_without(trace, tmp_path, capsys):
    words = ["--nominal", "12.00 mm", "--limits", "± 0.01 mm", "--source", "sheet 1", "--json"]
    assert main(["replay", str(trace), *words]) == 0
    (plain,) = printed(capsys)
    assert main(["replay", str(trace), *words, "--plot", str(tmp_path / "out.svg")]) == 0
    assert printed(capsys) == [plain]
    root = ElementTree.parse(tmp_path / "out.svg").getroot()
    said = ["".join(text.itertext()) for text in root.iter(f"{SVG}text")]
    assert said[0] == "trace.csv"
    assert "120 readings, 0.0 s to 11.9 s, display step 0.001 mm, 1 settled" in said
    assert "1 in limits" in " ".join(said)
    assert {"moving", "at rest", "upper limit 12.01"} <= set(said)


def test_replay_draws_a_raw_trace_with_its_profile(tmp_path, capsys):
    from drivers.profiles import load_profile
    from drivers.reading import Shown

    frame = load_profile("decimal-line").encode(Shown(Decimal("12.340"))).hex()
    trace, plot = tmp_path / "raw.csv", tmp_path / "out.svg"
    rows = [f"{n / 10},{frame}\n" for n in range(1, 60)]
    trace.write_text("".join(["t_s,bytes\n0,0d0a\n", *rows]))
    words = ["replay", str(trace), "--profile", "decimal-line", "--plot", str(plot)]
    assert main(words) == 0
    assert "12.340000 mm" in capsys.readouterr().out
    assert "59 readings, 0.10 s to 5.90 s, display step 0.001 mm, 1 settled" in plot.read_text()


def test_a_trace_in_which_nothing_rests_is_drawn_too(tmp_path):
    trace, plot = tmp_path / "ramp.csv", tmp_path / "out.svg"
    trace.write_text("t_s,value\n" + "".join(f"{n / 10},{n / 10:.3f}\n" for n in range(100)))
    assert main(["replay", str(trace), "--plot", str(plot)]) == 1
    assert "0 settled" in plot.read_text()


def test_a_plot_is_drawn_anew_over_an_older_one(trace, tmp_path):
    plot = tmp_path / "out.svg"
    for older in ("", "<svg>an older picture</svg>"):
        plot.write_text(older)
        assert main(["replay", str(trace), "--plot", str(plot)]) == 0
        assert "an older picture" not in plot.read_text()


@pytest.mark.parametrize(
    ("plot", "words"),
    [
        ("no-such-folder/out.svg", "there is no folder"),
        ("trace.csv", "is there and is no picture"),
        ("n" * 300 + ".svg", "cannot be written"),
        pytest.param(
            "/dev/full",  # a disk without room
            "cannot be written: No space left on device",
            marks=pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs /dev/full"),
        ),
    ],
)
def test_a_plot_that_cannot_be_written_is_refused_before_anything_is_printed(
    trace, tmp_path, capsys, plot, words
):
    assert main(["replay", str(trace), "--plot", str(tmp_path / plot)]) == 3
    captured = capsys.readouterr()
    assert captured.out == ""
    assert captured.err.startswith("restpoint: ")
    assert words in captured.err
    assert trace.read_text() == TRACE


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("t_s,value\n0,12,5\n", "3 cells where the header has 2"),
        ("t_s,bytes\n0,2B\n", "needs --profile"),
        ("t_s,value\n", "holds no readings"),
    ],
)
def test_a_trace_that_cannot_be_run_says_why(tmp_path, capsys, text, words):
    path = tmp_path / "bad.csv"
    path.write_text(text)
    assert main(["replay", str(path)]) in (2, 3)
    assert words in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["wach"], "Did you mean 'watch'?"),
        (["read"], "Missing argument 'GAUGE'"),
        (["read", "x@y", "--nominal", "1 mm"], "--limits and --source missing"),
        (["read", "x@y", "--spec", "a.toml", "--nominal", "1 mm"], "not both"),
        (["log", "export", "a", "b.txt"], "must end in .csv or .jsonl"),
    ],
)
def test_a_command_asked_wrongly_says_what_is_wrong(capsys, tmp_path, monkeypatch, words, said):
    monkeypatch.chdir(tmp_path)
    if words[:2] == ["log", "export"]:
        from daq.logbook import Logbook

        Logbook.open("a").close()
    assert main(words) == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["read", "nobody"], "There is no gauge 'nobody'"),
        (["read", "no-such@/dev/x"], "There is no gauge profile 'no-such'"),
        (["profile", "show", "no-such"], "Known: counts-sum, decimal-line"),
        (["log", "show", "none.logbook"], "There is no logbook"),
        (["simulate", "no-such"], "There is no scenario 'no-such'. Known: adjusting"),
        (["read", "decimal-line@/dev/x", "--nominal", "76.2", "--limits", "± 1 mm", "--source",
          "s"], "76.2"),
    ],
)  # fmt: skip
def test_what_cannot_be_had_is_said_in_one_go(capsys, tmp_path, monkeypatch, words, said):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("RESTPOINT_GAUGES", str(tmp_path / "gauges.toml"))
    assert main(words) == 3
    captured = capsys.readouterr()
    assert captured.err.startswith("restpoint: ")
    assert said in captured.err
    assert captured.out == ""


def test_profiles_are_listed_shown_and_checked(capsys):
    assert main(["profile", "list", "--json"]) == 0
    assert "packed-digits" in [each["name"] for each in printed(capsys)]
    assert main(["profile", "show", "decimal-line"]) == 0
    assert 'name = "decimal-line"' in capsys.readouterr().out
    assert main(["profile", "check", "counts-sum", "--json"]) == 0
    assert printed(capsys)[0]["faults"]["flipped"]["wrong_value"] == 0


def test_a_profile_with_mistakes_is_answered_no_with_every_one(tmp_path, capsys):
    from drivers.profiles import profile_text

    path = tmp_path / "mine.toml"
    path.write_text(
        profile_text("decimal-line")[1].replace("baud", "bawd").replace('end = "', 'ende = "')
    )
    assert main(["profile", "check", str(path)]) == 1
    out = capsys.readouterr().out
    assert 'did you mean "baud"' in out
    assert 'did you mean "end"' in out
    assert all(line.startswith(str(path)) for line in out.splitlines())


def test_adapters_are_found_by_identity(mocker, capsys):
    from serial.tools.list_ports_common import ListPortInfo

    info = ListPortInfo("/dev/ttyUSB0")
    info.vid, info.pid, info.serial_number = 0x1209, 1, "K1"
    mocker.patch("drivers.discovery.list_ports.comports", return_value=[info])
    assert main(["find", "--json"]) == 0
    assert printed(capsys)[0]["identity"] == "usb:1209:0001:K1"


def test_without_adapters_it_says_what_to_do(mocker, capsys):
    mocker.patch("drivers.discovery.list_ports.comports", return_value=[])
    assert main(["find"]) == 0
    assert "Plug the gauge in" in capsys.readouterr().out


def test_scenarios_are_listed(capsys):
    assert main(["simulate", "--list", "--json"]) == 0
    assert "steady" in [each["scenario"] for each in printed(capsys)]


def test_simulate_prints_what_to_open_and_stops_by_itself(capsys):
    assert main(["simulate", "steady", "--tcp", "--for", "0.2"]) == 0
    assert "restpoint watch decimal-line@socket://127.0.0.1:" in capsys.readouterr().out


def test_a_log_is_shown_as_json_that_is_the_record(tmp_path, capsys):
    from daq.logbook import Logbook

    Logbook.open(tmp_path / "a.logbook").close()
    assert main(["log", "show", str(tmp_path / "a.logbook"), "--json"]) == 0
    (entry,) = printed(capsys)
    assert entry["sequence"] == 1
    assert entry["record"]["kind"] == "logbook"
