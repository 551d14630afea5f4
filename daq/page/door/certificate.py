"""The owner's certificate and key for TLS, tried before the page starts.

Python's public ssl tells nothing of a certificate but what a handshake made of it. So one is made,
in memory, with the certificate as its own anchor: what would fail at the tablet fails here, in
words.
"""

import os
import ssl
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from daq.page.door.errors import CertificateError
from daq.page.door.hosts import host_from

_EXPIRED = 10  # X509_V_ERR_CERT_HAS_EXPIRED, openssl-verification-options(1)
_NOT_YET = 9  # X509_V_ERR_CERT_NOT_YET_VALID
_SOON = timedelta(days=14)
_MOST_ROUNDS = 10


@dataclass(frozen=True, slots=True)
class Certificate:
    """A certificate and key that serve.

    Args:
        cert: the certificate, followed by those between it and its root.
        key: its private key.
        ends: until when it holds.
        names: the hosts that it stands for, names and addresses.
        notes: what does not hinder but should be known.
    """

    cert: Path
    key: Path
    ends: datetime
    names: tuple[str, ...]
    notes: tuple[str, ...] = ()

    def covers(self, host: str) -> bool:
        """Whether browsers take it for ``host`` (RFC 9525, section 6.3)."""
        asked = host_from(host) or host_from(f"[{host}]")
        above = f"*.{asked.partition('.')[2]}" if asked is not None else None
        known = {host_from(each) or host_from(f"[{each}]") or each.lower() for each in self.names}
        return asked is not None and (asked in known or above in known)


class _KeyLockedError(Exception):
    """The key wants a password."""


def checked_certificate(
    cert: Path, key: Path, now: Callable[[], datetime] = lambda: datetime.now(UTC)
) -> Certificate:
    """The pair of files, after a handshake with them.

    Args:
        cert: PEM file of the certificate.
        key: PEM file of its private key, without a password.
        now: the time, for the note that it ends soon. Whether it holds at all is told by the
            system's clock.

    Raises:
        CertificateError: a file cannot be read, is none of the kind, the two do not belong
            together, the key has a password, or the certificate is of no use now or for a server.
    """
    for path, what in ((cert, "certificate"), (key, "key")):
        _readable(path, what)
    said = _handshake(_server_context(cert, key), cert)
    ends = datetime.fromtimestamp(ssl.cert_time_to_seconds(str(said["notAfter"])), UTC)
    names = tuple(str(value) for _, value in said.get("subjectAltName", ()))
    return Certificate(cert, key, ends, names, tuple(_notes(key, ends, names, now())))


def _readable(path: Path, what: str) -> None:
    try:
        path.read_bytes()
    except OSError as error:
        raise CertificateError(
            f"The {what} file {path} cannot be read ({error.strerror}). Check the path, and that "
            "the user who runs restpoint may read it."
        ) from error


def _server_context(cert: Path, key: Path) -> ssl.SSLContext:
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)

    def locked() -> str:
        raise _KeyLockedError

    try:
        context.load_cert_chain(cert, key, password=locked)
    except _KeyLockedError:
        raise CertificateError(
            f"The key {key} has a password. Give a key without one, readable by its owner alone."
        ) from None
    except ssl.SSLError as error:
        raise CertificateError(_why_unusable(cert, key, error)) from error
    return context


def _why_unusable(cert: Path, key: Path, error: ssl.SSLError) -> str:
    if error.reason == "KEY_VALUES_MISMATCH":
        return (
            f"The key {key} does not belong to the certificate {cert}. Give the one made with it."
        )
    if error.reason == "EE_KEY_TOO_SMALL":
        return f"The key {key} is too short to protect anything. Have a new pair made."
    return (
        f"{cert} and {key} are no certificate and private key in PEM form. Both are text "
        "files: one with BEGIN CERTIFICATE, the server's own first, one with BEGIN PRIVATE KEY."
    )


def _handshake(server: ssl.SSLContext, cert: Path) -> dict[str, Any]:
    """What a client learns of the certificate when it trusts exactly that one."""
    client = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    client.check_hostname = False
    client.verify_flags |= ssl.VERIFY_X509_PARTIAL_CHAIN
    client.load_verify_locations(cert)
    to_server, to_client = ssl.MemoryBIO(), ssl.MemoryBIO()
    ends = (
        client.wrap_bio(to_client, to_server),
        server.wrap_bio(to_server, to_client, server_side=True),
    )
    try:
        for _ in range(_MOST_ROUNDS):
            through = [_step(end) for end in ends]
            if all(through):
                break
    except ssl.SSLCertVerificationError as error:
        raise CertificateError(_why_not_valid(cert, error)) from error
    except ssl.SSLError as error:
        raise CertificateError(
            f"The certificate {cert} cannot be used by a browser (the system said: "
            f"{error.reason}). Have a new pair made, for a server."
        ) from error
    said: dict[str, Any] = dict(ends[0].getpeercert() or {})
    return said


def _step(end: ssl.SSLObject) -> bool:
    """One side's next step; whether it is through."""
    try:
        end.do_handshake()
    except ssl.SSLWantReadError:
        return False
    return True


def _why_not_valid(cert: Path, error: ssl.SSLCertVerificationError) -> str:
    if error.verify_code == _EXPIRED:
        return f"The certificate {cert} has ended. Have a new one made; check this machine's clock."
    if error.verify_code == _NOT_YET:
        return f"The certificate {cert} does not hold yet. Check this machine's clock."
    return (
        f"Browsers would not take the certificate {cert} (the system said: "
        f"{error.verify_message}). It must be one for a server."
    )


def _notes(key: Path, ends: datetime, names: tuple[str, ...], now: datetime) -> list[str]:
    notes = []
    if ends - now < _SOON:
        notes.append(f"The certificate ends on {ends:%Y-%m-%d}. Have a new one made in time.")
    if not names:
        notes.append(
            "The certificate names no host (subjectAltName), so browsers will not take it. "
            "Have one made with the name or address that people type."
        )
    if os.name == "posix" and key.stat().st_mode & 0o007:
        notes.append(f"Everybody on this machine may use the key {key}. Keep it to its owner.")
    return notes
