"""Draws a trace, what was said of it, and its interval, as SVG written by hand."""

from html import escape
from pathlib import Path

from daq.settle import Settler

from .scoring import reports_of
from .trace import make_trace

WIDTH, HEIGHT, MARGIN = 720, 260, 46
PICTURES = {
    "settling-clean-step": ("clean step", 50, True, 9003, (0.6, 4.0), 4),
    "settling-creep": ("exponential creep", 50, False, 9001, (0.8, 9.0), 8),
    "settling-vibration": ("slow vibration", 10, False, 9002, (0.8, 14.0), 5),
    "settling-clicks": ("slow clicks", 50, True, 9004, (0.0, 18.0), 60),
}


def draw_all(folder: Path) -> None:
    """Write every picture of `docs/settling.md` into the folder."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, (family, hz, coarse, seed, times, reach) in PICTURES.items():
        (folder / f"{name}.svg").write_text(
            picture(family, hz, coarse, seed, times, reach), "utf-8"
        )


def picture(family, hz, coarse, seed, times, reach) -> str:
    """One trace as SVG; lengths in tolerances from the last rest, within ``reach``."""
    trace = make_trace(family, hz, coarse, seed)
    _, said, _ = reports_of(Settler(trace.step_mm, trace.tolerance_mm, hz), trace)
    zero = float(trace.stretches[-1].x(trace.t_s[-1:])[0])
    x_of = lambda t: MARGIN + (t - times[0]) / (times[1] - times[0]) * (WIDTH - 2 * MARGIN)  # noqa: E731
    y_of = lambda y: HEIGHT / 2 - (y - zero) / reach * (HEIGHT / 2 - 30)  # noqa: E731
    inside = lambda t, y: times[0] <= t <= times[1] and abs(y - zero) <= reach  # noqa: E731
    dots, bands, values = [], [], []
    for t, mm, rest in zip(trace.t_s.tolist(), trace.value_mm.tolist(), said, strict=True):
        y = mm / trace.tolerance_mm
        if inside(t, y):
            dots.append(f'<circle cx="{x_of(t):.1f}" cy="{y_of(y):.1f}" r="1.6"/>')
        if rest is not None and times[0] <= t <= times[1]:
            level, u = rest.value_mm / trace.tolerance_mm, rest.u_mm / trace.tolerance_mm
            top, low = (
                y_of(min(level + 2 * u, zero + reach)),
                y_of(max(level - 2 * u, zero - reach)),
            )
            if low > top:
                wide = (WIDTH - 2 * MARGIN) / (times[1] - times[0]) / hz + 0.3
                bands.append(_box(x_of(t), top, wide, low - top))
                values.append(_box(x_of(t), y_of(level) - 0.8, wide, 1.6))
    title = f"{family}, {hz} readings a second, {'coarse' if coarse else 'fine'} display"
    return _page(title, dots, bands, values, times, reach, y_of, zero)


def _box(x, y, width, height):
    return f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}"/>'


def _page(title, dots, bands, values, times, reach, y_of, zero):
    marks = [
        f'<text x="{MARGIN - 6}" y="{y_of(zero + y) + 4:.0f}" text-anchor="end">{y:+g}</text>'
        for y in (-reach, 0, reach)
    ]
    marks.append(f'<text x="{MARGIN}" y="{HEIGHT - 6}">{times[0]:g} s</text>')
    marks.append(
        f'<text x="{WIDTH - MARGIN}" y="{HEIGHT - 6}" text-anchor="end">{times[1]:g} s</text>'
    )
    parts = (
        ("#d4e4d4", bands), ("#1d6b34", values), ("#555", dots), ("#222", marks),
    )  # fmt: skip
    body = "\n".join(f'<g fill="{colour}">\n' + "\n".join(p) + "\n</g>" for colour, p in parts)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{HEIGHT}" '
        f'viewBox="0 0 {WIDTH} {HEIGHT}" font-family="sans-serif" font-size="12">\n'
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#fff"/>\n'
        f'<text x="{MARGIN}" y="18" fill="#222">{escape(title)}: '
        "dots readings, band value ± 2 u</text>\n"
        f"{body}\n</svg>\n"
    )
