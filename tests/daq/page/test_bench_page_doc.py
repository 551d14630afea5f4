"""The page on the bench page names every option, every wish and every kind of message."""

from pathlib import Path
from typing import get_args

import click
import pytest

from daq.cli.bench_page import page_options
from daq.page.messages import MOST_BYTES, Do, Wish

PAGE = (Path(__file__).parents[3] / "docs" / "bench-page.md").read_text("utf-8")


@click.command()
@page_options
def nothing(**_options):
    """Has the page's options alone."""


@pytest.mark.parametrize("option", [each.opts[0] for each in nothing.params])
def test_every_option_of_the_page_is_there(option):
    assert f"`{option}" in PAGE


@pytest.mark.parametrize("name", [*get_args(Do), *Wish.model_fields, "state", "refused", "bye"])
def test_everything_in_the_wire_form_is_there(name):
    assert f"`{name}`" in PAGE or f'"{name}":' in PAGE


def test_the_longest_message_is_as_long_as_it_says():
    assert f"{MOST_BYTES} bytes" in PAGE
