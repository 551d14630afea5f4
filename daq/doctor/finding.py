"""What was found, and what to do about it."""

from dataclasses import dataclass
from typing import Literal

State = Literal["fine", "mind", "fault"]
"""``mind``: it works, but can go wrong; ``fault``: it stops the work or puts records at risk."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was looked at.

    ``fix`` are the steps to take, in their order; commands as they are typed.
    """

    about: str
    state: State
    says: str
    fix: tuple[str, ...] = ()
