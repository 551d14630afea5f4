"""Scenarios: which gauges there are and what happens to them, as a TOML file.

Every mistake in a file is named by file and line. See ``docs/simulating.md`` for the format.
"""

import math
from dataclasses import replace
from importlib import resources
from pathlib import Path
from typing import Annotated, Self

from pydantic import AfterValidator, Field, model_validator

from drivers.errors import FrameError, ProfileError, RestpointError
from drivers.form import Form
from drivers.profiles import load_profile
from drivers.toml_form import check_toml
from simulated_devices.bench import Bench, Transport
from simulated_devices.faults import InLine, Wire, WireFaults, WrongBaud
from simulated_devices.figures import Chance, Length, Moment, Size, Span, Stride
from simulated_devices.gauge import Key, Press, SimulatedGauge
from simulated_devices.hand import Hand
from simulated_devices.motion import AnyMotion, Together

SUFFIX = ".toml"


class ScenarioError(RestpointError):
    """A scenario cannot be read: one line a mistake."""


class HandForm(Form):
    """A hand at an adjuster; see ``simulated_devices.hand.Hand``."""

    aim_mm: Length
    pitch_mm: Stride
    look_s: Span = 1.5
    turns_s: Annotated[float, Field(strict=True, ge=0.001, le=100)] = 0.25
    clumsiness: Annotated[float, Field(strict=True, ge=0, le=0.9)] = 0.08
    good_enough_mm: Size = 0.001
    reaction_s: Moment = 0.0
    lever: Annotated[float, Field(strict=True, ge=0.01, le=100)] = 1.0
    lock_shift_mm: Length = 0.0
    lock_s: Span = 1.0
    lock_scatter: Annotated[float, Field(strict=True, ge=0, le=0.9)] = 0.1
    next_after_s: Span | None = None
    next_off_mm: Size = 0.0

    def hand(self, seed: int) -> Hand:
        """The hand that the table describes."""
        figures = self.model_dump(exclude_none=True)
        return Hand(**figures, seed=seed)


class FaultsForm(Form):
    """What the wire does, as a chance for each byte; see ``simulated_devices.faults``.

    ``read_baud`` is the speed of a port that is set wrong.
    """

    drop: Chance = 0.0
    flip: Chance = 0.0
    double: Chance = 0.0
    garbage: Chance = 0.0
    cut: Chance = 0.0
    stutter: Chance = 0.0
    cut_bytes: Annotated[int, Field(strict=True, ge=1, le=100_000)] = 20
    read_baud: Annotated[int, Field(strict=True, ge=50, le=12_000_000)] | None = None


class PressForm(Form):
    """A key pressed at a time; ``shows_mm`` is what a preset makes the display show."""

    at_s: Moment
    key: Key
    shows_mm: Length | None = None

    @model_validator(mode="after")
    def _only_a_preset_has_a_length(self) -> Self:
        if self.key == "preset" and self.shows_mm is None:
            raise ValueError("shows_mm: is missing; add what the display shows then")
        if self.key != "preset" and self.shows_mm is not None:
            raise ValueError(f'shows_mm: the key "{self.key}" has none; only "preset" has')
        return self


def _known_profile(name: str) -> str:
    try:
        load_profile(name)
    except ProfileError as error:
        raise ValueError(str(error)) from error
    return name


class GaugeForm(Form):
    """One gauge of a scenario."""

    name: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9-]{0,30}$")]
    profile: Annotated[str, AfterValidator(_known_profile)]
    seed: Annotated[int, Field(strict=True)] | None = None
    label: str = "01"
    noise_mm: Size = 0.0
    overspeed_mm_s: Stride | None = None
    motion: tuple[AnyMotion, ...] = ()
    hand: HandForm | None = None
    faults: FaultsForm | None = None
    presses: tuple[PressForm, ...] = ()

    @model_validator(mode="after")
    def _label_fits(self) -> Self:
        profile = load_profile(self.profile)
        for sample in profile.samples:
            try:
                profile.encode(replace(sample.shown, label=self.label))
            except FrameError as error:
                raise ValueError(str(error)) from error
        return self


class Scenario(Form):
    """Gauges, and what happens to them."""

    title: Annotated[str, Field(min_length=1)]
    seed: Annotated[int, Field(strict=True)] = 0
    gauges: Annotated[tuple[GaugeForm, ...], Field(min_length=1)]

    @model_validator(mode="after")
    def _names_differ(self) -> Self:
        names = [form.name for form in self.gauges]
        twice = [
            f'gauges.{place + 1}.name: "{name}" is the name of another gauge too'
            for place, name in enumerate(names)
            if name in names[:place]
        ]
        if twice:
            raise ValueError("\n".join(twice))
        return self


def scenario_names() -> tuple[str, ...]:
    """The built-in scenarios, sorted."""
    files = (resources.files("simulated_devices") / "scenarios").iterdir()
    return tuple(sorted(f.name.removesuffix(SUFFIX) for f in files if f.name.endswith(SUFFIX)))


def load_scenario(name: str | Path) -> Scenario:
    """The scenario called ``name``, or the one in the file ``name`` (it ends in ``.toml``).

    Raises:
        ScenarioError: there is none, or it has mistakes; all of them at once.
    """
    name = str(name)
    if name.endswith(SUFFIX):
        try:
            text = Path(name).read_text("utf-8-sig")  # some editors put a byte order mark first
        except OSError as error:
            raise ScenarioError(f"{name}: cannot be read: {error.strerror}") from error
        except UnicodeDecodeError as error:
            raise ScenarioError(f"{name}: is not UTF-8 text; save it as UTF-8") from error
    elif name in scenario_names():
        text = (resources.files("simulated_devices") / "scenarios" / (name + SUFFIX)).read_text(
            "utf-8"
        )
    else:
        raise ScenarioError(f"There is no scenario {name!r}. Known: {', '.join(scenario_names())}.")
    scenario, problems = check_toml(text, name, Scenario)
    if scenario is None:
        raise ScenarioError("\n".join(problems))
    return scenario


def gauge_of(form: GaugeForm, seed: int) -> SimulatedGauge:
    """The gauge that a scenario describes, with all chance in it from ``seed``."""
    return SimulatedGauge(
        load_profile(form.profile),
        Together(form.motion),
        hand=form.hand.hand(seed) if form.hand else None,
        noise_mm=form.noise_mm,
        overspeed_mm_s=math.inf if form.overspeed_mm_s is None else form.overspeed_mm_s,
        label=form.label,
        presses=tuple(Press(each.at_s, each.key, each.shows_mm or 0.0) for each in form.presses),
        seed=seed,
    )


def wire_of(form: GaugeForm, seed: int) -> Wire | None:
    """What the wire does to the gauge's bytes, with all chance in it from ``seed``."""
    if form.faults is None:
        return None
    serial, chances = load_profile(form.profile).serial, form.faults.model_dump()
    read_baud = chances.pop("read_baud")
    faults = WireFaults(**chances, data_bits=serial.data_bits, seed=seed)
    if read_baud is None:
        return faults
    # The port comes first, for it hears whole bytes; what faults leave of them are pieces.
    return InLine((WrongBaud(serial, read_baud), faults))


def bench_of(
    scenario: Scenario,
    transport: Transport = "pty",
    folder: Path | None = None,
    speed: float = 1.0,
    run_s: float | None = None,
) -> Bench:
    """A bench with the scenario's gauges.

    A gauge that states no seed gets one of its own from the scenario's: that, and one more for each
    gauge before it.
    """
    gauges: dict[str, tuple[SimulatedGauge, Wire | None]] = {}
    for number, form in enumerate(scenario.gauges):
        seed = scenario.seed + number if form.seed is None else form.seed
        gauges[form.name] = (gauge_of(form, seed), wire_of(form, seed))
    return Bench(gauges, transport, folder, speed, run_s)
