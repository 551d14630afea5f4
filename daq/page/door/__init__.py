"""Who may come in to the bench page: names, origins, tokens, cookies, and what browsers are told.

``Door(listen, tokens).guard(app)`` stands before everything; ``door.role(scope)`` says behind it
what somebody may do. docs/bench-door.md says what it protects against, and what not.
"""

from daq.page.door.address import (
    DEFAULT_PORT,
    Listen,
    addresses_to_type,
    listen_from,
    own_addresses,
    with_token,
)
from daq.page.door.certificate import Certificate, checked_certificate
from daq.page.door.code import can_print_halves, code_lines
from daq.page.door.errors import CertificateError, HostError, TokenError
from daq.page.door.files import File, Files
from daq.page.door.guard import SERVER_SETTINGS, Door
from daq.page.door.tokens import Role, Tokens, new_token

__all__ = [
    "DEFAULT_PORT",
    "SERVER_SETTINGS",
    "Certificate",
    "CertificateError",
    "Door",
    "File",
    "Files",
    "HostError",
    "Listen",
    "Role",
    "TokenError",
    "Tokens",
    "addresses_to_type",
    "can_print_halves",
    "checked_certificate",
    "code_lines",
    "listen_from",
    "new_token",
    "own_addresses",
    "with_token",
]
