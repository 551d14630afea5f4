"""Which adapters are plugged in, and which of them is the gauge that was here yesterday.

A port's name is given in the order of plugging in, so it is no identity: two adapters swap names
after lunch. The identity is the adapter's own serial number, or where it has none, the socket that
it is plugged into.
"""

from dataclasses import dataclass

from serial.tools import list_ports

from drivers.errors import PortNotFoundError, PortUnusableError

SCHEME = "usb:"
"""How an identity begins, so that it is never taken for a port's name."""


@dataclass(frozen=True, slots=True)
class Adapter:
    """A serial adapter that is plugged in.

    ``identity`` is ``usb:VVVV:PPPP:SERIAL``, or ``usb:VVVV:PPPP@SOCKET`` for one without a serial
    number, or empty for a port that is no USB adapter. ``port`` is its name now.
    """

    port: str
    identity: str
    description: str

    @property
    def follows_socket(self) -> bool:
        """Whether the identity is the socket's: another adapter in it would be taken for this."""
        return "@" in self.identity


def adapters() -> tuple[Adapter, ...]:
    """The adapters that are plugged in, by port name. Opens none of them."""
    found = []
    for info in sorted(list_ports.comports(), key=lambda each: each.device):
        identity = ""
        if info.vid is not None and info.pid is not None:
            own = f":{info.serial_number}" if info.serial_number else f"@{info.location or '?'}"
            identity = f"{SCHEME}{info.vid:04X}:{info.pid:04X}{own}"
        description = info.description or info.product or ""
        found.append(Adapter(info.device, identity, "" if description == "n/a" else description))
    return tuple(found)


def port_of(name: str) -> str:
    """The port to open for ``name``: an identity is looked up, anything else is the port itself.

    Raises:
        PortNotFoundError: no adapter with that identity is plugged in.
        PortUnusableError: several adapters have that identity.
    """
    if not name.startswith(SCHEME):
        return name
    ports = [each.port for each in adapters() if each.identity.casefold() == name.casefold()]
    if not ports:
        raise PortNotFoundError(name)
    if len(ports) > 1:
        raise PortUnusableError(name, f"{' and '.join(ports)} both have this identity")
    return ports[0]


def identity_of(port: str) -> str:
    """The identity of the adapter at ``port``; empty if it has none or is no USB adapter."""
    return next((each.identity for each in adapters() if each.port == port), "")
