"""Judges what is not a port: where logbooks are written, the time of day, the screen, the sound."""

from datetime import datetime, timedelta

from daq.doctor.finding import Finding, State
from daq.doctor.machine_facts import DiskFacts, ScreenFacts

ELSEWHERE = ("nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "fuse.sshfs", "ncpfs", "afs", "ceph")
"""File systems of other machines: no shared memory, and locks that may not hold."""

IN_MEMORY = ("tmpfs", "ramfs")

LEAST_BYTES = 50_000_000
FEW_BYTES = 1_000_000_000
"""A full day of captures is some ten megabytes; a raw trace of many gauges some hundred an hour."""

LEAST_COLUMNS, LEAST_ROWS = 80, 24

AHEAD = timedelta(minutes=2)


def judge_disk(disk: DiskFacts) -> Finding:
    """Whether a logbook in this folder is safe, and has room."""
    if not disk.exists:
        return _disk("fault", f"there is no folder {disk.folder}", f"mkdir -p '{disk.folder}'")
    if not disk.may_write:
        why = f"this user may not write in {disk.folder}"
        return _disk("fault", why, "name a logbook in a folder of your own")
    if disk.kind in IN_MEMORY:
        why = f"{disk.folder} is kept in memory ({disk.kind}); a logbook in it goes with the power"
        return _disk("fault", why, "name a logbook in a folder on a disk")
    if disk.kind in ELSEWHERE:
        why = f"{disk.folder} is on another machine ({disk.kind}); a logbook needs a local disk"
        return _disk("fault", why, "write it locally, and copy it there with: restpoint log backup")
    free = f"{disk.free_bytes / 1e9:,.1f} GB free in {disk.folder}"
    if disk.free_bytes < LEAST_BYTES:
        return _disk("fault", free, "make room on that disk")
    if disk.free_bytes < FEW_BYTES:
        return _disk("mind", free, "make room on that disk")
    return _disk("fine", f"{free}, a disk of this machine ({disk.kind or 'of unknown kind'})")


def _disk(state: State, says: str, *fix: str) -> Finding:
    return Finding("disk", state, says, fix)


def judge_clock(
    now: datetime, is_synchronised: bool | None, newest: datetime | None = None
) -> Finding:
    """Whether the time of day can be trusted in a record.

    Args:
        now: what the clock says, aware.
        is_synchronised: whether the system keeps it right; None if unknown.
        newest: when the newest record of the logbook was made.
    """
    says = f"{now:%Y-%m-%d %H:%M:%S} UTC"
    fix = ("sudo timedatectl set-ntp true", "without a network: sudo timedatectl set-time '…'")
    if newest is not None and newest > now + AHEAD:
        return Finding(
            "clock",
            "fault",
            f"{says}, but the newest record is of {newest:%Y-%m-%d %H:%M:%S}: the clock was set "
            "back, or was wrong then",
            ("set the clock right before anything is captured", *fix),
        )
    if is_synchronised is False:
        return Finding("clock", "mind", f"{says}, and nothing keeps it right", fix)
    kept = "kept right by the system" if is_synchronised else "whether it is kept right is unknown"
    return Finding("clock", "fine", f"{says}, {kept}")


def judge_screen(screen: ScreenFacts) -> Finding:
    """Whether the live indicator can be drawn here."""
    size = f"{screen.columns} columns, {screen.rows} rows"
    if not screen.is_terminal:
        why, fix = "the output is no terminal", "run it in a terminal window for the live screen"
    elif screen.kind in ("", "dumb"):
        why = f"a terminal that cannot be drawn in (TERM={screen.kind})"
        fix = "use another terminal, or: export TERM=xterm-256color"
    elif screen.columns < LEAST_COLUMNS or screen.rows < LEAST_ROWS:
        why, fix = f"small: {size}", "make the window larger, or its letters smaller"
    elif screen.encoding not in ("utf-8", "utf8"):
        why = f"no block characters ({screen.encoding}): numbers are drawn with plain ones"
        fix = "export LANG=C.UTF-8"
    else:
        return Finding("screen", "fine", f"{size}, {screen.encoding}")
    return Finding("screen", "mind", why, (fix,))


def judge_sound(cards: int | None) -> Finding:
    """Whether a browser on this machine can sound the tone; a tablet has its own."""
    if cards is None:
        return Finding("sound", "fine", "the page sounds it where the browser is")
    if cards == 0:
        return Finding(
            "sound",
            "mind",
            "no sound card: the page of this machine stays silent",
            ("open the page on a tablet: restpoint bench live --listen …", "or plug a headset in"),
        )
    return Finding("sound", "fine", f"{cards} sound card{'s' if cards > 1 else ''}")


def judge_packages(is_shadowed: bool) -> list[Finding]:
    """Whether the serial library is the one that was meant."""
    if not is_shadowed:
        return []
    return [
        Finding(
            "packages",
            "fault",
            "a package called 'serial' is installed over the serial library",
            ("pip uninstall serial", "pip install --force-reinstall pyserial"),
        )
    ]
