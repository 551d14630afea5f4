"""A certificate that browsers would not take is refused before the page starts, in words."""

from datetime import UTC, datetime

import pytest

from daq.page.door.certificate import checked_certificate
from daq.page.door.errors import CertificateError

from .pairs import MISSING, OPENSSL, make_pair, run

pytestmark = pytest.mark.skipif(OPENSSL is None, reason=MISSING)

NAMES = "DNS:bench-pc.example, DNS:*.workshop.example, IP:192.168.1.20, IP:fd00::20"


@pytest.fixture(scope="module")
def pair(tmp_path_factory):
    return make_pair(tmp_path_factory.mktemp("pair") / "one", names=NAMES)


@pytest.fixture(scope="module")
def other(tmp_path_factory):
    return make_pair(tmp_path_factory.mktemp("pair") / "other")


def test_a_good_pair_says_how_long_it_holds_and_for_whom(pair):
    known = checked_certificate(*pair)
    assert known.ends == datetime(2099, 12, 31, tzinfo=UTC)
    assert known.notes == ()


@pytest.mark.parametrize(
    ("host", "is_covered"),
    [
        ("bench-pc.example", True),
        ("Bench-PC.example.", True),
        ("tablet.workshop.example", True),
        ("a.b.workshop.example", False),
        ("workshop.example", False),
        ("192.168.1.20", True),
        ("192.168.1.21", False),
        ("fd00:0::20", True),
        ("localhost", False),
        ("no host", False),
    ],
)
def test_it_is_known_which_hosts_it_covers(pair, host, is_covered):
    assert checked_certificate(*pair).covers(host) is is_covered


def test_a_key_of_another_certificate_is_refused(pair, other):
    with pytest.raises(CertificateError, match="does not belong to the certificate"):
        checked_certificate(pair[0], other[1])


def test_one_that_has_ended_is_refused(tmp_path):
    pair = make_pair(tmp_path / "old", begins="20200101000000Z", ends="20200201000000Z")
    with pytest.raises(CertificateError, match="has ended"):
        checked_certificate(*pair)


def test_one_that_does_not_hold_yet_is_refused(tmp_path):
    pair = make_pair(tmp_path / "new", begins="20980101000000Z")
    with pytest.raises(CertificateError, match="does not hold yet"):
        checked_certificate(*pair)


def test_a_file_that_is_not_there_is_named(pair, tmp_path):
    with pytest.raises(CertificateError, match=r"certificate file .*none\.pem cannot be read"):
        checked_certificate(tmp_path / "none.pem", pair[1])
    with pytest.raises(CertificateError, match=r"key file .*none\.pem cannot be read"):
        checked_certificate(pair[0], tmp_path / "none.pem")


def test_a_folder_is_no_file(pair, tmp_path):
    with pytest.raises(CertificateError, match="cannot be read"):
        checked_certificate(tmp_path, pair[1])


def test_files_of_another_kind_are_refused(pair, tmp_path):
    text = tmp_path / "text.pem"
    text.write_text("no certificate")
    for cert, key in ((text, pair[1]), (pair[0], text), (pair[1], pair[0])):
        with pytest.raises(CertificateError, match="in PEM form"):
            checked_certificate(cert, key)


def test_a_key_with_a_password_is_refused_and_nobody_is_asked_for_it(pair, tmp_path):
    locked = tmp_path / "locked.pem"
    run("pkey", "-in", pair[1], "-aes256", "-passout", "pass:word", "-out", locked)
    with pytest.raises(CertificateError, match="has a password"):
        checked_certificate(pair[0], locked)


def test_what_does_not_hinder_is_noted(tmp_path):
    cert, key = make_pair(tmp_path / "loose", names="")
    key.chmod(0o644)
    notes = checked_certificate(cert, key, now=lambda: datetime(2099, 12, 25, tzinfo=UTC)).notes
    assert [note.split()[0:3] for note in notes] == [
        ["The", "certificate", "ends"],
        ["The", "certificate", "names"],
        ["Everybody", "on", "this"],
    ]
