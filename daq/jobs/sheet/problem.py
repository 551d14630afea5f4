"""What is wrong with a sheet, and where."""

import difflib
from collections.abc import Iterable, Iterator

Path = tuple[str | int, ...]
"""A place in the file: keys, and elements of lists counted from 0."""

Problem = tuple[Path, str]
"""Where, and ``what is wrong; what would be right``."""

Problems = Iterator[Problem]


def meant(given: str, known: Iterable[str]) -> str:
    """What may have been meant instead of ``given``: ``did you mean "rack"?``."""
    names = list(dict.fromkeys(known))
    if near := difflib.get_close_matches(given, names, n=1):
        return f'did you mean "{near[0]}"?'
    return f"there {'is' if len(names) == 1 else 'are'}: {', '.join(names)}" if names else "add it"
