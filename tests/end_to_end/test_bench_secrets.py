"""What opens the door of the bench page stands in no file and in no line but its address."""

import http.client
import sys

import pytest

from simulated_devices import Bench
from tests.end_to_end.bench_page import Program, Screen
from tests.end_to_end.road import captures_in, steady

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="no pseudo-terminals")

WANTED = ("--nominal", "12.30 mm", "--limits", "± 0.05 mm", "--source", "sheet 1")


def asked_by_a_stranger(screen, path):
    """The status of an answer to somebody without a cookie, whose token is a letter too long."""
    connection = http.client.HTTPConnection(screen.parts.netloc, timeout=15)
    connection.request("GET", path)
    status = connection.getresponse().status
    connection.close()
    return status


def test_token_and_cookie_are_in_no_record_no_trace_and_no_log(tmp_path):
    book, trace = tmp_path / "a.logbook", tmp_path / "raw.csv"
    with Bench({"gauge": (steady("decimal-line"), None)}) as bench:
        words = (f"decimal-line@{bench.ports['gauge']}", "--logbook", book, "--trace", trace)
        with Program("live", *words, "--when", "key", *WANTED, "--viewers") as program:
            hand, viewer = (Screen(each) for each in program.addresses(2))
            assert asked_by_a_stranger(hand, f"/?{hand.parts.query}x") == 401
            with hand.live(), viewer.live():
                hand.until_state(lambda m: m["view"] is not None and m["view"]["at_rest"])
                hand.ask("capture")
                hand.until_state(lambda m: m["view"]["captured"] == 1)
            _, out, errors = program.stop()
    assert len(captures_in(book)) == 1
    secrets = [screen.parts.query.partition("=")[2] for screen in (hand, viewer)]
    secrets += [screen.cookie.partition("=")[2] for screen in (hand, viewer)]
    assert all(len(secret) > 20 for secret in secrets)
    files = {each.name: each.read_bytes() for each in tmp_path.iterdir()}
    assert {"a.logbook", "raw.csv"} <= files.keys()
    files["printed after the addresses"] = (out + errors).encode()
    for name, content in files.items():
        for secret in secrets:
            assert secret.encode() not in content, name
