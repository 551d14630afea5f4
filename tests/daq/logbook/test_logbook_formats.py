"""Every version ever written still reads; the page says how, and its worked example runs."""

import hashlib
import re
import shutil
import subprocess
from decimal import Decimal
from pathlib import Path
from typing import get_args

import pytest
from pydantic import BaseModel

from daq.logbook import Logbook, UnknownRecord, verify, verify_jsonl
from daq.logbook.canonical import canonical
from daq.logbook.export import jsonl_lines
from daq.logbook.records import MODELS, body_of

ROOT = Path(__file__).parents[3]
SAMPLES = sorted((ROOT / "tests" / "data").glob("logbook_format_*.sqlite"))
PAGE = (ROOT / "docs" / "logbook.md").read_text(encoding="utf-8")


@pytest.fixture
def sample(request, tmp_path):
    """A copy of a kept logbook: reading one leaves files beside it."""
    return shutil.copy(request.param, tmp_path / "book.sqlite")


every_sample = pytest.mark.parametrize("sample", SAMPLES, indirect=True, ids=lambda p: p.stem)


@every_sample
def test_a_logbook_of_every_version_ever_written_still_reads(sample, request):
    kept = next(path for path in SAMPLES if path.stem in request.node.name)
    assert verify(sample).intact
    assert verify_jsonl(kept.with_suffix(".jsonl")) == verify(sample)
    with Logbook.read(sample) as book:
        entries = list(book.entries())
        lines = b"".join(jsonl_lines(entries)).splitlines()
    assert lines == kept.with_suffix(".jsonl").read_bytes().splitlines()
    for entry in entries:
        assert entry.intact
        assert not isinstance(entry.record, UnknownRecord), entry.record.why


@every_sample
def test_a_logbook_of_every_version_ever_written_can_be_gone_on_with(sample, note):
    before = verify(sample)
    with Logbook.open(sample) as book:
        book.append(note())
    after = verify(sample, expect_last_hash=before.last_hash, expect_count=before.records)
    assert after.intact
    assert after.records == before.records + 1


@every_sample
def test_a_record_of_every_kind_is_stored_as_the_canonical_form_of_what_it_says(sample):
    with Logbook.read(sample) as book:
        for entry in book.entries():
            said = canonical(entry.record.model_dump(mode="json"))
            assert body_of(entry.record) == said == entry.body.encode()


def test_every_kind_and_format_ever_written_is_in_a_kept_logbook():
    found = set()
    for path in SAMPLES:
        text = path.with_suffix(".jsonl").read_text(encoding="utf-8")
        for line in text.splitlines():
            kind = re.search(r'"kind":"([\w ]+)"', line)[1]
            found.add((kind, int(re.search(r'"format":(\d+)', line)[1])))
    assert found == set(MODELS)


def test_the_figures_of_format_1_read_as_they_were_written(tmp_path):
    path = shutil.copy(ROOT / "tests" / "data" / "logbook_format_1.sqlite", tmp_path)
    with Logbook.read(path) as book:
        cover, first, second, third, withdrawal, remark = (e.record for e in book.entries())
        assert cover.id == book.id == "818fdb1d-762e-4b7a-8fb9-4c2a8391aeb5"
    assert str(first.value_mm) == "12.339667"
    assert str(first.spec.upper_mm) == "0.100"
    assert [str(reading.value_mm) for reading in first.readings] == ["12.339", "12.340", "12.340"]
    assert bytes.fromhex(first.frames[0]) == b"+0012.339mm\r\n"
    assert (first.at.isoformat(), first.until_s) == ("2026-03-01T08:15:30.250000+00:00", 100.2)
    assert second.readings[0].value_mm == Decimal("0.485") * Decimal("25.4")
    assert (second.verdict.outcome, second.spec.upper_mm) == ("low", None)
    assert (third.rest_seen, third.spec, third.trigger) == (False, None, "data key")
    assert withdrawal.about == third.uid
    assert (remark.purpose, remark.text) == ("remark", "plunger cleaned")


def models_within(part):
    """Every model in an annotation, and in the fields of each."""
    if isinstance(part, type) and issubclass(part, BaseModel):
        yield part
        for field in part.model_fields.values():
            yield from models_within(field.annotation)
    for inner in get_args(part):
        yield from models_within(inner)


@pytest.mark.parametrize("model", MODELS.values(), ids=lambda model: model.__name__)
def test_the_page_names_every_field(model):
    for part in models_within(model):
        for name in part.model_fields:
            assert f"`{name}`" in PAGE, f"{part.__name__}.{name}"


EXAMPLES = [
    (command.replace("\n  ", "\n"), answer)
    for block in re.findall(r"```console\n(.*?)```", PAGE, re.DOTALL)
    for command, answer in re.findall(
        r"^\$ (.*(?:\n  .*)*)\n((?:(?!\$ ).*\n)*)", block, re.MULTILINE
    )
]


@pytest.fixture
def by_hand(tmp_path):
    for ending in ("sqlite", "jsonl"):
        shutil.copy(
            ROOT / "tests" / "data" / f"logbook_format_1.{ending}", tmp_path / f"book.{ending}"
        )
    return tmp_path


@pytest.mark.parametrize(("command", "answer"), EXAMPLES)
def test_the_worked_example_gives_what_the_page_says(by_hand, command, answer):
    missing = [tool for tool in ("bash", "sqlite3", "sha256sum", "sed") if not shutil.which(tool)]
    if missing:
        pytest.skip(f"not on this machine: {', '.join(missing)}")
    done = subprocess.run(["bash", "-c", command], cwd=by_hand, capture_output=True, text=True)
    assert (done.stdout, done.stderr) == (answer, "")


def test_the_worked_example_is_found_and_its_hash_is_the_sha256_of_the_bytes_it_names(by_hand):
    assert len(EXAMPLES) == 7
    line = (by_hand / "book.jsonl").read_text(encoding="utf-8").splitlines()[5]
    digest = hashlib.sha256(re.sub(r'"hash":"[0-9a-f]*",', "", line).encode()).hexdigest()
    assert PAGE.count(digest) == 3
