"""What can go wrong with the bench page."""

from drivers.errors import RestpointError


class PageError(RestpointError):
    """The bench page cannot do what was asked of it."""


class MessageError(PageError):
    """What a screen sent cannot be understood. The message says why and repeats nothing of it."""


class ListenError(PageError):
    """The page cannot be served where it was asked for: the port is taken, the address is none."""


class UnfitError(PageError):
    """What a screen asks for does not fit the work as it stands. The message says why."""
