"""An engine from a TOML file that a workshop writes by hand."""

from collections.abc import Callable
from pathlib import Path

from daq.jobs.engine import Engine, EngineError
from drivers.errors import RestpointError
from drivers.form import Form
from drivers.toml_form import check_toml

LARGEST_BYTES = 100_000
"""No file that a person writes by hand for a job is larger."""


class EngineFile(Form):
    """A file that holds one engine, as the table ``[engine]``."""

    engine: Engine


def engine_from_toml(text: str, name: str) -> Engine:
    """The engine that ``text`` describes.

    Args:
        text: the file's content.
        name: the file's name, for the messages.

    Raises:
        EngineError: with every mistake at once, each as ``file:line: field: what is wrong; what
            would be right``.
    """
    file, problems = check_toml(text, name, EngineFile)
    if file is None:
        raise EngineError(*problems)
    return file.engine


def load_engine(path: Path) -> Engine:
    """Read an engine from a file.

    Raises:
        EngineError: it cannot be read, or has mistakes; all of them at once.
    """
    raw = bytes_of(path, "an engine", EngineError)
    return engine_from_toml(text_of(raw, str(path), EngineError), str(path))


def bytes_of(path: Path, what: str, error: Callable[[str], RestpointError]) -> bytes:
    """The bytes of a file that somebody wrote by hand.

    Args:
        path: which file.
        what: what it should be, for the message: ``an engine``.
        error: what to raise.

    Raises:
        RestpointError: the given one; it cannot be read, or is far too large.
    """
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST_BYTES + 1)
    except OSError as cause:
        raise error(f"{path} cannot be read: {cause.strerror}.") from cause
    if len(raw) > LARGEST_BYTES:
        raise error(f"{path} is far too large for {what}; check which file it is.")
    return raw


def text_of(raw: bytes, name: str, error: Callable[[str], RestpointError]) -> str:
    """The text of such a file, without the mark that some editors put first.

    Args:
        raw: its bytes.
        name: its name, for the message.
        error: what to raise.

    Raises:
        RestpointError: the given one; it is not UTF-8.
    """
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as cause:
        line = raw[: cause.start].count(b"\n") + 1
        raise error(f"{name}:{line}: it is not UTF-8 text; save it as UTF-8") from cause
