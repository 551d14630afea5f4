"""Everything that reads what somebody else wrote, with sound inputs to begin from."""

import io
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from daq.audit.intake import open_source
from daq.audit.intake.mapping import mapping_from
from daq.audit.rules.loading import rule_from
from daq.calibration.budget_file import budget_from_bytes
from daq.calibration.expression import expression_from
from daq.calibration.plan_file import plan_from_bytes
from daq.calibration.register_file import register_from_bytes
from daq.calibration.study.guided_plan import study_plan_from_bytes
from daq.calibration.study.table import read_table
from daq.jobs.engine_file import engine_from_toml
from daq.jobs.sheet.sheet_file import sheet_from_bytes
from daq.logbook.checkpoint import read_vouching
from daq.logbook.records import record_from
from daq.page.door.address import listen_from
from daq.page.messages import wish_from
from daq.report.certificate.laboratory import laboratory_from_bytes
from daq.report.dcc.stated import stated_from_bytes
from drivers.decoder import Decoder
from drivers.profile import GaugeProfile
from drivers.profiles import builtin_profiles
from drivers.reading import Shown
from drivers.toml_form import check_toml
from drivers.trace import read_trace
from simulated_devices.scenario import load_scenario
from tests.daq.audit.intake.foreign import csv_text, points_mapping, row

ROOT = Path(__file__).parents[2]


@dataclass(frozen=True)
class Parser:
    """A way in: what reads, and sound inputs."""

    name: str
    read: Callable[[bytes], object]
    seeds: tuple[bytes, ...]


def _files(pattern):
    found = tuple(path.read_bytes() for path in sorted(ROOT.glob(pattern)))
    assert found, pattern
    return found


def _text(read):
    return lambda data: read(data.decode("utf-8", "replace"))


def _frames(data):
    for profile in builtin_profiles():
        decoder = Decoder(profile)
        for place in range(0, len(data), 37):
            decoder.receive(data[place : place + 37], place / 1000)


def _log_of_others(folder, ending, **options):
    """Reads a foreign log with its mapping, all rows of it; rejects it row by row."""
    mapping = points_mapping(files=f"*{ending}", format=ending[1:], **options)
    place = Path(folder) / f"log{ending}"

    def from_file(data):
        place.mkdir(exist_ok=True)
        (place / f"a{ending}").write_bytes(data)
        with open_source([place], mapping) as source:
            for block in source.blocks("points", ("indicated_nm", "at_us")):
                block["indicated_nm"].sum()

    return from_file


def _records():
    exported = ROOT.glob("tests/data/logbook_format_*.jsonl")
    lines = [line for path in sorted(exported) for line in path.read_bytes().splitlines()]
    return tuple(line.partition(b'"record":')[2].rpartition(b',"sequence"')[0] for line in lines)


def _documented(page, begin):
    """The TOML blocks of a page that begin so, as sound as the page is."""
    blocks = (ROOT / "docs" / page).read_text("utf-8").split("```toml")[1:]
    found = [block.partition("\n")[2].partition("```")[0].encode() for block in blocks]
    assert any(begin in block for block in found), page
    return tuple(found)


SHEETS = (
    *_files("daq/jobs/sheets/*.toml"),
    *_files("tests/daq/jobs/sheet/*.toml"),
    *_files("tests/daq/report/*.toml"),
)
ENGINES = tuple(
    sheet[sheet.index(b"[engine]") :].partition(b"\n[[variants]]")[0] for sheet in SHEETS[:1]
)
WISHES = (
    b'{"v":1,"do":"capture"}',
    b'{"v":1,"do":"skip","reason":"no cover","n":4}',
    b'{"v":1,"do":"withdraw","uid":"8d0f4c1e-77a2-4b0d-9a54-0a6f1f6f2c11","figures":["-1.25","3"]}',
)
TRACES = (
    b"t_s,bytes\n5.25,2b303031322e333435206d6d0d0a\n6.5,opened\n7,lost\n",
    b"t_s,value,unit\n5.25,12.345,mm\n5.35,12.346,mm\n",
)
FORMULAS = (b"a + b * (c - 2) / d", b"-(x + 1.5e-3) * y", b"l * alpha * (t - 20)")
TABLE = b"part,operator,trial,value\n1,A,1,12.31\n1,A,2,12.32\n2,B,1,12.29\n"
CHECKPOINT = (
    b'{"at":"2026-03-01T08:15:30.250000Z","follows":null,"format":1,"kind":"checkpoint",'
    b'"logbook":"818fdb1d-762e-4b7a-8fb9-4c2a8391aeb5","records":6,"root":"' + b"5f" * 32 + b'"}\n'
)


ROWS = [row(number, reading=f"5.00{number}") for number in range(1, 6)]
FOREIGN = csv_text(ROWS).encode()
FOREIGN_LINES = "".join(json.dumps(each) + "\n" for each in ROWS).encode()


def parsers(folder):
    """All of them; those that read a file write it to ``folder`` first."""

    def filed(read, name):
        path = Path(folder) / name

        def from_file(data):
            path.write_bytes(data)
            return read(path)

        return from_file

    profiles = _files("drivers/profiles/*.toml")
    frames = tuple(
        profile.encode(Shown(profile.resolution[unit] * 1234, unit, label="01", sequence=7))
        for profile in builtin_profiles()
        for unit in profile.resolution
    )
    return (
        Parser("frames", _frames, frames),
        Parser("profile", _text(lambda t: check_toml(t, "x", GaugeProfile)), profiles),
        Parser("sheet", lambda data: sheet_from_bytes(data, "x"), SHEETS),
        Parser("engine", _text(lambda t: engine_from_toml(t, "x")), ENGINES),
        Parser(
            "calibration plan",
            lambda data: plan_from_bytes(data, "x"),
            _documented("calibrating.md", b"[plan]"),
        ),
        Parser(
            "study plan",
            lambda data: study_plan_from_bytes(data, "x"),
            _documented("studies.md", b"[study]"),
        ),
        Parser(
            "budget", lambda data: budget_from_bytes(data, "x"), _documented("budgets.md", b"[")
        ),
        Parser(
            "register",
            lambda data: register_from_bytes(data, "x"),
            _files("tests/daq/calibration/register.toml"),
        ),
        Parser(
            "laboratory",
            lambda data: laboratory_from_bytes(data, "x"),
            _documented("certificate.md", b"="),
        ),
        Parser("stated", lambda data: stated_from_bytes(data, "x"), _documented("dcc.md", b"=")),
        Parser("formula", _text(expression_from), FORMULAS),
        Parser("study table", _text(lambda t: read_table(t, "x")), (TABLE,)),
        Parser("scenario", filed(load_scenario, "x.toml"), _files("simulated_devices/scenarios/*")),
        Parser("audit rule", lambda data: rule_from(data, "x"), _files("daq/audit/rules/*.toml")),
        Parser("mapping", lambda data: mapping_from(data, "x"), _files("tests/daq/audit/*.toml")),
        Parser("log of others, CSV", _log_of_others(folder, ".csv"), (FOREIGN,)),
        Parser("log of others, JSON lines", _log_of_others(folder, ".jsonl"), (FOREIGN_LINES,)),
        Parser("trace", _text(lambda t: list(read_trace(io.StringIO(t), "x"))), TRACES),
        Parser("logbook record", _text(record_from), _records()),
        Parser("checkpoint", filed(read_vouching, "x.checkpoint"), (CHECKPOINT,)),
        Parser("message of a screen", wish_from, WISHES),
        Parser("address", _text(listen_from), (b"127.0.0.1:8080", b"[::1]:80", b"bench.local")),
    )
