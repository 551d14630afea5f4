"""Ports of Linux: what its files say of them, and what to do about it.

The trees are made as the kernel's documentation describes them (Documentation/ABI: sysfs-bus-usb,
sysfs-tty; proc(5)); no adapter of a real make is among them.
"""

import os

import pytest

from daq.doctor.port_facts import PortFacts, driverless, grabbers, port_facts
from daq.doctor.ports import judge_absence, judge_port, judge_services, rules_for


@pytest.fixture
def machine(tmp_path):
    """A machine with one adapter, in order: a rule, no power saving, no bytes kept back."""
    usb = tmp_path / "sys/devices/usb1/1-1"
    tty = usb / "1-1:1.0/ttyUSB0"
    write(usb / "idVendor", "1209\n")
    write(usb / "idProduct", "0001\n")
    write(usb / "power/control", "on\n")
    write(tty / "latency_timer", "1\n")
    write(usb / "1-1:1.0/bInterfaceClass", "ff\n")
    link(tty / "driver", tmp_path / "sys/bus/usb-serial/drivers/one")
    link(usb / "1-1:1.0/driver", tmp_path / "sys/bus/usb/drivers/one")
    link(tmp_path / "sys/class/tty/ttyUSB0/device", tty)
    link(tmp_path / "sys/bus/usb/devices/1-1:1.0", usb / "1-1:1.0")
    write(tmp_path / "dev/ttyUSB0", "")
    write(tmp_path / "etc/group", f"root:x:0:\nlines:x:{os.getgid() + 0}:ahlers\n")
    rule = rules_for([PortFacts("/dev/ttyUSB0", vendor="1209", product="0001")])
    write(tmp_path / "etc/udev/rules.d/70-restpoint.rules", rule)
    write(tmp_path / "proc/4711/comm", "restpoint\n")
    (tmp_path / "proc/4711/fd").mkdir()
    return tmp_path


def write(file, text):
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, "utf-8")


def link(file, to):
    to.mkdir(parents=True, exist_ok=True)
    file.parent.mkdir(parents=True, exist_ok=True)
    file.symlink_to(to)


def found(machine):
    return judge_port(port_facts("/dev/ttyUSB0", "usb:1209:0001:K1", root=machine))


def test_an_adapter_in_order_is_fine(machine):
    (finding,) = found(machine)
    assert (finding.about, finding.state) == ("/dev/ttyUSB0", "fine")
    assert finding.says == "usb:1209:0001:K1, driver one; it may be opened"


def test_bytes_kept_back_are_told_with_the_file_to_write_to(machine):
    write(machine / "sys/devices/usb1/1-1/1-1:1.0/ttyUSB0/latency_timer", "16\n")
    (finding,) = found(machine)
    assert finding.state == "mind"
    assert "up to 16 ms" in finding.says
    path = "/sys/devices/usb1/1-1/1-1:1.0/ttyUSB0/latency_timer"
    assert finding.fix[0] == f"echo 1 | sudo tee {path}"


def test_power_saving_is_told_with_the_file_to_write_to(machine):
    write(machine / "sys/devices/usb1/1-1/power/control", "auto\n")
    (finding,) = found(machine)
    assert "switch this adapter off" in finding.says
    assert finding.fix[0] == "echo on | sudo tee /sys/devices/usb1/1-1/power/control"


def test_an_adapter_without_a_rule_gets_one_of_its_own(machine):
    (machine / "etc/udev/rules.d/70-restpoint.rules").unlink()
    (finding,) = found(machine)
    assert "no udev rule names this adapter" in finding.says
    assert finding.fix[0].startswith("restpoint doctor --rules | sudo tee /etc/udev/rules.d/")


@pytest.mark.parametrize("change", [("1209", "1210"), ("SUBSYSTEM", "# SUBSYSTEM")])
def test_a_rule_for_another_adapter_or_in_a_comment_is_none(machine, change):
    file = machine / "etc/udev/rules.d/70-restpoint.rules"
    write(file, file.read_text("utf-8").replace(*change))
    assert "no udev rule" in found(machine)[0].says


def test_who_has_the_port_open_is_named(machine):
    (machine / "proc/4711/fd/5").symlink_to("/dev/ttyUSB0")
    (finding,) = found(machine)
    assert finding.state == "fault"
    assert "it is open in restpoint (process 4711)" in finding.says


def test_a_port_that_is_not_there_is_called_so(machine):
    (finding,) = judge_port(port_facts("/dev/ttyUSB7", root=machine))
    assert (finding.state, finding.says) == ("fault", "there is no such port")


@pytest.mark.parametrize(
    ("facts", "fix"),
    [
        ({"group": "lines"}, ("sudo usermod -aG lines $USER", "log out and in again")),
        (
            {"group": "lines", "is_member": True},
            ("log out and in again: the group was given since the last login",),
        ),
    ],
)
def test_who_may_not_open_it_is_told_the_group(facts, fix):
    facts = PortFacts("/dev/ttyS0", may_open=False, **facts)
    (finding,) = judge_port(facts)
    assert (finding.state, finding.fix) == ("fault", fix)


def test_membership_is_read_from_the_systems_groups(machine):
    of = {name: port_facts("/dev/ttyUSB0", user=name, root=machine) for name in ("ahlers", "lind")}
    assert {name: (facts.group, facts.is_member) for name, facts in of.items()} == (
        {"ahlers": ("root", False), "lind": ("root", False)}
        if os.getgid() == 0
        else {"ahlers": ("lines", True), "lind": ("lines", False)}
    )


def test_services_that_grab_ports_are_named_with_the_ports_they_may_grab(machine):
    write(machine / "proc/12/comm", "ModemManager\n")
    write(machine / "proc/13/comm", "brltty\n")
    running = grabbers(root=machine)
    assert running == ("ModemManager", "brltty")
    with_rule = port_facts("/dev/ttyUSB0", root=machine)
    assert [each.says.split(" ")[0] for each in judge_services(running, [with_rule])] == ["brltty"]
    bare = PortFacts("/dev/ttyUSB1", vendor="1209", product="0002")
    modem, _ = judge_services(running, [with_rule, bare])
    assert modem.says.endswith("no rule keeps it off /dev/ttyUSB1")
    assert judge_services((), [bare])[0].state == "fine"


def test_a_usb_device_without_a_driver_is_told_where_there_is_no_port(machine):
    assert driverless(root=machine) == ()
    (machine / "sys/devices/usb1/1-1/1-1:1.0/driver").unlink()
    assert driverless(root=machine) == ("1209:0001",)
    (finding,) = judge_absence(("1209:0001",))
    assert finding.state == "fault"
    assert judge_absence(())[0].state == "mind"


def test_rules_are_for_the_adapters_that_are_there_and_no_others():
    facts = [
        PortFacts("/dev/ttyUSB0", vendor="1209", product="0001"),
        PortFacts("/dev/ttyUSB1", vendor="1209", product="0001"),
        PortFacts("/dev/ttyS0"),
    ]
    lines = rules_for(facts).splitlines()
    assert len(lines) == 3
    assert all('"1209"' in line and '"0001"' in line for line in lines)
    assert rules_for([PortFacts("/dev/ttyS0")]) == ""
