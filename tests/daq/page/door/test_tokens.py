"""The right token brings its role, and a cookie that holds for a day and says nothing of it."""

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daq.page.door.errors import TokenError
from daq.page.door.tokens import COOKIE_LIFE_S, Cookies, Tokens, new_token

HAND, VIEWER = "hand-token-hand-token", "viewer-token-viewer-t"
TOKENS = Tokens(HAND, VIEWER)
NOW_S = 1_800_000_000.0


def cookie_of(role, tokens=TOKENS, port=8420, now_s=NOW_S, tls=False):
    return Cookies(tokens, port, tls=tls).made(role, now_s).partition(";")[0]


def role_of(*headers, tokens=TOKENS, port=8420, now_s=NOW_S, tls=False):
    return Cookies(tokens, port, tls=tls).role_of(headers, now_s)


def test_each_token_brings_its_role():
    assert (TOKENS.role_of(HAND), TOKENS.role_of(VIEWER)) == ("hand", "viewer")


@pytest.mark.parametrize(
    "shown", ["", HAND[:-1], HAND + "x", HAND.upper(), f" {HAND}", "é" * 20, "\ud800", "None"]
)
def test_nothing_else_brings_any(shown):
    assert TOKENS.role_of(shown) is None
    assert Tokens(HAND).role_of(shown) is None


@given(st.text(max_size=200))
def test_no_text_is_a_token_by_chance(shown):
    assert TOKENS.role_of(shown) is None


def test_without_a_token_for_viewers_there_are_none():
    assert Tokens(HAND).role_of(VIEWER) is None
    assert Tokens.made().viewer is None
    assert role_of(cookie_of("viewer"), tokens=Tokens(HAND)) is None


def test_made_tokens_are_new_each_time_and_have_192_bits():
    made = {new_token() for _ in range(100)}
    assert len(made) == 100
    assert all(re.fullmatch(r"[A-Za-z0-9_-]{32}", each) for each in made)
    both = Tokens.made(viewers=True)
    assert both.hand != both.viewer


@pytest.mark.parametrize(
    "token", ["", "short", "x" * 15, "x" * 129, "with a blank in it!", "schraubenzieher-ä"]
)
def test_a_token_that_cannot_serve_is_refused_and_not_repeated(token):
    for given_tokens in ({"hand": token}, {"hand": HAND, "viewer": token}):
        with pytest.raises(TokenError) as caught:
            Tokens(**given_tokens)
        assert "16 to 128" in str(caught.value)
        assert not token or token not in str(caught.value)


def test_one_token_cannot_serve_for_both():
    with pytest.raises(TokenError, match="two different ones"):
        Tokens(HAND, HAND)


def test_tokens_do_not_show_in_what_a_traceback_prints():
    assert HAND not in repr(TOKENS)
    assert VIEWER not in repr(TOKENS)


@pytest.mark.parametrize("role", ["hand", "viewer"])
def test_a_cookie_brings_its_role(role):
    assert role_of(cookie_of(role)) == role
    assert role_of(f"a=1; {cookie_of(role)}; b=2") == role
    assert role_of("a=1", cookie_of(role)) == role


def test_a_cookie_has_no_part_of_the_token_and_no_script_can_read_it():
    said = Cookies(TOKENS, 8420, tls=False).made("hand", NOW_S)
    assert not any(HAND[at : at + 6] in said for at in range(len(HAND) - 6))
    value, *attributes = said.split("; ")
    assert value.startswith("restpoint-8420=")
    assert set(attributes) == {
        f"Max-Age={COOKIE_LIFE_S}",
        "Path=/",
        "HttpOnly",
        "SameSite=Strict",
    }


def test_under_tls_a_cookie_is_for_tls_and_this_host_alone():
    said = Cookies(TOKENS, 8420, tls=True).made("hand", NOW_S)
    assert said.startswith("__Host-restpoint-8420=")
    assert "; Secure" in said
    assert role_of(cookie_of("hand"), tls=True) is None


def test_a_cookie_ends_after_a_day():
    cookie = cookie_of("hand")
    assert role_of(cookie, now_s=NOW_S + COOKIE_LIFE_S - 1) == "hand"
    assert role_of(cookie, now_s=NOW_S + COOKIE_LIFE_S) is None


def test_a_cookie_outlives_the_program_and_dies_with_its_token():
    assert role_of(cookie_of("hand"), tokens=Tokens(HAND, "viewer-token-another")) == "hand"
    assert role_of(cookie_of("hand"), tokens=Tokens("hand-token-another-one", VIEWER)) is None
    assert role_of(cookie_of("viewer"), tokens=Tokens(HAND, "viewer-token-another")) is None


def test_the_cookie_of_another_port_is_another():
    assert role_of(cookie_of("hand", port=8421)) is None


def changed(cookie):
    """The cookie with each of its signs changed in turn, and the plain forgeries."""
    name, _, value = cookie.partition("=")
    for at in range(len(value)):
        yield f"{name}={value[:at]}{'0' if value[at] != '0' else '1'}{value[at + 1 :]}"
    yield f"{name}={value.replace('viewer', 'hand')}"
    yield f"{name}={value}x"
    yield f"{name}="
    yield f"{name}=hand"
    yield f'{name}="{value}"'


def test_a_changed_cookie_brings_nothing():
    assert all(role_of(each) is None for each in changed(cookie_of("viewer")))


def test_a_cookie_put_beside_the_right_one_does_not_take_it_away():
    """Another page on this machine can set cookies of any name."""
    right, other = cookie_of("hand"), cookie_of("viewer")
    assert role_of(f"restpoint-8420=x; {other}; {right}") == "hand"
    assert role_of(f"{right}; restpoint-8420=x") == "hand"


@given(st.lists(st.text(max_size=200), max_size=4))
def test_no_cookie_header_makes_it_fail(headers):
    assert role_of(*headers, *(f"restpoint-8420={each}" for each in headers)) is None
