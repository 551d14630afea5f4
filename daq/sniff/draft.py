"""Begins a profile from what was heard: how frames end, their digits, samples to finish by hand.

A draft guesses only what can be seen in text frames, and says what it cannot see: what the display
showed. It becomes a profile when somebody has held its samples against the display and the data
sheet; until then its ``source`` says so.
"""

import re
from collections import Counter
from dataclasses import dataclass

from daq.sniff.hearing import Heard

ENDS = (b"\r\n", b"\r", b"\n")
LEAST_FRAMES = 3
MOST_SAMPLES = 6

NUMBER = re.compile(
    r"(?P<before>.*?)(?P<space> *)(?P<sign>[+-]?)"
    r"(?P<whole>\d{1,9})(?P<point>[.,])(?P<decimals>\d{1,9})"
    r"(?P<gap> *)(?P<unit>mm|inch|in|\")?(?P<after>.*)",
    re.ASCII,
)


@dataclass(frozen=True, slots=True)
class Draft:
    """A profile that is not one yet.

    ``text`` is TOML; ``to_do`` says what a person has to put right in it.
    """

    text: str
    to_do: tuple[str, ...]


def draft_of(heard: Heard) -> Draft | None:
    """A draft of a profile for the text frames that were heard; None if there are none."""
    end, frames = _frames(heard.data)
    numbers = [(frame, found) for frame in frames if (found := NUMBER.fullmatch(frame))]
    if end is None or len(numbers) < LEAST_FRAMES:
        return None
    kinds = Counter(_kind(found) for _, found in numbers)
    (before, unit, decimals, point, gap, after), _ = kinds.most_common(1)[0]
    alike = [(f, m) for f, m in numbers if _kind(m) == (before, unit, decimals, point, gap, after)]
    in_mm = unit in ("", "mm")
    step = f"0.{'0' * (decimals - 1)}1"
    lines = [
        'name = "my-gauge"',
        'title = "what it is, in one line"',
        'kind = "indicator"',
        'source = "heard on the wire, held against nothing yet; name document, revision, section"',
        f'resolution = {{ {"mm" if in_mm else "in"} = "{step}" }}',
        "",
        "[serial]",
        f"baud = {heard.settings.baud}",
        f"data_bits = {heard.settings.data_bits}",
        f'parity = "{heard.settings.parity}"',
        f"stop_bits = {heard.settings.stop_bits}",
        "",
        "[sends]",
        'when = "by itself"',
        f"rate_hz = {_rate_hz(heard, end)}",
        "",
        "[frame]",
        'kind = "line"',
        f"end = {_quoted(end.decode('ascii'))}",
        f"max_bytes = {max(map(len, frames)) + len(end) + 8}",
        "",
        "[layout]",
        'kind = "text"',
        "fields = [",
        *(f"  {field}," for field in _fields(alike, in_mm)),
        "]",
    ]
    for frame in _samples(alike):
        found = NUMBER.fullmatch(frame)
        assert found is not None
        lines += [
            "",
            "[[samples]]",
            f"wire = {_quoted(frame + end.decode('ascii'))}",
            f'number = "{_number(found)}"',
            *([] if in_mm else ['unit = "in"']),
        ]
    return Draft("\n".join(lines) + "\n", _to_do(frames, alike, unit))


def _frames(data: bytes) -> tuple[bytes | None, list[str]]:
    """The end that most frames have, and the whole frames between two of them."""
    for end in ENDS:
        parts = data.split(end)[1:-1]  # the first may have begun before, the last goes on
        texts = [part.decode("ascii", "replace") for part in parts]
        whole = [text for text in texts if text.isascii() and text.isprintable() and text]
        if len(whole) >= LEAST_FRAMES:
            return end, whole
    return None, []


def _kind(found: "re.Match[str]") -> tuple[str, str, int, str, str, str]:
    """What frames of one layout have in common."""
    return (
        found["before"],
        found["unit"] or "",
        len(found["decimals"]),
        found["point"],
        found["gap"],
        found["after"],
    )


def _fields(alike: "list[tuple[str, re.Match[str]]]", in_mm: bool) -> list[str]:
    first = alike[0][1]
    before, tail = first["before"], len(first["decimals"]) + 1
    digits = {len(found["whole"]) for _, found in alike}
    spaces = {len(found["space"]) for _, found in alike}
    widths = {len(found["space"] + found["sign"] + found["whole"]) + tail for _, found in alike}
    signs = {found["sign"] for _, found in alike}
    if spaces != {0} and len(widths) == 1:  # as wide as ever: spaces stand in front of the number
        whole = f"{max(1, widths.pop() - tail - 1)}"
        options = [f'sign = "{"always" if "+" in signs else "space or minus"}"', f"whole = {whole}"]
        options.append('pad = " "')
    else:
        before += " " * min(spaces)
        least, most = min(digits), max(digits)
        whole = f"{least}" if least == most else f"[{least}, {most}]"
        options = [f'sign = "{"always" if "+" in signs else "minus only"}"', f"whole = {whole}"]
    options.append(f"decimals = {{ {'mm' if in_mm else 'in'} = {tail - 1} }}")
    if first["point"] == ",":
        options.append('point = ","')
    fields = [f'{{ field = "number", {", ".join(options)} }}']
    if before:
        fields.insert(0, _text(before))
    if first["gap"]:
        fields.append(_text(first["gap"]))
    if first["unit"]:
        fields.append(f'{{ field = "unit", {"mm" if in_mm else "in"} = {_quoted(first["unit"])} }}')
    if first["after"]:
        fields.append(_text(first["after"]))
    return fields


def _text(text: str) -> str:
    return f'{{ field = "text", text = {_quoted(text)} }}'


def _number(found: "re.Match[str]") -> str:
    minus = "-" if found["sign"] == "-" else ""
    return f"{minus}{int(found['whole'])}.{found['decimals']}"


def _samples(alike: "list[tuple[str, re.Match[str]]]") -> list[str]:
    """Some different frames, both signs among them where both came."""
    by_sign: dict[str, list[str]] = {"-": [], "": []}
    for frame, found in alike:
        frames = by_sign["-" if found["sign"] == "-" else ""]
        if frame not in frames:
            frames.append(frame)
    half = MOST_SAMPLES // 2
    negative, positive = by_sign["-"], by_sign[""]
    return [*positive[: MOST_SAMPLES - min(half, len(negative))], *negative[:half]]


def _rate_hz(heard: Heard, end: bytes) -> float:
    """Frames a second, as they came; a gauge's own figure is on its data sheet."""
    times = [t_s for t_s, data in heard.pieces if data]
    lasted_s = times[-1] - times[0] if len(times) > 1 else heard.lasted_s
    return max(0.1, round(heard.data.count(end) / max(lasted_s, 0.1), 1))


def _to_do(
    frames: list[str], alike: "list[tuple[str, re.Match[str]]]", unit: str
) -> tuple[str, ...]:
    signs = {found["sign"] for _, found in alike}
    steps = [
        "hold each sample's number against what the display showed; put the name and the source in"
    ]
    if not unit:
        steps.append("no unit is in the frames: mm is assumed; switch the gauge and see")
    else:
        steps.append("switch the gauge to the other unit, listen again, and add what it sends")
    if "-" not in signs:
        steps.append("no negative number came: turn below zero and add a sample")
    others = sorted(set(frames) - {frame for frame, _ in alike})
    if others:
        shown = ", ".join(map(repr, others[:3]))
        steps.append(f"these frames are unlike the others, and are not in it: {shown}")
    steps.append("then: restpoint profile check FILE")
    return tuple(steps)


def _quoted(text: str) -> str:
    """A TOML string."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + escaped.replace("\r", "\\r").replace("\n", "\\n").replace("\t", "\\t") + '"'
