"""The report of a study: everything of every kind in HTML and PDF, safe whatever the file says."""

import re
from pathlib import Path

import pytest

from daq.calibration.study.analysis import Asked, studied
from daq.calibration.study.table import read_table
from daq.cli import main
from daq.report.study.html import html_of
from daq.report.study.making import report_of
from daq.report.study.model import FileSource
from daq.report.study.pdf import pdf_of
from tests.daq.calibration.study.study_data import FOLDER
from tests.daq.report.reading import closed_up, html_text, pdf_text

PAGE = (Path(__file__).parents[4] / "docs" / "studies.md").read_text("utf-8")
FILES = dict(re.findall(r"^```csv (\S+)\n(.*?)^```$", PAGE, re.S | re.M))
EXPECTED = {
    "trials.csv": ("5 parts, 2 operators, 2 trials: 20 values", "kept as a component", "0.001703"),
    "blocks.csv": ("15 values at 5 references", "stands out from 0", "5.211e−05"),
    "weekly.csv": ("22 points from w1 to w22", "4 points break a rule", "24.997153"),
    "days.csv": ("18 lines, 2 runs", "4 degrees of freedom", "0.002248"),
    "master.csv": ("12 occasions from 1 to 12", "36 degrees of freedom", "25.00123"),
    "fleet.csv": ("14 calibrations", "13 of 14", "66.13 % to 99.82 %"),
}


def report(text, name="f.csv", title="", **asked):
    how = Asked(**asked)
    result = studied(read_table(text, name), how)
    return report_of(result, how, FileSource.of(name, text.encode()), title=title)


@pytest.mark.parametrize("name", FILES)
def test_every_kind_of_study_says_what_it_found_both_ways(name):
    made = report(FILES[name], name)
    html, paper = html_text(html_of(made)), closed_up(pdf_text(pdf_of(made)))
    values = [cell for row in made.data.rows for cell in row]
    for expected in (*EXPECTED[name], name, made.source.sha256[:12], *made.method, *values):
        assert closed_up(expected) in html
        assert closed_up(expected) in paper
    assert len(made.data.rows) == FILES[name].count("\n") - 1


def test_the_published_crossed_study_is_told_with_both_methods_and_what_is_usual():
    """AIAG, Measurement Systems Analysis, 4th edition: 27.9 and 26.7 %; 4 and 5 categories."""
    text = (FOLDER / "crossed_10x3x3.csv").read_text("utf-8")
    made = report(text, tolerance="4")
    share, of_tolerance, categories = made.figures
    assert share.value == "27.9 · 26.7 %"
    assert share.practice == "from 10 to 30 %: it depends on the purpose"
    assert (of_tolerance.value, of_tolerance.practice[:9]) == ("45.4 · 45.9 %", "over 30 %")
    assert (categories.value, categories.practice) == ("4 · 5", "5 or more are wanted: not reached")
    assert made.sections[0].said == (
        "Interaction pooled with repeatability: its F test gives p = 0.974, above 0.25.",
    )
    assert "The interaction is pooled with repeatability here." in made.method[0]
    assert made.asked == (("tolerance", "4"),)
    assert len(made.data.rows) == 90
    kept = report(text, interaction="keep")
    assert kept.sections[0].said[0].startswith("Interaction kept as a component, as asked")
    assert kept.asked == (("interaction", "keep"),)
    assert "interaction" in [row[0].strip("\u2003") for row in kept.sections[0].tables[0].rows]


def test_the_pictures_stand_in_it_and_nothing_is_asked_of_any_network():
    made = report(FILES["trials.csv"], title="Gauge D07")
    html = html_of(made)
    assert html.count("<svg") == 3
    assert "<h1>Gauge D07</h1>" in html
    for each in re.findall(r"""(?:src|href)=["']([^"']+)""", html):
        raise AssertionError(each)
    assert not re.search(r"url\(|@import|<script|<link", html)
    assert set(re.findall(r"https?://[^\"' <]+", html)) <= {"http://www.w3.org/2000/svg"}


def test_the_same_values_give_the_same_bytes():
    made = report(FILES["master.csv"])
    assert html_of(made) == html_of(report(FILES["master.csv"]))
    assert pdf_of(made) == pdf_of(report(FILES["master.csv"]))


def test_words_of_the_file_are_never_taken_for_markup():
    nasty = "<script>alert(1)</script> #{1+1} $x$ *b* {{ 7*7 }}"
    text = "part,operator,trial,value\n" + "".join(
        f"{part},{who},{trial},{10 * (part == 'p') + trial + len(who) / 100}\n"
        for part in ("p", nasty)
        for who in (nasty, "B")
        for trial in (1, 2)
    )
    made = report(text, name=f"{nasty}.csv", title=nasty)
    html = html_of(made)
    assert "<script" not in html
    assert html_text(html).count(closed_up(nasty)) >= 4
    assert closed_up(nasty) in closed_up(pdf_text(pdf_of(made)))


def test_a_study_without_any_scatter_is_told_without_figures():
    text = "part,operator,trial,value\n" + "".join(
        f"{p},{o},{t},1.0\n" for p in "12" for o in "AB" for t in "12"
    )
    made = report(text)
    assert made.figures[0].practice == "not known"
    assert made.figures[1].value == "not known · not known"
    assert "too coarse" in html_of(made)


@pytest.fixture
def _here(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for name, text in FILES.items():
        Path(name).write_text(text, "utf-8")


@pytest.mark.usefixtures("_here")
def test_the_command_writes_both_files_and_none_over_another(capsys):
    words = ["study", "trials.csv", "--html", "out/r.html", "--pdf", "out/r.pdf", "--title", "D07"]
    assert main(words) == 0
    printed = capsys.readouterr().out
    assert main(["study", "trials.csv"]) == 0
    assert capsys.readouterr().out == printed
    assert "<h1>D07</h1>" in Path("out/r.html").read_text("utf-8")
    assert Path("out/r.pdf").read_bytes().startswith(b"%PDF")
    assert main(words) == 3
    said = capsys.readouterr()
    assert "is already there" in said.err
    assert said.out == ""


@pytest.mark.usefixtures("_here")
def test_where_a_study_cannot_be_made_no_file_is_written():
    Path("bad.csv").write_text("at,value\n1,2\n2,x\n", "utf-8")
    assert main(["study", "bad.csv", "--html", "r.html"]) == 3
    assert not Path("r.html").exists()


@pytest.mark.usefixtures("_here")
def test_a_signal_is_still_told_by_the_exit_status():
    assert main(["study", "weekly.csv", "--html", "w.html"]) == 1
