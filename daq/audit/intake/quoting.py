"""Names and texts as SQL has them."""


def quoted(name: str) -> str:
    """A column's or table's name."""
    return '"' + name.replace('"', '""') + '"'


def literal(text: str) -> str:
    """A text."""
    return "'" + text.replace("'", "''") + "'"
