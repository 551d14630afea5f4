"""What a reader finds in a report: the text of an HTML or PDF file, and every value of a model."""

import io
from datetime import datetime
from decimal import Decimal
from html.parser import HTMLParser

from pydantic import BaseModel
from pypdf import PdfReader


class _Text(HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.parts, self._hidden = [], 0

    def handle_starttag(self, tag, attrs):
        self._hidden += tag in ("style", "title", "script")

    def handle_endtag(self, tag):
        self._hidden -= tag in ("style", "title", "script")

    def handle_data(self, data):
        if not self._hidden:
            self.parts.append(data)


def closed_up(text):
    """Text without white space, which a line's end may be anywhere."""
    return "".join(text.split())


def html_text(html):
    reader = _Text()
    reader.feed(html)
    return closed_up(" ".join(reader.parts))


def pdf_text(pdf):
    pages = PdfReader(io.BytesIO(pdf)).pages
    return closed_up(" ".join(page.extract_text() for page in pages))


def leaves(value, path=()):
    """Every value in a model, with the names and numbers that lead to it."""
    if isinstance(value, BaseModel):
        for name in type(value).model_fields:
            yield from leaves(getattr(value, name), (*path, name))
    elif isinstance(value, tuple):
        for number, each in enumerate(value):
            yield from leaves(each, (*path, number))
    else:
        yield path, value


def as_read(value):
    """How a value stands in a report, without white space."""
    if isinstance(value, datetime):
        return closed_up(f"{value:%Y-%m-%d %H:%M:%S}")
    if isinstance(value, Decimal):
        return f"{value if value else abs(value):f}".replace("-", "−")
    return closed_up(str(value))
