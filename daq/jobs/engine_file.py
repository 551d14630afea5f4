"""An engine from a TOML file that a workshop writes by hand."""

from pathlib import Path

from daq.jobs.engine import Engine, EngineError
from drivers.form import Form
from drivers.toml_form import check_toml

_LARGEST_BYTES = 100_000


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
    try:
        with path.open("rb") as file:
            raw = file.read(_LARGEST_BYTES + 1)
    except OSError as error:
        raise EngineError(f"{path} cannot be read: {error.strerror}.") from error
    if len(raw) > _LARGEST_BYTES:
        raise EngineError(f"{path} is far too large for an engine; check which file it is.")
    try:
        text = raw.decode("utf-8-sig")  # some editors put a byte order mark first
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise EngineError(f"{path}:{line}: it is not UTF-8 text; save it as UTF-8") from error
    return engine_from_toml(text, str(path))
