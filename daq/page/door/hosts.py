"""Under which names the page answers: the Host of a request against a fixed list.

A page of another site can make a browser call this page under a name of its own, by giving that
name the address of this machine (DNS rebinding). The name then stands in Host and in Origin alike,
so neither proves anything against the other. Only a list of names does that.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv6Address, ip_address

from daq.page.door.errors import HostError

LOOPBACK_NAMES = ("127.0.0.1", "localhost", "::1")
"""What this machine calls itself. Browsers do not ask any name server for these."""

_NAME = re.compile(
    r"(?=.{1,253}\Z)[a-z0-9_]([a-z0-9_-]{0,61}[a-z0-9_])?(\.[a-z0-9_]([a-z0-9_-]{0,61}[a-z0-9_])?)*"
)
_AUTHORITY = re.compile(
    r"(?P<host>\[[0-9a-fA-F:.]{2,45}\]|[0-9A-Za-z._-]{1,254})(:(?P<port>[0-9]{1,5}))?"
)


@dataclass(frozen=True, slots=True)
class Authority:
    """A host and a port, in one way of writing: lower case, no trailing dot, no brackets."""

    host: str
    port: int

    def __str__(self) -> str:
        return f"{in_brackets(self.host)}:{self.port}"


def in_brackets(host: str) -> str:
    """A host as it stands in an address: an IPv6 address has brackets round it."""
    return f"[{host}]" if ":" in host else host


def authority_from(text: str, default_port: int) -> Authority | None:
    """The authority that ``text`` names; None if it names none.

    Args:
        text: as it stands in Host, after RFC 9110, section 7.2: ``name``, ``name:8420``,
            ``[::1]:8420``.
        default_port: the port where none is said: 80, or 443 under TLS.
    """
    found = _AUTHORITY.fullmatch(text)
    if found is None:
        return None
    host = host_from(found["host"])
    port = int(found["port"]) if found["port"] else default_port
    return Authority(host, port) if host is not None and 0 < port < 65536 else None


def host_from(text: str) -> str | None:
    """A host in our way of writing; None if it is no name and no address.

    ``127.1`` and ``0x7f000001`` are other ways of writing an address. Browsers never send them, so
    they name nothing here.
    """
    if text.startswith("["):
        is_plain = text.endswith("]") and "%" not in text
        return _address(text[1:-1], IPv6Address) if is_plain else None
    host = text.lower().removesuffix(".")
    if host.rpartition(".")[2].isdigit():
        return _address(host, IPv4Address)
    return host if _NAME.fullmatch(host) and not _is_number(host) else None


def _is_number(host: str) -> bool:
    return re.fullmatch(r"0x[0-9a-f]*", host.rpartition(".")[2]) is not None


def _address(text: str, kind: type[IPv4Address] | type[IPv6Address]) -> str | None:
    try:
        return str(kind(text))
    except ValueError:
        return None


def is_loopback(host: str) -> bool:
    """Whether ``host`` can be reached from this machine alone."""
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def is_everywhere(host: str) -> bool:
    """Whether listening on ``host`` means every address that the machine has."""
    try:
        return ip_address(host).is_unspecified
    except ValueError:
        return False


@dataclass(frozen=True, slots=True)
class AllowedHosts:
    """The hosts that the page answers under, and its port.

    ``any_own`` is for a page that listens on every address: then the address at which a connection
    arrived is let in too, so that a new address of the machine needs no new start. An address
    cannot be rebound as a name can.
    """

    hosts: frozenset[str]
    port: int
    any_own: bool = False

    @classmethod
    def of(
        cls, bound: str, port: int, *, found: Iterable[str] = (), more: Iterable[str] = ()
    ) -> "AllowedHosts":
        """What follows from where the page listens.

        Args:
            bound: the address that is listened on.
            port: its port.
            found: the addresses of this machine; they count if ``bound`` is everywhere.
            more: names to let in besides.

        Raises:
            HostError: one of ``more`` is no host name.
        """
        hosts = {_named(each) for each in more}
        if is_everywhere(bound):
            hosts |= {*LOOPBACK_NAMES, *found}
        elif is_loopback(bound):
            hosts |= {*LOOPBACK_NAMES, bound}
        else:
            hosts.add(bound)
        return cls(frozenset(hosts), port, any_own=is_everywhere(bound))

    def lets_in(self, asked: Authority, arrived_at: str | None = None) -> bool:
        """Whether the page answers under ``asked``.

        Args:
            asked: from the Host of a request.
            arrived_at: the address of this machine that the connection came to.
        """
        if asked.port != self.port:
            return False
        return asked.host in self.hosts or (self.any_own and asked.host == arrived_at)


def _named(text: str) -> str:
    host = host_from(text) or host_from(f"[{text}]")
    if host is None or is_everywhere(host):
        raise HostError(
            f"{text!r} is no host name. Give it as it stands in the browser's address line, "
            "without http:// and without the port, such as bench-pc or bench-pc.example."
        )
    return host
