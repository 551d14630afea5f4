"""The bench page from the wire to a screen: what it shows, what it keeps, and how it ends."""

import re
import socket
import sys
import time
from datetime import UTC, datetime

import pytest

from daq.cli import main
from daq.cli.demo_lab import LABEL, demo_lab
from daq.jobs.keeping import jobs_in, kept_job
from daq.logbook import Logbook
from daq.logbook.job import JobException, JobGate
from simulated_devices import Bench
from tests.daq.jobs.test_job import SHEET
from tests.end_to_end.bench_page import DRAWN, Program, Screen, Terminal
from tests.end_to_end.road import captures_in, steady

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")

WANTED = ("--nominal", "12.30 mm", "--limits", "± 0.05 mm", "--source", "sheet 1")


def gauge_at(bench, name="gauge"):
    return f"decimal-line@{bench.ports[name]}"


def kept_uid(book):
    with Logbook.read(book) as reader:
        return reader.last().record.uid


def at_rest(state):
    return state["view"] is not None and state["view"]["at_rest"]


def test_a_value_comes_to_a_screen_is_captured_from_it_and_is_in_the_logbook(tmp_path):
    book = tmp_path / "a.logbook"
    with Bench({"gauge": (steady("decimal-line"), None)}) as bench:
        words = (gauge_at(bench), "--logbook", book, "--when", "key", *WANTED)
        with Program("live", *words, "--operator", "R. Ahlers", "--viewers") as program:
            hand, viewer = (Screen(each) for each in program.addresses(2))
            with hand.live(), viewer.live():
                view = hand.until_state(at_rest)["view"]
                assert view["digits"] == " +0.040"
                assert (view["nominal"], view["outcome"]) == ("12.300 mm", "in")

                viewer.receive()
                viewer.ask("capture")
                assert "only look" in viewer.refusal()
                hand.ask("capture")
                done = hand.until_state(lambda m: m["view"]["captured"] == 1)
                assert done["view"]["headline"]["texts"] == ["CAPTURED"]
                assert viewer.until_state(lambda m: m["view"]["captured"] == 1)

                (kept,) = captures_in(book)
                assert (kept.trigger, kept.operator) == ("key", "R. Ahlers")
                assert float(kept.value_mm) == pytest.approx(12.34, abs=0.001)
                status, _, body = hand.get(f"/api/record/{kept.uid}")
                assert (status, kept.uid in body.decode()) == (200, True)
                assert kept.uid in viewer.get("/api/records?kind=capture")[2].decode()

                status, *_ = program.stop()
                code, last = hand.closed()
                assert (code, last["kind"]) == (1001, "bye")
                assert "ended" in last["why"]
    assert status == 3
    with socket.create_server(("127.0.0.1", hand.parts.port)):
        pass  # the port is free again


def test_when_the_cable_is_pulled_the_number_goes_within_half_a_second_and_comes_back(tmp_path):
    with Bench({"gauge": (steady("decimal-line"), None)}) as bench:
        words = (gauge_at(bench), "--logbook", tmp_path / "a.logbook", *WANTED)
        with Program("live", *words) as program:
            (address,) = program.addresses()
            with Screen(address).live() as screen:
                screen.until_state(at_rest)
                bench.pull("gauge")
                pulled_s = time.monotonic()
                gone = screen.until_state(lambda m: m["view"]["digits"] is None)["view"]
                assert screen.came_s - pulled_s < 0.5
                assert (gone["fresh"], gone["deviation_mm"], gone["can_capture"]) == (
                    False, None, False,
                )  # fmt: skip
                screen.until_state(lambda m: m["view"]["link"] == "cable out")
                screen.ask("capture")
                screen.until_state(lambda m: "cable" in m["view"]["notice"])
                bench.plug_in("gauge")
                screen.until_state(at_rest)
            program.stop()


def test_of_two_gauges_the_one_that_a_screen_chooses_is_shown_and_captured_with(tmp_path):
    book = tmp_path / "a.logbook"
    gauges = {"one": (steady("decimal-line"), None), "two": (steady("decimal-line", 12.31), None)}
    with Bench(gauges) as bench:
        one, two = gauge_at(bench, "one"), gauge_at(bench, "two")
        words = (one, two, "--logbook", book, "--when", "key", *WANTED)
        with Program("live", *words) as program:
            (address,) = program.addresses()
            with Screen(address).live() as screen:
                state = screen.until_state(at_rest)
                assert (state["gauges"], state["gauge"]) == ([one, two], one)
                screen.ask("choose", gauge=two)
                state = screen.until_state(lambda m: m["gauge"] == two and at_rest(m))
                assert state["view"]["digits"] == " +0.010"
                screen.ask("capture")
                screen.until_state(lambda m: m["view"]["captured"] == 1)
                screen.ask("choose", gauge="three")
                assert "no such gauge" in screen.refusal()
                screen.ask("choose", gauge=one)
                state = screen.until_state(lambda m: m["gauge"] == one)
                assert state["view"]["captured"] == 0
            program.stop()
    assert [each.gauge.label for each in captures_in(book)] == [two]


def test_on_a_terminal_the_address_stands_until_somebody_comes_and_q_ends_it_all(tmp_path):
    with Bench({"gauge": (steady("decimal-line"), None)}) as bench, Terminal() as terminal:
        terminal.run(
            "live", gauge_at(bench), "--logbook", tmp_path / "a.logbook", "--listen", "127.0.0.1:0"
        )
        said = terminal.until(b"space bar")
        assert DRAWN not in said
        (address,) = re.findall(rb"http://[^ \r\n]+", said)
        with Screen(address.decode()).live() as screen:
            terminal.until(DRAWN)
            screen.until_state(at_rest)
            terminal.press(b"q")
            assert screen.closed()[0] == 1001
        assert terminal.ended() == 0


def test_in_a_network_a_terminal_shows_the_square_code_and_that_nothing_is_encrypted(tmp_path):
    with Bench({"gauge": (steady("decimal-line"), None)}) as bench, Terminal() as terminal:
        terminal.run(
            "live", gauge_at(bench), "--logbook", tmp_path / "a.logbook", "--listen", "0.0.0.0:0"
        )
        said = terminal.until(b"space bar").decode()
        assert "not encrypted" in said
        assert said.count("\u2588") > 100
        terminal.press(b" ")
        terminal.until(DRAWN)
        terminal.press(b"q")
        assert terminal.ended() == 0


def test_a_port_that_is_taken_is_said_with_what_to_do(tmp_path, capsys):
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        status = main(
            ["bench", "live", "decimal-line@/dev/none", "--logbook", str(tmp_path / "a.logbook"),
             "--listen", f"127.0.0.1:{port}"]
        )  # fmt: skip
    assert status == 3
    said = capsys.readouterr().err
    assert f"127.0.0.1:{port} already" in said
    assert f"--listen 127.0.0.1:{port + 1}" in said


def test_a_gauge_named_twice_is_refused(tmp_path, capsys):
    twice = ["decimal-line@/dev/none"] * 2
    assert main(["bench", "live", *twice, "--logbook", str(tmp_path / "a.logbook")]) == 2
    assert "named twice" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--listen", "bench-pc"), "no address"),
        (("--listen", ":x"), "port must be"),
        (("--tls-cert", __file__), "--tls-key"),
        (("--tls-cert", __file__, "--tls-key", __file__), "no certificate"),
        (("--host", "http://bench"), "no host name"),
        (("--although", "it is all there is"), "--operator"),
    ],
)
def test_options_that_will_not_do_are_refused_before_anything_is_opened(
    tmp_path, capsys, more, words
):
    asked = ["bench", "live", "decimal-line@/dev/none", "--logbook", str(tmp_path / "a.logbook")]
    assert main([*asked, *more]) in (2, 3)
    assert words in capsys.readouterr().err


def test_a_job_is_walked_through_from_a_screen(tmp_path):
    (tmp_path / "two.toml").write_bytes(SHEET)
    book = tmp_path / "a.logbook"
    gauges = {"one": (steady("decimal-line"), None), "two": (steady("decimal-line"), None)}
    with Bench(gauges) as bench:
        words = (
            tmp_path / "two.toml", "--logbook", book, "--engine", "aux 2", "--operator",
            "R. Ahlers", "--gauge", f"rack={gauge_at(bench, 'one')}", "--gauge",
            f"rocker={gauge_at(bench, 'two')}",
        )  # fmt: skip
        with Program("job", *words) as program:
            (address,) = program.addresses()
            with Screen(address).live() as one, Screen(address).live() as two:
                plate = one.until_state(lambda m: m["job"] is not None)
                assert (plate["work"], plate["job"]["sign"]) == ("job", "plate")
                two.until_state(lambda m: m["job"] is not None)
                # Both press at the same task: it is answered once.
                one.ask("go")
                two.ask("go")
                one.until_state(lambda m: m["job"]["sign"] == "cautions")
                assert "gone on" in two.refusal()
                one.ask("go")
                step = one.until_state(lambda m: m["job"]["sign"] == "step")
                assert step["gauges"] == [gauge_at(bench, "one"), gauge_at(bench, "two")]
                one.ask("go")
                one.until_state(lambda m: m["job"]["sign"] == "crank")
                one.ask("go")
                measured = one.until_state(lambda m: m["view"] is not None)
                assert measured["view"]["gauge"] == gauge_at(bench, "one")
                one.ask("skip")
                assert "reason is needed" in one.refusal()
                one.ask("adjusted", reason="nut")
                assert "calibration only" in one.refusal()
                pages = ("/", "/job", "/calibration", "/logbook", f"/record/{kept_uid(book)}")
                assert [one.get(each)[0] for each in pages] == [200] * len(pages)
                status, _, drawing = one.get("/api/engine.svg")
                assert (status, b"<svg" in drawing) == (200, True)
                program.stop()
                assert one.closed()[0] == 1001
    with Logbook.read(book) as reader:
        (begun,) = jobs_in(reader)
        job = kept_job(reader, begun.uid)
    gates = [each for each in job.records if isinstance(each, JobGate)]
    assert [each.gate for each in gates] == ["plate", "cautions", "step", "crank"]
    assert [each.operator for each in gates] == ["R. Ahlers"] * 4
    assert not [each for each in job.records if isinstance(each, JobException)]


def test_a_calibration_is_begun_from_a_screen(tmp_path):
    book, lab, now = tmp_path / "a.logbook", demo_lab(datetime.now(UTC).date()), datetime.now(UTC)
    standard, gauge = lab.entries(now)
    with Logbook.open(book) as logbook:
        logbook.append_many([standard, gauge])
    with Bench({LABEL: (steady(gauge.profile, 0.0), None)}) as bench:
        words = (
            LABEL, "--logbook", book, "--operator", "M. Lind", "--standard", standard.id,
            "--port", bench.ports[LABEL],
        )  # fmt: skip
        with Program("calibrate", *words) as program:
            (address,) = program.addresses()
            with Screen(address).live() as screen:
                state = screen.until_state(lambda m: m["calibration"] is not None)
                assert (state["work"], state["gauge"]) == ("calibration", LABEL)
                assert state["calibration"]["kind"] == "conditions"
                screen.ask("go")
                assert "temperature" in screen.refusal()
                screen.ask("go", figures=["20.1"])
                point = screen.until_state(lambda m: m["calibration"]["kind"] == "point")
                assert point["view"]["gauge"] == LABEL
                screen.ask("stand", reason="r", by="b")
                assert "job only" in screen.refusal()
            program.stop()
    with Logbook.read(book) as reader:
        (gate,) = [each.record for each in reader.entries(kind="calibration gate")]
    assert (gate.gate, str(gate.temperature_c), gate.operator) == ("conditions", "20.1", "M. Lind")
