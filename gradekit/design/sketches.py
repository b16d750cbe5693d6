"""Small pictures of SVG elements: they follow the page's colour and need no drawing library."""

from __future__ import annotations

from typing import Any
from xml.etree.ElementTree import Element

import numpy as np

from gradekit.core.markup import number
from gradekit.core.svg import drawing, shape

_MARK = "#0072b2"  # one blue, told from the text colour by every kind of eye
_PALE = "rgba(0,114,178,.25)"


def bar_sketch(rows: list[tuple], description: str, width: int = 640) -> Element:
    """Draw one line an item: its span, the window in it, the aim.

    Parameters
    ----------
    rows : list of (name, (low, high), window, aim, text)
        The span of the line, both ends of the window, and the text at the right.
    description : str
        For those who cannot see it.
    """
    left, right, step = 120, 190, 24
    inner = width - left - right
    parts = []
    for k, (name, (low, high), window, aim, text) in enumerate(rows):
        y = 16 + k * step
        shares = (np.array([*window, aim]) - low) / ((high - low) or 1.0)
        a, b, point = (left + inner * np.clip(shares, 0.0, 1.0)).tolist()
        parts += [
            shape("text", name, x=left - 8, y=y + 4, text_anchor="end"),
            shape("path", d=f"M{left} {y}h{inner}", stroke="currentColor", stroke_opacity=".35"),
            shape("rect", x=a, y=y - 6, width=max(b - a, 1.5), height=12, fill=_PALE, stroke=_MARK),
            shape("circle", cx=point, cy=y, r=4, fill=_MARK),
            shape("text", text, x=left + inner + 8, y=y + 4),
        ]
    return _frame(parts, width, 16 + len(rows) * step, description)


def curve(x: np.ndarray, y: np.ndarray, x_title: str, y_title: str, description: str) -> Element:
    """Draw points of a curve with both axes."""
    width, height, left, top, right, bottom = 640, 300, 80, 16, 24, 48
    inner, tall = width - left - right, height - top - bottom
    floor = top + tall
    (x0, x1), (y0, y1) = _span(x), _span(y)

    def across(a: Any) -> Any:
        return left + inner * (a - x0) / (x1 - x0)

    def down(b: Any) -> Any:
        return top + tall * (1 - (b - y0) / (y1 - y0))

    frame = f"M{left},{top}V{floor}H{left + inner}"
    parts = [shape("path", d=frame, fill="none", stroke="currentColor")]
    for value, written in _ticks(x0, x1):
        parts.append(shape("text", written, x=across(value), y=floor + 16, text_anchor="middle"))
    for value, written in _ticks(y0, y1):
        parts.append(shape("text", written, x=left - 6, y=down(value) + 4, text_anchor="end"))
    upwards = f"translate(14,{top + tall / 2}) rotate(-90)"
    points = [*zip(across(x), down(y), strict=True)]
    line = " ".join(f"{a:.1f},{b:.1f}" for a, b in points)
    parts += [
        shape("text", x_title, x=left + inner / 2, y=height - 8, text_anchor="middle"),
        shape("text", y_title, transform=upwards, text_anchor="middle"),
        shape("polyline", points=line, fill="none", stroke=_MARK),
        *(shape("circle", cx=a, cy=b, r=2.5, fill=_MARK) for a, b in points),
    ]
    return _frame(parts, width, height, description)


def _ticks(low: float, high: float) -> list[tuple[float, str]]:
    """Round places of an axis, two to five, as they are written."""
    size = 10.0 ** np.floor(np.log10((high - low) / 4))
    step = next(k * size for k in (1, 2, 2.5, 5, 10) if 4 * k * size >= high - low)
    values = step * np.arange(np.ceil(low / step), np.floor(high / step) + 1)
    return [(value, number(value, 9)) for value in values.tolist()]


def _span(values: np.ndarray) -> tuple[float, float]:
    low, high = float(np.min(values)), float(np.max(values))
    pad = 0.05 * (high - low) or 0.01 * max(abs(high), 1e-9)
    return low - pad, high + pad


def _frame(parts: list[Element], width: int, height: int, description: str) -> Element:
    style = "font:12px system-ui,sans-serif;fill:currentColor"
    return drawing(width, height, *parts, words=description, style=style)
