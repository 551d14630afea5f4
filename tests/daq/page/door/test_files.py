"""Files are found by their exact name in a table made at the start, and in no other way."""

import re

import pytest

from daq.page.door.files import TYPES, Files, is_served

TRAVERSALS = [
    "../secret.html",
    "..\\secret.html",
    "%2e%2e/secret.html",
    "%2e%2e%2fsecret.html",
    "%252e%252e%252fsecret.html",
    "..%c0%afsecret.html",
    "/secret.html",
    "./index.html",
    "index.html/",
    "index.html\x00",
    "index.html\x00.css",
    "index.html ",
    "index.html.",
    "INDEX.HTML",
    "index.html::$DATA",
    "below/inner.html",
    "",
    ".",
    "..",
]


@pytest.fixture
def folder(tmp_path):
    place = tmp_path / "static"
    (place / "below").mkdir(parents=True)
    (tmp_path / "secret.html").write_text("secret")
    (place / "below" / "inner.html").write_text("inner")
    for name in ("index.html", "live.js", "style.css", "icon.svg", "notes.txt", ".hidden.js"):
        (place / name).write_text(f"this is {name}")
    return place


def test_every_file_is_answered_with_its_type(folder):
    files = Files.read(folder)
    assert files.names == ("icon.svg", "index.html", "live.js", "style.css")
    for name in files.names:
        answer = files.get(name).answer()
        assert answer.status == 200
        assert answer.body == f"this is {name}".encode()
        assert answer.headers["content-type"] == TYPES[name.rpartition(".")[2]]


@pytest.mark.parametrize("name", TRAVERSALS)
def test_no_other_name_finds_anything(folder, name):
    assert Files.read(folder).get(name) is None


def test_the_disk_is_not_read_again(folder):
    files = Files.read(folder)
    (folder / "index.html").write_text("changed")
    (folder / "new.js").write_text("new")
    assert files.get("index.html").answer().body == b"this is index.html"
    assert files.get("new.js") is None


def test_a_browser_that_has_the_file_is_told_so(folder):
    file = Files.read(folder).get("live.js")
    etag = file.answer().headers["etag"]
    assert re.fullmatch(r'"[0-9a-f]{32}"', etag)
    for header in (etag, f"W/{etag}", f'"other", {etag}'):
        answer = file.answer(header)
        assert (answer.status, answer.body, answer.headers["etag"]) == (304, b"", etag)
    for header in ('"other"', "", etag[1:-1]):
        assert file.answer(header).status == 200


def test_another_content_has_another_tag(folder):
    before = Files.read(folder).get("live.js").etag
    (folder / "live.js").write_text("changed")
    assert Files.read(folder).get("live.js").etag != before


@pytest.mark.parametrize(
    "name", ["live.js~", ".live.js.swp", "live.py", "README", "a b.js", "é.js"]
)
def test_what_an_editor_or_a_mistake_leaves_is_not_served(name):
    assert not is_served(name)


def test_the_package_has_its_own_page():
    assert "style.css" in Files.read().names
