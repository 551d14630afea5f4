"""What the parts of a profile must have to do with each other, and with its samples.

A rule gives problems in words; each begins with the name of the part at fault, so that it can be
found in the file.
"""

from collections.abc import Iterator
from typing import TYPE_CHECKING

from drivers.errors import FrameError
from drivers.form import printable
from drivers.framing import FixedFraming, MarkFraming, ModbusFraming
from drivers.layouts import BcdLayout, CountsLayout, RegistersLayout
from drivers.reading import Shown

if TYPE_CHECKING:
    from drivers.profile import GaugeProfile, Sample


def parts_that_disagree(profile: "GaugeProfile") -> list[str]:
    """Why the parts of ``profile`` do not fit together; empty if they do."""
    problems = [*_sending(profile), *_framing(profile), *_checksum(profile)]
    return problems or list(_resolution(profile))


def samples_that_disagree(profile: "GaugeProfile") -> list[str]:
    """Which samples ``profile`` does not hold to; empty if it holds to all."""
    problems = []
    for number, sample in enumerate(profile.samples, 1):
        if problem := _sample_problem(profile, sample):
            problems.append(f"samples.{number}: {printable(sample.wire)}: {problem}")
    shown = {sample.unit for sample in profile.samples if sample.number is not None}
    for unit in profile.resolution:
        if unit not in shown and not problems:
            problems.append(
                f'samples: none has a number with unit = "{unit.value}"; copy one from the source'
            )
    return problems or list(_rate(profile))


def _rate(profile: "GaugeProfile") -> Iterator[str]:
    """A line carries start, data, parity and stop bits for each byte, and no more than its rate."""
    port, sends = profile.serial, profile.sends
    bits = 1 + port.data_bits + (port.parity != "none") + port.stop_bits
    length = min(len(sample.wire) for sample in profile.samples if sample.number is not None)
    needed = sends.rate_hz * bits * length
    if sends.when == "by itself" and needed > port.baud:
        yield (
            f"sends.rate_hz: {sends.rate_hz:g} frames a second of {length} bytes need "
            f"{needed:.0f} baud, the port is set to {port.baud}; mend one of the two"
        )


def _sending(profile: "GaugeProfile") -> Iterator[str]:
    sends = profile.sends
    if isinstance(profile.frame, ModbusFraming):
        if sends.when != "on request":
            yield 'sends.when: a Modbus gauge is asked; write when = "on request"'
        if sends.request is not None:
            yield "sends.request: made from [frame] for Modbus; take it out"
    elif sends.when == "on request" and sends.request is None:
        yield "sends.request: is missing; add the bytes that ask the gauge for a reading"
    elif sends.when != "on request" and sends.request is not None:
        yield f'sends.request: a gauge that sends "{sends.when}" is not asked; take it out'


def _framing(profile: "GaugeProfile") -> Iterator[str]:
    frame, layout = profile.frame, profile.layout
    if isinstance(frame, ModbusFraming) != isinstance(layout, RegistersLayout):
        yield 'frame.kind: "modbus" and the layout "registers" go together'
    elif isinstance(frame, ModbusFraming) and isinstance(layout, RegistersLayout):
        if layout.registers != frame.registers:
            yield (
                f"layout.registers: is {layout.registers}, but the frame reads "
                f"{frame.registers}; write the same number"
            )
    elif isinstance(frame, FixedFraming) != isinstance(layout, BcdLayout | CountsLayout):
        # Binary bytes can have any value, that of an end mark too; text varies in length.
        yield (
            'frame.kind: "fixed" goes with the layouts "bcd" and "counts", '
            '"line" and "marks" with "text" and "numeric"'
        )
    elif isinstance(frame, FixedFraming) and isinstance(layout, BcdLayout | CountsLayout):
        length = layout.length + (profile.check.size if profile.check else 0)
        if length != frame.length:
            yield (
                f"frame.length: is {frame.length}, but layout and checksum take {length} bytes; "
                f"write length = {length}, or mend the layout"
            )
        if profile.sends.when == "by itself" and not (profile.check or layout.constants):
            yield (
                "layout: nothing in the frame tells where it begins; a stream needs a constant "
                "or a checksum"
            )


def _checksum(profile: "GaugeProfile") -> Iterator[str]:
    frame, check = profile.frame, profile.check
    tail = frame.tail_bytes if isinstance(frame, MarkFraming) else 0
    if check is None:
        if tail:
            yield "frame.tail_bytes: is for the checksum, but there is no [check]; add it"
        return
    if isinstance(frame, ModbusFraming):
        yield "check: Modbus frames have their own CRC; take [check] out"
        return
    start, end = frame.marks
    for name, mark in (("start", start), ("end", end)):
        if name in check.covers and not mark:
            yield f'check.covers: the frame has no {name}; take "{name}" out'
    if tail not in (0, check.size):
        yield f"frame.tail_bytes: is {tail}, but the checksum takes {check.size} bytes"
    if not check.is_text and not tail and not isinstance(frame, FixedFraming):
        # A checksum byte can be the end mark's: the frame would be cut there.
        yield (
            "check.written: bytes of any value before the end of a frame can look like that end; "
            'only "hex" or "small hex" can stand there, or a checksum behind the end mark '
            "(frame.tail_bytes)"
        )


def _resolution(profile: "GaugeProfile") -> Iterator[str]:
    """Each unit's display step must be a number that the layout can send."""
    for unit, step in profile.resolution.items():
        try:
            found = profile.layout.decode(profile.layout.encode(Shown(step, unit)))
        except FrameError as error:
            yield f"resolution.{unit.value}: the layout cannot send {step} {unit.value}: {error}"
            continue
        if str(found.value) != str(step):
            yield (
                f"resolution.{unit.value}: is {step}, but the layout reads that as {found.value}; "
                "write both with the same decimals"
            )


def _sample_problem(profile: "GaugeProfile", sample: "Sample") -> str | None:
    """Why the profile disagrees with its own sample; None if it does not."""
    bits = profile.serial.data_bits
    if max(sample.wire) >> bits:
        return f"{max(sample.wire):02X} does not fit {bits} data bits"
    try:
        found = profile.decode_wire(sample.wire)
    except FrameError as error:
        return f"the profile refuses it: {error}{_instead(profile, sample)}"
    differences = list(_differences(found, sample.shown))
    if differences:
        return "; ".join(differences)
    sent = profile.encode(found)
    if sent == sample.wire:
        return None
    # Error displays may have several spellings, and registers that say nothing may hold anything.
    free = found.value is None or isinstance(profile.layout, RegistersLayout)
    if free and profile.decode_wire(sent) == found:
        return None
    return f"the profile would send {printable(sent)} for this"


def _instead(profile: "GaugeProfile", sample: "Sample") -> str:
    """The frame that would be right, where the profile has one for what the sample says."""
    try:
        right = profile.encode(sample.shown)
    except FrameError:
        return ""
    return f"; what it says would be {printable(right)}" if right != sample.wire else ""


def _differences(found: Shown, said: Shown) -> Iterator[str]:
    """What the profile reads otherwise than the sample says."""
    pairs = {
        "number": (_number(found), _number(said)),
        "unit": (found.unit.value, said.unit.value),
        "status": (_words(found), _words(said)),
        "sequence": (found.sequence, said.sequence),
        "label": (found.label, said.label),
    }
    for name, (read, written) in pairs.items():
        # A frame without a number need not tell the unit either.
        if read != written and not (name == "unit" and found.value is None):
            yield f"{name} is read as {read}, the sample says {written}"


def _number(shown: Shown) -> str:
    return "no number" if shown.value is None else str(shown.value)


def _words(shown: Shown) -> str:
    return ", ".join(sorted(each.value for each in shown.status)) or "all well"
