"""Real ports that a program opens: pseudo-terminals, or TCP for ``socket://``.

No port ever waits for a program. With nobody reading, a pseudo-terminal keeps the first few
kilobytes and the rest is lost; on TCP everything is lost until a program connects. A
pseudo-terminal gets a new name each time it is plugged in, so each gauge has a name of its own, a
link, that stays.
"""

import os
import socket
from contextlib import suppress
from pathlib import Path
from typing import Protocol

from drivers.errors import RestpointError

LINKS_LEAD_TO = "/dev/"
"""Where the link of a pseudo-terminal leads; only such a link is ever replaced."""


class BenchError(RestpointError):
    """A simulated gauge's port could not be made: what stands in the way, and what to do."""


class Port(Protocol):
    """One way of putting a gauge within reach of a program."""

    address: str
    """What a program opens."""

    def plug_in(self) -> None:
        """Make the port appear."""

    def pull(self) -> None:
        """Make the port go away, as a pulled cable does."""

    def write(self, data: bytes) -> None:
        """Send ``data``; what nobody reads is lost."""

    def read(self) -> bytes:
        """What the program has sent; empty if nothing."""


class PtyPort:
    """A pseudo-terminal under a name that stays. POSIX only.

    Args:
        link: the name: a link that points to the terminal while it is plugged in.
    """

    def __init__(self, link: Path) -> None:
        self.address = str(link)
        self._link = link
        self._end = -1
        self._other = -1

    def plug_in(self) -> None:
        """See ``Port.plug_in``.

        Raises:
            BenchError: something else has the name.
        """
        import tty

        if self._end >= 0:
            return
        self._end, self._other = os.openpty()
        try:
            tty.setraw(self._other)  # a cooked terminal would echo the gauge's own frames back
            os.set_blocking(self._end, False)
            self._make_link(os.ttyname(self._other))
        except BaseException:
            self.pull()
            raise

    def _make_link(self, terminal: str) -> None:
        """Give the terminal its name, which a bench that was killed may have left behind."""
        try:
            if self._leads_to().startswith(LINKS_LEAD_TO):
                self._link.unlink()
            self._link.symlink_to(terminal)
        except FileExistsError as error:
            raise BenchError(
                f"{self._link} is there already and is no simulated gauge's name. "
                "Choose another folder, or move it away."
            ) from error
        except OSError as error:
            raise BenchError(f"{self._link} cannot be made: {error.strerror}") from error

    def _leads_to(self) -> str:
        """Where the name leads now; empty if it is no link."""
        return os.readlink(self._link) if self._link.is_symlink() else ""

    def pull(self) -> None:
        """See ``Port.pull``."""
        if self._end < 0:
            return
        with suppress(OSError):
            if self._leads_to() == os.ttyname(self._other):  # another bench may have taken it over
                self._link.unlink()
        # Our own hold on the terminal goes last: the program must see a hang-up, not an end.
        os.close(self._end)
        os.close(self._other)
        self._end = self._other = -1

    def write(self, data: bytes) -> None:
        """See ``Port.write``."""
        if self._end >= 0 and data:
            with suppress(OSError):  # full: nobody reads
                os.write(self._end, data)

    def read(self) -> bytes:
        """See ``Port.read``."""
        if self._end < 0:
            return b""
        try:
            return os.read(self._end, 4096)
        except OSError:  # nothing has come
            return b""


class TcpPort:
    """A TCP port on loopback for one program at a time; a second one is turned away.

    Args:
        number: the port's number; 0 for any that is free. It stays the same when the gauge is
            plugged in again.
    """

    def __init__(self, number: int = 0) -> None:
        self._number = number
        self._server: socket.socket | None = None
        self._client: socket.socket | None = None
        self.address = ""
        self.plug_in()

    def plug_in(self) -> None:
        """See ``Port.plug_in``.

        Raises:
            BenchError: another program has taken the port's number.
        """
        if self._server is not None:
            return
        try:
            self._server = socket.create_server(("127.0.0.1", self._number))
        except OSError as error:
            raise BenchError(
                f"TCP port {self._number} cannot be opened: {error.strerror}. "
                "Close the program that has it, then plug in again."
            ) from error
        self._server.setblocking(False)
        self._number = self._server.getsockname()[1]
        self.address = f"socket://127.0.0.1:{self._number}"

    def pull(self) -> None:
        """See ``Port.pull``."""
        for end in (self._client, self._server):
            if end is not None:
                end.close()
        self._client = self._server = None

    def _accept(self) -> None:
        if self._server is None:
            return
        with suppress(OSError):  # nobody is waiting, or somebody has gone again
            client, _ = self._server.accept()
            if self._client is not None:
                client.close()
                return
            client.setblocking(False)
            # Small frames must go out at once, not when the one before has been acknowledged.
            client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            self._client = client

    def write(self, data: bytes) -> None:
        """See ``Port.write``."""
        self._accept()
        if self._client is not None and data:
            try:
                self._client.send(data)
            except BlockingIOError:
                pass
            except OSError:
                self._hang_up()

    def read(self) -> bytes:
        """See ``Port.read``."""
        if self._client is None:
            return b""
        try:
            data = self._client.recv(4096)
        except BlockingIOError:
            return b""
        except OSError:
            data = b""
        if not data:
            self._hang_up()
        return data

    def _hang_up(self) -> None:
        if self._client is not None:
            self._client.close()
            self._client = None
