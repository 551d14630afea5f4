"""What all tests stand on: Ctrl-C works in the programs that they start."""

import signal


def pytest_configure():
    """A shell that starts the tests in the background has them ignore SIGINT, and what is ignored
    is handed on to every program that they start; what is handled is not."""
    if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
        signal.signal(signal.SIGINT, signal.default_int_handler)
