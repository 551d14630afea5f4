"""Reading a DCC back for the tests, by the standard library and not by what wrote it."""

import os
from pathlib import Path
from xml.etree import ElementTree

import pytest

from daq.report.dcc import Stated, dcc_of

NS = {"dcc": "https://ptb.de/dcc", "si": "https://ptb.de/si"}
STATED = Stated(country="XX", performed="laboratory")

SCHEMA = os.environ.get("RESTPOINT_TEST_DCC_SCHEMA", "")
with_schema = pytest.mark.skipif(
    not SCHEMA, reason="RESTPOINT_TEST_DCC_SCHEMA names no folder with the published schema"
)


def schema_folder():
    return Path(SCHEMA)


class Read:
    """A document, by the names and refTypes of its elements."""

    def __init__(self, xml):
        self.root = ElementTree.fromstring(xml)

    def all(self, path):
        return self.root.findall(path, NS)

    def one(self, path):
        found = self.all(path)
        assert len(found) == 1, f"{path}: {len(found)}"
        return found[0]

    def text(self, path):
        return self.one(path).text

    def run(self, number):
        return Part(self.all("dcc:measurementResults/dcc:measurementResult")[number])

    def statement(self, ref_type):
        return Part(self.one(f".//dcc:statement[@refType='restpoint_{ref_type}']"))

    def words(self):
        """Every text in it."""
        return [each.text for each in self.root.iter() if each.text and each.text.strip()]


class Part(Read):
    def __init__(self, element):
        self.root = element

    def result(self, kind):
        return Part(self.one(f"dcc:results/dcc:result[@refType='restpoint_{kind}']"))

    def quantity(self, kind):
        return Part(self.one(f".//*[@refType='restpoint_{kind}']"))

    def values(self, kind, tag="value"):
        """The entries of a list, as they stand."""
        return self.quantity(kind).text(f".//si:{tag}XMLList").split()

    def chars(self, kind):
        return self.quantity(kind).text("dcc:charsXMLList").split()


def read(model, stated=STATED):
    return Read(dcc_of(model, stated))


def names_of(element):
    """The names of the children, without their namespace."""
    return [each.tag.partition("}")[2] for each in element]
