"""restpoint replay: a recorded trace through the same road."""

from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from daq.cli.options import json_option, print_json, spec_options, wanted_from

if TYPE_CHECKING:
    from daq.measure.events import AtRest, SessionEvent
    from daq.measure.session import Session
    from drivers.reading import Reading
    from drivers.trace import RawBytes


@click.command(epilog="Example: restpoint replay trace.csv --resolution 0.001 --json")
@click.argument("trace", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--profile", "profile_name", help="The profile of a raw trace (t_s,bytes).")
@click.option(
    "--resolution",
    help="The display step of a trace of values, in its unit. Without it, taken from the digits.",
)
@spec_options
@json_option
def command(
    trace: Path, profile_name: str | None, resolution: str | None, as_json: bool, **options: Any
) -> int:
    """Run a recorded trace through settling and verdict, as if it came from the gauge now.

    TRACE is CSV with the header t_s,value (mm), t_s,value,unit or t_s,bytes (hex). Each settled
    value is printed once, when the part moves away or the trace ends, at its best known: with
    --json as value_mm, u_mm, n, since_s, until_s. The exit status is 1 if nothing came to rest.
    """
    from daq.measure.errors import NoValueError
    from drivers.trace import read_trace

    wanted = wanted_from(options)
    found = 0
    try:
        with trace.open(encoding="utf-8", newline="") as file:
            rows = list(read_trace(file, str(trace)))
    except (OSError, UnicodeDecodeError) as error:
        raise NoValueError(f"{trace} cannot be read: {error}") from error
    session = _session(rows, profile_name, resolution, wanted.spec, wanted.rule)
    for rest in _rests(session, rows):
        found += 1
        _print(rest, as_json)
    if not as_json:
        click.echo(f"{found} settled; {session.bad_frames} bad frames.", err=True)
    return 0 if found else 1


def _session(
    rows: "list[Reading | RawBytes]",
    profile_name: str | None,
    resolution: str | None,
    spec: Any,
    rule: Any,
) -> "Session":
    """A session for the trace: its profile, or one for plain values."""
    from daq.measure.session import Session
    from daq.measure.values import values_profile
    from drivers.profiles import load_profile
    from drivers.trace import RawBytes

    start_s = rows[0].t_s if rows else 0.0
    if rows and isinstance(rows[0], RawBytes):
        if profile_name is None:
            raise click.UsageError("A raw trace needs --profile: how its bytes are to be read.")
        return Session(load_profile(profile_name), spec, rule, start_s)
    if profile_name is not None:
        raise click.UsageError("--profile is for raw traces (t_s,bytes); this one holds values.")
    readings = [row for row in rows if not isinstance(row, RawBytes)]
    return Session(values_profile(readings, resolution), spec, rule, start_s)


def _rests(session: "Session", rows: "Iterable[Reading | RawBytes]") -> "Iterator[AtRest]":
    """Each rest once, as it was known last."""
    from drivers.trace import RawBytes

    resting: AtRest | None = None
    for row in rows:
        if isinstance(row, RawBytes):
            events: list[SessionEvent] = session.receive(row.data, row.t_s)
        else:
            events = session.take([row])
        del events
        if resting and (session.rest is None or session.rest.number != resting.number):
            yield resting
        resting = session.rest
    if resting:
        yield resting


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
