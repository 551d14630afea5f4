"""Scenarios: which gauges there are and what happens to them, as a TOML file.

Every mistake in a file is named by file and line. See ``docs/simulating.md`` for the format.
"""

from importlib import resources
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from drivers.errors import RestpointError
from drivers.form import Form
from drivers.profiles import load_profile
from drivers.toml_form import check_toml
from simulated_devices import motion
from simulated_devices.faults import WireFaults
from simulated_devices.gauge import Key, Press, SimulatedGauge
from simulated_devices.hand import Hand
from simulated_devices.ports import Bench, Transport

SUFFIX = ".toml"

MOTIONS: dict[str, type[motion.Motion]] = {
    "still": motion.Still,
    "step": motion.Step,
    "ramp": motion.Ramp,
    "approach": motion.Approach,
    "log creep": motion.LogCreep,
    "ring-down": motion.RingDown,
    "vibration": motion.Vibration,
    "clicks": motion.Clicks,
    "stick-slip": motion.StickSlip,
    "lock nut": motion.LockNut,
}
"""The motions by the names that scenarios use; their figures are the classes' own."""


class ScenarioError(RestpointError):
    """A scenario cannot be read: one line a mistake."""


class MotionForm(Form):
    """One motion with its figures."""

    kind: Literal[
        "still",
        "step",
        "ramp",
        "approach",
        "log creep",
        "ring-down",
        "vibration",
        "clicks",
        "stick-slip",
        "lock nut",
    ]
    figures: dict[str, float] = Field(default_factory=dict)


class HandForm(Form):
    """A hand at an adjuster; see ``simulated_devices.hand.Hand``."""

    aim_mm: float
    pitch_mm: Annotated[float, Field(gt=0)]
    look_s: Annotated[float, Field(gt=0)] = 1.5
    clumsiness: Annotated[float, Field(ge=0, le=0.9)] = 0.08
    good_enough_mm: Annotated[float, Field(gt=0)] = 0.001


Chance = Annotated[float, Field(ge=0, le=1)]


class FaultsForm(Form):
    """What the wire does, as a chance for each byte; see ``simulated_devices.faults``."""

    drop: Chance = 0.0
    flip: Chance = 0.0
    double: Chance = 0.0
    garbage: Chance = 0.0
    cut: Chance = 0.0
    stutter: Chance = 0.0


class PressForm(Form):
    """A key pressed at a time."""

    at_s: Annotated[float, Field(ge=0)]
    key: Key


class GaugeForm(Form):
    """One gauge of a scenario."""

    name: Annotated[str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9-]{0,30}$")]
    profile: str
    label: str = "01"
    noise_mm: Annotated[float, Field(ge=0)] = 0.0
    motion: tuple[MotionForm, ...] = ()
    hand: HandForm | None = None
    faults: FaultsForm | None = None
    presses: tuple[PressForm, ...] = ()


class Scenario(Form):
    """Gauges, and what happens to them."""

    title: str
    seed: int = 0
    gauges: Annotated[tuple[GaugeForm, ...], Field(min_length=1)]


def scenario_names() -> tuple[str, ...]:
    """The built-in scenarios, sorted."""
    files = (resources.files("simulated_devices") / "scenarios").iterdir()
    return tuple(sorted(f.name.removesuffix(SUFFIX) for f in files if f.name.endswith(SUFFIX)))


def load_scenario(name: str) -> Scenario:
    """The scenario called ``name``, or the one in the file ``name`` (it ends in ``.toml``).

    Raises:
        ScenarioError: there is none, or it has mistakes; all of them at once.
    """
    if name.endswith(SUFFIX):
        try:
            text = Path(name).read_text("utf-8")
        except (OSError, UnicodeDecodeError) as error:
            raise ScenarioError(f"{name}: cannot be read: {error}") from error
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
    """The gauge that a scenario describes.

    Raises:
        ScenarioError: a motion has other figures than it needs.
        ProfileError: its profile does not exist.
    """
    hand = Hand(**form.hand.model_dump(), seed=seed) if form.hand else None
    return SimulatedGauge(
        load_profile(form.profile),
        motion.Together(tuple(_motion(each, form.name) for each in form.motion)),
        hand=hand,
        noise_mm=form.noise_mm,
        label=form.label,
        presses=tuple(Press(each.at_s, each.key) for each in form.presses),
        seed=seed,
    )


def bench_of(
    scenario: Scenario,
    transport: Transport = "pty",
    folder: Path | None = None,
    speed: float = 1.0,
) -> Bench:
    """A bench with the scenario's gauges; each gets a seed of its own from the scenario's."""
    gauges: dict[str, tuple[SimulatedGauge, WireFaults | None]] = {}
    for number, form in enumerate(scenario.gauges):
        seed = scenario.seed + number
        faults = WireFaults(**form.faults.model_dump(), seed=seed) if form.faults else None
        gauges[form.name] = (gauge_of(form, seed), faults)
    return Bench(gauges, transport, folder, speed)


def _motion(form: MotionForm, gauge: str) -> motion.Motion:
    try:
        return MOTIONS[form.kind](**form.figures)
    except TypeError as error:
        figures = ", ".join(getattr(MOTIONS[form.kind], "__dataclass_fields__", {}))
        raise ScenarioError(
            f"gauge {gauge!r}: a motion {form.kind!r} takes {figures} ({error})"
        ) from error
