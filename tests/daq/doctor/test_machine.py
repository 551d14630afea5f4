"""The machine: a disk that is no place for a logbook, a clock that lies, a screen, a sound."""

from datetime import UTC, datetime, timedelta

import pytest

from daq.doctor.machine import (
    judge_clock,
    judge_disk,
    judge_packages,
    judge_screen,
    judge_sound,
)
from daq.doctor.machine_facts import (
    DiskFacts,
    ScreenFacts,
    disk_facts,
    newest_record_at,
    sound_cards,
)
from daq.logbook import Logbook

NOW = datetime(2026, 3, 1, 8, 15, tzinfo=UTC)
ROOMY = 50_000_000_000


@pytest.mark.parametrize(
    ("disk", "state", "says"),
    [
        (DiskFacts("/a", ROOMY, "ext4"), "fine", "50.0 GB free in /a"),
        (DiskFacts("/a", 400_000_000, "ext4"), "mind", "0.4 GB free"),
        (DiskFacts("/a", 4_000_000, "ext4"), "fault", "0.0 GB free"),
        (DiskFacts("/a", ROOMY, "nfs4"), "fault", "on another machine"),
        (DiskFacts("/a", ROOMY, "tmpfs"), "fault", "in memory"),
        (DiskFacts("/a", ROOMY, "ext4", may_write=False), "fault", "may not write"),
        (DiskFacts("/a", exists=False), "fault", "no folder /a"),
    ],
)
def test_a_logbook_needs_room_on_a_local_disk(disk, state, says):
    finding = judge_disk(disk)
    assert finding.state == state
    assert says in finding.says
    assert bool(finding.fix) == (state != "fine")


def test_the_kind_of_disk_is_that_of_the_nearest_mount(tmp_path):
    (tmp_path / "proc").mkdir()
    (tmp_path / "deep er").mkdir()
    point = str(tmp_path / "deep er").replace(" ", "\\040")
    mounts = f"a / ext4 rw 0 0\nb {point} nfs4 rw 0 0\nc {tmp_path}/de tmpfs rw 0 0\n"
    (tmp_path / "proc/mounts").write_text(mounts, "utf-8")
    assert disk_facts(tmp_path, root=tmp_path).kind == "ext4"
    assert disk_facts(tmp_path / "deep er", root=tmp_path).kind == "nfs4"
    assert not disk_facts(tmp_path / "nowhere", root=tmp_path).exists


@pytest.mark.parametrize(("kept", "state"), [(True, "fine"), (None, "fine"), (False, "mind")])
def test_a_clock_that_nothing_keeps_right_is_told(kept, state):
    assert judge_clock(NOW, kept).state == state


def test_a_clock_behind_the_newest_record_was_set_back(tmp_path):
    path = tmp_path / "a.logbook"
    Logbook.open(path, at=NOW + timedelta(days=1)).close()
    newest = newest_record_at(path)
    assert newest == NOW + timedelta(days=1)
    finding = judge_clock(NOW, True, newest)
    assert finding.state == "fault"
    assert "the newest record is of 2026-03-02 08:15:00" in finding.says
    assert judge_clock(NOW, True, NOW + timedelta(minutes=1)).state == "fine"


@pytest.mark.parametrize(
    ("screen", "state"),
    [
        (ScreenFacts(True, 120, 40, "utf-8", "xterm-256color"), "fine"),
        (ScreenFacts(False, 120, 40, "utf-8", "xterm-256color"), "mind"),
        (ScreenFacts(True, 60, 40, "utf-8", "xterm-256color"), "mind"),
        (ScreenFacts(True, 120, 20, "utf-8", "xterm-256color"), "mind"),
        (ScreenFacts(True, 120, 40, "ascii", "xterm-256color"), "mind"),
        (ScreenFacts(True, 120, 40, "utf-8", "dumb"), "mind"),
    ],
)
def test_a_screen_is_large_enough_and_knows_block_characters(screen, state):
    assert judge_screen(screen).state == state


def test_sound_needs_a_card_where_the_browser_is(tmp_path):
    assert sound_cards(root=tmp_path) is None
    cards = tmp_path / "proc/asound/cards"
    cards.parent.mkdir(parents=True)
    cards.write_text("--- no soundcards ---\n", "utf-8")
    assert judge_sound(sound_cards(root=tmp_path)).state == "mind"
    cards.write_text(" 0 [Card           ]: one\n                      one at 1\n", "utf-8")
    assert judge_sound(sound_cards(root=tmp_path)).says == "1 sound card"
    assert judge_sound(None).state == "fine"


def test_a_package_that_hides_the_serial_library_is_named():
    assert judge_packages(False) == []
    assert judge_packages(True)[0].fix[0] == "pip uninstall serial"
