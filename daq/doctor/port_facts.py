"""What Linux says of a serial port: read from its files, nothing is opened or sent.

Files under ``/sys`` and ``/proc`` are described in the kernel's Documentation/ABI.
"""

import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

GRABBERS = ("ModemManager", "brltty")
"""Services of Linux that open serial ports of their own accord."""

RULE_FOLDERS = ("etc/udev/rules.d", "run/udev/rules.d", "usr/lib/udev/rules.d")
_MOST_CHARS = 15
"""The kernel cuts a process's name off after that (proc(5), comm)."""


@dataclass(frozen=True, slots=True)
class PortFacts:
    """A serial port of Linux. What cannot be read is None or empty."""

    port: str
    identity: str = ""
    vendor: str = ""
    """USB vendor id, four lower-case hex digits; empty if it is no USB adapter."""
    product: str = ""
    driver: str = ""
    exists: bool = True
    may_open: bool = True
    """Whether this user may read and write the device file."""
    group: str = ""
    """The group that owns the device file."""
    is_member: bool = False
    """Whether the user was put into that group, if only since the last login."""
    latency_ms: int | None = None
    """How long the adapter keeps bytes back, where its driver says so."""
    power_control: str = ""
    """``auto`` if the system may switch it off, ``on`` if not."""
    power_path: str = ""
    latency_path: str = ""
    held_by: tuple[str, ...] = ()
    """Programs that have the port open, as ``name (process 123)``."""
    has_rule: bool = False
    """Whether a udev rule names this adapter and keeps services off it."""


def port_facts(
    port: str, identity: str = "", *, user: str = "", root: Path = Path("/")
) -> PortFacts:
    """Read what there is to know of a port.

    Args:
        port: its device file, as ``/dev/ttyUSB0``.
        identity: of its adapter.
        user: the name of who works.
        root: where ``/sys``, ``/proc``, ``/dev`` and ``/etc`` are.
    """
    file = root / port.lstrip("/")
    device = (root / "sys/class/tty" / file.name / "device").resolve()
    usb = next((each for each in (device, *device.parents) if (each / "idVendor").is_file()), None)
    vendor = _text(usb / "idVendor") if usb else ""
    product = _text(usb / "idProduct") if usb else ""
    latency = device / "latency_timer"
    power = usb / "power/control" if usb else None
    group = _group_of(file, root)
    return PortFacts(
        port=port,
        identity=identity,
        vendor=vendor,
        product=product,
        driver=(device / "driver").resolve().name if (device / "driver").exists() else "",
        exists=file.exists(),
        may_open=os.access(file, os.R_OK | os.W_OK),
        group=group,
        is_member=_is_member(user, group, root),
        latency_ms=int(text) if (text := _text(latency)).isdecimal() else None,
        latency_path=_seen(latency, root) if latency.is_file() else "",
        power_control=_text(power) if power else "",
        power_path=_seen(power, root) if power else "",
        held_by=tuple(_holders(port, root)),
        has_rule=bool(vendor) and _has_rule(vendor, product, root),
    )


def grabbers(*, root: Path = Path("/")) -> tuple[str, ...]:
    """Which of `GRABBERS` run."""
    names = {_text(each / "comm") for each in _processes(root)}
    return tuple(name for name in GRABBERS if name[:_MOST_CHARS] in names)


def driverless(*, root: Path = Path("/")) -> tuple[str, ...]:
    """USB devices that could be serial adapters and have no driver, as ``vendor:product``."""
    found = []
    for interface in sorted((root / "sys/bus/usb/devices").glob("*:*")):
        is_serial = _text(interface / "bInterfaceClass") in ("02", "0a", "ff")
        usb = interface.resolve().parent
        if is_serial and not (interface / "driver").exists() and (usb / "idVendor").is_file():
            found.append(f"{_text(usb / 'idVendor')}:{_text(usb / 'idProduct')}")
    return tuple(dict.fromkeys(found))


def _processes(root: Path) -> Iterable[Path]:
    return (each for each in (root / "proc").glob("[0-9]*") if each.name.isdecimal())


def _holders(port: str, root: Path) -> Iterable[str]:
    for process in _processes(root):
        if int(process.name) == os.getpid():
            continue
        try:
            links = [os.readlink(each) for each in (process / "fd").iterdir()]
        except OSError:  # another user's, or it has ended meanwhile
            continue
        if port in links:
            yield f"{_text(process / 'comm') or 'a program'} (process {process.name})"


def _has_rule(vendor: str, product: str, root: Path) -> bool:
    for folder in RULE_FOLDERS:
        for file in (root / folder).glob("*.rules"):
            for line in _text(file).splitlines():
                names = f'"{vendor}"' in line.lower() and f'"{product}"' in line.lower()
                if names and "ID_MM_DEVICE_IGNORE" in line and not line.lstrip().startswith("#"):
                    return True
    return False


def _group_of(file: Path, root: Path) -> str:
    try:
        number = str(file.stat().st_gid)
    except OSError:
        return ""
    rows = [line.split(":") for line in _text(root / "etc/group").splitlines()]
    return next((row[0] for row in rows if len(row) > 3 and row[2] == number), number)


def _is_member(user: str, group: str, root: Path) -> bool:
    rows = [line.split(":") for line in _text(root / "etc/group").splitlines()]
    return any(row[0] == group and user in row[3].split(",") for row in rows if len(row) > 3)


def _seen(file: Path, root: Path) -> str:
    return "/" + str(file.relative_to(root.resolve())).lstrip("/")


def _text(file: Path) -> str:
    try:
        return file.read_text("utf-8", "replace").strip()
    except OSError:
        return ""
