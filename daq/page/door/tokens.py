"""The two tokens, and the cookies made from them.

Who shows the token is given a cookie, and the token is not asked for again. The cookie holds no
part of the token: it says a role and a time, and carries the seal (HMAC-SHA-256, RFC 2104) of a key
that is derived from the token. So nothing is kept of who came in, a restart with the same token
leaves the screens as they are, and another token ends every cookie of the one before.
"""

import hashlib
import hmac
import re
import secrets
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

from daq.page.door.errors import TokenError

Role = Literal["hand", "viewer"]
"""``hand`` captures and answers; ``viewer`` looks on."""

ROLES: tuple[Role, ...] = ("hand", "viewer")

COOKIE_LIFE_S = 24 * 3600
"""How long a cookie holds, in seconds: a day, so that no shift has to sign in twice."""

MOST_TOKEN = 128
_TOKEN = re.compile(rf"[A-Za-z0-9_-]{{16,{MOST_TOKEN}}}")
_COOKIE = re.compile(r"(hand|viewer)\.([0-9]{1,12})\.([0-9a-f]{64})")
_MOST_COOKIES = 8


def new_token() -> str:
    """A token of 192 random bits, fit for an address."""
    return secrets.token_urlsafe(24)


@dataclass(frozen=True, slots=True)
class Tokens:
    """What opens the door.

    Args:
        hand: the token of those who may act.
        viewer: the token of those who may look; None: nobody may only look.

    Raises:
        TokenError: a token is too short, has other characters, or both are the same.
    """

    hand: str = field(repr=False)
    viewer: str | None = field(default=None, repr=False)

    def __post_init__(self) -> None:
        for role in ROLES:
            token = self.of(role)
            if token is not None and not _TOKEN.fullmatch(token):
                raise TokenError(
                    f"The token for the {role} cannot be used. It needs 16 to {MOST_TOKEN} of "
                    "these: letters A to Z, digits, - and _. Without one, a good one is made."
                )
        if self.hand == self.viewer:
            raise TokenError(
                "The tokens for hand and viewer are the same. Give two different ones."
            )

    @classmethod
    def made(cls, *, viewers: bool = False) -> "Tokens":
        """New tokens.

        Args:
            viewers: whether somebody may only look.
        """
        return cls(new_token(), new_token() if viewers else None)

    def of(self, role: Role) -> str | None:
        """The token that brings ``role``."""
        return self.hand if role == "hand" else self.viewer

    def role_of(self, shown: str) -> Role | None:
        """The role that ``shown`` brings; None if it is no token of ours.

        Takes as long for a wrong token as for a right one, and for one that is nearly right.
        """
        digest = _digest(shown)
        fits = {role: _is_same(digest, self.of(role)) for role in ROLES}
        return next((role for role in ROLES if fits[role]), None)


def _is_same(digest: bytes, token: str | None) -> bool:
    same = hmac.compare_digest(digest, _digest(token or ""))
    return same and token is not None


def _digest(text: str) -> bytes:
    return hashlib.sha256(text.encode("utf-8", "surrogatepass")).digest()


class Cookies:
    """Makes and reads the cookies of one page.

    Args:
        tokens: what opens the door.
        port: the page's port. It stands in the cookie's name, since cookies know no ports and
            two pages on one machine would take each other's away.
        tls: whether the page is served by TLS.
    """

    def __init__(self, tokens: Tokens, port: int, *, tls: bool) -> None:
        self._keys: dict[str, bytes] = {
            role: _key(token) for role in ROLES if (token := tokens.of(role)) is not None
        }
        self._tls = tls
        # A cookie of this prefix is taken by TLS alone, and for one host (RFC 6265bis).
        self.name = f"{'__Host-' if tls else ''}restpoint-{port}"

    def made(self, role: Role, now_s: float) -> str:
        """The header Set-Cookie for somebody of ``role``.

        Args:
            role: what they may do.
            now_s: the time, in seconds since 1970.
        """
        ends = int(now_s) + COOKIE_LIFE_S
        value = f"{role}.{ends}.{self._seal(role, ends)}"
        secure = "; Secure" if self._tls else ""
        return (
            f"{self.name}={value}; Max-Age={COOKIE_LIFE_S}; Path=/; HttpOnly; SameSite=Strict"
            f"{secure}"
        )

    def role_of(self, headers: Iterable[str], now_s: float) -> Role | None:
        """The role that a request's cookies bring; None if none of them is ours and still holds.

        Another page on this machine can add cookies of this name, so each of them is looked at.
        """
        values = [
            value
            for header in headers
            for name, _, value in (each.strip().partition("=") for each in header.split(";"))
            if name == self.name
        ][:_MOST_COOKIES]
        held = {self._role(value, now_s) for value in values}
        return next((role for role in ROLES if role in held), None)

    def _role(self, value: str, now_s: float) -> str | None:
        found = _COOKIE.fullmatch(value)
        if found is None or found[1] not in self._keys:
            return None
        role, ends, seal = found[1], int(found[2]), found[3]
        is_ours = hmac.compare_digest(seal, self._seal(role, ends))
        return role if is_ours and now_s < ends else None

    def _seal(self, role: str, ends: int) -> str:
        return hmac.new(self._keys[role], f"{role}.{ends}".encode(), "sha256").hexdigest()


def _key(token: str) -> bytes:
    return hmac.new(token.encode(), b"restpoint page cookie 1", "sha256").digest()
