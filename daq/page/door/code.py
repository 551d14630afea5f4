"""The address as a square code (QR, ISO/IEC 18004) in lines of text, for the camera of a tablet."""

import segno

QUIET = 4
"""The light border that the standard asks for, in modules."""

_HALVES = {(0, 0): " ", (1, 0): "▀", (0, 1): "▄", (1, 1): "█"}


def can_print_halves(encoding: str | None) -> bool:
    """Whether a terminal of this encoding has the half blocks."""
    try:
        "▀▄█".encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return False
    return True


def code_lines(text: str, *, halves: bool = True, light_on_dark: bool = False) -> tuple[str, ...]:
    """A square code of ``text``, all lines of one width.

    Half blocks make it 1 column by half a line a module; without them it is 2 columns by 1 line,
    in ``#``. Print it black on white where there are colours. Where there are none and the terminal
    writes light on dark, ``light_on_dark`` draws the light modules in the place of the dark ones.

    Args:
        text: what the code says.
        halves: whether the terminal has half blocks.
        light_on_dark: whether what is printed is lighter than what is not.
    """
    code = segno.make(text, micro=False, error="m", boost_error=False)
    flip = 1 if light_on_dark else 0
    rows = [[int(module) ^ flip for module in row] for row in code.matrix_iter(border=QUIET)]
    if not halves:
        return tuple("".join("##" if module else "  " for module in row) for row in rows)
    if len(rows) % 2:
        rows.append([flip] * len(rows[0]))
    return tuple(
        "".join(_HALVES[upper, lower] for upper, lower in zip(*pair, strict=True))
        for pair in zip(rows[::2], rows[1::2], strict=True)
    )
