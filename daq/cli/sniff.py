"""restpoint sniff: listen to an unknown gauge, and say what it could be."""

import queue
import time
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from daq.sniff.hearing import Heard
    from daq.sniff.scoring import Score
    from drivers.profile import GaugeProfile, SerialSettings

MOST_DUMPED = 12


@click.command(epilog="Example: restpoint sniff /dev/ttyUSB0 --draft my-gauge.toml")
@click.argument("port")
@click.option(
    "--for",
    "listen_s",
    type=click.FloatRange(0.2, 60),
    default=2.0,
    show_default=True,
    help="Seconds to listen at each setting; longer for a gauge with a data key.",
)
@click.option("--baud", type=click.IntRange(50, 12_000_000), help="Only at this speed.")
@click.option("--bits", type=click.Choice(["7", "8"]), default="8", show_default=True)
@click.option(
    "--parity", type=click.Choice(["none", "even", "odd"]), default="none", show_default=True
)
@click.option("--stop", type=click.Choice(["1", "2"]), default="1", show_default=True)
@click.option(
    "--draft",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Write what a new profile could begin from to this file, if the bytes are text.",
)
@click.option("--all", "every", is_flag=True, help="Listen at every setting, also after a fit.")
def command(port: str, listen_s: float, draft: Path | None, every: bool, **line: Any) -> int:
    """Listen at each likely speed, show the bytes, and hold them against every known profile.

    Nothing is sent. Let the plunger move meanwhile, or press the gauge's data key. The exit status
    is 0 if a profile fits and gives numbers, else 1; then it says which silence it is (no bytes,
    bytes but no frame, frames but no number) and what to do.
    """
    from daq.sniff.scoring import ranked
    from daq.sniff.silence import silence_of
    from drivers.profiles import builtin_profiles, load_profile, user_names

    profiles = (*builtin_profiles(), *map(load_profile, user_names()))
    heards: list[Heard] = []
    scores: list[Score] = []
    for settings in _to_try(line, profiles):
        heards.append(_listen(port, settings, listen_s))
        _say_heard(heards[-1])
        scores = ranked(heards, profiles)
        if not every and any(each.fits and each.readings for each in scores):
            break
    _say_scores(scores, port)
    silence = silence_of(heards, scores)
    if silence is not None:
        click.echo(f"{silence.kind.upper()}: {silence.says}.")
        for step in silence.steps:
            click.echo(f"  → {step}")
    if draft is not None:
        _write_draft(heards, draft)
    return 0 if silence is None else 1


def _to_try(
    line: dict[str, Any], profiles: "tuple[GaugeProfile, ...]"
) -> "tuple[SerialSettings, ...]":
    from daq.sniff.hearing import settings_to_try
    from drivers.profile import SerialSettings

    if line["baud"] is None:
        return settings_to_try(profiles)
    return (
        SerialSettings(
            baud=line["baud"],
            data_bits=int(line["bits"]),  # type: ignore[arg-type]
            parity=line["parity"],
            stop_bits=int(line["stop"]),  # type: ignore[arg-type]
        ),
    )


def _listen(port: str, settings: "SerialSettings", listen_s: float) -> "Heard":
    from daq.sniff.hearing import Heard
    from drivers.discovery import port_of
    from drivers.reader import Arrived, Lost, Reader

    pieces = []
    with Reader() as reader:
        reader.add("port", port_of(port), settings)
        begun_s = time.monotonic()
        while (left_s := begun_s + listen_s - time.monotonic()) > 0:
            with suppress(queue.Empty):
                happening = reader.happenings.get(timeout=left_s)
                if isinstance(happening, Lost):
                    raise happening.error
                if isinstance(happening, Arrived):
                    pieces.append((max(0.0, happening.t_s - begun_s), happening.data))
    return Heard(settings, tuple(pieces), listen_s)


def _say_heard(heard: "Heard") -> None:
    from itertools import islice

    from daq.sniff.hearing import dump_lines

    of = heard.settings
    line = f"{of.baud} baud, {of.data_bits} bits, parity {of.parity}, {of.stop_bits} stop"
    click.echo(f"{line}: {len(heard.data)} bytes in {heard.lasted_s:g} s")
    for text in islice(dump_lines(heard), MOST_DUMPED):
        click.echo(f"  {text}")


def _say_scores(scores: "list[Score]", port: str) -> None:
    for each in scores[:5]:
        said = f"{each.share:.0%} of the bytes are good frames"
        number = f", the last {each.last.value} {each.last.unit.value}" if each.last else ""
        mark = "fits" if each.fits else "does not fit"
        click.echo(
            f"{each.profile.name}: {mark}; {said}, {each.readings} numbers{number}, "
            f"{each.bad} bad frames"
        )
    best = next((each for each in scores if each.fits and each.readings), None)
    if best is not None:
        click.echo(
            f"Hold the number against the display, then: restpoint watch {best.profile.name}@{port}"
        )


def _write_draft(heards: "list[Heard]", to: Path) -> None:
    from daq.sniff.draft import draft_of
    from daq.sniff.silence import best_heard

    best = best_heard(heards)
    made = None if best is None else draft_of(best)
    if made is None:
        click.echo(f"{to} was not written: no lines of text with numbers in them came.")
        return
    try:
        with to.open("x", encoding="utf-8", newline="\n") as file:
            file.write(made.text)
    except FileExistsError:
        raise click.UsageError(f"{to} is there already. Give another name.") from None
    except OSError as error:
        raise click.UsageError(f"{to} cannot be written: {error.strerror}.") from error
    click.echo(f"{to} is a draft. Before it is a profile:")
    for step in made.to_do:
        click.echo(f"  → {step}")
