"""Profiles by name and by path: the built-in ones, the user's own, any file."""

import pytest

from drivers.errors import ProfileError, RestpointError, UnknownProfileError
from drivers.profiles import (
    builtin_names,
    builtin_profiles,
    load_profile,
    profile_text,
    user_folder,
    user_names,
)
from tests.drivers.wire_tools import NAMES


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """The user's folder of profiles, empty and out of the real user's way."""
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    found = user_folder()
    assert tmp_path in found.parents
    found.mkdir(parents=True)
    return found


def own_profile(name: str) -> str:
    return profile_text("decimal-line")[1].replace('"decimal-line"', f'"{name}"')


def test_the_built_in_profiles_are_named_for_their_layouts():
    assert tuple(NAMES) == builtin_names()
    assert len(NAMES) >= 8
    assert [load_profile(name) for name in NAMES] == list(builtin_profiles())


def test_the_users_own_profiles_are_found_by_name(folder):
    assert user_names() == ()
    (folder / "my-gauge.toml").write_text(own_profile("my-gauge"), "utf-8")
    assert user_names() == ("my-gauge",)
    assert load_profile("my-gauge").name == "my-gauge"


def test_a_folder_that_is_not_there_holds_no_profiles(folder):
    folder.rmdir()
    assert user_names() == ()
    assert load_profile("decimal-line").name == "decimal-line"


def test_a_profile_is_found_by_path_wherever_it_lies(folder, tmp_path):
    file = tmp_path / "anything.toml"
    file.write_text(own_profile("my-gauge"), "utf-8")
    assert load_profile(str(file)).name == "my-gauge"


def test_a_users_profile_must_not_take_the_name_of_a_built_in_one(folder):
    """Names stand in logbooks: one name, one layout, for ever."""
    (folder / "decimal-line.toml").write_text(own_profile("decimal-line"), "utf-8")
    with pytest.raises(ProfileError, match="has the name of a built-in profile; give it another"):
        load_profile("decimal-line")


def test_a_file_whose_name_and_content_disagree_is_refused(folder):
    (folder / "left.toml").write_text(own_profile("right"), "utf-8")
    with pytest.raises(ProfileError, match=r"left\.toml:1: name: is 'right'.*says 'left'"):
        load_profile("left")


def test_an_unknown_name_is_answered_with_the_known_ones(folder):
    (folder / "my-gauge.toml").write_text(own_profile("my-gauge"), "utf-8")
    with pytest.raises(UnknownProfileError) as caught:
        load_profile("decimal-lines")
    assert caught.value.name == "decimal-lines"
    assert caught.value.known == tuple(sorted([*NAMES, "my-gauge"]))
    assert "decimal-line, " in str(caught.value)
    assert isinstance(caught.value, RestpointError)


@pytest.mark.parametrize(
    "name", ["", "../decimal-line", "decimal-line/", "a b", "DECIMAL-LINE", "\x00"]
)
def test_odd_names_are_unknown_and_nothing_worse(folder, name):
    with pytest.raises(UnknownProfileError):
        load_profile(name)


def test_a_file_that_is_not_there_says_so(tmp_path):
    with pytest.raises(ProfileError, match="cannot be read: No such file"):
        load_profile(str(tmp_path / "nothing.toml"))


def test_a_folder_is_no_file(tmp_path):
    (tmp_path / "folder.toml").mkdir()
    with pytest.raises(ProfileError, match="cannot be read"):
        load_profile(str(tmp_path / "folder.toml"))


def test_a_file_in_another_encoding_says_how_to_save_it(tmp_path):
    file = tmp_path / "my-gauge.toml"
    file.write_bytes(own_profile("my-gauge").replace("digits", "µm").encode("latin-1"))
    with pytest.raises(ProfileError, match="is not UTF-8 text; save it as UTF-8"):
        load_profile(str(file))


@pytest.mark.parametrize(("mark", "end"), [("\ufeff", "\n"), ("", "\r\n"), ("\ufeff", "\r\n")])
def test_files_saved_by_other_systems_editors_are_read(tmp_path, mark, end):
    file = tmp_path / "my-gauge.toml"
    text = mark + own_profile("my-gauge").replace("\n", end)
    file.write_bytes(text.encode("utf-8"))
    assert load_profile(str(file)).name == "my-gauge"
    file.write_bytes(text.replace("baud = 9600", "baud = 1").encode("utf-8"))
    with pytest.raises(ProfileError, match=r"my-gauge\.toml:8: serial\.baud: 1 must be"):
        load_profile(str(file))
