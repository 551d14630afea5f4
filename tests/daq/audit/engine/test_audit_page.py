"""The page on auditing says what the program does."""

import re
from pathlib import Path

from daq.audit.engine import Store, audit, fill
from daq.audit.rules import built_in, rule_from
from tests.daq.audit.fleet import fleet

PAGE = (Path(__file__).parents[4] / "docs" / "auditing.md").read_text("utf-8")


def table(heading):
    """The rows of the first table under a heading, without its head."""
    body = PAGE.split(f"\n### {heading}\n")[1].split("\n#")[0]
    lines = [line for line in body.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in line.strip("|").split(" | ")] for line in lines[2:]]


def test_every_rule_stands_in_the_table_as_its_file_has_it():
    assert table("The rules") == [
        [
            f"`{rule.id}`",
            rule.rule.title,
            rule.rule.severity,
            "fact" if rule.chance is None else "chance",
            ", ".join(f"`{each}`" for each in rule.rule.needs),
            ", ".join(f"`{name}` {each.default:g}" for name, each in rule.parameters.items()),
        ]
        for rule in built_in()
    ]


def test_what_is_looked_for_names_every_rule_and_no_other():
    named = {
        name
        for _, rule in table("What is looked for, and by which rule")
        for name in re.findall(r"`([a-z][a-z-]+)`", rule)
    }
    assert named == {rule.id for rule in built_in()}


def test_every_table_that_a_rule_may_ask_is_listed_with_its_columns(tmp_path):
    store = Store(tmp_path, 100)
    fill(store, fleet(gauges=2))
    listed = {
        row[0].strip("`"): re.findall(r"`(\w+)`", row[2]) for row in table("What a rule asks")
    }
    for name, columns in listed.items():
        found = store.connection.execute(f"SELECT * FROM {name} LIMIT 0").description
        assert [each[0] for each in found] == columns, name
    made = {row[0] for row in store.connection.execute("SHOW TABLES").fetchall()}
    small = {"gauges", "standards", "lengths", "calibrations", "checks"}
    kept = {name for name in made if name.endswith("_kept")}
    assert made - kept - small == set(listed)
    store.close()


def test_the_rule_on_the_page_is_sound_and_runs():
    (text,) = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)
    rule = rule_from(text.encode(), "page.toml")
    assert audit(fleet(gauges=2), [rule]).ran[0].rule == rule.id


def test_every_option_on_the_page_is_one_of_the_command():
    from daq.cli.audit import command

    has = {name for each in command.params for name in each.opts}
    assert set(re.findall(r"--[a-z]+", PAGE)) <= has
    assert {"--mapping", "--rule", "--rules", "--set", "--evidence"} <= set(
        re.findall(r"--[a-z]+", PAGE)
    )
