"""A straight line through the points of a correction curve, with the uncertainty of what it says.

Figures are floats, each axis in a unit of its own; the line's uncertainty covers the scatter of
the points, or the uncertainties given for them. What all points share, such as the error of one
reference, moves the whole line: it belongs into the budget beside it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from daq.calibration.errors import CalibrationError


@dataclass(frozen=True, slots=True)
class Predicted:
    """What the line says at one place.

    u: standard uncertainty of the line there. u_single: that of one more point like those fitted;
    None where every point has its own weight. dof: of both. inside: whether the place lies
    between the fitted points; beyond them nothing shows that the line goes on straight.
    """

    x: float
    value: float
    u: float
    u_single: float | None
    dof: float
    inside: bool


@dataclass(frozen=True, slots=True)
class Line:
    """y = intercept + slope·(x - origin), fitted by least squares.

    u_intercept, u_slope, covariance: of the two, which are correlated. dof: n - 2, or infinite
    where the uncertainties of the points were given. sd: experimental standard deviation of the
    points about the line (of a point of weight 1). chi_square: weighted sum of squared residuals,
    to be held against its n - 2 degrees of freedom; None where no uncertainties were given.
    residuals: measured minus fitted, in order of the points.
    """

    origin: float
    intercept: float
    slope: float
    u_intercept: float
    u_slope: float
    covariance: float
    dof: float
    sd: float
    chi_square: float | None
    residuals: tuple[float, ...]
    x_low: float
    x_high: float

    @property
    def correlation(self) -> float:
        """Correlation coefficient of intercept and slope."""
        product = self.u_intercept * self.u_slope
        return self.covariance / product if product > 0 else 0.0

    def at(self, x: float) -> Predicted:
        """The line at ``x`` with its uncertainty.

        Raises:
            CalibrationError: ``x`` is not finite.

        Source: JCGM 100:2008, H.3.4, equation (H.15).
        """
        if not math.isfinite(x):
            raise CalibrationError(f"the line has no value at {x}")
        away = x - self.origin
        variance = math.fsum(
            [self.u_intercept**2, (away * self.u_slope) ** 2, 2 * away * self.covariance]
        )
        u = math.sqrt(max(variance, 0.0))
        single = math.hypot(u, self.sd) if self.chi_square is None else None
        inside = self.x_low <= x <= self.x_high
        return Predicted(x, self.intercept + self.slope * away, u, single, self.dof, inside)


def fit_line(
    x: Sequence[float],
    y: Sequence[float],
    *,
    u: Sequence[float] | None = None,
    origin: float | None = None,
) -> Line:
    """The least-squares line of ``y`` on ``x``; ``x`` counts as known.

    Args:
        x: where the points are, at least three, two of them different.
        y: what was measured there.
        u: standard uncertainties of the points, independent of each other. The points then have
            the weights 1/u², and the line's uncertainty comes from ``u`` alone. Without them all
            weigh the same, and it comes from the scatter about the line.
        origin: where the intercept is taken; without it the weighted mean of ``x``, at which
            intercept and slope are not correlated.

    Raises:
        CalibrationError: too few points, not as many ``y`` or ``u`` as ``x``, a figure that is not
            finite, an uncertainty that is not above 0, or all ``x`` the same.

    Source: JCGM 100:2008, H.3.2 and H.3.3, equations (H.13); with weights, the same sums weighted.
    """
    _require_points(x, y, u)
    n = len(x)
    smallest = min(u) if u is not None else 1.0
    # Weights relative to the best point: none above 1, whatever the unit.
    weights = [1.0] * n if u is None else [(smallest / each) ** 2 for each in u]
    total = math.fsum(weights)
    shift = x[0]  # exact for near values; keeps the digits of points far from zero
    mean_x = math.fsum(w * (a - shift) for w, a in zip(weights, x, strict=True)) / total
    dx = [(a - shift) - mean_x for a in x]
    mean_y = y[0] + math.fsum(w * (b - y[0]) for w, b in zip(weights, y, strict=True)) / total
    spread = math.fsum(w * d * d for w, d in zip(weights, dx, strict=True))
    if not spread > 0 or not math.isfinite(spread):
        raise CalibrationError("all points lie at the same place; a line needs two places at least")
    slope = math.fsum(w * d * (b - mean_y) for w, d, b in zip(weights, dx, y, strict=True)) / spread
    residuals = tuple((b - mean_y) - slope * d for d, b in zip(dx, y, strict=True))
    squares = math.fsum(w * r * r for w, r in zip(weights, residuals, strict=True))
    sd = math.sqrt(squares / (n - 2))
    scale = sd if u is None else smallest  # standard uncertainty of a point of weight 1
    centre = shift + mean_x
    origin = centre if origin is None else origin
    # Taken from the shifted sums: centre itself is rounded.
    away = (origin - shift) - mean_x if origin != centre else 0.0
    return Line(
        origin=origin,
        intercept=mean_y + slope * away,
        slope=slope,
        u_intercept=scale * math.sqrt(1 / total + away * away / spread),
        u_slope=scale / math.sqrt(spread),
        covariance=scale * scale * away / spread,
        dof=float(n - 2) if u is None else math.inf,
        sd=sd,
        chi_square=None if u is None else squares / smallest**2,
        residuals=residuals,
        x_low=min(x),
        x_high=max(x),
    )


def _require_points(x: Sequence[float], y: Sequence[float], u: Sequence[float] | None) -> None:
    n = len(x)
    if n < 3:
        raise CalibrationError(f"a line with an uncertainty needs three points or more, not {n}")
    if len(y) != n or (u is not None and len(u) != n):
        given = f"{n} places, {len(y)} values"
        given += "" if u is None else f" and {len(u)} uncertainties"
        raise CalibrationError(f"every point needs all its figures; there are {given}")
    for figure in (*x, *y, *(u or ())):
        if not math.isfinite(figure):
            raise CalibrationError(f"a point of the line has the figure {figure}")
    if u is not None and not min(u) > 0:
        raise CalibrationError("the uncertainty of every point must be above 0 to weight it")
