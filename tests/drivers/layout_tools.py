"""Profiles of every kind made up by hypothesis, each with something that its gauge could show."""

from decimal import Decimal
from typing import Any

from hypothesis import strategies as st
from pydantic import TypeAdapter

from drivers.check import Check
from drivers.framing import AnyFraming
from drivers.layouts import AnyLayout
from drivers.profile import GaugeProfile
from drivers.reading import Shown, Status, Unit

LAYOUT: TypeAdapter[Any] = TypeAdapter(AnyLayout)
FRAMING: TypeAdapter[Any] = TypeAdapter(AnyFraming)

CRCS = [
    (8, 0x07, 0, False, False, 0),
    (8, 0x31, 0, True, True, 0),
    (16, 0x8005, 0xFFFF, True, True, 0),
    (16, 0x1021, 0xFFFF, False, False, 0),
    (32, 0x04C11DB7, 0xFFFFFFFF, True, True, 0xFFFFFFFF),
    (12, 0x80F, 0, False, True, 0),
]
CODED = [Status.BATTERY_LOW, Status.OVERSPEED, Status.HELD, Status.INCREMENTAL]
BITS = [Status.BATTERY_LOW, Status.OVERSPEED, Status.OUT_OF_RANGE, Status.ORIGIN_LOST]


def profile_of(
    layout: dict[str, Any],
    frame: dict[str, Any],
    resolution: dict[str, str],
    check: dict[str, Any] | None = None,
    **sends: Any,
) -> GaugeProfile:
    """A profile whose samples are what its own layout sends."""
    made = {"layout": LAYOUT.validate_python(layout), "frame": FRAMING.validate_python(frame)}
    summed = None if check is None else Check(**check)
    samples = []
    for unit, step in resolution.items():
        shown = made["layout"].decode(made["layout"].encode(Shown(Decimal(step), Unit(unit))))
        body = made["layout"].encode(shown)
        body = summed.append(body, *made["frame"].marks) if summed else body
        sample = {"wire": made["frame"].wrap(body), "number": step, "unit": unit}
        samples.append(sample | {"sequence": shown.sequence, "label": shown.label})
    return GaugeProfile(
        name="made-up",
        title="Made up",
        kind="probe",
        source="made up for this test",
        resolution=resolution,
        sends={"when": "by itself"} | sends,
        check=summed,
        samples=samples,
        **made,
    )


@st.composite
def checks(draw: st.DrawFn, covers: tuple[str, ...], text_only: bool) -> dict[str, Any]:
    kind = draw(st.sampled_from(["xor", "sum", "lrc", "crc"]))
    ways = ["hex", "small hex"] + ([] if text_only else ["high byte first", "low byte first"])
    check: dict[str, Any] = {
        "kind": kind,
        "written": draw(st.sampled_from(ways)),
        "covers": ("payload", *draw(st.permutations(covers))[: draw(st.integers(0, len(covers)))]),
        "lead": draw(st.sampled_from([b"", b"*"])),
        "skip": draw(st.integers(0, 1)),
    }
    if kind == "crc":
        names = ("width", "poly", "init", "refin", "refout", "xorout")
        check["crc"] = dict(zip(names, draw(st.sampled_from(CRCS)), strict=True))
    return check


@st.composite
def text_framings(draw: st.DrawFn) -> tuple[dict[str, Any], dict[str, Any] | None]:
    """A framing for text, and its checksum or None."""
    if draw(st.booleans()):
        end = draw(st.sampled_from([b"\r\n", b"\n", b"\r", b";"]))
        check = draw(st.none() | checks(("end",), True))
        return {"kind": "line", "end": end, "max_bytes": 80}, check
    start, end = draw(st.sampled_from([(b"\x02", b"\x03"), (b":", b"\r\n"), (b"<<", b">")]))
    check = draw(st.none() | checks(("start", "end"), True))
    frame: dict[str, Any] = {"kind": "marks", "start": start, "end": end, "max_bytes": 80}
    if check and draw(st.booleans()):
        check["written"] = draw(st.sampled_from(["hex", "high byte first", "low byte first"]))
        frame["tail_bytes"] = Check(**check).size
    return frame, check


@st.composite
def text_profiles(draw: st.DrawFn) -> GaugeProfile:
    units = draw(st.sampled_from([("mm",), ("in",), ("mm", "in")]))
    places = {unit: draw(st.integers(0, 6)) for unit in units}
    least = draw(st.integers(1, 5))
    number = {
        "field": "number",
        "sign": draw(st.sampled_from(["always", "space or minus", "minus only"])),
        "whole": draw(st.sampled_from([least, [least, least + 2]])),
        "decimals": places,
        "pad": draw(st.sampled_from(["0", " "])),
        "sign_first": draw(st.booleans()),
        "point": draw(st.sampled_from([".", ","])),
    }
    fields: list[dict[str, Any]] = [number]
    if len(units) == 2 or draw(st.booleans()):
        texts = draw(st.sampled_from([("mm", "in"), (" m", " i"), ("", '"')]))
        fields.append({"field": "unit"} | dict(zip(("mm", "in"), texts, strict=True)))
    extra = [
        {"field": "label", "width": draw(st.integers(1, 4))},
        {"field": "sequence", "digits": draw(st.integers(1, 5))},
        {
            "field": "status",
            "codes": {"..": [], "b.": [CODED[0]], "bv": CODED[:2], "h.": CODED[2:]},
        },
        {"field": "text", "text": draw(st.sampled_from([",", "G", " = "]))},
    ]
    fields += draw(st.lists(st.sampled_from(extra), unique_by=lambda each: each["field"]))
    layout: dict[str, Any] = {"kind": "text", "fields": draw(st.permutations(fields))}
    if not any(each["field"] == "unit" for each in fields):
        layout["unit"] = units[0]
    layout["words"] = draw(st.sampled_from([{}, {"Err!": ["error"], "OVER": ["overspeed"]}]))
    frame, check = draw(text_framings())
    return profile_of(layout, frame, {u: _step(draw, places[u]) for u in units}, check)


def _step(draw: st.DrawFn, places: int) -> str:
    return f"{Decimal(draw(st.sampled_from([1, 2, 5]))).scaleb(-places):f}"


@st.composite
def bcd_profiles(draw: st.DrawFn) -> GaugeProfile:
    count = draw(st.integers(1, 9))
    units = draw(st.sampled_from([("mm",), ("in",), ("mm", "in")]))
    order: list[Any] = ["sign", "point", "unit", *["digit"] * count]
    bits = draw(st.lists(st.sampled_from([*BITS, ""]), max_size=4, unique=True))
    order += ["status"] if bits else []
    order += draw(st.lists(st.integers(0, 15), min_size=1, max_size=3))
    signs = draw(st.lists(st.integers(0, 15), min_size=2, max_size=2, unique=True))
    codes = draw(st.lists(st.integers(0, 15), min_size=2, max_size=2, unique=True))
    layout = {
        "kind": "bcd",
        "order": draw(st.permutations(order)),
        "first": draw(st.sampled_from(["high half", "low half"])),
        "digits": draw(st.sampled_from(["highest first", "lowest first"])),
        "sign": dict(zip(("plus", "minus"), signs, strict=True)),
        "unit": {
            unit: code for unit, code in zip(("mm", "in"), codes, strict=True) if unit in units
        },
        "status_bits": bits,
        "blank": draw(st.none() | st.integers(10, 15)),
    }
    check = draw(st.none() | checks((), False))
    size = (len(order) + 1) // 2 + (Check(**check).size if check else 0)
    steps = {unit: _step(draw, draw(st.integers(0, count - 1))) for unit in units}
    return profile_of(layout, {"kind": "fixed", "length": size}, steps, check)


@st.composite
def counts_profiles(draw: st.DrawFn) -> GaugeProfile:
    bits = draw(st.sampled_from([8, 16, 24, 32, 40, 48]))
    order = draw(st.sampled_from(["high byte first", "low byte first"]))
    fields: list[dict[str, Any]] = [{"field": "count", "bits": bits, "order": order}]
    fields += [{"field": "sequence"}] if draw(st.booleans()) else []
    known = draw(st.lists(st.sampled_from([*BITS, ""]), max_size=8, unique=True))
    fields += [{"field": "status", "bits": known}] if known else []
    constants = draw(st.lists(st.binary(min_size=1, max_size=3), min_size=1, max_size=2))
    fields += [{"field": "constant", "value": value} for value in constants]
    unit, step = draw(st.sampled_from(["mm", "in"])), _step(draw, draw(st.integers(0, 7)))
    no_number = draw(st.none() | st.just(-(1 << (bits - 1))))
    layout = {"kind": "counts", "fields": draw(st.permutations(fields)), "step": step, "unit": unit}
    layout |= {"no_number": no_number}
    check = draw(st.none() | checks((), False))
    size = LAYOUT.validate_python(layout).length + (Check(**check).size if check else 0)
    return profile_of(layout, {"kind": "fixed", "length": size}, {unit: step}, check)


@st.composite
def register_profiles(draw: st.DrawFn) -> GaugeProfile:
    kind = draw(st.sampled_from(["int16", "uint16", "int32", "float32"]))
    size = 1 if kind in ("int16", "uint16") else 2
    places = draw(st.permutations(range(4)))
    value_at = draw(st.sampled_from([0, 2] if size == 2 else [0, 1, 2, 3]))
    free = [place for place in places if place not in range(value_at, value_at + size)]
    step = _step(draw, draw(st.integers(1, 5)))
    layout: dict[str, Any] = {
        "kind": "registers",
        "registers": 4,
        "value_at": value_at,
        "type": kind,
    }
    layout["words"] = draw(st.sampled_from(["high word first", "low word first"]))
    if draw(st.booleans()):
        steps = {"mm": step, "in": _step(draw, draw(st.integers(1, 6)))}
        codes = draw(st.lists(st.integers(0, 0xFFFF), min_size=2, max_size=2, unique=True))
        layout |= {"step": steps, "unit": {"at": free.pop(), "mm": codes[0], "in": codes[1]}}
    else:
        unit = draw(st.sampled_from(["mm", "in"]))
        steps = {unit: step}
        layout |= {"step": step, "unit": unit}
    if draw(st.booleans()):
        layout["status"] = {"at": free.pop(), "bits": draw(st.permutations([*BITS, "", ""]))}
    if kind != "float32" and draw(st.booleans()):
        layout["no_number"] = {"int16": -0x8000, "uint16": 0xFFFF, "int32": -0x80000000}[kind]
    address, first = draw(st.integers(1, 247)), draw(st.integers(0, 0xFFFF))
    frame = {"kind": "modbus", "address": address, "first_register": first, "registers": 4}
    return profile_of(layout, frame, steps, when="on request")


@st.composite
def numeric_profiles(draw: st.DrawFn) -> GaugeProfile:
    form = draw(st.sampled_from(["NR1", "NR2", "NR3"]))
    unit, power = draw(st.sampled_from(["mm", "in"])), draw(st.integers(0, 3))
    places = draw(st.integers(0, 3 if form == "NR1" else 5))
    worth = Decimal(1).scaleb(-places if form == "NR1" else power)
    layout: dict[str, Any] = {"kind": "numeric", "form": form, "unit": unit, "worth": f"{worth:f}"}
    layout["step"] = _step(draw, places)
    layout["sign"] = draw(st.sampled_from(["always", "minus only"]))
    # All digits of any value: up to 4 before the point and 5 behind it, shifted by ``worth``.
    layout["whole"] = draw(st.sampled_from([None, 3, 9] if form == "NR3" else [None, 9]))
    if form != "NR1":
        layout["decimals"] = draw(st.sampled_from([None, 10]))
    if form == "NR3":
        layout["exponent_sign"] = draw(st.sampled_from(["always", "minus only"]))
        layout["exponent_digits"] = draw(st.integers(1, 3))
    frame, check = draw(text_framings())
    return profile_of(layout, frame, {unit: layout["step"]}, check)


PROFILES = {
    "text": text_profiles(),
    "bcd": bcd_profiles(),
    "counts": counts_profiles(),
    "registers": register_profiles(),
    "numeric": numeric_profiles(),
}


@st.composite
def shown_values(draw: st.DrawFn, profile: GaugeProfile) -> Shown:
    """Something that a gauge of this profile could show, a number in most cases."""
    unit = draw(st.sampled_from(list(profile.resolution)))
    step = profile.resolution[unit]
    most = _most_steps(profile.layout, unit, step)
    count = draw(st.integers(0 if _is_unsigned(profile.layout) else -most, most))
    value = count * step
    if not count and profile.layout.kind in ("text", "bcd", "numeric") and draw(st.booleans()):
        value = -value  # a display can show -0.000
    status, sequence, label = frozenset[Status](), None, None
    for field in getattr(profile.layout, "fields", ()):
        match field.field:
            case "status" if profile.layout.kind == "text":
                status = draw(st.sampled_from(list(field.codes.values())))
            case "status":
                status = draw(_some_of(field.bits))
            case "sequence":
                sequence = draw(st.integers(0, 10 ** getattr(field, "digits", 2) - 1))
            case "label":
                label = draw(st.text("09AZaz", min_size=field.width, max_size=field.width))
    if getattr(profile.layout, "status_bits", ()):
        status = draw(_some_of(profile.layout.status_bits))
    if getattr(profile.layout, "status", None):
        status = draw(_some_of(profile.layout.status.bits))
    return Shown(value, unit, status, sequence, label)


def _some_of(bits: tuple[Status | None, ...]) -> st.SearchStrategy[frozenset[Status]]:
    known = [each for each in bits if each is not None]
    return st.frozensets(st.sampled_from(known)) if known else st.just(frozenset())


def _is_unsigned(layout: Any) -> bool:
    return layout.kind == "registers" and layout.type == "uint16"


def _most_steps(layout: Any, unit: Unit, step: Decimal) -> int:
    """How many display steps the largest number takes that the layout has room for."""
    places = -int(step.as_tuple().exponent)
    match layout.kind:
        case "text":
            number = next(each for each in layout.fields if each.field == "number")
            return int((10 ** (number.whole[1] + places) - 1) / step.scaleb(places))
        case "bcd":
            return int((10 ** layout.order.count("digit") - 1) / step.scaleb(places))
        case "counts":
            bits = next(each.bits for each in layout.fields if each.field == "count")
            return (1 << (bits - 1)) - 1
        case "registers":
            kinds = {"int16": 0x7FFF, "uint16": 0xFFFE, "int32": 0x7FFFFFFF, "float32": 1 << 21}
            return kinds[layout.type]
        case _:
            return int(Decimal(390) / step)
