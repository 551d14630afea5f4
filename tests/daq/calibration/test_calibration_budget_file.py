"""Budgets from a file: each way to state an input, and every mistake at its line."""

import math

import pytest

from daq.calibration.budget_file import budget_from_bytes
from daq.calibration.errors import CalibrationError

HEAD = '[budget]\nmeasurand = "l"\nunit = "nm"\n'


def made(text, head=HEAD):
    return budget_from_bytes((head + text).encode(), "b.toml")[0]


def one(lines):
    [row] = made(f'[[inputs]]\nname = "a"\n{lines}\n').table()
    return row


@pytest.mark.parametrize(
    ("lines", "u", "dof"),
    [
        # JCGM 100:2008, 4.3.3, 4.3.4, 4.3.7, 4.4.5, 4.4.6, F.2.2.1 and H.1.3 (from memory).
        ("standard = 5.8\ndof = 24", 5.8, 24),
        ("expanded = 240\nk = 3", 80, math.inf),
        ("expanded = 129\nlevel = 0.99", 50.08, math.inf),
        ("expanded = 10\nlevel = 0.95\ndof = 5", 3.89, 5),
        ("expanded = 20\nk = 3\nunreliability = 0.25", 6.667, 8),
        ("limits = 4", 2.3094, math.inf),
        ('limits = 4\ndistribution = "triangular"', 1.6330, math.inf),
        ('limits = 0.5\ndistribution = "arcsine"', 0.35355, math.inf),
        ("limits = 1\nunreliability = 0.1", 0.57735, 50),
        ("step = 1", 0.288675, math.inf),
        ("sd = 13\nn = 5\ndof = 24", 5.814, 24),
        ("readings = [1, 2, 3, 4]", math.sqrt(5 / 3) / 2, 3),
    ],
)
def test_each_way_to_state_an_input(lines, u, dof):
    row = one(lines)
    assert row.u == pytest.approx(u, rel=1e-4)
    assert row.dof == pytest.approx(dof)


def test_a_sum_takes_the_sensitivities_and_its_estimate_may_be_given():
    text = '[[inputs]]\nname = "a"\nestimate = 2\nstandard = 3\nsensitivity = -2\n'
    text += '[[inputs]]\nname = "b"\nestimate = 1\nstandard = 8\n'
    budget = made(text)
    assert (budget.estimate, budget.u) == (-3.0, 10.0)
    assert made(text, HEAD + "estimate = 7\n").estimate == 7.0


def test_correlated_inputs_add_up_as_they_do():
    text = '[[inputs]]\nname = "a"\nstandard = 3\n[[inputs]]\nname = "b"\nstandard = 4\n'
    text += '[[correlations]]\nbetween = ["b", "a"]\nr = 1\n'
    assert made(text).u == pytest.approx(7.0)
    assert made(text.replace("r = 1", "r = -1.0")).u == pytest.approx(1.0)


def test_a_source_stands_beside_what_was_stated():
    assert one('expanded = 75\nk = 3\nsource = "certificate 12"').basis == (
        "U with k = 3; certificate 12"
    )


def test_the_level_is_that_of_the_file_else_95_percent():
    text = '[[inputs]]\nname = "a"\nstandard = 1\n'
    assert budget_from_bytes((HEAD + text).encode(), "b.toml")[1] == 0.95
    assert budget_from_bytes((HEAD + "level = 0.99\n" + text).encode(), "b.toml")[1] == 0.99


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("[budget]\n", "b.toml:1: budget.measurand: is missing"),
        (HEAD, "inputs: is missing; add at least one [[inputs]]"),
        (HEAD + '[[inputs]]\nname = "a"\n', "b.toml:4: inputs.1: it has nothing of its unc"),
        (
            HEAD + '[[inputs]]\nname = "a"\nstandard = 1\nstep = 2\n',
            "b.toml:4: inputs.1: it has standard and step; write one of",
        ),
        (
            HEAD + '[[inputs]]\nname = "a"\nstandard = 1\nk = 2\n',
            "b.toml:7: inputs.1.k: it does not go with standard; leave it out",
        ),
        (
            HEAD + '[[inputs]]\nname = "a"\nexpanded = 1\n',
            "b.toml:6: inputs.1.expanded: it needs k or level",
        ),
        (
            HEAD + '[[inputs]]\nname = "a"\nexpanded = 1\nk = 2\nlevel = 0.9\n',
            "b.toml:6: inputs.1.expanded: it needs k or level, one of them",
        ),
        (HEAD + '[[inputs]]\nname = "a"\nsd = 1\n', "b.toml:6: inputs.1.sd: it needs n,"),
        (
            HEAD + '[[inputs]]\nname = "a"\nstandard = 1\ndof = 3\nunreliability = 0.2\n',
            "b.toml:7: inputs.1.dof: unreliability says the same another way",
        ),
        (HEAD + '[[inputs]]\nname = "a"\nstandard = -1\n', "b.toml:6: inputs.1.standard: -1"),
        (HEAD + '[[inputs]]\nname = "a"\nstandard = nan\n', "b.toml:6: inputs.1.standard:"),
        (HEAD + '[[inputs]]\nname = "a"\nstandart = 1\n', 'did you mean "standard"?'),
        (
            HEAD + '[[inputs]]\nname = "a"\nstandard = 0,5\n',
            'b.toml:6: cannot read "'.replace('"', "'"),
        ),
        (
            HEAD + 2 * '[[inputs]]\nname = "a"\nstandard = 1\n',
            'b.toml:8: inputs.2.name: "a" stands twice',
        ),
        (
            HEAD + 'model = "a.b"\n[[inputs]]\nname = "a"\nstandard = 1\n',
            "b.toml:4: budget.model: 'a.b' may not stand in a model",
        ),
        (
            HEAD + 'model = "a + c"\n[[inputs]]\nname = "a"\nstandard = 1\n',
            "b.toml:4: budget.model: 'c' is no input; the inputs are a",
        ),
        (
            HEAD + 'model = "a"\n[[inputs]]\nname = "a"\nstandard = 1\n'
            '[[inputs]]\nname = "b"\nstandard = 1\n',
            'b.toml:9: inputs.2.name: the model does not use "b"; take it out',
        ),
        (
            HEAD + 'model = "1/a"\n[[inputs]]\nname = "a"\nstandard = 1\n',
            "b.toml: the model has no",
        ),
        (
            HEAD + 'model = "a"\nestimate = 1\n[[inputs]]\nname = "a"\nstandard = 1\n',
            "b.toml:5: budget.estimate: the model gives it; leave one of them out",
        ),
        (
            HEAD + "second_order = true\n" + '[[inputs]]\nname = "a"\nstandard = 1\n',
            "b.toml:4: budget.second_order: a sum has no terms of higher order",
        ),
        (
            HEAD + '[[inputs]]\nname = "a"\nstandard = 1\n[[correlations]]\n'
            'between = ["a", "z"]\nr = 0.5\n',
            'b.toml:8: correlations.1.between.2: "z" is no input',
        ),
        (
            HEAD + '[[inputs]]\nname = "a"\nstandard = 1\n[[correlations]]\n'
            'between = ["a", "a"]\nr = 2\n',
            "correlations.1.r: 2",
        ),
    ],
)
def test_a_mistake_is_told_with_file_and_line(text, says):
    with pytest.raises(CalibrationError) as told:
        budget_from_bytes(text.encode(), "b.toml")
    assert says in str(told.value)


def test_mistakes_are_told_all_at_once():
    text = HEAD.replace('"nm"', "3") + '[[inputs]]\nname = ""\nk = "x"\n'
    with pytest.raises(CalibrationError) as told:
        budget_from_bytes(text.encode(), "b.toml")
    assert [each.split(":")[1] for each in told.value.problems] == ["3", "5", "6"]
