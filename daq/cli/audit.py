"""restpoint audit: which calibrations are real, complete, in date, plausible and unedited."""

import re
from collections.abc import Mapping, Sequence
from contextlib import ExitStack
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from daq.cli.audit_here import audited, keeping
from daq.cli.audit_words import list_rules, print_as_json, print_findings
from daq.cli.options import json_option

if TYPE_CHECKING:
    from daq.audit.engine import Audit
    from daq.audit.rules import Rule


class _PathOrAddress(click.Path):
    """A path, or an address such as ``s3a://BUCKET/log`` as text: a path would lose a slash."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """An address as it was written, all else as a path."""
        if isinstance(value, str) and _ADDRESS.match(value):
            return value
        return super().convert(value, param, ctx)


_ADDRESS = re.compile(r"[A-Za-z][A-Za-z0-9+.-]+:/")
"""Two letters at least: one alone is a drive."""

FILE = click.Path(dir_okay=False, path_type=Path)
FOLDER = click.Path(file_okay=False, path_type=Path)
_ON_ONE_MACHINE = {
    "html": "The report is made",
    "keep": "A log is written in the open format",
    "resume": "An audit is kept as it goes",
}


@click.command(
    epilog="Example: restpoint audit exported/ --evidence findings.parquet", name="audit"
)
@click.argument("paths", nargs=-1, type=_PathOrAddress(path_type=Path))
@click.option("--mapping", type=FILE, help="A mapping file, for a log in another form.")
@click.option(
    "--rule",
    "names",
    multiple=True,
    help='Only this rule; "all" for every one. May be given several times.',
)
@click.option(
    "--rules", "folder", type=FOLDER, help="A folder with rules of your own, used as well."
)
@click.option("--set", "values", multiple=True, help='A parameter, such as "drift.passes=5".')
@click.option(
    "--rate",
    type=click.FloatRange(0, 1, min_open=True, max_open=True),
    default=0.01,
    show_default=True,
    help="Share of false findings allowed to a rule that tells by chance.",
)
@click.option("--evidence", type=FILE, help="Write the findings to this file (.parquet or .csv).")
@click.option("--html", type=FILE, help="Write a report to this file.")
@click.option(
    "--engine",
    help="Run on Spark: spark://HOST:PORT, or local[2] for two cores here; needs "
    "restpoint[cluster].",
)
@click.option("--rejects", type=FILE, help="Write rows that could not be read to this CSV file.")
@click.option(
    "--rows", "with_rows", is_flag=True, help="Say in which file and lines each finding stands."
)
@click.option(
    "--keep",
    type=FOLDER,
    help="Write the log to this folder in the open format first; later audits read it faster.",
)
@click.option(
    "--resume",
    type=FOLDER,
    help="Keep the audit in this folder as it goes, and go on with it there if it was stopped.",
)
@click.option("--list", "only_list", is_flag=True, help="List the rules, and do nothing else.")
@json_option
def command(paths: tuple[Path | str, ...], only_list: bool, as_json: bool, **asked: Any) -> int:
    """Audit the calibration logs in PATHS: files, or folders of them.

    They are in the open log format, as `restpoint log export` writes it, or in any other with a
    mapping file. The exit status is 0 if nothing was found, and 1 if something was, or if rows
    could not be read. docs/auditing.md says what the rules look for.
    """
    known, rules = _rules(asked["names"], asked["folder"])
    if only_list:
        list_rules(rules if asked["names"] else known, as_json)
        return 0
    if not paths:
        raise click.UsageError("Name the files or folders that are to be audited.")
    from daq.audit.engine import places_of, write_evidence
    from daq.audit.intake import load_mapping

    given = _parameters(asked["values"])
    mapping = load_mapping(asked["mapping"]) if asked["mapping"] is not None else None
    run = _here if asked["engine"] is None else _on_spark
    with ExitStack() as stack:
        source, result = run(stack, paths, mapping, rules, given, asked)
        if not asked["names"]:
            result = _with_left_out(result, known)
        edited = _edited(paths, source.notes)
        if asked["html"] is not None:
            from daq.report.audit.files import write_report
            from daq.report.audit.from_audit import Audited

            day, names = datetime.now(UTC).date(), [*map(str, paths)]
            told = Audited(result, source, rules, result.answers, day, names, given, edited)
            write_report(told, asked["html"])
        places = places_of(source, result.findings) if asked["with_rows"] else None
        if asked["evidence"] is not None:
            write_evidence(result.findings, asked["evidence"], places)
        if as_json:
            print_as_json(result, source, edited, places)
        else:
            by_id = {rule.id: rule for rule in rules}
            print_findings(result, source, by_id, edited, places)
    if (kept := keeping(asked)) is not None:
        kept.forget()
    return 1 if result.findings or edited or source.rejects else 0


def _here(
    stack: ExitStack,
    paths: Sequence[Path | str],
    mapping: Any,
    rules: "Sequence[Rule]",
    given: "Mapping[str, Mapping[str, float]]",
    asked: "Mapping[str, Any]",
) -> "tuple[Any, Audit]":
    """The log and its audit, on this machine."""
    for each in paths:
        if isinstance(each, str):
            raise click.UsageError(f"{each} is an address, and only Spark reads it: name --engine.")
    return audited(stack, [Path(each) for each in paths], mapping, rules, given, asked)


def _on_spark(
    stack: ExitStack,
    paths: Sequence[Path | str],
    mapping: Any,
    rules: "Sequence[Rule]",
    given: "Mapping[str, Mapping[str, float]]",
    asked: "Mapping[str, Any]",
) -> "tuple[Any, Audit]":
    """The log and its audit, on an engine of Spark."""
    for name, what in _ON_ONE_MACHINE.items():
        if asked[name] is not None:
            raise click.UsageError(f"{what} on one machine: leave --engine or --{name} out.")
    from daq.audit.engine.spark import audit_on_spark, spark_log

    log = spark_log(asked["engine"], paths, mapping, rejects_to=asked["rejects"])
    source = stack.enter_context(log)
    return source, audit_on_spark(source, rules, given, rate=asked["rate"])


def _with_left_out(result: "Audit", known: "Sequence[Rule]") -> "Audit":
    """The audit, with the rules that are run only where they are named told as not run."""
    from daq.audit.engine.evidence import NotRun

    why = "is run only where it is named with --rule"
    left_out = [NotRun(rule.id, why) for rule in known if not rule.rule.default]
    return replace(result, not_run=(*result.not_run, *left_out))


def _rules(
    names: Sequence[str], folder: Path | None
) -> "tuple[tuple[Rule, ...], tuple[Rule, ...]]":
    """All rules, and those to be run; one of the folder takes the place of ours of that name."""
    from daq.audit.rules import built_in, chosen, load_rules

    rules = built_in()
    if folder is not None:
        own = load_rules(folder)
        replaced = {rule.id for rule in own}
        rules = (*(rule for rule in rules if rule.id not in replaced), *own)
    return rules, chosen(rules, names)


def _edited(paths: Sequence[Path | str], notes: list[str]) -> list[str]:
    """What is wrong with the chain of our own exports among the paths.

    Of exports that are elsewhere that is not looked at, which ``notes`` then say.
    """
    from daq.audit.export.checking import check_export
    from daq.audit.export.exporting import CHAIN

    found: list[str] = []
    for each in paths:
        path = _local(each)
        if path is None:
            notes.append(f"{each}: whether an export of ours there was edited was not looked at")
        elif (path / CHAIN).is_dir():
            found += check_export(path)
    return found


def _local(each: Path | str) -> Path | None:
    """The path of a file of this machine; None if it is elsewhere."""
    if isinstance(each, Path):
        return each
    is_here = re.match("(?i)file:(//(localhost)?)?(?=/)", each)
    return Path(each[is_here.end() :]) if is_here else None


def _parameters(values: Sequence[str]) -> dict[str, dict[str, float]]:
    found: dict[str, dict[str, float]] = {}
    for each in values:
        name, equals, text = each.partition("=")
        rule, dot, parameter = name.strip().partition(".")
        try:
            number = int(text) if text.strip().lstrip("+-").isdigit() else float(text)
        except ValueError:
            number = None
        if not (equals and dot) or number is None or not abs(number) < 1e15:
            raise click.UsageError(f'--set {each!r}: write it as "drift.passes=5".')
        found.setdefault(rule, {})[parameter] = number
    return found
