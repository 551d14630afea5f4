"""restpoint study: the published results through the command, its page's examples, its refusals."""

import json
import re
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest

from daq.calibration.study.guided_plan import study_plan_from_bytes
from daq.cli import main
from tests.daq.calibration.study.study_data import FOLDER, column, rows

PAGE = Path(__file__).parents[3] / "docs" / "studies.md"


@pytest.fixture
def study(tmp_path, capsys, monkeypatch):
    """Runs the command on rows of a table; gives its exit status and its facts."""
    monkeypatch.chdir(tmp_path)

    def run(head, lines, *words):
        text = "\n".join([head, *(",".join(str(cell) for cell in line) for line in lines)])
        Path("f.csv").write_text(text + "\n", "utf-8")
        status = main(["study", "f.csv", "--json", *words])
        out = capsys.readouterr().out.splitlines()
        return status, [json.loads(line) for line in out]

    return run


def test_the_published_crossed_study(capsys):
    # AIAG, Measurement Systems Analysis, 4th edition: both methods.
    assert main(["study", str(FOLDER / "crossed_10x3x3.csv"), "--json"]) == 0
    by_variance, by_range = map(json.loads, capsys.readouterr().out.splitlines())

    def shares(facts):
        of = {each["name"]: each["of_sd"] for each in facts["components"]}
        names = ("repeatability", "reproducibility", "measurement", "part")
        return [round(100 * of[name], 1) for name in names]

    assert shares(by_variance) == [18.4, 20.9, 27.9, 96.0]
    assert shares(by_range) == [17.6, 20.0, 26.7, 96.4]
    assert (by_variance["distinct_categories"], by_range["distinct_categories"]) == (4, 5)
    assert by_variance["pooled"] is True
    assert main(["study", str(FOLDER / "crossed_10x3x3.csv"), "--interaction", "keep"]) == 0
    told = capsys.readouterr().out
    assert "Interaction kept as a component, as asked (F test: p = 0.974)." in told
    assert re.search(r"measurement +0\.3132 +28\.75 ", told)


def test_the_published_individuals_and_outlier(study):
    # NIST/SEMATECH e-Handbook 6.3.2.2 and 1.3.5.17.
    values = column("flowrate_6_3_2_2", "flowrate")
    status, [facts] = study("at,value", enumerate(values, 1))
    assert status == 0
    assert facts["charts"][0]["upper"][0] == pytest.approx(55.802412, abs=1e-6)
    assert facts["is_stable"] is True
    status, [facts] = study("at,value", enumerate(column("uranium_1_3_5_17", "x"), 1))
    assert status == 1
    assert facts["outlier_test"]["g"] == pytest.approx(2.4687, abs=1e-4)
    assert (facts["outlier_test"]["at"], facts["outlier_test"]["found"]) == ("8", True)


def test_the_published_ewma_and_cumulative_sum(study):
    # NIST/SEMATECH e-Handbook 6.3.2.4 and 6.3.2.3.
    words = ["--chart", "ewma", "--target", "50", "--sd", "2.0539", "--weight", "0.3"]
    status, [facts] = study("at,value", enumerate(column("ewma_6_3_2_4", "x"), 1), *words)
    assert status == 0
    assert facts["charts"][0]["upper"][-1] == pytest.approx(52.5884, abs=5e-5)
    assert facts["charts"][0]["values"][-1] == pytest.approx(51.99, abs=0.005)
    words = ["--chart", "cusum", "--target", "325", "--sd", "1", "--k", ".3175", "--h", "4.1959"]
    status, [facts] = study("at,value", enumerate(column("cusum_6_3_2_3", "x"), 1), *words)
    assert status == 1
    assert facts["charts"][0]["flags"][0]["index"] == 13
    assert facts["charts"][0]["values"][-1] == pytest.approx(19.035, abs=1e-9)


def test_the_published_levels_and_check_standard(study):
    # NIST/SEMATECH e-Handbook 2.6.1 and 2.6.2.
    lines = [
        (row["wafer"], row["run"], number, row["avg"], row["sd"], 5)
        for number, row in enumerate(rows("mpc61_probe_2362"))
    ]
    status, [facts] = study("part,run,day,value,sd,dof", lines)
    assert status == 0
    levels = [facts[name]["sd"] for name in ("repeatability", "day_to_day", "run_to_run")]
    assert levels == pytest.approx([0.07287, 0.03617, 0.0196], abs=5e-5)
    lines = [(number, row["std"], row["sd"], 5) for number, row in enumerate(rows("mpc62"), 1)]
    status, [facts] = study("day,value,sd,dof", lines)
    limits = [facts[name] for name in ("upper_sd", "lower", "upper")]
    assert limits == pytest.approx([0.09283, 97.01624, 97.12344], abs=6e-6)
    out = {"means": [], "deviations": []}
    for number, row in enumerate(rows("mpc62"), 1):
        if not 97.01624 < float(row["std"]) < 97.12344:
            out["means"].append(str(number))
        if float(row["sd"]) > 0.09283:
            out["deviations"].append(str(number))
    assert list(facts["beyond"].values()) == [out["means"], out["deviations"]]
    assert status == 1


def test_the_certified_line_and_the_exact_interval(study):
    # NIST StRD, Norris; NIST/SEMATECH e-Handbook 7.2.4.1 (from memory, exact last digits).
    lines = [(row["reference"], row["value"]) for row in rows("norris")]
    _, [facts] = study("reference,value", lines)
    assert facts["line"]["slope"]["u"] == pytest.approx(0.429796848199937e-03, rel=1e-11)
    lines = [(number, "within" if number < 4 else "beyond") for number in range(20)]
    _, [facts] = study("gauge,found", lines, "--confidence", "0.9")
    assert (facts["low"], facts["high"]) == pytest.approx((0.0713539, 0.4010281), abs=1e-7)


def _examples():
    page = PAGE.read_text("utf-8")
    files = dict(re.findall(r"^```csv (\S+)\n(.*?)^```$", page, re.S | re.M))
    runs = re.findall(r"^```text\n\$ restpoint (study .*?)\n(.*?)^```$", page, re.S | re.M)
    return files, runs


@pytest.mark.parametrize(("line", "printed"), _examples()[1], ids=lambda text: text[:40])
def test_the_examples_of_the_page_are_what_the_command_prints(
    line, printed, tmp_path, monkeypatch, capsys
):
    monkeypatch.chdir(tmp_path)
    for name, text in _examples()[0].items():
        Path(name).write_text(text, "utf-8")
    words = [quoted or plain for quoted, plain in re.findall(r'"([^"]*)"|(\S+)', line)]
    assert main(words) in (0, 1)
    assert capsys.readouterr().out.rstrip() == printed.rstrip()


def test_the_page_has_an_example_of_every_kind():
    assert len(_examples()[0]) == 6
    assert len(_examples()[1]) == 8


def test_the_plan_of_the_page_is_a_plan():
    text = re.search(r"^```toml grooves.toml\n(.*?)^```$", PAGE.read_text("utf-8"), re.S | re.M)[1]
    plan = study_plan_from_bytes(text.encode(), "grooves.toml")
    assert (plan.design, plan.seed, len(plan.order)) == ("crossed", 17, 20)


def test_pictures_are_drawn_in_a_folder_that_is_made(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    kinds = {
        "trials.csv": ["components-by-range", "components", "parts-and-operators"],
        "blocks.csv": ["bias"],
        "weekly.csv": ["individual-values", "moving-ranges"],
        "days.csv": ["levels"],
        "master.csv": ["means-of-the-check-standard", "standard-deviations-of-the-check-standard"],
    }
    for name, pictures in kinds.items():
        Path(name).write_text(_examples()[0][name], "utf-8")
        for _ in range(2):  # a second run puts new pictures in the place of the old
            main(["study", name, "--svg", f"drawn/{name}"])
        drawn = sorted(Path("drawn", name).iterdir())
        assert [path.name for path in drawn] == sorted(f"{each}.svg" for each in pictures)
        for path in drawn:
            ET.fromstring(path.read_text("utf-8"))
    Path("file").write_text("", "utf-8")
    capsys.readouterr()
    assert main(["study", "days.csv", "--svg", "file/in"]) == 3
    assert "The pictures cannot be written: file" in capsys.readouterr().err


def test_mistakes_are_told_with_file_and_line_and_nothing_is_printed(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    Path("f.csv").write_text("at,value,unit\n1,12.7,mm\n2,x,mm\n3,1,ell\n", "utf-8")
    assert main(["study", "f.csv", "--svg", "drawn"]) == 3
    said = capsys.readouterr()
    assert said.out == ""
    assert "f.csv:3: value: 'x' is not a number" in said.err
    assert "f.csv:4: unit: 'ell' is not a unit of length" in said.err
    assert not Path("drawn").exists()
    Path("f.csv").write_bytes(b"at,value\n1,\xff\n")
    assert main(["study", "f.csv"]) == 3
    assert "f.csv is not UTF-8 text" in capsys.readouterr().err
    assert main(["study", "none.csv"]) == 3
    assert "none.csv cannot be read: No such file" in capsys.readouterr().err


def test_a_study_that_cannot_be_made_names_the_file_and_what_is_missing(study, capsys):
    status, _ = study("part,operator,trial,value", [(1, "A", 1, 2), (1, "A", 2, 3), (2, "A", 1, 3)])
    assert status == 3
    Path("g.csv").write_text("part,operator,trial,value\n1,A,1,2\n1,B,1,2\n1,A,2,2\n2,A,1,3\n")
    assert main(["study", "g.csv"]) == 3
    said = capsys.readouterr().err
    assert "g.csv: part 1, operator B: trial 2 is missing" in said
    assert "g.csv: part 2, operator B: trial 1, 2 is missing" in said


def test_an_option_that_would_not_be_used_is_refused(study, capsys):
    status, _ = study("reference,value", [(1, 1.1), (2, 2.1), (3, 3)], "--tolerance", "0.1")
    assert status == 2
    Path("g.csv").write_text("at,value,unit\n1,1.0,mm\n2,1.2,mm\n3,1.1,mm\n", "utf-8")
    assert main(["study", "g.csv", "--target", "1"]) == 3
    assert "--target '1' has no unit; write 1 mm" in capsys.readouterr().err
    assert main(["study", "g.csv", "--sd", "0 mm"]) == 3
    assert main(["study", "g.csv", "--chart", "cusum", "--sd", "-1 mm"]) == 3
    assert main(["study", "g.csv", "--kind", "bias"]) == 3
    assert "column reference is missing" in capsys.readouterr().err


def test_several_values_at_a_time_make_a_chart_of_averages(study, capsys):
    lines = [(at, 10 + 0.1 * k + 0.01 * at) for at in range(20) for k in range(3)]
    _, [facts] = study("at,value", lines, "--rules", "limits")
    assert [chart["name"] for chart in facts["charts"]] == ["averages of 3", "ranges"]
    _, [facts] = study("at,value", lines, "--by", "sd")
    assert facts["charts"][1]["name"] == "standard deviations"
    status, _ = study("at,value", lines, "--target", "10")
    assert status == 3
    status, _ = study("at,value", lines[:-1])
    assert status == 3
    _, [facts] = study("at,value", lines, "--chart", "ewma", "--target", "10", "--sd", "0.1")
    assert len(facts["charts"][0]["values"]) == 20


def test_the_published_pooled_repeatability(study):
    # NIST/SEMATECH e-Handbook 2.4.4.1, data set MPC441: 60 degrees of freedom, s1 0.07871.
    lines = [
        (number, row["avg"], row["sd"], int(float(row["df"])))
        for number, row in enumerate(rows("mpc441"), 1)
    ]
    _, [facts] = study("day,value,sd,dof", lines)
    assert facts["repeatability"]["dof"] == 60
    assert facts["repeatability"]["sd"] == pytest.approx(0.07871, abs=5e-6)


@pytest.mark.parametrize(
    ("which", "bias", "t"), [("d1", -0.003834, -4.013320), ("d2", 0.004886, 6.571261)]
)
def test_the_published_bias_between_two_configurations(study, which, bias, t):
    # NIST/SEMATECH e-Handbook 2.5.3.6, data set MPC536; printed there are t of -3.943518 and
    # 6.456969, with the square root of n - 1; the ordinary t is asserted.
    _, [facts] = study("reference,value", [(0, row[which]) for row in rows("mpc536")])
    assert facts["overall"]["value"] == pytest.approx(bias, abs=5e-7)
    assert facts["overall"]["t"] == pytest.approx(t, abs=5e-7)
    assert facts["overall"]["dof"] == 28
    assert facts["overall"]["t"] * (28 / 29) ** 0.5 == pytest.approx(
        {"d1": -3.943518, "d2": 6.456969}[which], abs=2e-6
    )


@pytest.mark.parametrize(
    ("share", "confidence", "low", "high"),
    [
        # NIST/SEMATECH e-Handbook 7.2.4.1 (from memory; exact last digits), and exact values that
        # scipy's binomtest gives too.
        ("4/20", 0.9, 0.0713539, 0.4010281),
        ("0/10", 0.95, 0.0, 0.308497),
        ("0/59", 0.95, 0.0, 0.060609),
        ("95/100", 0.95, 0.8871651, 0.9835681),
        ("10/10", 0.95, 0.6915029, 1.0),
    ],
)
def test_the_exact_interval_of_a_share(share, confidence, low, high, capsys):
    assert main(["study", "share", share, "--confidence", str(confidence), "--json"]) == 0
    facts = json.loads(capsys.readouterr().out)
    assert (facts["low"], facts["high"]) == pytest.approx((low, high), abs=5e-7)


def test_a_share_in_words_and_what_is_none(capsys):
    assert main(["study", "share", "13/14"]) == 0
    assert capsys.readouterr().out == ("13 of 14: 92.9 %; exact 95 % interval 66.13 % to 99.82 %\n")
    assert main(["study", "share", "13"]) == 2
    assert "write how many of how many, such as 13/14" in capsys.readouterr().err
    assert main(["study", "share", "15/14"]) == 3
    assert "15 of 14" in capsys.readouterr().err


def test_the_word_file_may_be_written_or_left_out_and_options_may_come_first(
    tmp_path, monkeypatch, capsys
):
    monkeypatch.chdir(tmp_path)
    text = _examples()[0]["fleet.csv"]
    Path("fleet.csv").write_text(text, "utf-8")
    Path("run").write_text(text, "utf-8")
    told = []
    for words in (
        ["fleet.csv"],
        ["file", "fleet.csv"],
        ["--confidence", "0.95", "fleet.csv"],
        ["./run"],
    ):
        assert main(["study", *words]) == 0
        told.append(capsys.readouterr().out)
    assert len(set(told)) == 1
    assert main(["study"]) != 0


def test_the_published_levels_run_by_run_and_part_by_part(study):
    # NIST/SEMATECH e-Handbook 2.6.1, probe 2362.
    lines = [
        (row["wafer"], row["run"], number, row["avg"], row["sd"], 5)
        for number, row in enumerate(rows("mpc61_probe_2362"))
    ]
    _, [facts] = study("part,run,day,value,sd,dof", lines)

    def sds(name):
        return [each["sd"] for each in facts[name]]

    assert sds("repeatability_by_run") == pytest.approx([0.06751, 0.07786], abs=6e-6)
    assert sds("day_to_day_by_run") == pytest.approx([0.03334, 0.03879], abs=6e-6)
    published = [0.02224, 0.00271, 0.02885, 0.01328, 0.02047]
    assert sds("run_to_run_by_part") == pytest.approx(published, abs=6e-6)
    dofs = [facts[name]["dof"] for name in ("repeatability", "day_to_day", "run_to_run")]
    assert dofs == [300, 50, 5]
