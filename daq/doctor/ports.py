"""Judges a serial port: who may open it, who has it, and what its adapter does behind our back."""

from collections.abc import Iterator, Sequence

from daq.doctor.finding import Finding
from daq.doctor.port_facts import PortFacts

RULES_FILE = "/etc/udev/rules.d/70-restpoint.rules"
"""After the rules that tell what an adapter is, before those that give it to who sits there."""

KEPT_BACK_MS = 4
"""Bytes kept back longer than this are noticed while a screw is turned."""

INSTALL_RULES = (
    f"restpoint doctor --rules | sudo tee {RULES_FILE}",
    "sudo udevadm control --reload-rules",
    "plug the adapter out and in again",
)


def judge_port(facts: PortFacts) -> list[Finding]:
    """What is to be said of one port; a single ``fine`` if all is well."""
    if not facts.exists:
        fix = ("plug it in; see what is there with: restpoint find",)
        return [Finding(facts.port, "fault", "there is no such port", fix)]
    found = [*_access(facts), *_holder(facts), *_power(facts), *_latency(facts), *_rule(facts)]
    what = facts.identity or "no USB adapter"
    driver = f", driver {facts.driver}" if facts.driver else ""
    return found or [Finding(facts.port, "fine", f"{what}{driver}; it may be opened")]


def judge_services(running: Sequence[str], facts: Sequence[PortFacts]) -> list[Finding]:
    """Whether a service that opens ports by itself can disturb one of these."""
    found = []
    bare = [each.port for each in facts if each.vendor and not each.has_rule]
    if "ModemManager" in running and (bare or not facts):
        which = f"; no rule keeps it off {' and '.join(bare)}" if bare else ""
        found.append(
            Finding(
                "services",
                "mind",
                "ModemManager runs: it opens each new serial port and sends to it, looking for a "
                f"modem{which}",
                INSTALL_RULES if bare else ("plug the gauge in and run this again",),
            )
        )
    if "brltty" in running:
        found.append(
            Finding(
                "services",
                "mind",
                "brltty runs: it takes some adapters for braille displays, and their ports vanish",
                (
                    "if nobody here reads braille on this machine: "
                    "sudo systemctl mask --now brltty.service brltty-udev.service brltty.path",
                ),
            )
        )
    return found or [Finding("services", "fine", "none that opens ports by itself")]


def judge_absence(driverless: Sequence[str]) -> list[Finding]:
    """What to say where no adapter is found."""
    if driverless:
        return [
            Finding(
                "ports",
                "fault",
                f"no serial port, but a USB device without a driver: {', '.join(driverless)}",
                (
                    "look which kernel module serves it: modinfo, or its maker's page",
                    "on small systems: sudo apt install linux-modules-extra-$(uname -r)",
                ),
            )
        ]
    return [
        Finding(
            "ports",
            "mind",
            "no serial adapter is plugged in",
            (
                "plug the gauge in; if it is, try another cable: some only carry power",
                "without hardware: restpoint simulate steady",
            ),
        )
    ]


def rules_for(facts: Sequence[PortFacts]) -> str:
    """A udev rules file for these adapters and no others; empty if none is on USB.

    For each: whoever sits at the screen may open it, services keep off, it is not switched off to
    save power and keeps no bytes back.
    """
    pairs = dict.fromkeys((each.vendor, each.product) for each in facts if each.vendor)
    lines = []
    for vendor, product in pairs:
        lines += [
            f'SUBSYSTEM=="tty", ENV{{ID_BUS}}=="usb", ENV{{ID_VENDOR_ID}}=="{vendor}", '
            f'ENV{{ID_MODEL_ID}}=="{product}", TAG+="uaccess", ENV{{ID_MM_DEVICE_IGNORE}}="1"',
            f'ACTION=="add", SUBSYSTEM=="usb", ATTR{{idVendor}}=="{vendor}", '
            f'ATTR{{idProduct}}=="{product}", ATTR{{power/control}}="on"',
            f'ACTION=="add", SUBSYSTEM=="usb-serial", ATTRS{{idVendor}}=="{vendor}", '
            f'ATTRS{{idProduct}}=="{product}", TEST=="latency_timer", ATTR{{latency_timer}}="1"',
        ]
    return "".join(f"{line}\n" for line in lines)


def _access(facts: PortFacts) -> Iterator[Finding]:
    if facts.may_open:
        return
    if facts.is_member:
        fix: tuple[str, ...] = ("log out and in again: the group was given since the last login",)
    elif facts.group and facts.group != "root":
        fix = (f"sudo usermod -aG {facts.group} $USER", "log out and in again")
    else:
        fix = INSTALL_RULES
    yield Finding(facts.port, "fault", "this user may not open it", fix)


def _holder(facts: PortFacts) -> Iterator[Finding]:
    if facts.held_by:
        yield Finding(
            facts.port,
            "fault",
            f"it is open in {' and '.join(facts.held_by)}; two programs would steal bytes from "
            "each other",
            ("end that program, then try again",),
        )


def _power(facts: PortFacts) -> Iterator[Finding]:
    if facts.power_control == "auto":
        yield Finding(
            facts.port,
            "mind",
            "the system may switch this adapter off to save power; the gauge is then silent",
            (f"echo on | sudo tee {facts.power_path}", "for good: " + INSTALL_RULES[0]),
        )


def _latency(facts: PortFacts) -> Iterator[Finding]:
    if facts.latency_ms is not None and facts.latency_ms > KEPT_BACK_MS:
        yield Finding(
            facts.port,
            "mind",
            f"the adapter keeps bytes back for up to {facts.latency_ms} ms; no value is wrong by "
            "it, but the screen follows the hand later",
            (f"echo 1 | sudo tee {facts.latency_path}", "for good: " + INSTALL_RULES[0]),
        )


def _rule(facts: PortFacts) -> Iterator[Finding]:
    if facts.vendor and not facts.has_rule:
        yield Finding(
            facts.port,
            "mind",
            "no udev rule names this adapter: services may open it, and only its group may",
            INSTALL_RULES,
        )
