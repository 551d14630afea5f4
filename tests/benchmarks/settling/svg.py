"""Just enough SVG, written by hand: boxes, lines, dots and words."""

from html import escape

GREEN, PALE_GREEN = "#1d6b34", "#cfe3cf"
RED, PALE_RED = "#b3261e", "#f3c9c5"
INK, GREY, DOTS, PALE_GREY = "#222", "#777", "#999", "#e2e2e2"


def page(width, height, parts) -> str:
    """The whole file."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" '
        f'viewBox="0 0 {width} {height}" font-family="sans-serif" font-size="12">\n'
        f'<rect width="{width}" height="{height}" fill="#fff"/>\n' + "\n".join(parts) + "\n</svg>\n"
    )


def box(x, y, width, height, colour):
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{width:.1f}" height="{height:.1f}" fill="{colour}"/>'
    )


def line(x0, y0, x1, y1, colour=INK, width=1.0, dashes=""):
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return (
        f'<line x1="{x0:.1f}" y1="{y0:.1f}" x2="{x1:.1f}" y2="{y1:.1f}" '
        f'stroke="{colour}" stroke-width="{width}"{dashed}/>'
    )


def curve(points, colour=INK, width=1.0, dashes=""):
    """A line through all ``points`` (x, y)."""
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    drawn = "M" + " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
    return f'<path d="{drawn}" fill="none" stroke="{colour}" stroke-width="{width}"{dashed}/>'


def dots(points, colour=INK, size=2.5):
    """Many small dots as one path."""
    drawn = "".join(f"M{x:.1f},{y:.1f}h0" for x, y in points)
    return (
        f'<path d="{drawn}" fill="none" stroke="{colour}" stroke-width="{size}" '
        'stroke-linecap="round"/>'
    )


def dot(x, y, radius, colour):
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{radius}" fill="{colour}"/>'


def words(x, y, text, colour=INK, anchor="start", size=12, bold=False):
    """Words with their foot at y, on a white edge that keeps lines behind them off."""
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" fill="{colour}" text-anchor="{anchor}" '
        f'font-size="{size}"{weight} stroke="#fff" stroke-width="3" paint-order="stroke">'
        f"{escape(text)}</text>"
    )
