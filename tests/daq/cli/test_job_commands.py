"""Lines of text as commands of a job, and what is refused before one begins."""

from decimal import Decimal

import pytest

from daq.cli import main
from daq.cli.job_commands import command_from
from daq.jobs.sheet import demo_sheet
from daq.screen.job_run import Command


@pytest.mark.parametrize(
    ("line", "command"),
    [
        ("go\n", Command("go")),
        ("go 36.5", Command("go", figures=(Decimal("36.5"),))),
        ("back", Command("back")),
        ("anew injector 3", Command("anew", target="injector 3")),
        ("trust", Command("trust the gauge")),
        ("quit", Command("quit")),
        ("skip seized | M. Rode", Command("skip", "seized", "M. Rode")),
        ("stand the owner agrees", Command("let it stand", "the owner agrees", "")),
        ("go 31 22.5", Command("go", figures=(Decimal("31"), Decimal("22.5")))),
        ("go inf", Command("go")),
        ("jump", None),
    ],
)
def test_a_line_says_a_command(line, command):
    assert command_from(line) == command


@pytest.fixture
def sheet(tmp_path):
    path = tmp_path / "ferry.toml"
    path.write_text(demo_sheet().text, encoding="utf-8")
    return path


def asked(sheet, *more):
    return ["job", "run", str(sheet), "--logbook", str(sheet.parent / "a.logbook"),
            "--engine", "aux 2", "--operator", "R. Ahlers", *more]  # fmt: skip


ROLES = ("rack", "height", "stop", "rocker", "deck", "shaft", "web")


def test_every_role_needs_a_gauge(sheet, capsys):
    assert main(asked(sheet, "--gauge", "rack=decimal-line@/dev/none")) == 2
    assert "No gauge for: height, stop, rocker, deck, shaft, web" in capsys.readouterr().err


def test_a_role_that_the_sheet_has_not_is_named(sheet, capsys):
    assert main(asked(sheet, "--gauge", "rax=decimal-line@/dev/none")) == 2
    assert "the sheet's roles are: rack, height" in capsys.readouterr().err


def test_a_gauge_too_coarse_for_its_role_is_refused(sheet, capsys):
    given = [f"--gauge={role}=decimal-line@/dev/none" for role in ROLES[1:]]
    assert main(asked(sheet, "--gauge=rack=marked-xor@/dev/none", *given)) == 2
    assert "'rack' needs 0.001 mm or finer" in capsys.readouterr().err


def test_a_sheet_with_mistakes_is_not_begun(sheet, capsys):
    sheet.write_text(demo_sheet().text.replace('"42.60 mm"', '"42.60"'), encoding="utf-8")
    assert main(asked(sheet)) == 3
    assert "ferry.toml:" in capsys.readouterr().err
    assert not (sheet.parent / "a.logbook").exists()
