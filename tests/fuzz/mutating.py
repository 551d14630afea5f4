"""Spoils sound inputs: bytes changed, lines moved, values put where they do not belong."""

ODD = (
    b"",
    b"\x00",
    b"\xff\xfe",
    b"\xed\xa0\x80",
    "\u202e\u0301".encode(),
    b"nan",
    b"-inf",
    b"1e999999999",
    b"-0",
    b"9" * 40,
    b"0." + b"0" * 400 + b"1",
    b"18446744073709551616",
    b"true",
    b"[]",
    b"{}",
    b'""',
    b"'",
    b'"""',
    b"\\",
    b"../../etc/passwd",
    b"<script>alert(1)</script>",
    b"&xxe;",
    b"2026-02-30",
    b"1979-05-27T07:32:00Z",
    b"\r",
    b"\n",
    b"=",
    b",",
    b";",
)
DEEP = (b"[", b"{", b"(", b'{"a":', b"a.", b"-", b"(1+", b"x = [")


def spoilt(dice, seeds):
    """One input, made of one of ``seeds`` by up to six changes."""
    data = bytearray(dice.choice(seeds))
    for _ in range(dice.randint(1, 6)):
        dice.choice(WAYS)(dice, data, seeds)
    return bytes(data[:200_000])


def _place(dice, data):
    return dice.randrange(len(data) + 1)


def _flip(dice, data, _):
    if data:
        data[dice.randrange(len(data))] ^= 1 << dice.randrange(8)


def _cut(dice, data, _):
    first = _place(dice, data)
    del data[first : first + dice.randint(1, 40)]


def _end(dice, data, _):
    del data[_place(dice, data) :]


def _odd(dice, data, _):
    at = _place(dice, data)
    data[at:at] = dice.choice(ODD)


def _instead(dice, data, _):
    """A value replaced, from an equals sign or a comma on."""
    at = data.find(dice.choice((b"=", b",", b":")), _place(dice, data))
    if at >= 0:
        end = min(
            (e for e in (data.find(b"\n", at), data.find(b",", at + 1)) if e > at), default=at
        )
        data[at + 1 : end] = b" " + dice.choice(ODD)


def _double(dice, data, _):
    first = _place(dice, data)
    data[first:first] = data[first : first + dice.randint(1, 200)]


def _lines(dice, data, _):
    lines = bytes(data).split(b"\n")
    one, other = dice.randrange(len(lines)), dice.randrange(len(lines))
    lines[one], lines[other] = lines[other], lines[one]
    data[:] = b"\n".join(lines)


def _crossed(dice, data, seeds):
    other = dice.choice(seeds)
    at = _place(dice, data)
    data[at:] = other[dice.randrange(len(other) + 1) :]


def _deep(dice, data, _):
    at = _place(dice, data)
    data[at:at] = dice.choice(DEEP) * dice.choice((3, 50, 3000))


WAYS = (_flip, _flip, _cut, _end, _odd, _odd, _instead, _instead, _double, _lines, _crossed, _deep)
