"""The rows of the table: what is measured, what is reached for, and what came out.

Every row is measured against something beside it in the same run. ``Effort`` says how long.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from drivers.profiles import builtin_profiles, load_profile
from tests.benchmarks.wire import delays, durable, living, losing, objects, programs, reading
from tests.benchmarks.wire.ways import PEERS, Floor, Ours


@dataclass(frozen=True)
class Effort:
    """How much is measured: repeats, seconds of each, frames flat out, records of the logbook."""

    rounds: int = 5
    seconds: float = 5.0
    frames: int = 1_000_000
    records: int = 10_000_000
    folder: Path | None = None
    """Which disk is measured, and where the large logbook stays."""


@dataclass(frozen=True)
class Row:
    """A line of the table. ``is_held`` is None where it could not be measured here."""

    number: str
    what: str
    reach: str
    beside: str
    ours: str
    is_held: bool | None


def line():
    return load_profile("decimal-line")


def flat_out(effort):
    """W1 and W2, and W1 for every other layout."""
    rows = []
    for count in (16, 128):
        found = reading.flat_out(line(), count, effort.rounds, effort.frames)
        rows.append(_flat(f"text lines, {count} ports", found, 1.25))
        if count == 16:
            per_s = found["per_cpu_s"]
            held = per_s >= 8e6 and not found["wrong"]
            rows.append(
                Row(
                    "W2",
                    "frames a CPU second, 16 ports",
                    "≥ 8 M",
                    "–",
                    f"{per_s / 1e6:.1f} M",
                    held,
                )
            )
    for profile in builtin_profiles():
        if profile.name != line().name:
            found = reading.flat_out(profile, 16, effort.rounds, effort.frames)
            rows.append(_flat(f"{profile.name}, 16 ports", found, 2.0))
    return rows


def _flat(what, found, reach):
    ratio, least, most = (found[name] for name in ("ratio", "least", "most"))
    return Row(
        "W1",
        f"flat out, CPU a frame over the floor: {what}",
        f"≤ {reach} ×",
        f"{found['floor_ns']:.0f} ns",
        f"{ratio:.2f} × ({least:.2f}–{most:.2f}), {found['wrong']} wrong",
        ratio <= reach and not found["wrong"],
    )


def one_object(effort):
    """W3 and W9."""
    rows, most_ns, most_mm_ns = [], {}, {}
    for profile in builtin_profiles():
        most_ns[profile.name] = objects.objects(profile, 5 * effort.rounds)["objects_ns"]
        most_mm_ns[profile.name] = objects.conversion(profile, 5 * effort.rounds)["conversion_ns"]
    worst, mm = max(most_ns.values()), max(most_mm_ns.values())
    span = f"{min(most_ns.values()) / 1e3:.2f}–{worst / 1e3:.2f} µs, by layout"
    rows.append(
        Row("W3", "CPU a frame, with an object for each", "≤ 0.8 µs", "–", span, worst <= 800)
    )
    span = f"{min(most_mm_ns.values()):.1f}–{mm:.1f} ns"
    rows.append(Row("W9", "a length in millimetres, a reading", "≤ 40 ns", "–", span, mm <= 40))
    return rows


LOADS = (
    ("W4", "128 × 115 200 baud, one frame a write", 128, delays.LINE, 1.15),
    ("W5", "128 × 921 600 baud", 128, delays.FAST, 0.95),
    ("W6", "16 × 3 Mbaud", 16, delays.FASTEST, 0.8),
)


def at_line_rate(effort, loads=LOADS, peers=PEERS):
    """W4 to W6, and W8."""
    rows = []
    for number, what, count, load, reach in loads:
        load = {**load, "seconds": effort.seconds}
        found = delays.compared(line(), count, load, (Floor, Ours, *peers), effort.rounds)
        floor, ours = found[Floor.name], found[Ours.name]
        ratio, lost = ours["cpu_percent_ratio"], ours["lost"]
        rows.append(
            Row(
                number,
                f"{what}: CPU over the floor; lost of {ours['frames']:,.0f} frames",
                f"≤ {reach} ×, 0",
                f"{floor['cpu_percent']:.1f} %, lost {floor['lost']:,.0f}",
                f"{ours['cpu_percent']:.1f} %, {ratio:.2f} ×; lost {lost:,.0f}, "
                f"wrong {ours['wrong']}",
                ratio <= reach and not lost and not ours["wrong"],
            )
        )
        for peer in peers:
            rows.append(_peer(peer, found[peer.name], effort))
        if number == "W4":
            ratio = ours["p99_ms_ratio"]
            rows.append(
                Row(
                    "W8",
                    "from the wire to the value, 99 %, 128 ports, over the floor's",
                    "≤ 1.5 ×",
                    f"{floor['p99_ms']:.1f} ms",
                    f"{ours['p99_ms']:.1f} ms, {ratio:.2f} × (median {ours['p50_ms']:.2f} ms)",
                    ratio <= 1.5,
                )
            )
    return rows


def _peer(peer, found, effort):
    lost = found["lost"] / effort.rounds
    part = lost / max(lost + found["frames"], 1)
    return Row(
        "",
        f"beside it: {peer.name}",
        "",
        "",
        f"{found['cpu_percent']:.1f} %, {found['cpu_percent_ratio']:.2f} ×; "
        f"lost {100 * part:.0f} %; 99 % {found['p99_ms']:,.0f} ms",
        None,
    )


def one_gauge(effort):
    """W7."""
    what = "one gauge at 1 kHz: from the wire to the value, over a bare reader in C"
    reach = "median ≤ 1.6 ×, 99 % ≤ +0.5 ms"
    try:
        found = delays.one_gauge(line(), seconds=effort.seconds, rounds=effort.rounds)
    except FileNotFoundError:
        return [Row("W7", what, reach, "no C compiler", "not measured", None)]
    ratio, above_ms = found["p50_ratio"], found["p99_above_ms"]
    return [
        Row(
            "W7",
            what,
            reach,
            f"{found['bare_p50_us']:.0f} µs, 99 % {found['bare_p99_us']:,.0f} µs",
            f"{found['p50_us']:.0f} µs, {ratio:.2f} ×; 99 % {above_ms:+.2f} ms",
            ratio <= 1.6 and above_ms <= 0.5 and not found["lost"] + found["wrong"],
        )
    ]


def on_disk(effort):
    """D1, D2 and L1."""
    import tempfile

    with tempfile.TemporaryDirectory(dir=effort.folder) as folder:
        one = durable.captures(folder, 3 * effort.rounds)
        all_of_it = durable.traces(folder, effort.rounds, effort.seconds)
        killed = durable.killed(folder, 8 * effort.rounds)
        book = durable.opened_and_verified(effort.folder or folder, effort.records, effort.rounds)
    held = all_of_it["durable_per_s"] >= 0.99 * durable.LINE_RATE and not all_of_it["wrong"]
    opened = max(book["open_to_write_s"], book["open_to_read_s"])
    return [
        Row(
            "D1",
            "captures kept a second, one at a time, over a bare append and flush",
            "≥ 0.8",
            f"{one['bare_per_s']:.0f} /s",
            f"{one['captures_per_s']:.0f} /s, {one['ratio']:.2f}",
            one["ratio"] >= 0.8 and one["intact"],
        ),
        Row(
            "D2",
            "all that 128 gauges send at line rate, chained and on the disk",
            "≥ 105 k/s, none lost",
            f"offered {all_of_it['offered_per_s'] / 1e3:.1f} k/s",
            f"{all_of_it['durable_per_s'] / 1e3:.1f} k/s, {all_of_it['cpu_percent']:.0f} % CPU; "
            f"killed {killed['kills']} times, lost {killed['lost']} of {killed['acknowledged']:,}",
            held and not killed["lost"],
        ),
        Row(
            "L1",
            f"a logbook of {book['records']:,} records: opening; verifying",
            "≤ 0.5 s; ≥ 300 k/s",
            "–",
            f"{opened * 1e3:.0f} ms; {book['verified_per_s'] / 1e3:.0f} k/s",
            opened <= 0.5 and book["verified_per_s"] >= 300e3,
        ),
    ]


def whole_bench(effort):
    """S2."""
    many = [living.bench(64, 100.0, effort.seconds) for _ in range(effort.rounds)]
    silent = [living.bench(16, 0.0, effort.seconds) for _ in range(effort.rounds)]
    busy, quiet = (_median(each, "cpu_percent") for each in (many, silent))
    bad = sum(each["bad"] for each in many + silent)
    return [
        Row(
            "S2",
            "decode, settle, decide, a look at 20 Hz: 64 gauges at 100 Hz; 16 silent ones",
            "≤ 25 %; ≤ 0.5 %",
            "–",
            f"{busy:.1f} %; {quiet:.2f} %",
            busy <= 25 and quiet <= 0.5 and not bad,
        )
    ]


def as_a_program(effort):
    """S1 and U1."""
    with programs.as_installed():
        helps = sorted(programs.help_s() for _ in range(effort.rounds + 1))[:-1]
        first = sorted(programs.first_reading_cpu_s() for _ in range(effort.rounds + 1))[:-1]
        views = {
            count: _middle(
                programs.live_view_percent(count, effort.seconds) for _ in range(effort.rounds)
            )
            for count in (1, 8)
        }
    help_s, first_s = _middle(helps), _middle(first)
    return [
        Row(
            "S1",
            "restpoint --help; CPU until the first reading",
            "≤ 0.30 s; ≤ 0.35 s",
            "–",
            f"{help_s:.2f} s; {first_s:.2f} s",
            help_s <= 0.3 and first_s <= 0.35,
        ),
        Row(
            "U1",
            "live view at 20 Hz, 1 gauge; 8 gauges with the page served",
            "≤ 1.5 %; ≤ 3 %",
            "–",
            f"{views[1]:.1f} %; {views[8]:.1f} %",
            views[1] <= 1.5 and views[8] <= 3,
        ),
    ]


def pulled(effort):
    """R1."""
    found = losing.pulled(line(), seconds=effort.seconds, rounds=effort.rounds)
    return [
        Row(
            "R1",
            "a cable pulled among 128 at line rate: until it is known; until it is back",
            "≤ 10 ms, others lose 0",
            "–",
            f"{found['lost_ms']:.1f} ms, most {found['lost_most_ms']:.1f}; "
            f"back {found['back_ms']:.0f} ms; "
            f"others lose {found['missing_bytes']} bytes",
            found["lost_most_ms"] <= 10 and not found["missing_bytes"],
        )
    ]


def _median(found, name):
    return _middle(each[name] for each in found)


def _middle(values):
    ordered = sorted(values)
    return ordered[len(ordered) // 2]


ROWS: dict[str, Callable[[Effort], list[Row]]] = {
    "flat": flat_out,
    "objects": one_object,
    "line": at_line_rate,
    "one": one_gauge,
    "disk": on_disk,
    "bench": whole_bench,
    "program": as_a_program,
    "pulled": pulled,
}
"""By name, what makes rows."""
