"""Budgets against the examples of JCGM 100, and against another library on random ones."""

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.calibration import inputs as of
from daq.calibration.budget import Term, linear, of_model
from daq.calibration.derivatives import sensitivity
from daq.calibration.errors import CalibrationError
from daq.calibration.inputs import Input


def gauge_block_inputs(d0=5.8, d1=3.9, d2=6.7):
    """JCGM 100:2008, example H.1, in nm and °C; u of d0, d1 and d2 as printed there."""
    return [
        of.from_expanded("ls", 50_000_623.0, 75, k=3, dof=18, unit="nm"),
        of.standard("d0", 215, d0, dof=24, unit="nm"),
        of.standard("d1", 0, d1, dof=5, unit="nm"),
        of.standard("d2", 0, d2, dof=8, unit="nm"),
        of.from_limits("αs", 11.5e-6, 2e-6, unit="1/°C"),
        of.standard("θ mean", -0.1, 0.2, unit="°C"),
        of.from_limits("Δ", 0, 0.5, "arcsine", unit="°C"),
        of.from_limits("δα", 0, 1e-6, unreliability=0.10, unit="1/°C"),
        of.from_limits("δθ", 0, 0.05, unreliability=0.50, unit="°C"),
    ]


def gauge_block(x):
    """H.1.2, equation (H.4)."""
    d = x["d0"] + x["d1"] + x["d2"]
    return x["ls"] + d - x["ls"] * (x["δα"] * (x["θ mean"] + x["Δ"]) + x["αs"] * x["δθ"])


@pytest.fixture(scope="module")
def h1():
    return of_model("l", gauge_block, gauge_block_inputs(), unit="nm")


def test_the_end_gauge_of_gum_h1_comes_out(h1):
    """JCGM 100:2008, H.1.4 to H.1.6: l = 50.000 838 mm, u 32 nm, ν 16, t99 2.92, U99 93 nm."""
    stated = h1.coverage(0.99)
    assert h1.estimate == pytest.approx(50_000_838.0, abs=0.05)
    assert round(h1.u) == 32
    assert h1.u**2 == pytest.approx(1002.6012, rel=1e-6)
    assert stated.dof == 16
    assert stated.dof_exact == pytest.approx(16.751856, rel=1e-6)
    assert stated.k == pytest.approx(2.9207816, rel=1e-7)
    # 93 nm is printed from 2.92 × 32; from unrounded figures it is 92.48, stated as 93.
    assert stated.expanded == pytest.approx(92.483, abs=5e-4)


def test_the_degrees_of_freedom_are_cut_down_and_the_uncut_figures_stay_visible(h1):
    stated = h1.coverage(0.99)
    assert stated.k_exact == pytest.approx(2.903548, rel=1e-6)
    assert stated.expanded_exact == pytest.approx(91.9376, abs=5e-4)
    assert stated.expanded_exact < stated.expanded


def test_the_contributions_of_gum_h1_come_out(h1):
    """JCGM 100:2008, Table H.1: 25, 5.8, 3.9, 6.7, 0, 0, 0, 2.9, 16.6 nm."""
    printed = {"ls": 25, "d0": 5.8, "d1": 3.9, "d2": 6.7, "δα": 2.9, "δθ": 16.6}
    for row in h1.table():
        assert round(row.contribution, 1) == printed.get(row.name, 0), row.name
    assert math.fsum(row.share for row in h1.table()) == pytest.approx(1, rel=1e-9)


def test_the_inputs_of_gum_h1_come_out_of_what_is_stated_of_them():
    """H.1.3: d1 0.01 µm over t95(5) = 2.57; d2 0.02 µm over 3, to 25 %; d0 13 nm over √5."""
    d0 = of.from_pooled("d0", 215, 13, n=5, dof=24)
    d1 = of.from_level("d1", 0, 10, level=0.95, dof=5)
    d2 = of.from_expanded("d2", 0, 20, k=3, dof=of.dof_from_unreliability(0.25))
    assert [round(each.u, 1) for each in (d0, d1, d2)] == [5.8, 3.9, 6.7]
    assert round(d1.divisor, 2) == 2.57
    assert [d0.dof, d1.dof, d2.dof] == [24, 5, 8]
    by_name = {each.name: each for each in gauge_block_inputs()}
    assert by_name["δα"].dof == pytest.approx(50)
    assert by_name["δθ"].dof == pytest.approx(2)
    assert round(by_name["Δ"].u, 2) == 0.35


def test_the_second_order_terms_of_gum_h1_come_out_and_are_a_row_of_their_own():
    """H.1.7: 11.7 nm, 1.7 nm, and 34 nm with them."""
    budget = of_model("l", gauge_block, gauge_block_inputs(), with_second_order=True)
    terms = budget.second_order
    # The first of them is for θ = θ mean + Δ together.
    of_theta = math.sqrt(terms["θ mean", "δα"] + terms["Δ", "δα"])
    assert round(of_theta, 1) == 11.7
    assert round(math.sqrt(terms["αs", "δθ"]), 1) == 1.7
    assert round(budget.u) == 34
    last = budget.table()[-1]
    assert last.name == "second order"
    assert last.contribution == pytest.approx(math.hypot(11.7268, 1.66667), rel=1e-4)
    assert math.fsum(row.share for row in budget.table()) == pytest.approx(1, rel=1e-9)
    assert budget.dof_exact == pytest.approx(16.751856, rel=1e-6)


def test_second_order_terms_agree_with_derivatives_worked_out_by_hand():
    """For x³y²: f_x = 3x²y², f_xx = 6xy², f_xxx = 6y², f_xy = 6x²y, f_xyy = 6x², f_xxy = 12xy."""
    a, b = of.standard("the x", 2, 0.1), of.standard("y", 3, 0.2)
    model = lambda v: v["the x"] ** 3 * v["y"] ** 2  # noqa: E731
    terms = of_model("q", model, [a, b], with_second_order=True).second_order
    assert terms["the x", "the x"] == pytest.approx((108**2 / 2 + 108 * 54) * 0.1**4, rel=1e-4)
    mixed = (72**2 + 108 * 24 + 48 * 72) * 0.1**2 * 0.2**2
    assert terms["the x", "y"] == pytest.approx(mixed, rel=1e-4)
    assert terms["y", "y"] == pytest.approx(16**2 / 2 * 0.2**4, rel=1e-4)


def test_the_second_order_terms_of_the_mass_example_come_out():
    """JCGM 101:2008, 9.3, Table 5 (from memory): u 0.0539 without and 0.0750 with them."""
    masses = [
        of.standard("m", 100_000, 0.050),
        of.standard("δm", 1.234, 0.020),
        of.from_limits("a", 1.20, 0.10),
        of.from_limits("w", 8000, 1000),
        of.from_limits("r", 8000, 50),
    ]

    def model(x):
        buoyancy = (x["a"] - 1.2) * (1 / x["w"] - 1 / x["r"])
        return (x["m"] + x["δm"]) * (1 + buoyancy) - 100_000

    assert round(of_model("δm", model, masses).u, 4) == 0.0539
    assert round(of_model("δm", model, masses, with_second_order=True).u, 4) == 0.0750


VOLTS = (5.007, 4.994, 5.005, 4.990, 4.999)
MILLIAMPERES = (19.663, 19.639, 19.640, 19.685, 19.678)
RADIANS = (1.0456, 1.0438, 1.0468, 1.0428, 1.0433)


@pytest.mark.parametrize(
    ("model", "value", "u"),
    [
        (lambda x: 1000 * x["V"] / x["I"] * math.cos(x["φ"]), 127.732, 0.071),
        (lambda x: 1000 * x["V"] / x["I"] * math.sin(x["φ"]), 219.847, 0.295),
        (lambda x: 1000 * x["V"] / x["I"], 254.260, 0.236),
    ],
)
def test_correlated_readings_of_gum_h2_come_out(model, value, u):
    """JCGM 100:2008, H.2, Tables H.2 to H.4: resistance, reactance, impedance (from memory).

    From unrounded means the reactance has 0.2956 by the law of propagation, and 0.2955 from its
    five values one by one (H.2.4); 0.295 is printed.
    """
    series = {"V": VOLTS, "I": MILLIAMPERES, "φ": RADIANS}
    together = {
        pair: of.correlation_of_means(series[pair[0]], series[pair[1]])
        for pair in (("V", "I"), ("V", "φ"), ("I", "φ"))
    }
    assert [round(r, 2) for r in together.values()] == [-0.36, 0.86, -0.65]
    means = [of.from_readings(name, readings) for name, readings in series.items()]
    budget = of_model("Z", model, means, correlations=together)
    assert round(budget.estimate, 3) == value
    assert budget.u == pytest.approx(u, abs=6e-4)
    with pytest.raises(CalibrationError, match="for independent inputs"):
        budget.coverage()


def test_ten_resistors_of_one_calibration_add_up_fully_correlated():
    """JCGM 100:2008, 5.2.2 example: ten of 1000 Ω, each u = 0.1 Ω, r = 1: u = 1 Ω, not 0.32 Ω."""
    ten = [of.standard(f"R{n}", 1000, 0.1) for n in range(10)]
    pairs = {(a.name, b.name): 1.0 for i, a in enumerate(ten) for b in ten[i + 1 :]}
    terms = [Term(each) for each in ten]
    assert linear("R", terms, correlations=pairs).u == pytest.approx(1.0, rel=1e-12)
    assert linear("R", terms).u == pytest.approx(math.sqrt(0.1), rel=1e-12)


@pytest.mark.parametrize(
    ("made", "u", "digits"),
    [
        # JCGM 100:2008, by clause; from memory, the arithmetic is exact.
        (of.from_expanded("4.3.3", 0, 240, k=3), 80, 9),
        (of.from_level("4.3.4", 0, 129, level=0.99), 50, 0),
        (of.from_level("4.3.5", 10.11, 0.04, level=0.5), 0.06, 2),
        (of.from_level("4.3.6", 0, 1, level=2 / 3), 1.03, 2),
        (of.from_limits("4.3.7 expansion", 16.52e-6, 0.40e-6), 0.23e-6, 8),
        (of.from_limits("4.3.7 voltmeter", 0, 15), 8.7, 1),
        (of.from_limits("4.4.5", 100, 4), 2.3, 1),
        (of.from_limits("4.4.6", 100, 4, "triangular"), 1.6, 1),
        (of.from_step("F.2.2.1", 1), 0.29, 2),
    ],
    ids=lambda value: value.name if isinstance(value, Input) else None,
)
def test_type_b_evaluations_of_the_gum_come_out(made, u, digits):
    assert round(made.u, digits) == pytest.approx(u, rel=1e-9)


def test_the_twenty_temperatures_of_the_gum_come_out():
    """JCGM 100:2008, 4.4.3 and Table 1: mean 100.145, s 1.489, s of the mean 0.333 °C, ν 19."""
    # fmt: off
    readings = [96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33,
                100.42, 100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72]
    # fmt: on
    made = of.from_readings("t", readings)
    assert made.estimate == pytest.approx(100.145, abs=5e-4)
    assert round(made.stated, 3) == 1.489
    assert round(made.u, 3) == 0.333
    assert made.dof == 19


def test_welch_satterthwaite_of_gum_g_4_1_comes_out():
    """G.4.1 example: u 0.25, 0.57, 0.82 % of 10, 5, 15 readings: 1.03 %, ν 19.0, U95 2.2 %.

    19.0 is printed and taken as 19, with t = 2.09. It is 18.9987, so cut down it is 18: t = 2.10.
    """
    terms = [
        Term(of.standard("x1", 0, 0.25, dof=9)),
        Term(of.standard("x2", 0, 0.57, dof=4)),
        Term(of.standard("x3", 0, 0.82, dof=14)),
    ]
    stated = linear("y", terms).coverage(0.95)
    assert round(stated.u, 2) == 1.03
    assert round(stated.dof_exact, 1) == 19.0
    assert stated.dof == 18
    assert round(stated.k, 2) == 2.10
    assert round(stated.k_exact, 2) == 2.09
    assert round(stated.expanded, 1) == 2.2


def test_one_input_keeps_its_degrees_of_freedom_however_the_rounding_falls():
    for dof in range(1, 200):
        for u in (0.1, 0.3, 1e-9, 7e5):
            budget = linear("y", [Term(of.standard("x", 0, u, dof=dof), 1 / 3)])
            assert budget.dof == dof


# ---- 1,000 random budgets against another library

KINDS = ("standard", "expanded", "level", "rectangular", "triangular", "arcsine", "readings")


def random_input(chance, name):
    kind = chance.choice(KINDS)
    estimate, size = chance.uniform(1, 10), 10 ** chance.uniform(-4, -1)
    dof = chance.choice([math.inf, chance.randint(1, 60), chance.uniform(1, 80)])
    if kind == "standard":
        return of.standard(name, estimate, size, dof=dof)
    if kind == "expanded":
        return of.from_expanded(name, estimate, size, k=chance.uniform(1, 4), dof=dof)
    if kind == "level":
        return of.from_level(name, estimate, size, level=chance.uniform(0.5, 0.999), dof=dof)
    if kind == "readings":
        n = chance.randint(2, 30)
        return of.from_readings(name, [chance.gauss(estimate, size) for _ in range(n)])
    unreliable = chance.choice([None, chance.uniform(0.05, 0.7)])
    return of.from_limits(name, estimate, size, kind, unreliability=unreliable)


def their_u(given, gtc, scipy_stats):
    """The standard uncertainty by the other libraries' own means, where they have one."""
    if given.distribution == "rectangular":
        return gtc.type_b.uniform(given.stated)
    if given.distribution == "triangular":
        return gtc.type_b.triangular(given.stated)
    if given.distribution == "arcsine":
        return gtc.type_b.arcsine(given.stated)
    if given.basis.startswith("interval"):
        level = float(given.basis.split()[-2]) / 100
        if math.isclose(scipy_stats.t.ppf((1 + level) / 2, given.dof), given.divisor, rel_tol=1e-4):
            return given.u  # the level in words is shortened; the factor itself is tested elsewhere
        raise AssertionError(given)
    return given.stated / given.divisor


def test_a_thousand_random_budgets_agree_with_gtc_and_scipy_to_1e_9():
    gtc = pytest.importorskip("GTC")
    stats = pytest.importorskip("scipy.stats")
    chance = random.Random(20_260_101)
    correlated = 0
    for number in range(1000):
        inputs = [random_input(chance, f"x{n}") for n in range(chance.randint(1, 9))]
        factors = [chance.uniform(-3, 3) for _ in inputs]
        together = {}
        free = [each.name for each in inputs if math.isinf(each.dof)]
        if number % 3 == 0 and len(free) >= 2:
            together[free[0], free[1]] = chance.uniform(-0.95, 0.95)
            correlated += 1
        ours = linear(
            "y", [Term(i, c) for i, c in zip(inputs, factors, strict=True)], correlations=together
        )
        theirs = [
            gtc.ureal(i.estimate, their_u(i, gtc, stats), i.dof, independent=i.name not in free[:2])
            for i in inputs
        ]
        for (a, b), r in together.items():
            names = [each.name for each in inputs]
            gtc.set_correlation(r, theirs[names.index(a)], theirs[names.index(b)])
        y = sum(c * x for c, x in zip(factors, theirs, strict=True))
        _agree(ours, y, gtc, stats, chance.choice([0.90, 0.95, 0.9545, 0.99]))
    assert correlated > 100


def test_random_budgets_of_a_model_agree_with_derivatives_that_are_exact():
    gtc = pytest.importorskip("GTC")
    stats = pytest.importorskip("scipy.stats")
    chance = random.Random(7)
    for _ in range(150):
        inputs = [random_input(chance, name) for name in ("a", "b", "c", "d")]
        p = chance.uniform(-2, 3)

        def model(x, exp=math.exp, sin=math.sin, p=p):
            return x["a"] * x["b"] ** p / x["c"] + sin(x["d"]) * exp(-x["a"] / 4)

        ours = of_model("y", model, inputs)
        theirs = {i.name: gtc.ureal(i.estimate, their_u(i, gtc, stats), i.dof) for i in inputs}
        _agree(ours, model(theirs, gtc.exp, gtc.sin), gtc, stats, 0.95)


def _agree(ours, theirs, gtc, stats, level):
    stated = ours.coverage(level)
    exact = theirs.df if math.isfinite(theirs.df) else math.inf
    assert ours.estimate == pytest.approx(theirs.x, rel=1e-9, abs=1e-12)
    assert ours.u == pytest.approx(theirs.u, rel=1e-9, abs=0)
    assert ours.dof_exact == pytest.approx(exact, rel=1e-9)
    if math.isinf(exact):
        assert math.isinf(stated.dof)
    elif exact < 1e6 and abs(exact - round(exact)) > 2e-6:
        assert stated.dof == math.floor(exact)
    k = float(stats.t.isf((1 - level) / 2, stated.dof))
    assert stated.k == pytest.approx(k, rel=1e-9)
    assert stated.expanded == pytest.approx(k * theirs.u, rel=1e-9)
    assert stated.k_exact == pytest.approx(float(stats.t.isf((1 - level) / 2, exact)), rel=1e-9)


# ---- what must hold for any budget

lengths = st.floats(1e-6, 1e3)
factors = st.floats(-5, 5).map(lambda c: round(c, 6))
some = st.lists(st.tuples(lengths, factors, st.integers(1, 100)), min_size=1, max_size=6)


def budget_of(rows, scale=1.0):
    return linear(
        "y",
        [Term(of.standard(f"x{n}", 0, u * scale, dof=v), c) for n, (u, c, v) in enumerate(rows)],
    )


@given(some)
def test_the_effective_degrees_of_freedom_lie_between_the_least_and_the_sum(rows):
    """JCGM 100:2008, G.4.1 note."""
    budget = budget_of(rows)
    if budget.u > 0:
        at_least = min(v for _, _, v in rows)
        assert at_least * (1 - 1e-9) <= budget.dof_exact
        assert budget.dof_exact <= sum(v for _, c, v in rows if c) * (1 + 1e-9)


@given(some, st.sampled_from([1e-12, 1e-3, 25.4, 1e9]))
def test_another_unit_changes_nothing_but_the_scale(rows, scale):
    plain, scaled = budget_of(rows), budget_of(rows, scale)
    assert scaled.u == pytest.approx(plain.u * scale, rel=1e-12)
    assert scaled.dof_exact == pytest.approx(plain.dof_exact, rel=1e-9)


@given(some, st.integers(1, 100))
def test_one_more_input_never_makes_u_smaller(rows, dof):
    assert budget_of([*rows, (0.5, 1.0, dof)]).u >= budget_of(rows).u


@given(st.floats(-1, 1))
def test_the_sum_of_two_correlated_inputs_is_the_law_of_cosines(r):
    pair = [Term(of.standard("a", 0, 3.0)), Term(of.standard("b", 0, 4.0))]
    u = linear("y", pair, correlations={("b", "a"): r}).u
    assert u == pytest.approx(math.sqrt(25 + 24 * r), rel=1e-9)


def test_shares_of_correlated_inputs_still_make_one():
    pair = [Term(of.standard("a", 0, 3.0)), Term(of.standard("b", 0, 4.0), -1.0)]
    rows = linear("y", pair, correlations={("a", "b"): 0.5}).table()
    assert math.fsum(row.share for row in rows) == pytest.approx(1)
    assert rows[0].share == pytest.approx((9 - 6) / 13)


def test_the_table_holds_what_was_stated_the_divisor_and_the_basis():
    budget = linear("e", [Term(of.from_step("zero, step", 0.001, unit="mm"), 2.0)], unit="mm")
    (row,) = budget.table()
    assert (row.stated, row.distribution, row.unit) == (0.0005, "rectangular", "mm")
    assert row.divisor == pytest.approx(math.sqrt(3))
    assert row.contribution == pytest.approx(0.001 / math.sqrt(3))
    assert "0.001" in row.basis
    assert row.share == pytest.approx(1)


def test_a_step_that_enters_twice_counts_0_408_steps():
    """√2/√12 of a step: zero and reading are each rounded once."""
    twice = [Term(of.from_step("zero", 1.0)), Term(of.from_step("reading", 1.0))]
    assert round(linear("e", twice).u, 3) == 0.408


def test_a_sensitivity_that_is_given_is_used_instead_of_differences():
    x = of.standard("x", 1.0, 0.1)
    given_one = of_model("y", lambda v: v["x"] ** 2, [x], sensitivities={"x": 5.0})
    assert given_one.u == pytest.approx(0.5)


@pytest.mark.parametrize("u", [1e-6, 0.01, 0.5])
def test_a_sensitivity_by_differences_is_good_to_ten_figures_and_more(u):
    """d/dx of eˣ·sin 3x is eˣ·(sin 3x + 3 cos 3x)."""
    found = sensitivity(lambda v: math.exp(v["x"]) * math.sin(3 * v["x"]), {"x": 1.0}, "x", u)
    assert found == pytest.approx(math.e * (math.sin(3) + 3 * math.cos(3)), rel=4e-12)


def test_a_model_that_ends_near_the_estimate_still_has_its_sensitivity():
    assert sensitivity(lambda v: math.sqrt(v["x"]), {"x": 1e-6}, "x", 0.5) == pytest.approx(500)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: linear("y", []), "no inputs"),
        (lambda: linear("y", [Term(of.standard("x", 0, 1))] * 2), "twice"),
        (lambda: of.standard("x", 0, -1), "0 or more"),
        (lambda: of.standard("x", math.nan, 1), "not a number"),
        (lambda: of.standard(" ", 0, 1), "no name"),
        (lambda: of.standard("x", 0, 1, dof=0), "above 0"),
        (lambda: of.from_expanded("x", 0, 1, k=0), "divisor"),
        (lambda: of.from_limits("x", 0, 1, "normal"), "no limits"),
        (lambda: of.from_limits("x", 0, 1, unreliability=25), "unreliability"),
        (lambda: of.from_readings("x", [1.0]), "at least two"),
        (lambda: of.from_pooled("x", 0, 1, n=0, dof=5), "at least one"),
        (lambda: of.correlation_of_means([1, 2], [1, 2]), "three pairs"),
        (lambda: of.correlation_of_means([1, 1, 1], [1, 2, 3]), "do not vary"),
        (lambda: Term(of.standard("x", 0, 1), math.inf), "sensitivity"),
        (lambda: of_model("y", lambda v: v["x"] / 0.0, [of.standard("x", 0, 1)]), "no value"),
        (lambda: of_model("y", lambda v: math.nan, [of.standard("x", 0, 1)]), "no"),
        (
            lambda: of_model(
                "y", lambda v: v["x"], [of.standard("x", 0, 1)], sensitivities={"z": 1}
            ),
            "no input",
        ),
        (lambda: linear("y", [Term(of.standard("x", 0, 1, dof=0.5))]).coverage(), "less than one"),
    ],
)
def test_what_can_mean_nothing_is_refused_with_the_reason(make, says):
    with pytest.raises(CalibrationError, match=says):
        make()


@pytest.mark.parametrize(
    ("together", "says"),
    [
        ({("a", "z"): 0.5}, "no input"),
        ({("a", "a"): 0.5}, "itself"),
        ({("a", "b"): 1.5}, "from -1 to 1"),
        ({("a", "b"): 0.5, ("b", "a"): 0.5}, "twice"),
        ({("a", "b"): 0.9, ("b", "c"): 0.9, ("a", "c"): -0.9}, "contradict"),
        ({("a", "b"): 0.9, ("b", "c"): 0.9, ("a", "c"): 0.5}, "contradict"),
        ({("a", "b"): 1.0, ("b", "c"): 1.0, ("a", "c"): 0.5}, "contradict"),
    ],
)
def test_correlations_that_cannot_be_are_refused(together, says):
    terms = [Term(of.standard(name, 0, 1)) for name in "abc"]
    with pytest.raises(CalibrationError, match=says):
        linear("y", terms, correlations=together)


def test_second_order_terms_with_correlated_inputs_are_refused():
    pair = [of.standard("a", 1, 0.1), of.standard("b", 1, 0.1)]
    with pytest.raises(CalibrationError, match="independent inputs only"):
        of_model(
            "y",
            lambda v: v["a"] * v["b"],
            pair,
            correlations={("a", "b"): 0.5},
            with_second_order=True,
        )
