"""restpoint replay: a recorded trace through the same road."""

from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from daq.cli.options import json_option, print_json, spec_options, wanted_from

if TYPE_CHECKING:
    from daq.measure.events import AtRest, SessionEvent
    from daq.measure.session import Session
    from drivers.reading import Reading
    from drivers.trace import Row


@click.command(epilog="Example: restpoint replay trace.csv --resolution 0.001 --json")
@click.argument("trace", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--profile", "profile_name", help="The profile of a raw trace (t_s,bytes).")
@click.option(
    "--resolution",
    help="The display step of a trace of values, in its unit. Without it, taken from the digits.",
)
@click.option(
    "--plot",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Draw readings, states and settled spans with their intervals in this file (SVG).",
)
@spec_options
@json_option
def command(
    trace: Path,
    profile_name: str | None,
    resolution: str | None,
    plot: Path | None,
    as_json: bool,
    **options: Any,
) -> int:
    """Run a recorded trace through settling and verdict, as if it came from the gauge now.

    TRACE is CSV with the header t_s,value (mm), t_s,value,unit or t_s,bytes (hex). Each settled
    value is printed once, when the part moves away or the trace ends, at its best known: with
    --json as value_mm, u_mm, n, since_s, until_s. The exit status is 1 if nothing came to rest.
    """
    from daq.measure.errors import NoValueError
    from drivers.trace import read_trace

    wanted = wanted_from(options)
    try:
        with trace.open(encoding="utf-8", newline="") as file:
            rows = list(read_trace(file, str(trace)))
    except (OSError, UnicodeDecodeError) as error:
        raise NoValueError(f"{trace} cannot be read: {error}") from error
    session = _session(rows, profile_name, resolution, wanted.spec, wanted.rule)
    if plot is None:
        rests = _rests(session, rows)
    else:
        _refuse_early(plot)
        rests = iter(_plotted(session, rows, trace.name, plot))
    found = 0
    for rest in rests:
        found += 1
        _print(rest, as_json)
    if not as_json:
        click.echo(f"{found} settled; {session.bad_frames} bad frames.", err=True)
    return 0 if found else 1


def _session(
    rows: "list[Row]",
    profile_name: str | None,
    resolution: str | None,
    spec: Any,
    rule: Any,
) -> "Session":
    """A session for the trace: its profile, or one for plain values."""
    from daq.measure.session import Session
    from daq.measure.values import values_profile
    from drivers.profiles import load_profile
    from drivers.reading import Reading

    start_s = rows[0].t_s if rows else 0.0
    if rows and not isinstance(rows[0], Reading):
        if profile_name is None:
            raise click.UsageError("A raw trace needs --profile: how its bytes are to be read.")
        return Session(load_profile(profile_name), spec, rule, start_s)
    if profile_name is not None:
        raise click.UsageError("--profile is for raw traces (t_s,bytes); this one holds values.")
    readings = [row for row in rows if isinstance(row, Reading)]
    return Session(values_profile(readings, resolution), spec, rule, start_s)


def _rests(
    session: "Session",
    rows: "Iterable[Row]",
    note: "Callable[[list[Reading]], None] | None" = None,
) -> "Iterator[AtRest]":
    """Each rest once, as it was known last; ``note`` is told what readings each row has brought."""
    from drivers.reading import Reading
    from drivers.trace import LinkMark, RawBytes

    resting: AtRest | None = None
    for row in rows:
        events: list[SessionEvent] = []
        if isinstance(row, RawBytes):
            events = session.receive(row.data, row.t_s)
        elif not isinstance(row, LinkMark):
            events = session.take([row])
        elif row.happened == "opened":
            session.opened(row.t_s)
        else:
            events = session.lost(row.t_s)
        if note is not None:
            note([event for event in events if isinstance(event, Reading)])
        if resting and (session.rest is None or session.rest.number != resting.number):
            yield resting
        resting = session.rest
    if resting:
        yield resting


def _plotted(session: "Session", rows: "Iterable[Row]", title: str, plot: Path) -> "list[AtRest]":
    """Each rest once, drawn in the file ``plot``.

    Raises:
        NoValueError: the file cannot be written.
    """
    from daq.measure.errors import NoValueError
    from daq.screen.trace_course import Seen, seen_of
    from daq.screen.trace_plot import trace_plot

    seen: list[Seen] = []
    rests = list(_rests(session, rows, lambda readings: seen.extend(seen_of(session, readings))))
    svg = trace_plot(title, seen, rests, step_mm=session.step_mm, spec=session.spec)
    try:
        plot.write_text(svg, encoding="utf-8", newline="\n")
    except OSError as error:
        raise NoValueError(_unwritable(plot, error)) from error
    return rests


def _refuse_early(plot: Path) -> None:
    """Refuse a file that cannot be written, before the trace is run.

    A file that is no picture is not written over: a trace or a logbook cannot be made again.

    Raises:
        NoValueError: with the reason.
    """
    from daq.measure.errors import NoValueError

    if not plot.parent.is_dir():
        raise NoValueError(f"The plot {plot} cannot be written: there is no folder {plot.parent}.")
    try:
        if not plot.is_file():
            return
        with plot.open("rb") as file:
            begins = file.read(len(b"<svg"))
    except OSError as error:
        raise NoValueError(_unwritable(plot, error)) from error
    if begins not in (b"", b"<svg"):
        raise NoValueError(f"{plot} is there and is no picture. Name another file for the plot.")


def _unwritable(plot: Path, error: OSError) -> str:
    return f"The plot {plot} cannot be written: {error.strerror or error}. Name another file."


def _print(rest: "AtRest", as_json: bool) -> None:
    if as_json:
        facts: dict[str, object] = {
            "value_mm": rest.value_mm,
            "u_mm": rest.u_mm,
            "n": rest.n,
            "since_s": rest.since_s,
            "until_s": rest.until_s,
        }
        if rest.verdict is not None:
            facts["deviation_mm"] = float(rest.verdict.deviation_mm)
            facts["outcome"] = rest.verdict.outcome.value
        print_json(**facts)
        return
    line = (
        f"{rest.since_s:10.3f} s to {rest.until_s:10.3f} s   {rest.value_mm:.6f} mm   "
        f"u = {rest.u_mm:.6f} mm   n = {rest.n}"
    )
    if rest.verdict is not None:
        line += f"   {float(rest.verdict.deviation_mm):+.6f} mm: {rest.verdict.outcome.value}"
    click.echo(line)
