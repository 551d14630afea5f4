"""Every regular expression of ours, and strings that make a bad one slow."""

import importlib
import itertools
import re
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
LENGTHS = (12, 16, 20, 24, 200, 20_000)
"""The short ones show an exponential pattern before it hangs, the long ones a quadratic one."""

LONGEST_S = 0.1
"""A linear pattern needs under a millisecond for 20,000 characters, a quadratic one more."""

COMMON = "a0 -_.,:/\"'\t"


def patterns():
    """The compiled ones at the top of our modules: where, the pattern, and whether it is searched.

    To search is to try at every place: a pattern that is only matched is not tried so.
    """
    files = [
        file
        for package in ("drivers", "daq", "simulated_devices")
        for file in sorted((ROOT / package).rglob("*.py"))
    ]
    for file in files:
        text = file.read_text("utf-8")
        if "re.compile" not in text:
            continue
        searched = re.findall(r"(\w+)\.(?:search|sub|subn|split|findall|finditer)\(", text)
        name = ".".join(file.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        for attribute, value in vars(importlib.import_module(name)).items():
            if isinstance(value, re.Pattern):
                yield f"{name}.{attribute}", value, attribute in searched


def attacks(pattern):
    """Beginnings, repeated parts and ends that the pattern's own characters suggest."""
    text = (
        pattern.pattern if isinstance(pattern.pattern, str) else pattern.pattern.decode("latin-1")
    )
    own = [each for each in dict.fromkeys(text) if each.isprintable()][:12]
    letters = list(dict.fromkeys([*COMMON, *own]))
    parts = [*letters, *map("".join, itertools.permutations(letters[:6], 2))]
    for part in parts:
        for end in ("", "\x00"):
            yield part, end


def slowest_s(pattern, is_searched, part, end):
    """The longest time that it takes to match; stops where that gets too long."""
    worst = 0.0
    for length in LENGTHS:
        text = part * (length // len(part)) + end
        subject = text if isinstance(pattern.pattern, str) else text.encode("utf-8", "replace")
        ways = [pattern.fullmatch, pattern.match, *([pattern.search] if is_searched else [])]
        for find in ways:
            begun_s = time.process_time()
            find(subject)
            worst = max(worst, time.process_time() - begun_s)
            if worst > LONGEST_S:
                return worst
    return worst
