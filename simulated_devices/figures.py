"""The figures that motions and scenarios are made of, with bounds inside which nothing overflows.

A figure out of bounds, infinite or no number is refused where it is written down, not where it
would first be used.
"""

from typing import Annotated

from pydantic import Field

Length = Annotated[float, Field(strict=True, ge=-100_000, le=100_000)]
"""Millimetres, or millimetres a second."""

Size = Annotated[float, Field(strict=True, ge=0, le=100_000)]
"""Millimetres without a sign: a standard deviation, a tolerance."""

Stride = Annotated[float, Field(strict=True, ge=1e-6, le=100_000)]
"""Millimetres that something is divided by."""

Moment = Annotated[float, Field(strict=True, ge=0, le=1e7)]
"""Seconds since the gauge was switched on."""

Span = Annotated[float, Field(strict=True, ge=1e-6, le=1e7)]
"""Seconds that something takes."""

Frequency = Annotated[float, Field(strict=True, gt=0, le=10_000)]
"""Hertz."""

Chance = Annotated[float, Field(strict=True, ge=0, le=1)]
"""A probability."""
