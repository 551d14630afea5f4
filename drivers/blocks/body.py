"""What stands in a payload of characters, put together from left to right."""

from dataclasses import dataclass, replace

from drivers.blocks.rows import DIGITS, DecimalDigits
from drivers.blocks.shape import Sketch
from drivers.reading import Unit

NO_ZERO = DIGITS - {ord("0")}
MINUS = ord("-")


@dataclass(frozen=True, slots=True)
class Body:
    """What stands at each place of the payload, and which places mean something."""

    places: tuple[frozenset[int], ...] = ()
    digits: tuple[int, ...] = ()
    sign_at: int | None = None
    status_at: int | None = None
    sequence: slice | None = None
    label: slice | None = None

    def then(self, *places: frozenset[int]) -> "Body":
        """This, and places that hold one of so many bytes each."""
        return replace(self, places=self.places + places)

    def then_text(self, text: str) -> "Body":
        """This, and ``text``."""
        return self.then(*(frozenset({byte}) for byte in text.encode("ascii")))

    def then_sign(self, signs: str) -> "Body":
        """This, and one of ``signs`` as the number's; nothing if there are none."""
        if not signs:
            return self
        body = replace(self, sign_at=len(self.places))
        return body.then(frozenset(signs.encode("ascii")))

    def then_digits(self, *allowed: frozenset[int]) -> "Body":
        """This, and further digits of the number, each one of so many."""
        begin = len(self.places)
        body = replace(self, digits=self.digits + tuple(range(begin, begin + len(allowed))))
        return body.then(*allowed)

    def sketch(self, unit: Unit, decimals: int, before: int) -> Sketch:
        """The sketch of the payload; its number and sign count from ``before`` bytes before it."""
        constants = {
            before + place: allowed
            for place, allowed in enumerate(self.places)
            if len(allowed) == 1
        }
        number = DecimalDigits(tuple(before + place for place in self.digits), constants)
        # A digit that must not be zero is looked at again.
        number.checked -= {before + place for place in self.digits if self.places[place] == NO_ZERO}
        sketch = Sketch(list(self.places), number, unit, decimals)
        if self.sign_at is not None:
            sketch.negative = (before + self.sign_at, 0xFF, MINUS)
        return sketch
