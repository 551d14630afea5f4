"""The page on uncertainty says what the program does: its figures are worked out again."""

import re
from decimal import Decimal
from pathlib import Path

import pytest

from daq.calibration import inputs as of
from daq.calibration.budget import Term, linear
from daq.calibration.decision import MEANINGS
from daq.calibration.inputs import DIVISORS
from daq.calibration.line import fit_line
from daq.calibration.monte_carlo import MOST_TRIALS
from daq.calibration.risk import Band, NormalPrior, global_risks, worst_consumer_risk
from daq.calibration.rounding import rounded_uncertainty
from daq.calibration.student import normal_k

PAGE = (Path(__file__).parents[3] / "docs" / "uncertainty.md").read_text(encoding="utf-8")
WORDS = " ".join(PAGE.split())


def table(first_heading):
    """The rows of the page's table that begins with this heading, each as a list of cells."""
    lines = PAGE.split(f"| {first_heading} |", 1)[1].splitlines()[2:]
    rows = []
    for line in lines:
        if not line.startswith("|"):
            break
        rows.append([cell.strip() for cell in line.strip("|").split("|")])
    return rows


def test_the_inputs_and_divisors_are_those_of_the_program():
    rows = table("known of the input")
    for _, call, _, _ in rows:
        assert hasattr(of, re.match(r"`(\w+)", call)[1])
    text = " ".join(row[2] for row in rows)
    for root, distribution in (("√3", "rectangular"), ("√6", "triangular"), ("√2", "arcsine")):
        assert f"{root} = {DIVISORS[distribution]:.4f}" in text
    assert f"u = {of.from_step('x', 1).u:.4f} d" in text


def test_the_figures_in_the_text_come_out():
    assert f"25 % gives ν = {of.dof_from_unreliability(0.25):g} " in WORDS
    twice = linear("e", [Term(of.from_step("zero", 1)), Term(of.from_step("reading", 1))])
    assert f"enters twice: {twice.u:.4f} d" in WORDS
    assert f"{MOST_TRIALS:_} trials".replace("_", " ") in WORDS
    assert f"limits nearer than {2 * normal_k(0.95):.2f} u" in WORDS
    assert f"28.05 be {rounded_uncertainty(Decimal('28.05'), may_understate=Decimal('0.005'))}" in (
        WORDS
    )
    assert f"else it is {rounded_uncertainty(Decimal('28.05'))}." in WORDS


def test_the_end_gauge_comes_out():
    """JCGM 100:2008, H.1, with the sensitivities printed there: those of δα and δθ are l_s·θ
    and l_s·α_s."""
    terms = [
        Term(of.standard("ls", 0, 25, dof=18)),
        Term(of.standard("d0", 0, 5.8, dof=24)),
        Term(of.standard("d1", 0, 3.9, dof=5)),
        Term(of.standard("d2", 0, 6.7, dof=8)),
        Term(of.from_limits("δα", 0, 1e-6, unreliability=0.10), 50_000_623 * 0.1),
        Term(of.from_limits("δθ", 0, 0.05, unreliability=0.50), -50_000_623 * 11.5e-6),
    ]
    stated = linear("l", terms).coverage(0.99)
    assert (
        f"gives u = {stated.u:.2f} nm, ν_eff = {stated.dof_exact:.2f}, "
        f"cut down to {stated.dof:.0f}, k = {stated.k:.3f} for 99 % "
        f"and U = {stated.expanded:.2f} nm. "
        f"Not cut down, it would be {stated.expanded_exact:.2f} nm."
    ) in WORDS
    assert (
        f"{stated.expanded:.2f} nm is stated as {rounded_uncertainty(stated.expanded)} nm" in WORDS
    )


def test_the_thermometer_comes_out():
    """JCGM 100:2008, Table H.6; from memory."""
    # fmt: off
    t = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
    b = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)
    # fmt: on
    at = fit_line(t, b).at(30)
    said = f"correction of {at.value:.4f} °C with u = {at.u:.4f} °C".replace("-", "−")
    assert said in WORDS


def test_the_words_are_those_of_the_program():
    assert table("word") == [[word.value, meaning] for word, meaning in MEANINGS.items()]


@pytest.mark.parametrize("row", table("guard band"))
def test_the_false_accepts_on_the_edge_come_out(row):
    r = float(row[0].removesuffix(" U"))
    assert f"{100 * worst_consumer_risk(r):.3g} %" == row[1]


@pytest.mark.parametrize("row", table("conforming"))
def test_the_global_risks_come_out(row):
    band = Band(-1.0, 1.0)
    prior = NormalPrior.of_reliability(band, float(row[0].removesuffix(" %")) / 100)
    risks = global_risks(0.5 / float(row[1].removesuffix(":1")), band, band, prior)
    found = [f"{100 * share:.3f} %" for share in (risks.consumer, risks.producer)]
    assert found == row[2:]
