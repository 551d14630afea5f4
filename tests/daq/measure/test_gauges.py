"""A gauge is named by its label, or by its profile and port."""

import pytest

from daq.measure.errors import GaugeError
from daq.measure.gauges import find_gauge
from drivers.errors import UnknownProfileError

FILE = """\
[[gauges]]
label = "DI-07"
profile = "decimal-line"
port = "usb:1209:0001:K4711"
"""


@pytest.fixture
def file(tmp_path):
    path = tmp_path / "gauges.toml"
    path.write_text(FILE)
    return path


def test_a_label_brings_its_profile_and_port(file):
    gauge = find_gauge("DI-07", file)
    assert (gauge.label, gauge.profile.name, gauge.port) == (
        "DI-07",
        "decimal-line",
        "usb:1209:0001:K4711",
    )


def test_profile_and_port_need_no_file(tmp_path):
    gauge = find_gauge("counts-sum@socket://127.0.0.1:5000", tmp_path / "none.toml")
    assert (gauge.profile.name, gauge.port) == ("counts-sum", "socket://127.0.0.1:5000")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("DI-08", "There is no gauge 'DI-08'. Known: DI-07"),
        ("@/dev/ttyUSB0", "is not PROFILE@PORT"),
        ("decimal-line@", "is not PROFILE@PORT"),
    ],
)
def test_a_gauge_that_is_not_there_is_refused_with_what_there_is(file, text, words):
    with pytest.raises(GaugeError, match=words):
        find_gauge(text, file)


def test_a_profile_that_is_not_there_is_refused(file):
    with pytest.raises(UnknownProfileError):
        find_gauge("no-such@/dev/ttyUSB0", file)


def test_mistakes_in_the_file_are_named_by_line(file):
    file.write_text(FILE.replace("port =", "prot =").replace("DI-07", ""))
    with pytest.raises(GaugeError) as caught:
        find_gauge("DI-07", file)
    said = str(caught.value)
    assert f"{file}:4:" in said
    assert f"{file}:2:" in said


def test_one_label_for_two_gauges_is_refused(file):
    file.write_text(FILE * 2)
    with pytest.raises(GaugeError, match="'DI-07' stands twice"):
        find_gauge("DI-07", file)
