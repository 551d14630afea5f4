"""Errors a caller can act on, as one tree.

RestpointError
├── PortError
│   ├── PortNotFoundError     no such port, or unplugged before it was opened
│   ├── PortDeniedError       this user may not open it
│   ├── PortBusyError         another program holds it
│   ├── PortUnusableError     it is there but cannot be used as asked (no serial port, bad address)
│   └── PortLostError         it was open and went away
├── FrameError                these bytes are no frame of the profile; never leaves the decoder
├── ProfileError              a gauge profile does not say what a profile must
│   └── UnknownProfileError   no gauge profile has this name
└── TraceError                a recorded trace cannot be read

Bytes from a gauge never raise out of a decoder: they come back as a ``BadFrame``. Errors are for
what the caller asked for and cannot have. A message says what happened to what, then what to do.
"""


class RestpointError(Exception):
    """Base of every error restpoint raises on purpose. The command line prints it and exits."""


class PortError(RestpointError):
    """A port could not be used.

    Args:
        port: the port's name or address, as it was asked for.
        detail: the operating system's own words, or empty.
    """

    message = "The port {port} could not be used."

    def __init__(self, port: str, detail: str = "") -> None:
        super().__init__(port, detail)
        self.port = port
        self.detail = detail

    def __str__(self) -> str:
        said = f" (the system said: {self.detail})" if self.detail else ""
        return self.message.format(port=self.port) + said


class PortNotFoundError(PortError):
    """There is no such port."""

    message = "There is no port {port}. Plug the gauge in, or list the ports there are."


class PortDeniedError(PortError):
    """This user may not open the port."""

    message = (
        "This user may not open {port}. Add the user to the group that owns the port "
        "(often dialout), log out and in again, then retry. 'restpoint doctor' says which group."
    )


class PortBusyError(PortError):
    """Another program holds the port."""

    message = "Another program holds {port}. Close it there, then retry."


class PortUnusableError(PortError):
    """The port is there, but cannot be used as asked."""

    message = "{port} cannot be used as a gauge's port. Check the name or address and its settings."


class PortLostError(PortError):
    """The port was open and went away: a pulled cable, or a gauge switched off."""

    message = "{port} went away while in use. Check the cable and plug the gauge in again."


class FrameError(RestpointError):
    """These bytes are no frame of the profile. The decoder turns it into a ``BadFrame``."""


class ProfileError(RestpointError):
    """A gauge profile does not say what a profile must.

    Args:
        problems: one line each: ``file:line: field: what is wrong; what would be right``.
    """

    def __init__(self, problems: tuple[str, ...]) -> None:
        super().__init__(problems)
        self.problems = problems

    def __str__(self) -> str:
        return "\n".join(self.problems)


class UnknownProfileError(ProfileError):
    """No gauge profile has this name."""

    def __init__(self, name: str, known: tuple[str, ...]) -> None:
        super().__init__((f"There is no gauge profile {name!r}. Known: {', '.join(known)}.",))
        self.name = name
        self.known = known


class TraceError(RestpointError):
    """A recorded trace cannot be read: which file and line, what is wrong, what is expected."""
