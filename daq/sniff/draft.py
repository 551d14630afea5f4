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
    r"(?P<sign>[+-]?)(?P<whole>[0-9]{1,9})(?P<point>[.,])(?P<decimals>[0-9]{1,9})(?![0-9])"
)
UNIT = re.compile(r"(?P<gap> *)(?P<unit>mm|inch|in|\")?")
"""What may stand behind the number."""


@dataclass(frozen=True, slots=True)
class Line:
    """A frame of text with a number in it, taken apart."""

    text: str
    before: str
    space: str
    sign: str
    whole: str
    point: str
    decimals: str
    gap: str
    unit: str
    after: str

    @classmethod
    def of(cls, text: str) -> "Line | None":
        """The parts of ``text`` about its first number; None if there is none."""
        found = NUMBER.search(text)
        if found is None:
            return None
        before = text[: found.start()].rstrip(" ")
        behind = UNIT.match(text, found.end())
        assert behind is not None  # it matches nothing at all, too
        return cls(
            text=text,
            before=before,
            space=text[len(before) : found.start()],
            **found.groupdict(),
            gap=behind["gap"] if behind["unit"] else "",
            unit=behind["unit"] or "",
            after=text[behind.end() if behind["unit"] else found.end() :],
        )

    @property
    def kind(self) -> tuple[str, str, int, str, str, str]:
        """What frames of one layout have in common."""
        return (self.before, self.unit, len(self.decimals), self.point, self.gap, self.after)

    @property
    def number(self) -> str:
        """The number as a profile's sample has it."""
        return f"{'-' if self.sign == '-' else ''}{int(self.whole)}.{self.decimals}"


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
    numbers = [line for frame in frames if (line := Line.of(frame)) is not None]
    if end is None or len(numbers) < LEAST_FRAMES:
        return None
    (kind, _), *_ = Counter(line.kind for line in numbers).most_common(1)
    alike = [line for line in numbers if line.kind == kind]
    unit, decimals = alike[0].unit, len(alike[0].decimals)
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
    for line in _samples(alike):
        lines += [
            "",
            "[[samples]]",
            f"wire = {_quoted(line.text + end.decode('ascii'))}",
            f'number = "{line.number}"',
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


def _fields(alike: list[Line], in_mm: bool) -> list[str]:
    first = alike[0]
    before, tail = first.before, len(first.decimals) + 1
    digits = {len(line.whole) for line in alike}
    spaces = {len(line.space) for line in alike}
    widths = {len(line.space + line.sign + line.whole) + tail for line in alike}
    signs = {line.sign for line in alike}
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
    if first.point == ",":
        options.append('point = ","')
    fields = [f'{{ field = "number", {", ".join(options)} }}']
    if before:
        fields.insert(0, _text(before))
    if first.gap:
        fields.append(_text(first.gap))
    if first.unit:
        fields.append(f'{{ field = "unit", {"mm" if in_mm else "in"} = {_quoted(first.unit)} }}')
    if first.after:
        fields.append(_text(first.after))
    return fields


def _text(text: str) -> str:
    return f'{{ field = "text", text = {_quoted(text)} }}'


def _samples(alike: list[Line]) -> list[Line]:
    """Some different frames, both signs among them where both came."""
    lines = list({line.text: line for line in alike}.values())
    negative = [line for line in lines if line.sign == "-"]
    positive = [line for line in lines if line.sign != "-"]
    half = MOST_SAMPLES // 2
    return [*positive[: MOST_SAMPLES - min(half, len(negative))], *negative[:half]]


def _rate_hz(heard: Heard, end: bytes) -> float:
    """Frames a second, as they came; a gauge's own figure is on its data sheet."""
    times = [t_s for t_s, data in heard.pieces if data]
    lasted_s = times[-1] - times[0] if len(times) > 1 else heard.lasted_s
    return max(0.1, round(heard.data.count(end) / max(lasted_s, 0.1), 1))


def _to_do(frames: list[str], alike: list[Line], unit: str) -> tuple[str, ...]:
    steps = ["hold each sample against what the display showed; put in name, title and source"]
    if not unit:
        steps.append("no unit is in the frames: mm is assumed; switch the gauge and see")
    else:
        steps.append("switch the gauge to the other unit, listen again, and add what it sends")
    if not any(line.sign == "-" for line in alike):
        steps.append("no negative number came: turn below zero and add a sample")
    others = sorted(set(frames) - {line.text for line in alike})
    if others:
        shown = ", ".join(map(repr, others[:3]))
        steps.append(f"these frames are unlike the others, and are not in it: {shown}")
    steps.append("then: restpoint profile check FILE")
    return tuple(steps)


def _quoted(text: str) -> str:
    """A TOML string."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + escaped.replace("\r", "\\r").replace("\n", "\\n").replace("\t", "\\t") + '"'
