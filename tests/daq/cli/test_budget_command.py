"""restpoint budget and restpoint line: the published results through the commands."""

import re
from pathlib import Path

import pytest

from tests.daq.calibration.test_calibration_line import NORRIS_X, NORRIS_Y, B, T
from tests.daq.cli.alone import run

# JCGM 100:2008, example H.1, in nm and °C; u of d0, d1 and d2 as printed there.
END_GAUGE = (
    """
[budget]
measurand = "l"
unit = "nm"
level = 0.99
model = "ls + d0 + d1 + d2 - ls*(da*(t + swing) + a*dt)"
inputs = [] # replaced
""".replace("inputs = [] # replaced\n", "")
    + "".join(
        f'[[inputs]]\nname = "{name}"\n{lines}\n'
        for name, lines in {
            "ls": "estimate = 50_000_623\nexpanded = 75\nk = 3\ndof = 18",
            "d0": "estimate = 215\nstandard = 5.8\ndof = 24",
            "d1": "standard = 3.9\ndof = 5",
            "d2": "standard = 6.7\ndof = 8",
            "a": "estimate = 11.5e-6\nlimits = 2e-6",
            "t": "estimate = -0.1\nstandard = 0.2",
            "swing": 'limits = 0.5\ndistribution = "arcsine"',
            "da": "limits = 1e-6\nunreliability = 0.10",
            "dt": "limits = 0.05\nunreliability = 0.50",
        }.items()
    )
)


@pytest.fixture(autouse=True)
def _here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)


def write(text, name="b.toml"):
    Path(name).write_text(text, "utf-8")


def test_the_end_gauge_of_gum_h1():
    """JCGM 100:2008, H.1: l = 50.000 838 mm, u 32 nm, ν 16, t99 2.92, U99 93 nm; Table H.1."""
    write(END_GAUGE)
    ran = run("budget b.toml --json")
    [facts] = ran.facts
    assert ran.status == 0
    assert facts["estimate"] == pytest.approx(50_000_838.0, abs=0.05)
    assert facts["u"] == pytest.approx(31.663879, abs=1e-5)
    assert (facts["dof"], round(facts["k"], 2), facts["stated"]) == (16, 2.92, "93")
    assert facts["expanded"] == pytest.approx(92.483, abs=5e-4)
    parts = {row["name"]: round(row["contribution"], 1) for row in facts["inputs"]}
    printed = {"ls": 25, "d0": 5.8, "d1": 3.9, "d2": 6.7, "da": 2.9, "dt": 16.6}
    assert parts == {**dict.fromkeys(("a", "t", "swing"), 0), **printed}


def test_the_degrees_of_freedom_of_gum_h1_not_cut_down_are_told_apart():
    write(END_GAUGE)
    [facts] = run("budget b.toml --json").facts
    assert facts["dof_exact"] == pytest.approx(16.751856, rel=1e-6)
    assert facts["expanded_exact"] == pytest.approx(91.9376, abs=5e-4)
    out = run("budget b.toml").out
    assert "ν = 16.75 effective degrees of freedom, cut down to 16\n" in out
    assert "U = 92.48 nm, expanded" in out
    assert "Not cut down, k would be 2.904 and U 91.94 nm." in out
    assert "l = 50000838 ± 93 nm" in out


def test_the_second_order_terms_of_gum_h1():
    """JCGM 100:2008, H.1.7: u 34 nm with the terms of next higher order."""
    write(END_GAUGE.replace("level = 0.99", "level = 0.99\nsecond_order = true"))
    [facts] = run("budget b.toml --json").facts
    assert round(facts["u"]) == 34
    assert facts["inputs"][-1]["name"] == "second order"


def test_the_end_gauge_against_its_own_distributions():
    """JCGM 101:2008, 9.5, Table 10 (from memory): u about 36 nm where the GUM gives 32 to 34."""
    write(END_GAUGE)
    once = run("budget b.toml --monte-carlo --figures 1 --json")
    assert once.status == 0
    [facts] = once.facts
    assert round(facts["monte_carlo"]["monte_carlo"]["u"]) == 36
    assert facts["monte_carlo"]["validated"] is True
    again = run("budget b.toml --monte-carlo --figures 1")
    assert re.search(r"Monte Carlo, \d+ trials, seed 1: u = 35\.\d+ nm, 99 % from ", again.out)
    assert "Confirmed: the ends of the two coverage intervals agree" in again.out


def test_a_budget_that_is_not_confirmed_ends_with_1():
    """One dominant rectangular input: JCGM 101:2008, 9.2.4 (from memory)."""
    write(
        '[budget]\nmeasurand = "y"\n'
        '[[inputs]]\nname = "a"\nlimits = 10\n[[inputs]]\nname = "b"\nstandard = 1\n'
    )
    ran = run("budget b.toml --monte-carlo")
    assert ran.status == 1
    assert "Not confirmed: the ends of the two coverage intervals do not agree" in ran.out
    assert run("budget b.toml").status == 0


def test_the_relative_components_of_gum_g4():
    """JCGM 100:2008, G.4.1 (from memory): n 10, 5, 15; 0.25, 0.57, 0.82 %: 1.03 %, ν 19.0, U 2.2 %.

    From unrounded figures ν is a little less than 19, and is cut down to 18: k 2.10, not 2.09.
    """
    parts = ((10, 0.25), (5, 0.57), (15, 0.82))
    write(
        '[budget]\nmeasurand = "q"\nunit = "%"\n'
        + "".join(f'[[inputs]]\nname = "q{n}"\nstandard = {u}\ndof = {n - 1}\n' for n, u in parts)
    )
    [facts] = run("budget b.toml --json").facts
    assert round(facts["u"], 2) == 1.03
    assert (round(facts["dof_exact"]), round(facts["k_exact"], 2)) == (19, 2.09)
    assert (facts["dof"], round(facts["k"], 2)) == (18, 2.10)
    assert round(facts["expanded"], 1) == 2.2


def test_what_cannot_be_a_budget_is_refused():
    assert "none.toml cannot be read" in run("budget none.toml").error
    write('[budget]\nmeasurand = "y"\n[[inputs]]\nname = "a"\n')
    assert "b.toml:3: inputs.1: it has nothing of its uncertainty" in run("budget b.toml").error
    write('[budget]\nmeasurand = "y"\n[[inputs]]\nname = "a"\nstandard = 1\ndof = 0.5\n')
    assert "less than one: no coverage factor can be stated" in run("budget b.toml").error


def points(x, y, head="x,y"):
    write("\n".join([head, *(f"{a},{b}" for a, b in zip(x, y, strict=True))]), "p.csv")


def test_the_thermometer_of_gum_h3():
    """JCGM 100:2008, H.3.3 and H.3.4: from memory, recomputed from Table H.6."""
    points(T, B)
    [facts] = run("line p.csv --origin 20 --at 30 --json").facts
    assert round(facts["intercept"], 4) == -0.1712
    assert round(facts["u_intercept"], 4) == 0.0029
    assert round(facts["slope"], 5) == 0.00218
    assert round(facts["u_slope"], 5) == 0.00067
    assert (round(facts["correlation"], 3), round(facts["sd"], 4)) == (-0.930, 0.0035)
    [at] = facts["at"]
    assert (round(at["value"], 4), round(at["u"], 4)) == (-0.1494, 0.0041)
    assert (at["dof"], at["inside"]) == (9, False)
    assert "at 30: −0.149377, u 0.004139; beyond the points" in run("line p.csv --at 30").out


def test_the_certified_norris_line():
    """NIST StRD, Norris: certified values."""
    points(NORRIS_X, NORRIS_Y)
    [facts] = run("line p.csv --origin 0 --json").facts
    assert facts["slope"] == pytest.approx(1.00211681802045, rel=1e-13)
    assert facts["u_slope"] == pytest.approx(0.429796848199937e-3, rel=1e-12)
    assert facts["u_intercept"] == pytest.approx(0.232818234301152, rel=1e-12)


def test_points_with_uncertainties_have_weights():
    write("x,y,u\n0,0.0,0.1\n1,1.0,0.1\n2,2.0,0.1\n3,4.0,100\n", "p.csv")
    ran = run("line p.csv --at 3 --json")
    [facts] = ran.facts
    assert facts["slope"] == pytest.approx(1, abs=1e-4)
    assert (facts["dof"], facts["at"][0]["dof"]) == (None, None)
    assert "χ² = 0.0001 with 2 degrees of freedom" in run("line p.csv").out


def test_points_that_are_none_are_refused_by_line():
    write("x,y\n1,2\nx,3\n4,nan\n5\n", "p.csv")
    error = run("line p.csv").error
    assert "p.csv:3: x: 'x' is not a number" in error
    assert "p.csv:4: y: 'nan' is not a number" in error
    assert "p.csv:5: 1 cells where there are 2 columns" in error
    write("a,b\n1,2\n", "p.csv")
    assert "p.csv:1: the columns are a,b; write x,y,u" in run("line p.csv").error
    write("", "p.csv")
    assert "it is empty" in run("line p.csv").error
    write("x,y\n1,2\n2,3\n", "p.csv")
    assert "needs three points" in run("line p.csv").error
    assert "none.csv cannot be read" in run("line none.csv").error
    Path("p.csv").write_bytes(b"x,y\n\xff,1\n")
    assert "is not UTF-8 text" in run("line p.csv").error
