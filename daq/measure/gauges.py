"""Which gauge is meant: a label from the gauges file, or a profile and a port.

The name on the screen is the one on the gauge's own label. The gauges file ties that label to a
profile and to the adapter's identity, so that it holds when ports change their names::

    [[gauges]]
    label = "DI-07"
    profile = "decimal-line"
    port = "usb:1209:0001:K4711"
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

from platformdirs import user_config_path
from pydantic import Field

from daq.measure.errors import GaugeError
from drivers.discovery import SCHEME, identity_of
from drivers.form import Form
from drivers.profile import GaugeProfile
from drivers.profiles import load_profile
from drivers.toml_form import check_toml


@dataclass(frozen=True, slots=True)
class Gauge:
    """A gauge to be read.

    ``label`` is its name for people, ``port`` a port, an address, or an adapter's identity
    (``usb:…``) that is looked up each time the port is opened.
    """

    label: str
    profile: GaugeProfile
    port: str


def identity_now(gauge: Gauge) -> str:
    """The stable identity of the adapter that a gauge is on; empty if it has none."""
    return gauge.port if gauge.port.startswith(SCHEME) else identity_of(gauge.port)


class GaugeEntry(Form):
    """One gauge in the gauges file."""

    label: Annotated[str, Field(min_length=1, max_length=40, pattern=r"^[^@\n]+$")]
    profile: str
    port: Annotated[str, Field(min_length=1)]


class GaugesFile(Form):
    """The gauges of a bench."""

    gauges: tuple[GaugeEntry, ...]


def gauges_path() -> Path:
    """Where the user's gauges file lies; it need not exist."""
    return user_config_path("restpoint") / "gauges.toml"


def known_gauges(path: Path) -> tuple[GaugeEntry, ...]:
    """The gauges in a gauges file; none if there is no such file.

    Raises:
        GaugeError: it cannot be read or has mistakes; all of them at once.
    """
    try:
        text = path.read_text("utf-8")
    except FileNotFoundError:
        return ()
    except (OSError, UnicodeDecodeError) as error:
        raise GaugeError(f"{path}: cannot be read: {error}") from error
    file, problems = check_toml(text, str(path), GaugesFile)
    if file is None:
        raise GaugeError(*problems)
    labels = [entry.label for entry in file.gauges]
    twice = sorted({label for label in labels if labels.count(label) > 1})
    if twice:
        raise GaugeError(f"{path}: the label {twice[0]!r} stands twice; labels must differ")
    return file.gauges


def find_gauge(text: str, path: Path) -> Gauge:
    """The gauge that ``text`` names.

    Args:
        text: a label from the gauges file, or ``PROFILE@PORT`` such as
            ``decimal-line@/dev/ttyUSB0``.
        path: the gauges file.

    Raises:
        GaugeError: there is no such gauge.
        ProfileError: its profile does not exist or has mistakes.
    """
    profile, at, port = text.partition("@")
    if at:
        if not profile or not port:
            raise GaugeError(f"{text!r} is not PROFILE@PORT, such as decimal-line@/dev/ttyUSB0")
        return Gauge(text, load_profile(profile), port)
    entries = known_gauges(path)
    for entry in entries:
        if entry.label == text:
            return Gauge(entry.label, load_profile(entry.profile), entry.port)
    known = ", ".join(entry.label for entry in entries) or f"none, there is nothing in {path}"
    raise GaugeError(
        f"There is no gauge {text!r}. Known: {known}. "
        "Or name profile and port: decimal-line@/dev/ttyUSB0"
    )
