"""A study's CSV: which kind it is, its units, and every mistake with file and line."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.calibration.study import StudyError
from daq.calibration.study.from_table import found_within, occasions, referred, subgroups, trials
from daq.calibration.study.table import read_table


def problems_of(text, kind=None):
    with pytest.raises(StudyError) as caught:
        read_table(text, "f.csv", kind)
    return list(caught.value.problems)


@pytest.mark.parametrize(
    ("head", "kind"),
    [
        ("part,operator,trial,value,unit", "crossed"),
        ("Value, Operator ,TRIAL,part", "crossed"),
        ("reference,value", "bias"),
        ("at,value", "stability"),
        ("part,run,day,value,sd,dof", "levels"),
        ("day,value", "check"),
        ("gauge,found", "reliability"),
    ],
)
def test_the_columns_say_which_study_it_is(head, kind):
    cells = {"found": "near", "unit": "mm", "dof": "2"}
    names = [name.strip().casefold() for name in head.split(",")]
    line = ",".join(cells.get(name, "1") for name in names)
    assert read_table(f"{head}\n{line}\n", "f.csv").kind == kind


def test_every_mistake_is_told_with_its_line():
    text = (
        "part,operator,trial,value,unit\n"
        "1,A,1,12.705,mm\n"
        "1,A,2,12;7,mm\n"
        "\n"
        '1,A,3,"12,706",mm\n'
        "1,A,4,12,706,mm\n"
        "1,A,1,12.7,mm\n"
        "1,,5,nan,furlong\n"
    )
    assert problems_of(text) == [
        "f.csv:3: value: '12;7' is not a number such as 12.705; the unit goes into a column unit",
        "f.csv:5: value: '12,706' has a decimal comma; write 12.706",
        "f.csv:6: 6 cells where there are 5 columns; a decimal comma makes two cells of one",
        "f.csv:8: operator: the cell is empty",
        "f.csv:8: value: 'nan' is not a number such as 12.705; the unit goes into a column unit",
        "f.csv:8: unit: 'furlong' is not a unit of length used here; the units are mm, cm, m, "
        "µm (um), nm, in, thou",
        "f.csv:7: part 1, operator A, trial 1 is already on line 2",
    ]


def test_a_cell_of_two_lines_does_not_shift_the_numbers_of_those_below():
    assert problems_of('at,value\n"a\nb",1\n2,x\n')[0].startswith("f.csv:4: value")


def test_mistakes_in_the_columns_are_told():
    assert problems_of("part,operater,trial,value\n1,A,1,2\n") == [
        "f.csv:1: column operator is missing; a study of kind crossed has "
        "part,operator,trial,value",
        "f.csv:1: column 'operater' is not known; did you mean operator?",
    ]
    assert "separated by commas" in problems_of("at;value\n1;2\n")[0]
    assert "for no study. The studies are crossed: part,operator" in problems_of("x,y\n1,2\n")[0]
    assert "column 'value' is there twice" in problems_of("at,value,value\n1,2,3\n")[0]
    assert "sd and dof go together" in problems_of("day,value,sd\n1,2,3\n")[0]
    assert "it is empty" in problems_of("\n\n")[0]
    assert "no value beneath" in problems_of("at,value\n")[0]
    assert "column at is missing" in problems_of("day,value\n1,2\n", "stability")[0]
    assert "it is not CSV" in problems_of('at,value\n"1,2\n')[0]


def test_scatter_and_results_are_checked_too():
    told = problems_of("day,value,sd,dof\n1,2,-0.1,0\n")
    assert told == [
        "f.csv:2: dof: '0' is not a whole number from 1: how many values, less one",
        "f.csv:2: sd: -0.1 is below zero, and a standard deviation is not",
    ]
    assert problems_of("gauge,found\n1,good\n") == [
        "f.csv:2: found: 'good' is none of within, near, beyond"
    ]


def test_one_unit_is_kept_and_several_become_millimetres():
    table = read_table("reference,value,unit\n0.5,0.5005,in\n", "f.csv")
    assert table.unit == "in"
    assert referred(table)[0].value == 0.5005
    table = read_table("reference,value,unit\n0.5,0.501,in\n12.7,12.71,mm\n", "f.csv")
    assert table.unit == "mm"
    assert [each.reference for each in referred(table)] == [12.7, 12.7]
    assert referred(table)[0].value == 12.7254


def test_a_tolerance_is_taken_into_the_unit_of_the_file():
    inches = read_table("at,value,unit\n1,0.5,in\n", "f.csv")
    assert inches.amount("0.254 mm", what="--tolerance") == pytest.approx(0.01)
    with pytest.raises(StudyError, match=r"has no unit; write 0.01 in"):
        inches.amount("0.01", what="--tolerance")
    bare = read_table("at,value\n1,0.5\n", "f.csv")
    assert bare.amount("8", what="--tolerance") == 8.0
    with pytest.raises(StudyError, match=r"has a unit and f.csv none; add a column unit"):
        bare.amount("8 mm", what="--tolerance")


def test_values_are_taken_in_the_order_of_the_file():
    text = "part,operator,trial,value\nb,A,2,−1.5\na,A,1,2e1\n"
    assert [(t.part, t.value) for t in trials(read_table(text, "f.csv"))] == [
        ("b", -1.5),
        ("a", 20),
    ]
    text = "\ufeffat,value\r\nmon,1\r\nmon,2\r\ntue,3\r\n"
    assert subgroups(read_table(text, "f.csv")) == {"mon": [1.0, 2.0], "tue": [3.0]}
    with pytest.raises(StudyError, match=r"f.csv:4: at: mon was there before"):
        subgroups(read_table("at,value\nmon,1\ntue,2\nmon,3\n", "f.csv"))
    assert found_within(read_table("gauge,found\na,within\nb,near\nc,beyond\n", "f.csv")) == (2, 3)


def test_an_occasion_is_its_values_or_their_mean_and_scatter():
    raw = read_table("day,value\n1,2\n1,4\n2,3\n2,3\n", "f.csv")
    assert [(o.day, o.mean, o.dof) for o in occasions(raw)] == [("1", 3.0, 1), ("2", 3.0, 1)]
    given_ = read_table("day,value,sd,dof\n1,3,0.5,4\n", "f.csv")
    assert (occasions(given_)[0].sd, occasions(given_)[0].dof) == (0.5, 4)
    with pytest.raises(StudyError, match=r"f.csv: part .* day 1: 1 value says nothing"):
        occasions(read_table("day,value\n1,2\n2,3\n2,4\n", "f.csv"))


@given(st.text(st.sampled_from('part,opeaorilvu\n\r";x1.2-\x00é'), max_size=80))
def test_any_text_is_a_table_or_is_refused_with_its_name(text):
    try:
        made = [row.text for row in read_table(text, "f.csv").rows]
    except StudyError as error:
        made = error.problems
        refused = [problem.startswith("f.csv") for problem in made]
    else:
        refused = []
    assert made
    assert all(refused)
