"""restpoint job check and restpoint crank: what they print, and how they answer."""

import json
from pathlib import Path

import pytest

from daq.cli import main

DEMO = Path(__file__).parents[3] / "daq" / "jobs" / "sheets" / "ferry-auxiliary.toml"


@pytest.fixture
def sheet(tmp_path):
    """A sheet of one's own, and the way to change a piece of it."""
    path = tmp_path / "engine.toml"
    path.write_bytes(DEMO.read_bytes())

    def change(old, new):
        text = path.read_text("utf-8")
        assert text.count(old) == 1, old
        path.write_text(text.replace(old, new), "utf-8")

    return path, change


def out_of(capsys, *words):
    assert main([str(word) for word in words]) == 0
    return capsys.readouterr().out


def test_a_sound_sheet_is_summed_up(sheet, capsys):
    path, _ = sheet
    out = out_of(capsys, "job", "check", path)
    first = out.splitlines()[0]
    assert first == (
        f"{path} is sound: 9 steps, 39 lengths to measure or set on this engine, gauges needed: "
        "deck, shaft, web, rack, height, rocker, stop."
    )
    assert "1500 rpm, standby: speed 1500 1/min, duty code S" in out
    assert "rack reference: 6 injectors, 42.60 mm ± 0.05 mm; gauge rack; crank any" in out
    assert "1800 rpm, continuous: 60.90 mm ± 0.04 mm" in out
    assert "stop: depth gauge, display step 0.01 mm or finer, depth 25 mm or more" in out
    assert "Nearest to moving is intake 2, 102° away" in out


def test_a_sound_sheet_as_json(sheet, capsys):
    facts = json.loads(out_of(capsys, "job", "check", sheet[0], "--json"))
    assert facts["title"] == "Ferry auxiliary, set-up after work on the heads"
    assert len(facts["fingerprint"]) == 64
    assert facts["gauges"]["stop"] == {
        "kind": "depth gauge", "resolution_mm": "0.01", "range_mm": "25", "u_mm": "0.012",
        "correct": False,
    }  # fmt: skip
    assert facts["steps"][4]["name"] == "rack reference"
    assert facts["steps"][4]["targets"][0] == "injector 1"


def test_remarks_are_made_and_are_no_mistakes(sheet, capsys):
    path, change = sheet
    change('limits = "+0.10 mm -0.12 mm"', 'limits = "± 0.045 mm"')
    change("[engine]", '[[sources]]\nid = "other"\ndocument = "x"\nrevision = "1"\n\n[engine]')
    change('role = "web"', 'role = "spare"\nkind = "probe"\nresolution = "0.01 mm"\n'
           'range = "5 mm"\nu = "0.01 mm"\n\n[[gauges]]\nrole = "web"')  # fmt: skip
    out = out_of(capsys, "job", "check", path)
    assert 'No step uses the gauge "spare".' in out
    assert '"end float": the limits are only 9 display steps of the gauge "shaft" apart' in out
    assert 'No step has a figure from the source "other".' in out


def test_every_problem_is_a_line_on_stderr_and_the_answer_is_no(sheet, capsys):
    path, change = sheet
    change('after = ["timing height"]\ncrank = "where the plan allows"\ngauge = "rocker"\n'
           'repeats = 3\nlock = true\nlock_shift = "0.03 mm"\n\n[steps.adjuster]\n'
           'thread = "M10x1"\nclockwise = "lowers"\nlever_ratio = "1.4"\n\n[[steps]]\n'
           'name = "exhaust', 'after = ["timing hieght"]\ncrank = "any"\ngauge = "rocker"\n\n'
           '[[steps]]\nname = "exhaust')  # fmt: skip
    change('nominal = "42.60 mm"', 'nominal = "42.60"')
    assert main(["job", "check", str(path)]) == 1
    captured = capsys.readouterr()
    assert captured.out == ""
    told = captured.err.splitlines()
    assert len(told) == 3
    assert all(line.startswith(f"{path}:") for line in told)
    assert 'did you mean "timing height"?' in captured.err
    assert main(["job", "check", str(path), "--json"]) == 1
    assert [json.loads(line)["problem"] for line in capsys.readouterr().out.splitlines()] == told


def test_a_sheet_that_cannot_be_read_could_not_be_checked(tmp_path, capsys):
    assert main(["job", "check", str(tmp_path / "none.toml")]) == 3
    assert "none.toml cannot be read" in capsys.readouterr().err


def test_the_crank_plan_of_a_sheet(sheet, capsys):
    out = out_of(capsys, "crank", sheet[0])
    assert out.startswith("2 positions, 360° of barring, by half rule.\n")
    assert "The engine runs anticlockwise, seen from the flywheel end." in out
    assert "Isolate and lock out starting energy" in out
    assert " 1  bar in running direction to cylinder 1 at firing TDC\n" in out
    assert "    set: intake 3 5 6; exhaust 2 4 6\n" in out
    assert "to tell: cylinder 6 changes over there" in out
    assert "Nearest to moving is intake 2, 102° away" in out


def test_a_plan_from_where_the_crank_stands_for_what_is_asked(sheet, capsys):
    words = ["crank", sheet[0], "--from", "cylinder 3 30° before firing TDC", "--json"]
    *steps, whole = map(json.loads, out_of(capsys, *words, "--kinds", "injectors").splitlines())
    assert [step["bar_deg"] for step in steps] == [30, 120, 120, 120, 120, 120]
    assert steps[0]["sets"] == ["injector 3"]
    assert steps[0]["position"] == "cylinder 3 at firing TDC"
    assert whole["total_deg"] == 630
    assert whole["method"] == "each cylinder at its own firing TDC"
    *steps, _ = map(json.loads, out_of(capsys, *words, "--kinds", "intake, injectors").splitlines())
    assert steps[0]["sets"] == ["intake 3", "injector 3"]


def test_valves_may_be_set_each_at_its_own_tdc(sheet, capsys):
    assert out_of(capsys, "crank", sheet[0], "--own-tdc").startswith("6 positions, 600°")


def test_a_file_with_an_engine_only_will_do(tmp_path, capsys):
    path = tmp_path / "engine.toml"
    text = DEMO.read_text("utf-8")
    path.write_text(text[text.index("[engine]") : text.index("[[variants]]")], "utf-8")
    assert out_of(capsys, "crank", path).startswith("2 positions")


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["--kinds", "valvs"], 2, "did you mean valves?"),
        (["--kinds", "pistons"], 2, "there is no 'pistons'; write some of: valves, intake"),
        (["--from", "cylinder 9 at firing TDC"], 2, "There is no cylinder 9"),
        (["--from", "any"], 2, '"any" is no place of the crank; write "cylinder 3 at firing TDC"'),
        (["--from", "half a turn on"], 2, "is no place of the crank"),
    ],
)
def test_a_plan_asked_wrongly_says_what_would_be_right(sheet, capsys, words, status, said):
    assert main(["crank", str(sheet[0]), *words]) == status
    assert said in capsys.readouterr().err


def test_there_is_no_plan_from_a_sheet_with_mistakes(sheet, capsys):
    path, change = sheet
    change('firing_order = "1-5-3-6-2-4"', 'firing_order = "1-5-3-6-2-2"')
    assert main(["crank", str(path)]) == 3
    assert "does not fire each cylinder once: 2 stands twice" in capsys.readouterr().err
