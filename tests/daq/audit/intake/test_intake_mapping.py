"""A mapping file: every mistake at once, each with its line; the one that ships is sound."""

from pathlib import Path

import pytest

from daq.audit.errors import MappingError
from daq.audit.intake import load_mapping, mapping_from

GENERATOR = Path(__file__).parent.parent / "generator_mapping.toml"

WRONG = """\
[mapping]
format = 1

[points]
files = "*.csv"
format = "csv"
encoding = "ebcdic"

[points.columns]
gauge = "G"
run = { column = "R", value = "1" }
seq = "No"
at_us = "When"
nominal_nm = { column = "N", unit = "mm" }
reference_nm = { column = "Ref" }
temperature_mc = { column = "T", unit = "K" }
found = { column = "State", words = { a = "before" } }
speed = "V"
operator = { column = "By", unit = "mm" }
link = { column = "L", time = "soon" }
"""


def problems(text):
    with pytest.raises(MappingError) as caught:
        mapping_from(text.encode(), "m.toml")
    return [*caught.value.problems]


def test_mistakes_of_form_are_told_with_their_lines():
    told = "\n".join(problems(WRONG))
    assert "m.toml:7: points.encoding" in told
    assert "there is no table" not in told
    assert '"ebcdic" is not known; use one of utf-8, utf-16, latin-1, cp1252' in told
    assert "m.toml:20: points.columns.link.time" in told


def test_mistakes_between_the_parts_are_told_with_their_lines():
    text = WRONG.replace('encoding = "ebcdic"\n', "").replace(', time = "soon"', "")
    assert problems(text) == [
        "m.toml:8: points.columns: indicated_nm is missing; the table cannot be read without it",
        "m.toml:10: points.columns.run: give either column or value",
        "m.toml:12: points.columns.at_us: give time",
        "m.toml:14: points.columns.reference_nm: its unit is not said; give unit as one of "
        "mm, in, µm, nm",
        "m.toml:15: points.columns.temperature_mc: its unit is not said; give unit as one of "
        "degC, degF",
        'm.toml:16: points.columns.found: words makes "before" of something; it may be '
        '"as found", "as left"',
        "m.toml:17: points.columns.speed: points has no such column; there are site, gauge, run, "
        "seq, at_us, found, way, nominal_nm, reference_nm, indicated_nm, u_reference_nm, "
        "temperature_mc, operator, standard, link, certified_nm",
        "m.toml:18: points.columns.operator: it has no unit; take unit out",
    ]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("[mapping]\nformat = 1\n", "m.toml:1: mapping: there is no table; give at least one of"),
        ("[mapping]\nformat = 2\n", "m.toml:2: mapping.format:"),
        (
            '[mapping]\nformat = 1\n[chain]\ntable = "points"\ncolumns = ["seq"]\n'
            '[gauges]\nfiles = "g"\nformat = "csv"\ncolumns = { gauge = "G" }\n',
            "m.toml:4: chain.table: points has no link; map its link column",
        ),
        ("[mapping\n", "m.toml:1: cannot read '[mapping'"),
    ],
)
def test_a_mapping_that_cannot_be_used_says_why(text, told):
    assert any(each.startswith(told) for each in problems(text)), problems(text)


def test_a_mapping_that_is_not_there_says_so(tmp_path):
    with pytest.raises(MappingError, match="cannot be read"):
        load_mapping(tmp_path / "none.toml")


def test_the_mapping_of_the_generated_logs_is_sound():
    mapping = load_mapping(GENERATOR)
    assert mapping.chain is not None
    assert {name for name in ("points", "captures", "gauges", "standards") if mapping.table(name)}
    assert mapping.points.columns["indicated_nm"].column == "ind"
