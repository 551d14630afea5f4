"""What the documentation says is there; what is there is in the documentation."""

import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from daq.cli import COMMANDS, restpoint
from drivers.profiles import builtin_names
from simulated_devices.scenario import scenario_names

ROOT = Path(__file__).parent.parent
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md")])


def test_the_command_reference_is_what_the_commands_say_themselves():
    program = (
        "import runpy; made = runpy.run_path('docs/make_cli_reference.py');"
        "page = open('docs/cli.md', encoding='utf-8').read();"
        "assert made['page_with'](made['reference'](), page) == page, 'run make docs'"
    )
    subprocess.run([sys.executable, "-c", program], cwd=ROOT, check=True)


def test_the_pictures_are_what_the_program_draws():
    program = (
        "import runpy; made = runpy.run_path('docs/make_pictures.py');"
        "[None for name, svg in made['pictures']().items()"
        " if (made['FOLDER'] / name).read_text('utf-8') == svg or exit('run make pictures')]"
    )
    subprocess.run([sys.executable, "-c", program], cwd=ROOT, check=True)


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example(name):
    result = CliRunner().invoke(restpoint, [name, "--help"])
    assert result.exit_code == 0
    group = "Commands:" in result.output
    assert group or f"Example: restpoint {name}" in " ".join(result.output.split())


def test_the_overview_starts_quickly_and_imports_no_slow_library():
    """0.3 s of CPU is what a person typing --help will wait without noticing."""
    program = (
        "import sys, time; from daq.cli import main; main(['--help']);"
        "slow = {'pint', 'numpy', 'pydantic', 'rich', 'serial'} & set(sys.modules);"
        "assert not slow, slow; assert time.process_time() < 0.3, time.process_time()"
    )
    subprocess.run([sys.executable, "-c", program], cwd=ROOT, check=True, capture_output=True)


@pytest.mark.parametrize("name", builtin_names())
def test_every_profile_has_a_page_with_its_layout_and_its_source(name):
    page = (ROOT / "docs" / "profiles" / f"{name}.md").read_text("utf-8")
    assert "## Layout" in page
    assert "## Source" in page


@pytest.mark.parametrize("name", scenario_names())
def test_every_scenario_is_described(name):
    assert f"`{name}`" in (ROOT / "docs" / "simulating.md").read_text("utf-8")


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.relative_to(ROOT).as_posix())
def test_every_link_to_a_file_leads_somewhere(page):
    text = re.sub(r"```.*?```", "", page.read_text("utf-8"), flags=re.S)
    for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", text):
        if "://" not in target:
            assert (page.parent / target).exists(), target


def test_the_readme_begins_with_the_job_then_the_two_commands_then_the_picture():
    text = (ROOT / "README.md").read_text("utf-8")
    first, commands, picture = (
        text.index("A fitter setting up an engine"),
        text.index("$ make demo"),
        text.index("docs/pictures/live.svg"),
    )
    assert first < commands < picture
    assert "make test" in text[commands:picture]
