"""Checkpoints: what the chain alone does not show is shown by what was kept elsewhere."""

import json
import sqlite3
from contextlib import closing

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.cli import main
from daq.logbook import CheckpointError, Logbook, verify, verify_jsonl, write_jsonl
from daq.logbook.chain import beginning, chain_hash
from daq.logbook.checkpoint import compared, read_checkpoint, read_vouching, write_vouching
from daq.logbook.vouching import make_checkpoint, prove_record

RECORDS = 12


@pytest.fixture
def kept(written, begun):
    """A checkpoint over the twelve records of the logbook."""
    return make_checkpoint(written, at=begun)


@pytest.fixture
def grown(written, kept, note):
    """The logbook after three more records; ``kept`` was made before."""
    with Logbook.open(written) as book:
        book.append_many(note(f"note {number}") for number in range(3))
    return written


def rebuild(path, change):
    """Write all records anew, changed, with a chain that fits: what no chain can show."""
    with closing(sqlite3.connect(path)) as connection:
        (logbook_id,) = connection.execute("SELECT id FROM meta").fetchone()
        previous = beginning(logbook_id.encode())
        rows = connection.execute("SELECT sequence, body FROM records ORDER BY sequence").fetchall()
        names = connection.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
        triggers = names.fetchall()
        for name, _ in triggers:
            connection.execute(f"DROP TRIGGER {name}")
        for sequence, body in rows:
            body = change(sequence, body)
            digest = chain_hash(sequence, previous, body.encode())
            connection.execute(
                "UPDATE records SET previous = ?, hash = ?, body = ? WHERE sequence = ?",
                (previous.decode(), digest.decode(), body, sequence),
            )
            previous = digest
        for _, sql in triggers:
            connection.execute(sql)
        connection.commit()


def test_a_checkpoint_vouches_for_the_logbook_as_it_was_and_as_it_grew(written, kept, grown):
    assert kept.records == RECORDS
    assert verify(written, since=kept).intact
    assert verify(grown, since=kept).records == RECORDS + 3


@pytest.mark.parametrize("left", [1, RECORDS - 1])
def test_a_cut_end_is_whole_for_the_chain_and_missing_for_the_checkpoint(
    written, kept, tamper, left
):
    with tamper(written) as connection:
        connection.execute("DELETE FROM records WHERE sequence > ?", (left,))
    assert verify(written).intact
    (problem,) = verify(written, since=kept).problems
    assert (problem.sequence, problem.through) == (left + 1, RECORDS)
    assert "the end was cut off" in problem.what


def test_a_logbook_built_anew_is_whole_for_the_chain_and_not_for_the_checkpoint(written, kept):
    rebuild(written, lambda n, body: body.replace("A. Fitter", "B. Fitter") if n == 5 else body)
    assert verify(written).intact
    (problem,) = verify(written, since=kept).problems
    assert "rewritten" in problem.what


def test_a_cut_and_refilled_end_is_found(written, kept, tamper, note):
    with tamper(written) as connection:
        connection.execute("DELETE FROM records WHERE sequence > 10")
    with Logbook.open(written) as book:
        book.append_many(note(f"other {number}") for number in range(5))
    assert verify(written).intact
    assert not verify(written, since=kept).intact


def test_another_logbook_in_its_place_is_found(kept, tmp_path, capture):
    other = tmp_path / "other.logbook"
    with Logbook.open(other) as book:
        book.append_many(capture(step) for step in range(20))
    (problem,) = verify(other, since=kept).problems
    assert kept.logbook in problem.what


def test_an_export_is_held_against_a_checkpoint_too(grown, kept, tmp_path):
    out = tmp_path / "all.jsonl"
    with Logbook.read(grown) as book:
        write_jsonl(book.entries(), out)
    assert verify_jsonl(out, since=kept).intact
    lines = out.read_text("utf-8").splitlines(keepends=True)
    out.write_text("".join(lines[: RECORDS - 2]), "utf-8")
    assert verify_jsonl(out).intact
    assert not verify_jsonl(out, since=kept).intact


def test_a_later_checkpoint_proves_that_it_follows(grown, kept, begun):
    later = make_checkpoint(grown, since=kept, at=begun)
    assert compared(kept, later) == ""
    assert later.records == RECORDS + 3
    alone = make_checkpoint(grown, at=begun)
    assert "no proof" in compared(kept, alone)
    assert "were kept" in compared(later, kept)


def test_a_checkpoint_of_a_rewritten_logbook_does_not_follow(grown, kept, begun):
    rebuild(grown, lambda n, body: body.replace("A. Fitter", "B. Fitter") if n == 5 else body)
    with pytest.raises(CheckpointError, match="not intact"):
        make_checkpoint(grown, since=kept)
    forged = make_checkpoint(grown, at=begun)
    claim = json.loads(forged.model_dump_json())
    claim["follows"] = {"records": RECORDS, "root": kept.root, "proof": []}
    claimed = type(forged).model_validate_json(json.dumps(claim))
    assert "not those that were kept" in compared(kept, claimed)


@pytest.mark.parametrize("sequence", [1, 5, RECORDS])
def test_a_record_is_proved_without_the_logbook(grown, kept, sequence):
    proof = prove_record(grown, sequence, kept)
    assert compared(kept, proof) == ""
    for change in (
        {"body": proof.body.replace("2026", "2025")},
        {"sequence": sequence + 1},
        {"previous": "0" * 64},
        {"proof": proof.proof[:-1]},
    ):
        assert f"record {change.get('sequence', sequence)} is not" in compared(
            kept, proof.model_copy(update=change)
        )
    assert "another checkpoint" in compared(kept, proof.model_copy(update={"records": 11}))


def test_a_record_after_the_checkpoint_is_not_proved(grown, kept):
    with pytest.raises(CheckpointError, match="no record 13 among the 12"):
        prove_record(grown, 13, kept)


def test_a_broken_logbook_proves_nothing(written, kept, tamper):
    with tamper(written) as connection:
        connection.execute("UPDATE records SET body = '{}' WHERE sequence = 4")
    with pytest.raises(CheckpointError, match="record 4 does not fit its hash"):
        make_checkpoint(written)
    with pytest.raises(CheckpointError, match="record 4 does not fit its hash"):
        prove_record(written, 2, kept)


def test_a_file_is_read_back_and_never_written_over(kept, written, tmp_path):
    path, proof = tmp_path / "june.checkpoint", tmp_path / "4.proof"
    write_vouching(kept, path)
    assert read_checkpoint(path) == kept
    with pytest.raises(CheckpointError, match="is there already"):
        write_vouching(kept, path)
    write_vouching(prove_record(written, 4, kept), proof)
    assert read_vouching(proof).sequence == 4
    with pytest.raises(CheckpointError, match="proof of a record"):
        read_checkpoint(proof)
    with pytest.raises(CheckpointError, match="cannot be read"):
        read_checkpoint(tmp_path / "none")


@given(
    st.binary(max_size=300) | st.text(alphabet='{}[]":,kindchepot01', max_size=60).map(str.encode)
)
def test_no_file_whatever_is_read_with_another_error(tmp_path_factory, said):
    path = tmp_path_factory.mktemp("any") / "x"
    path.write_bytes(said)
    with pytest.raises(CheckpointError, match="no checkpoint and no proof"):
        read_vouching(path)


def test_the_commands_from_making_a_checkpoint_to_finding_the_cut(
    written, tmp_path, note, tamper, capsys
):
    def said(*words):
        status = main(["log", *map(str, words)])
        return status, capsys.readouterr().out

    june, july, proof = (tmp_path / name for name in ("june", "july", "proof"))
    assert said("checkpoint", written, june)[0] == 0
    with Logbook.open(written) as book:
        book.append(note())
    assert said("checkpoint", written, july, "--since", june)[0] == 0
    assert said("compare", june, july)[0] == 0
    assert said("prove", written, 3, june, proof)[0] == 0
    status, out = said("compare", june, proof)
    assert status == 0
    assert "agrees" in out
    assert "12.341" in out
    status, out = said("compare", july, proof)
    assert status == 1
    assert "does NOT agree" in out
    assert said("verify", written, "--since", july)[0] == 0
    with tamper(written) as connection:
        connection.execute("DELETE FROM records WHERE sequence > 9")
    assert said("verify", written)[0] == 0
    status, out = said("verify", written, "--since", july)
    assert status == 1
    assert "the end was cut off" in out
