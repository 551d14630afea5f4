"""What the page tells besides the live state: the records of the logbook, and the engine."""

from collections.abc import Callable
from pathlib import Path

from daq.page.app import Sources
from daq.page.records import Records


def sources_of(logbook_file: Path, engine: Callable[[], str | None] | None = None) -> Sources:
    """The sources of a work that keeps a logbook.

    Args:
        logbook_file: the logbook; it is opened to be read for each answer, beside its writer.
        engine: the drawing of the engine as it stands now, if the work has one.
    """
    records = Records(logbook_file)
    return Sources(records.search, records.one, engine)
