"""Options that several commands share, and what they stand for."""

import json
import socket
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from daq.measure.gauges import Gauge
    from daq.spec import Adjuster, DecisionRule, Spec

F = TypeVar("F", bound=Callable[..., Any])

json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON, one object a line.")

gauges_option = click.option(
    "--gauges",
    "gauges_file",
    type=click.Path(dir_okay=False, path_type=Path),
    envvar="RESTPOINT_GAUGES",
    help="The gauges file. Without it, the one in your configuration folder.",
)


def spec_options(function: F) -> F:
    """``--spec FILE``, or ``--nominal``, ``--limits`` and ``--source``; and ``--rule``."""
    for option in reversed(
        (
            click.option(
                "--spec",
                "spec_file",
                type=click.Path(dir_okay=False, path_type=Path),
                help="A specification file (TOML).",
            ),
            click.option("--name", default="length", help="What is measured."),
            click.option("--nominal", help='The specified length, such as "76.20 mm".'),
            click.option("--limits", help='Its limits: "+0.02 mm -0.01 mm" or "± 0.05 mm".'),
            click.option("--source", help="The document and revision that the figures are from."),
            click.option(
                "--rule",
                default="simple",
                show_default=True,
                help='Decision rule: "simple", "guarded 1U" or "guarded 95%".',
            ),
        )
    ):
        function = option(function)
    return function


def adjuster_options(function: F) -> F:
    """The screw that is turned."""
    for option in reversed(
        (
            click.option("--thread", help='The adjuster\'s thread, such as "M10x1.5".'),
            click.option(
                "--clockwise",
                type=click.Choice(["raises", "lowers"]),
                default="raises",
                show_default=True,
                help="What turning clockwise does to the reading.",
            ),
            click.option(
                "--lever",
                default="1",
                show_default=True,
                help="Gauge movement for a screw movement of 1.",
            ),
            click.option("--clicks", type=int, help="Detent clicks in a turn, if it has any."),
        )
    ):
        function = option(function)
    return function


def bench_options(function: F) -> F:
    """What every run of the bench takes: the gauges file, a length, a screw, a trace, an end."""
    trace = click.option(
        "--trace",
        "trace_file",
        type=click.Path(dir_okay=False, path_type=Path),
        help="Keep the raw bytes with their times in this file.",
    )
    for_s = click.option(
        "--for",
        "for_s",
        type=click.FloatRange(min=0.1),
        help="Stop by itself after so many seconds.",
    )
    return gauges_option(spec_options(adjuster_options(trace(for_s(function)))))


@dataclass(frozen=True, slots=True)
class Wanted:
    """What should be measured, by which rule."""

    spec: "Spec | None"
    rule: "DecisionRule | None"


def wanted_from(options: dict[str, Any]) -> Wanted:
    """The specification and rule that the options name; none of both if they name none.

    Raises:
        click.UsageError: the options contradict each other or one is missing.
        SpecError: the specification has mistakes.
    """
    from daq.spec import Spec, load_spec, rule_from

    spec_file, nominal = options["spec_file"], options["nominal"]
    limits, source = options["limits"], options["source"]
    if spec_file and (nominal or limits or source):
        raise click.UsageError("Give --spec, or --nominal with --limits and --source; not both.")
    if spec_file:
        return Wanted(load_spec(spec_file), rule_from(options["rule"]))
    if not (nominal or limits or source):
        return Wanted(None, None)
    missing = [
        name
        for name, given in (("--nominal", nominal), ("--limits", limits), ("--source", source))
        if not given
    ]
    if missing:
        raise click.UsageError(
            f"{' and '.join(missing)} missing: a specification needs its length, its limits and "
            "the document they are from."
        )
    spec = Spec.of(options["name"], nominal=nominal, limits=limits, source=source)
    return Wanted(spec, rule_from(options["rule"]))


def adjuster_from(options: dict[str, Any]) -> "Adjuster | None":
    """The adjuster that the options name, None if they name none.

    Raises:
        SpecError: it has mistakes.
    """
    from daq.spec import Adjuster

    if not options["thread"]:
        return None
    return Adjuster.of(
        thread=options["thread"],
        clockwise=options["clockwise"],
        lever_ratio=options["lever"],
        clicks_per_turn=options["clicks"],
    )


def gauge_from(text: str, gauges_file: Path | None) -> "Gauge":
    """The gauge that ``text`` names.

    Raises:
        GaugeError: there is none.
    """
    from daq.measure.gauges import find_gauge, gauges_path

    return find_gauge(text, gauges_file or gauges_path())


def program() -> str:
    """How to call this program again from here: as it was called now."""
    called = Path(sys.argv[0])
    if called.name != "restpoint" or len(called.parts) == 1:
        return "restpoint"
    with suppress(ValueError):
        called = called.relative_to(Path.cwd())
    return str(called)


def station_name() -> str:
    """This bench's name in records: the computer's."""
    return socket.gethostname()


def print_json(**facts: Any) -> None:
    """One JSON object on a line of its own."""
    click.echo(json.dumps(facts, ensure_ascii=False))
