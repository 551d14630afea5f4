"""Frame layouts: what the payload of a frame says, in both directions.

Each layout decodes a payload to what the gauge shows, and encodes what it shows to the payload: the
simulated gauge sends what ``encode`` makes, so simulator and decoder cannot drift apart. A layout
accepts only what ``encode`` could have written; anything else is a ``FrameError``, for a lenient
parser turns a lost byte into another number.
"""

from typing import Annotated, Protocol

from pydantic import Field

from drivers.layouts.bcd import BcdLayout
from drivers.layouts.counts import CountsLayout
from drivers.layouts.numeric import NumericLayout
from drivers.layouts.registers import RegistersLayout
from drivers.layouts.text import TextLayout
from drivers.reading import Shown


class Layout(Protocol):
    """What every layout can do."""

    def decode(self, payload: bytes) -> Shown:
        """What the gauge shows.

        Raises:
            FrameError: the payload is none of this layout's; the message names the field.
        """

    def encode(self, shown: Shown) -> bytes:
        """The payload that a gauge showing ``shown`` sends.

        Raises:
            FrameError: the layout cannot express it (too many digits, no such unit).
        """


AnyLayout = Annotated[
    TextLayout | BcdLayout | CountsLayout | RegistersLayout | NumericLayout,
    Field(discriminator="kind"),
]

__all__ = [
    "AnyLayout",
    "BcdLayout",
    "CountsLayout",
    "Layout",
    "NumericLayout",
    "RegistersLayout",
    "TextLayout",
]
