"""What can go wrong before the door opens."""

from daq.page.errors import PageError


class TokenError(PageError):
    """A token that was given cannot serve as one."""


class HostError(PageError):
    """A name that was to be let in is no host name."""


class CertificateError(PageError):
    """The certificate or its key cannot be used. The message says which file and what to do."""
