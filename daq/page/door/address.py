"""Where the page is served, and what people type to get there. Nothing here sends anything."""

import re
import socket
import struct
from collections.abc import Callable, Iterable
from contextlib import suppress
from dataclasses import dataclass, replace
from ipaddress import ip_address

from daq.page.door.hosts import Authority, host_from, in_brackets, is_everywhere, is_loopback
from daq.page.errors import ListenError

DEFAULT_HOST = "127.0.0.1"
DEFAULT_PORT = 8420

_BRACKETED = re.compile(r"(\[[^\]]*\])(?::(.*))?")


@dataclass(frozen=True, slots=True)
class Listen:
    """An address and a port to serve at. Port 0 lets the system choose one."""

    host: str = DEFAULT_HOST
    port: int = DEFAULT_PORT

    @property
    def is_loopback(self) -> bool:
        """Whether only this machine can reach it."""
        return is_loopback(self.host)

    @property
    def is_everywhere(self) -> bool:
        """Whether it means every address of this machine."""
        return is_everywhere(self.host)

    def at(self, port: int) -> "Listen":
        """The same address with the port that the system chose."""
        return replace(self, port=port)

    def __str__(self) -> str:
        return str(Authority(self.host, self.port))


def listen_from(text: str) -> Listen:
    """What ``--listen`` says: ``HOST``, ``HOST:PORT``, ``[::1]:8420`` or ``:PORT``.

    The host is an address of this machine or ``localhost``. Other names would have to be looked up
    elsewhere; they are let in by ``--host``.

    Raises:
        ListenError: it says no address, or no port.
    """
    host, port = _cut(text.strip())
    known = "127.0.0.1" if host == "localhost" else _address(host)
    if known is None:
        raise ListenError(
            f"--listen {text!r}: that is no address. Give one of this machine, such as "
            "127.0.0.1, 192.168.1.20:8420 or [::1]:8420; 0.0.0.0 is all of them. A name that the "
            "page shall answer under goes to --host."
        )
    if not (port.isascii() and port.isdigit() and int(port) < 65536):
        raise ListenError(
            f"--listen {text!r}: the port must be a whole number from 0 to 65535, such as 8420."
        )
    return Listen(known, int(port))


def _cut(text: str) -> tuple[str, str]:
    """Host and port as they were written, with the defaults for what is left out."""
    bracketed = _BRACKETED.fullmatch(text)
    if bracketed is not None:
        return bracketed[1], str(DEFAULT_PORT) if bracketed[2] is None else bracketed[2]
    if text.count(":") > 1:
        return text, str(DEFAULT_PORT)
    host, cut, port = text.partition(":")
    return host or DEFAULT_HOST, port if cut else str(DEFAULT_PORT)


def _address(host: str) -> str | None:
    known = host_from(host if not host.count(":") or host.startswith("[") else f"[{host}]")
    with suppress(ValueError):
        return str(ip_address(known)) if known is not None else None
    return None


def own_addresses() -> tuple[str, ...]:
    """This machine's addresses in its networks, the likeliest first; loopback left out.

    A UDP socket that is connected sends nothing: the system only says which address it would send
    from. The far ends are addresses kept for documentation (RFC 5737, RFC 3849).
    """
    found: dict[str, None] = {}
    for family, far in ((socket.AF_INET, "192.0.2.1"), (socket.AF_INET6, "2001:db8::1")):
        with suppress(OSError), socket.socket(family, socket.SOCK_DGRAM) as asking:
            asking.connect((far, 9))
            found[asking.getsockname()[0]] = None
    found.update(dict.fromkeys(_of_interfaces()))
    return tuple(each for each in found if _can_be_typed(each))


def _can_be_typed(address: str) -> bool:
    known = ip_address(address.partition("%")[0])
    return not (known.is_loopback or known.is_unspecified or known.is_link_local)


def _of_interfaces() -> list[str]:
    """The first IPv4 address of each interface, where the system can be asked this way (Linux)."""
    try:
        import fcntl
    except ImportError:
        return []
    get_address = 0x8915  # SIOCGIFADDR, netdevice(7)
    found = []
    with suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        for _, name in socket.if_nameindex():
            with suppress(OSError):
                asked = struct.pack("256s", name.encode()[:15])
                answer = fcntl.ioctl(asking.fileno(), get_address, asked)
                found.append(socket.inet_ntoa(answer[20:24]))
    return found


def addresses_to_type(
    listen: Listen,
    *,
    hosts: Iterable[str] = (),
    tls: bool = False,
    found: Callable[[], Iterable[str]] = own_addresses,
) -> tuple[str, ...]:
    """Every address that brings people to the page, for other machines first; without the token.

    Args:
        listen: where the page is served, with the port that it has in the end.
        hosts: the names given by ``--host``: somebody meant them to be typed.
        tls: whether the page is served by TLS.
        found: asks for this machine's addresses.
    """
    if listen.is_everywhere:
        is_v4_only = ":" not in listen.host
        own = [each for each in found() if not (is_v4_only and ":" in each)]
        places = [*hosts, *own, DEFAULT_HOST]
    else:
        places = [*hosts, listen.host]
    scheme = "https" if tls else "http"
    return tuple(
        f"{scheme}://{in_brackets(place)}:{listen.port}/" for place in dict.fromkeys(places)
    )


def with_token(address: str, token: str) -> str:
    """The address that lets a screen in. It is a key: show it in the terminal and nowhere else."""
    return f"{address}?t={token}"
