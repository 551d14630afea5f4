"""One open port: pyserial opens and sets it, and every foreign exception becomes one of ours.

Anything that ``serial.serial_for_url`` opens is a port: a device name, ``socket://``,
``rfc2217://``, ``loop://``, ``spy://``. The port is held exclusively, so a second program is
refused instead of stealing bytes. What lies in the buffers at opening is thrown away: it is old.

pyserial's own reading is not used where the port has a file descriptor: it holds five descriptors a
port, waits with ``select`` (which ends at 1024), and its ``in_waiting`` lies for sockets.
"""

import errno
import os
import sys
from contextlib import suppress
from typing import Any

import serial

from drivers.errors import (
    PortBusyError,
    PortDeniedError,
    PortError,
    PortLostError,
    PortNotFoundError,
    PortUnusableError,
)
from drivers.profile import SerialSettings

READ_WAIT_S = 0.05
"""How long a read waits on ports that cannot be waited for together."""

WRITE_WAIT_S = 1.0
"""How long a write may take before the port counts as lost."""

READ_BYTES = 65536

_PARITY = {"none": serial.PARITY_NONE, "even": serial.PARITY_EVEN, "odd": serial.PARITY_ODD}

_OPEN_ERRORS: dict[int | None, type[PortError]] = {
    errno.EAGAIN: PortBusyError,  # another program has the exclusive lock
    errno.EBUSY: PortBusyError,
    errno.EACCES: PortDeniedError,
    errno.EPERM: PortDeniedError,
    errno.ENOENT: PortNotFoundError,
    errno.ENODEV: PortNotFoundError,
    errno.ENXIO: PortNotFoundError,
    errno.EIO: PortNotFoundError,  # the name is still there, the device behind it is not
    errno.ECONNREFUSED: PortNotFoundError,
}

# pyserial lets all of these out of a port that has gone: SerialException is an OSError, and
# termios.error is not one; TypeError comes from a port closed by another thread.
_LOST: tuple[type[Exception], ...] = (OSError, TypeError, ValueError, NotImplementedError)
if sys.platform != "win32":
    import termios

    _LOST = (*_LOST, termios.error)


class Link:
    """An open port.

    Args:
        port: a device name or an address that pyserial opens.
        settings: how the line is set.

    Raises:
        PortError: it could not be opened; the class says why, the message what to do.
    """

    def __init__(self, port: str, settings: SerialSettings) -> None:
        self.port = port
        self._serial = _opened(port, settings)
        self._fd = self._descriptor()
        if self._fd is not None:
            _read_without_waiting(self._fd)
        with suppress(*_LOST):
            self._serial.reset_input_buffer()

    def _descriptor(self) -> int | None:
        # spy:// must see the bytes, so it is read through pyserial like the ports without one.
        if sys.platform == "win32" or self.port.startswith("spy://"):
            return None
        try:
            return int(self._serial.fileno())
        except (OSError, AttributeError, NotImplementedError):
            return None

    def fileno(self) -> int | None:
        """The descriptor to wait on, or None if ``read`` has to wait itself."""
        return self._fd

    def read(self) -> bytes:
        """What has arrived; empty if nothing has.

        Raises:
            PortLostError: the cable is out or the gauge's port is gone.
        """
        try:
            if self._fd is None:
                data: bytes = self._serial.read(self._serial.in_waiting or 1)
                return data
            data = os.read(self._fd, READ_BYTES)
        except BlockingIOError:
            return b""
        except _LOST as error:
            raise PortLostError(self.port, str(error)) from error
        if not data:
            raise PortLostError(self.port, "hung up")
        return data

    def write(self, data: bytes) -> None:
        """Send ``data``.

        Raises:
            PortLostError: the cable is out or the gauge's port is gone.
        """
        try:
            self._serial.write(data)
        except _LOST as error:
            raise PortLostError(self.port, str(error)) from error

    def close(self) -> None:
        """Close the port. Closing it twice, or after it was lost, does nothing."""
        with suppress(*_LOST):
            self._serial.close()


def _opened(port: str, settings: SerialSettings) -> Any:
    try:
        made = serial.serial_for_url(
            port,
            do_not_open=True,
            baudrate=settings.baud,
            bytesize=settings.data_bits,
            parity=_PARITY[settings.parity],
            stopbits=settings.stop_bits,
            timeout=READ_WAIT_S,
            # rfc2217:// refuses to be opened with one.
            write_timeout=None if port.startswith("rfc2217://") else WRITE_WAIT_S,
            exclusive=True,
        )
        # Set before opening: some adapters restart a gauge when these lines change.
        made.dtr, made.rts = settings.dtr, settings.rts
        made.open()
    except serial.SerialException as error:
        raise _open_error(port, error) from error
    except _LOST as error:
        raise PortUnusableError(port, str(error)) from error
    return made


def _open_error(port: str, error: serial.SerialException) -> PortError:
    number = error.errno
    if number is None and isinstance(error.__context__, OSError):
        number = error.__context__.errno
    if number is None and "://" in port:
        return PortNotFoundError(port, str(error))
    return _OPEN_ERRORS.get(number, PortUnusableError)(port, str(error.strerror or error))


def _read_without_waiting(descriptor: int) -> None:
    """Make an empty port raise ``BlockingIOError``, so that no bytes means gone and nothing else.

    pyserial sets a terminal to return nothing at once (VMIN 0), which looks just like a hang-up.
    """
    os.set_blocking(descriptor, False)
    if os.isatty(descriptor):
        attributes = termios.tcgetattr(descriptor)
        attributes[6][termios.VMIN] = 1
        termios.tcsetattr(descriptor, termios.TCSANOW, attributes)
