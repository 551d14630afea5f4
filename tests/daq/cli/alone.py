"""Runs one command by itself: its exit status, what it printed, what went wrong."""

import importlib
import json
import shlex
from dataclasses import dataclass

from click.testing import CliRunner


@dataclass(frozen=True)
class Ran:
    """What came of it. ``error`` is what the program would print of a refusal."""

    status: int
    out: str
    error: str

    @property
    def facts(self):
        return [json.loads(line) for line in self.out.splitlines()]


def run(line):
    """Run ``line``, as it is typed after ``restpoint``."""
    name, *words = shlex.split(line)
    command = importlib.import_module(f"daq.cli.{name}").command
    done = CliRunner().invoke(command, words, standalone_mode=False)
    if done.exception is not None:
        told = getattr(done.exception, "message", None) or str(done.exception)
        return Ran(3, done.output, told)
    return Ran(done.return_value, done.output, "")
