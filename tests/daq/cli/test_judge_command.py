"""restpoint judge: the examples of JCGM 106 and the table of ILAC-G8 through the command."""

import pytest

from tests.daq.cli.alone import run


def facts(line):
    [made] = run(f"judge {line} --json").facts
    return made


def test_the_burst_pressure_of_jcgm_106():
    """JCGM 106:2012, 7.3: at least 490 kPa, 507 kPa with u 6 kPa: p_c ≈ 0.998 (from memory)."""
    made = facts('--value 507 --u 6 --limits "min +490" --rule "guarded 95%"')
    assert made["word"] == "pass"
    assert made["p_conform"] == pytest.approx(0.997697, abs=5e-7)
    assert made["consumer_risk"] == pytest.approx(1 - 0.997697, abs=5e-7)


def test_the_speeding_car_of_jcgm_106():
    """JCGM 106:2012, 8.3.3: limit 100 km/h, u 2 % of the reading, 99.9 %: proved from about
    107 km/h on (from memory); 106.5876 by the formula."""

    def word(speed):
        line = f'--value {speed} --u {0.02 * speed:.6f} --limits "max +100" --rule "guarded 99.9%"'
        return facts(line)["word"]

    assert word(106.59) == "fail"
    assert word(106.58) == "conditional fail"
    assert word(95) == "conditional pass"


@pytest.mark.parametrize(
    ("r", "consumer", "producer"),
    [(0, 0.0189422, 0.0372078), (0.5, 0.0043341, 0.1146566), (1, 0.0004686, 0.2476696)],
)
def test_the_resistors_of_jcgm_106(r, consumer, producer):
    """JCGM 106:2012, 9.5; inputs as in the example, from memory; values recomputed."""
    made = facts(
        f'--u 0.04 --nominal 1500 --limits "± 0.2" --rule "guarded {r}U" --prior "normal 1500 0.12"'
    )
    assert made["word"] is None
    assert made["risks"]["conforming"] == pytest.approx(0.904419, abs=5e-7)
    assert made["risks"]["consumer"] == pytest.approx(consumer, abs=6e-8)
    assert made["risks"]["producer"] == pytest.approx(producer, abs=6e-8)


def test_the_ball_bearings_of_jcgm_106():
    """JCGM 106:2012, 9.5.4: gamma prior, mean 1 µm, sd 0.5 µm, limit 2 µm, u 0.25 µm: about 96 %
    conform, R_C ≈ 0.8 %, R_P ≈ 1.7 % (from memory)."""
    made = facts('--u "0.25 µm" --limits "max +2 µm" --rule simple --prior "gamma 1 um 0.5 um"')
    risks = made["risks"]
    assert risks["consumer"] == pytest.approx(0.00801911, abs=6e-9)
    assert risks["producer"] == pytest.approx(0.0174446, abs=6e-8)
    assert round(risks["conforming"], 2) == 0.96


@pytest.mark.parametrize(
    ("rule", "guard", "risk"),
    [
        ("simple", 0, 0.5),
        ("guarded 0.83U", 0.83, 0.04846),
        ("guarded 1U", 1, 0.02275),
        ("guarded 1.5U", 1.5, 0.00135),
        ("guarded 3U", 3, 0.99e-9),
    ],
)
def test_the_table_of_ilac_g8(rule, guard, risk):
    """ILAC-G8:09/2019, table of decision rules: w in U at k = 2, and the worst false accept."""
    made = facts(f'--u 0.5 --limits "max +10" --rule "{rule}"')
    assert float(made["guard"]) == guard
    assert made["expanded"] == "1.0"
    assert made["risk_at_acceptance_limit"] == pytest.approx(risk, rel=5e-3)


@pytest.mark.parametrize(
    ("ratio", "consumer", "producer"),
    [(4, 0.858, 1.554), (3, 1.049, 2.294), (2, 1.337, 4.178), (1, 1.801, 12.957)],
)
def test_simple_acceptance_at_n_to_one(ratio, consumer, producer):
    """95 % conforming, U at k = 2: "0.8 %" at 4:1 is widely quoted; recomputed."""
    risks = facts(f'--u {0.5 / ratio:.9f} --limits "± 1" --rule simple --prior "95 % conforming"')[
        "risks"
    ]
    assert round(100 * risks["consumer"], 3) == consumer
    assert round(100 * risks["producer"], 3) == producer


@pytest.mark.parametrize(
    ("value", "word", "status"),
    [
        ("0.006", "pass", 0),
        ("-0.006", "pass", 0),
        ("0.0065", "conditional pass", 1),
        ("0.010", "conditional fail", 1),
        ("-0.0101", "fail", 1),
    ],
)
def test_the_words_and_the_exit_status(value, word, status):
    line = f'judge --value "{value} mm" --u "1 µm" --limits "± 0.008 mm" --rule "guarded 1U"'
    ran = run(line)
    assert ran.status == status
    assert ran.out.startswith(f"{word}: ")
    assert "U            0.002 mm (k = 2)" in ran.out


def test_where_no_value_can_pass_it_says_so_and_not_more():
    """No acceptance zone at 95 % below a width of 3.92 u."""
    ran = run('judge --value 0 --u 0.2 --limits "± 0.39" --rule "guarded 95%" --prior "normal 0 1"')
    assert ran.status == 1
    assert ran.out.startswith("not judged: ")
    assert "no acceptance zone: under this rule no value can pass" in ran.out
    assert "nothing is accepted" in ran.out
    assert run('judge --value 0 --u 0.2 --limits "± 0.393" --rule "guarded 95%"').status == 0


def test_the_budgets_factor_makes_the_guard_band_and_a_bound_on_u_comes_first():
    assert facts('--u 1 --limits "± 10" --k 2.5')["guard"] == "2.5"
    made = facts('--u 1 --value 0 --limits "± 10" --rule simple --largest 1.5')
    assert made["word"] == "not judged"
    assert facts('--u 1 --value 0 --limits "± 10" --rule simple --largest 2')["word"] == "pass"


def test_limits_about_a_nominal_are_deviations():
    line = '--u "1 µm" --nominal "76.20 mm" --limits "+0.02 mm -0.01 mm" --value'
    assert facts(f'{line} "76.218 mm"')["word"] == "pass"
    assert facts(f'{line} "76.215 mm"')["word"] == "pass"
    assert facts(f'{line} "76.191 mm"')["word"] == "conditional pass"


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ('--u 1 --limits "± 1 mm"', "--u: '1' has no unit"),
        ('--u "1 mm" --limits "± 1"', "--u: '1 mm' is no plain number; give every figure with"),
        ('--u 0 --limits "± 1"', "has no uncertainty"),
        ('--u 1 --limits "1"', "does not name limits"),
        ('--u 1 --limits "max 1"', "has no sign"),
        ('--u 1 --limits "± 1" --rule often', "is no decision rule"),
        ('--u 1 --limits "± 1" --k 7', "k"),
        ('--u 1 --limits "max +1" --rule "simple 4:1"', "needs limits on both sides"),
        ('--u 1 --limits "± 9" --prior "flat 1 2"', "is no prior; write"),
        ('--u 1 --limits "± 9" --prior "normal 1"', "is no prior; write"),
        ('--u 1 --limits "± 9" --prior "normal 1 -2"', "makes no sense"),
        ('--u 1 --limits "± 9" --prior "gamma 1 2"', "at most the mean"),
        ('--u 1 --limits "max +9" --prior "95 % conforming"', "limits on both sides"),
        ('--u 1 --value 200000 --limits "± 9"', "is above 100000"),
    ],
)
def test_what_cannot_be_decided_is_refused_with_the_reason(line, says):
    ran = run(f"judge {line}")
    assert (ran.status, ran.out) == (3, "")
    assert says in ran.error


@pytest.mark.parametrize(
    ("cm", "place", "p"),
    [
        (1, 0.0, 0.5000),
        (1, 0.05, 0.5792),
        (1, 0.5, 0.9545),
        (2, 0.1, 0.7881),
        (3, 0.2, 0.9918),
        (4, 0.05, 0.7881),
        (10, 0.05, 0.9772),
    ],
)
def test_the_probability_by_measurement_capability(cm, place, p):
    """JCGM 106:2012, 7.4: p_c over C_m = T/(4u) and the place between the limits; computed."""
    line = f'--value {place - 0.5:.2f} --u {1 / (4 * cm):.9f} --limits "± 0.5" --rule simple'
    assert facts(line)["p_conform"] == pytest.approx(p, abs=5.1e-5)


@pytest.mark.parametrize(
    ("width", "guard"), [(4, 1.796213), (5, 1.648767), (6, 1.644918), (8, 1.644854)]
)
def test_the_guard_band_of_95_percent_grows_where_the_limits_are_narrow(width, guard):
    """ISO 14253-1:2017, conformance probability 95 % with both limits counting; computed."""
    made = facts(f'--u 1 --limits "± {width / 2:g}" --rule "guarded 95%"')
    assert float(made["guard"]) == pytest.approx(guard, abs=1e-6)
    assert made["risk_at_acceptance_limit"] == pytest.approx(0.05, abs=1e-6)
