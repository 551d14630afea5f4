"""An audit that is stopped and goes on finds what one does that is never stopped."""

import os
import re
import signal
import subprocess
import sys

import click
import numpy as np
import pytest

from daq.audit.engine import Keeping, audit
from daq.audit.engine.keeping import Keeper
from daq.audit.errors import ResumeError
from daq.audit.intake import Limits, open_source
from daq.audit.rules import built_in, chosen
from daq.cli.audit import command
from tests.daq.audit.engine.test_audit_command import write
from tests.daq.audit.fleet import fleet
from tests.daq.audit.rules.faults import FAULTS

PLANTED = ("missing-numbers", "out-of-order", "still-readings", "captured-after-fail", "clock-back")
GAUGES = 16


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    """A log with faults."""
    folder = tmp_path_factory.mktemp("log")
    made = fleet(GAUGES)
    for name in PLANTED:
        FAULTS[name](made)
    return write(made, folder)


@pytest.fixture
def source(log):
    with open_source([log], limits=Limits(block_rows=400)) as opened:
        yield opened


@pytest.fixture(scope="module")
def whole(log):
    """What an audit finds that is not kept."""
    with open_source([log], limits=Limits(block_rows=400)) as opened:
        found = audit(opened, built_in())
    assert {*PLANTED} <= {each.rule for each in found.findings}
    return found


def same(found, other):
    assert sorted(map(repr, found.findings)) == sorted(map(repr, other.findings))
    assert (found.ran, found.not_run, found.rows) == (other.ran, other.not_run, other.rows)


class Stop(Exception):
    """The audit was stopped."""


def stopped_after(blocks):
    heard = []

    def progress(so_far):
        heard.append(so_far.done)
        if len(heard) == blocks:
            raise Stop

    return progress


@pytest.mark.parametrize("every", [1, 3])
def test_stopped_after_any_block_it_goes_on_and_finds_the_same(tmp_path, source, whole, every):
    blocks = sum(source.block_count(table) for table in ("points", "captures"))
    assert blocks > 8
    for last in range(1, blocks + 1):
        keeping = Keeping(tmp_path / str(last), every=every)
        with pytest.raises(Stop):
            audit(source, built_in(), folder=keeping, progress=stopped_after(last))
        again = []
        found = audit(source, built_in(), folder=keeping, progress=again.append)
        same(found, whole)
        # What was committed is not read again; what was not, is.
        assert blocks - last <= len(again) <= blocks - last + every
        assert [each.done for each in again] == sorted(each.done for each in again)
        assert not again or again[-1].done == sum(found.rows[t] for t in ("points", "captures"))


def test_stopped_again_and_again_it_comes_to_an_end(tmp_path, source, whole):
    keeping = Keeping(tmp_path / "kept", every=1)
    for _ in range(100):
        try:
            found = audit(source, built_in(), folder=keeping, progress=stopped_after(2))
        except Stop:
            continue
        break
    same(found, whole)


def test_a_gauge_that_comes_again_after_it_went_on_is_out_of_order_too(tmp_path):
    made = fleet(GAUGES)
    for table in ("points", "captures"):
        rows = made.rows_of(table, made[table]["gauge"][0])
        order = np.arange(made[table]["gauge"].size)
        order = np.concatenate([np.delete(order, rows[-5:]), rows[-5:]])
        made.tables[table] = {name: values[order] for name, values in made[table].items()}
    rules = chosen(built_in(), ["out-of-order"])
    whole = audit(made, rules)
    assert [each.about for each in whole.findings] == ["points", "captures"]
    for last in (2, 4):
        keeping = Keeping(tmp_path / str(last), every=1)
        with pytest.raises(Stop):
            audit(made, rules, folder=keeping, progress=stopped_after(last))
        same(audit(made, rules, folder=keeping), whole)


KILLED = """
import os, signal, sys
from pathlib import Path
from daq.audit.engine import Keeping, audit
from daq.audit.intake import Limits, open_source
from daq.audit.rules import built_in

def progress(so_far):
    if so_far.done >= int(sys.argv[3]):
        os.kill(os.getpid(), signal.SIGKILL)

with open_source([Path(sys.argv[1])], limits=Limits(block_rows=400)) as source:
    audit(source, built_in(), folder=Keeping(Path(sys.argv[2]), every=2), progress=progress)
"""


@pytest.mark.parametrize("share", [0.1, 0.4, 0.7, 1.0])
def test_killed_outright_it_goes_on_and_finds_the_same(tmp_path, log, source, whole, share):
    rows = sum(source.rows(table) for table in ("points", "captures"))
    asked = [str(log), str(tmp_path / "kept"), str(int(share * rows))]
    ended = subprocess.run([sys.executable, "-c", KILLED, *asked], timeout=50, check=False)
    assert ended.returncode == -signal.SIGKILL
    again = []
    found = audit(
        source, built_in(), folder=Keeping(tmp_path / "kept", every=2), progress=again.append
    )
    same(found, whole)
    blocks = sum(source.block_count(table) for table in ("points", "captures"))
    assert len(again) <= blocks - int(share * blocks) + 2


@pytest.mark.parametrize(
    ("other", "why"),
    [
        ({"rules": chosen(built_in(), ["shift"])}, "the rules, or their parameters"),
        ({"parameters": {"shift": {"size": 2.0}}}, "the rules, or their parameters"),
        ({"rate": 0.02}, "the rules, or their parameters"),
    ],
)
def test_an_audit_with_other_rules_is_refused(tmp_path, source, other, why):
    keeping = Keeping(tmp_path / "kept", every=1)
    with pytest.raises(Stop):
        audit(source, built_in(), folder=keeping, progress=stopped_after(3))
    with pytest.raises(ResumeError, match=f"cannot go on: {why}.*begin anew"):
        audit(source, **{"rules": built_in(), "folder": keeping, **other})


def test_an_audit_of_a_log_that_has_changed_is_refused(tmp_path):
    (tmp_path / "log").mkdir()
    folder = write(fleet(4), tmp_path / "log")
    keeping = Keeping(tmp_path / "kept", every=1)
    with open_source([folder]) as source, pytest.raises(Stop):
        audit(source, built_in(), folder=keeping, progress=stopped_after(1))
    about = (folder / "points.parquet").stat()
    os.utime(folder / "points.parquet", ns=(about.st_atime_ns, about.st_mtime_ns + 1))
    refused = pytest.raises(ResumeError, match="the log has changed since")
    with open_source([folder]) as source, refused:
        audit(source, built_in(), folder=keeping)


def test_an_audit_by_another_version_of_the_program_is_refused(tmp_path, source, monkeypatch):
    keeping = Keeping(tmp_path / "kept", every=1)
    with pytest.raises(Stop):
        audit(source, built_in(), folder=keeping, progress=stopped_after(1))
    monkeypatch.setattr("duckdb.__version__", "0.0.0")
    with pytest.raises(ResumeError, match="the program, or a part of it, has another version"):
        audit(source, built_in(), folder=keeping)


@pytest.mark.parametrize("told", ["{", "[]", '{"log": 1}'])
def test_a_folder_whose_note_cannot_be_read_is_refused(tmp_path, source, told):
    (tmp_path / "kept").mkdir()
    (tmp_path / "kept" / "audit.json").write_text(told, "utf-8")
    with pytest.raises(ResumeError, match=re.escape(str(tmp_path / "kept"))):
        audit(source, built_in(), folder=Keeping(tmp_path / "kept"))


def test_a_folder_with_other_files_is_refused_and_left_alone(tmp_path, source):
    (tmp_path / "mine.txt").write_text("mine")
    with pytest.raises(ResumeError, match="holds other files"):
        audit(source, built_in(), folder=Keeping(tmp_path))
    assert [each.name for each in tmp_path.iterdir()] == ["mine.txt"]


def test_a_folder_whose_store_is_damaged_is_refused(tmp_path, source):
    keeping = Keeping(tmp_path / "kept", every=1)
    with pytest.raises(Stop):
        audit(source, built_in(), folder=keeping, progress=stopped_after(1))
    (tmp_path / "kept" / "audit.duckdb").write_bytes(b"nothing of ours" * 1000)
    with pytest.raises(ResumeError, match=r"cannot be opened.*begin anew"):
        audit(source, built_in(), folder=keeping)


@pytest.fixture
def stopped_by_hand(monkeypatch):
    """The command stops as by Ctrl-C once so many blocks are committed."""
    monkeypatch.setattr("daq.cli.audit_here.BLOCK_ROWS", 400)
    commit, done = Keeper.commit, []

    def and_stop(self):
        commit(self)
        done.append(self.rows)
        if len(done) == 3:
            signal.raise_signal(signal.SIGINT)

    monkeypatch.setattr(Keeper, "commit", and_stop)
    return done


def run(capsys, *asked):
    status = command.main([str(each) for each in asked], standalone_mode=False)
    return status, capsys.readouterr()


def test_the_command_says_how_far_it_was_goes_on_and_clears_up(
    tmp_path, log, capsys, stopped_by_hand
):
    asked = [log, "--resume", tmp_path / "kept", "--json"]
    with pytest.raises(click.Abort):
        run(capsys, *asked)
    said = capsys.readouterr()
    assert re.search(r"The audit was stopped when \d+ of \d+ rows were done\.", said.err)
    assert f"It is kept in {tmp_path / 'kept'}: the same command goes on from there." in said.err
    assert said.out == ""
    assert (tmp_path / "kept" / "audit.duckdb").exists()
    status, resumed = run(capsys, *asked)
    assert status == 1
    assert not (tmp_path / "kept").exists()
    assert resumed.out == run(capsys, log, "--json")[1].out
    assert len(resumed.out.splitlines()) > len(PLANTED)


def test_a_log_that_is_kept_is_what_the_audit_goes_on_with(tmp_path, log, capsys, stopped_by_hand):
    kept = tmp_path / "open"
    with pytest.raises(click.Abort):
        run(capsys, log, "--keep", kept, "--resume", tmp_path / "audit")
    said = capsys.readouterr().err
    assert f"The log is kept in {kept}: {GAUGES * 110 - 3} points" in said
    assert f"Name {kept} as the log then, and leave --keep and --mapping out." in said
    status, resumed = run(capsys, kept, "--resume", tmp_path / "audit", "--json")
    assert status == 1
    assert resumed.out == run(capsys, log, "--json")[1].out
    assert len(resumed.out.splitlines()) > len(PLANTED)
