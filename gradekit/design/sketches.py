"""Pictures as short SVG strings: they follow the page's colour and need no drawing library."""

from __future__ import annotations

import numpy as np

from gradekit.core.markup import escape, number

__all__ = ["bars", "curve"]

_MARK = "#0072b2"  # one blue, told from the text colour by every kind of eye
_PALE = "rgba(0,114,178,.25)"


def bars(rows: list[dict], description: str, width: int = 640) -> str:
    """Draw one line an item: its span, the window in it, the aim.

    Parameters
    ----------
    rows : list of dict
        `name`, `span` (low, high), `window` (low, high), `aim`, `text` at the right.
    said : str
        Description for those who cannot see it.
    """
    left, right, step = 120, 190, 24
    inner = width - left - right
    parts = []
    for k, row in enumerate(rows):
        y = 16 + k * step
        low, high = row["span"]
        size = (high - low) or 1.0

        def at(value: float, low: float = low, size: float = size) -> float:
            return left + inner * float(np.clip((value - low) / size, 0.0, 1.0))

        a, b = at(row["window"][0]), at(row["window"][1])
        parts.append(
            f'<text x="{left - 8}" y="{y + 4}" text-anchor="end">{escape(row["name"])}</text>'
            f'<line x1="{left}" x2="{left + inner}" y1="{y}" y2="{y}" stroke="currentColor" '
            f'stroke-opacity=".35"/>'
            f'<rect x="{a:.1f}" y="{y - 6}" width="{max(b - a, 1.5):.1f}" height="12" '
            f'fill="{_PALE}" stroke="{_MARK}"/>'
            f'<circle cx="{at(row["aim"]):.1f}" cy="{y}" r="4" fill="{_MARK}"/>'
            f'<text x="{left + inner + 8}" y="{y + 4}">{escape(row["text"])}</text>'
        )
    return _frame("".join(parts), width, 16 + len(rows) * step, description)


def curve(x: np.ndarray, y: np.ndarray, x_title: str, y_title: str, description: str) -> str:
    """Draw points of a curve with both axes."""
    width, height, left, top, right, bottom = 640, 300, 80, 16, 24, 48
    inner, tall = width - left - right, height - top - bottom
    (x0, x1), (y0, y1) = _span(x), _span(y)

    def at(a: float, b: float) -> tuple[float, float]:
        return left + inner * (a - x0) / (x1 - x0), top + tall * (1 - (b - y0) / (y1 - y0))

    points = [at(a, b) for a, b in zip(x, y, strict=True)]
    line = " ".join(f"{a:.1f},{b:.1f}" for a, b in points)
    dots = "".join(f'<circle cx="{a:.1f}" cy="{b:.1f}" r="2.5" fill="{_MARK}"/>' for a, b in points)
    axes = (
        f'<path d="M{left},{top}V{top + tall}H{left + inner}" fill="none" stroke="currentColor"/>'
    )
    for value in np.linspace(x0, x1, 5):
        a, _ = at(value, y0)
        axes += (
            f'<text x="{a:.1f}" y="{top + tall + 16}" text-anchor="middle">{number(value)}</text>'
        )
    for value in np.linspace(y0, y1, 5):
        _, b = at(x0, value)
        axes += f'<text x="{left - 6}" y="{b + 4:.1f}" text-anchor="end">{number(value, 3)}</text>'
    axes += (
        f'<text x="{left + inner / 2}" y="{height - 8}" text-anchor="middle">{escape(x_title)}'
        f'</text><text transform="translate(14,{top + tall / 2}) rotate(-90)" '
        f'text-anchor="middle">{escape(y_title)}</text>'
    )
    path = f'<polyline points="{line}" fill="none" stroke="{_MARK}"/>'
    return _frame(axes + path + dots, width, height, description)


def _span(values: np.ndarray) -> tuple[float, float]:
    low, high = float(np.min(values)), float(np.max(values))
    pad = 0.05 * (high - low) or 0.01 * max(abs(high), 1e-9)
    return low - pad, high + pad


def _frame(inside: str, width: int, height: int, description: str) -> str:
    return (
        f'<svg viewBox="0 0 {width} {height}" role="img" aria-label="{escape(description)}" '
        f'style="width:100%;max-width:{width}px;font:12px system-ui,sans-serif;'
        f'fill:currentColor">{inside}</svg>'
    )
