"""The moving layer of an explorer: marks, bars and names as one short SVG string."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from gradekit.core.markup import escape
from gradekit.pictures.marks import Mark, ToPixels, bar_boxes
from gradekit.pictures.placing import place_labels
from gradekit.pictures.style import INK, text_size

__all__ = ["overlay", "shape_path"]

_NAME_SIZE = 12.0


def overlay(to_px: ToPixels, marks: Iterable[Mark], *, trail: bool = False, words: str = "") -> str:
    """Return the moving layer of an explorer as one SVG string, to lie over the background.

    Parameters
    ----------
    to_px : ToPixels
        As `background` returned it.
    marks : Mark
        A point outside the chart stands as an arrow head at the border.
    trail : bool
        Whether a thin line joins the marks in their order.
    words : str
        What the layer shows, for a screen reader; the layer is hidden from it if empty.

    Returns
    -------
    str
        An `<svg>` of the size of the background.

    Examples
    --------
    >>> from gradekit.pictures.placing import Box
    >>> to_px = ToPixels(100, 80, Box(10, 10, 90, 70), (18, 30), (10, 18))
    >>> "circle" in overlay(to_px, [Mark(20.0, 12.0, "trial")])
    True
    """
    marks = list(marks)
    centres = [_inside(to_px, mark) for mark in marks]
    spots = np.array([(x, y) for x, y, _ in centres]).reshape(-1, 2)
    names = [
        f"{m.name} (outside)" if out and m.name else m.name
        for m, (_, _, out) in zip(marks, centres, strict=True)
    ]
    sizes = [text_size(n, _NAME_SIZE) if n else (0.0, 0.0) for n in names]
    taken = [*to_px.labels, *bar_boxes(to_px, marks)]
    where = place_labels(spots, sizes, to_px.box, taken, mark=6.0)
    parts = [_bars(to_px, m, out) for m, (_, _, out) in zip(marks, centres, strict=True)]
    if trail and len(marks) > 1:
        line = " ".join(f"{x:.1f},{y:.1f}" for x, y in spots)
        parts.append(
            f'<polyline points="{line}" fill="none" stroke="{INK}" stroke-dasharray="2 3"/>'
        )
    for mark, (x, y, out) in zip(marks, centres, strict=True):
        shape = _arrow_head(x, y, out) if out else shape_path(mark.shape, x, y, 6.0)
        parts.append(
            shape.replace("/>", f' fill="{mark.colour}" stroke="#fff" stroke-width="1.3"/>')
        )
    for mark, name, (x, y), spot in zip(marks, names, spots, where, strict=True):
        if spot is None:
            continue
        if spot.leader:
            parts.append(
                f'<line x1="{x:.1f}" y1="{y:.1f}" x2="{spot.leader[0]:.1f}" '
                f'y2="{spot.leader[1]:.1f}" stroke="{mark.colour}" stroke-width=".8"/>'
            )
        parts.append(_text(name, spot.x, spot.y, mark.ink))
    tag = f'role="img" aria-label="{escape(words)}"' if words else 'aria-hidden="true"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {to_px.width} {to_px.height}" '
        f'style="width:100%;max-width:{to_px.width}px;height:auto;display:block" {tag}>'
        f"{''.join(parts)}</svg>"
    )


def _inside(to_px: ToPixels, mark: Mark) -> tuple[float, float, tuple[int, int] | None]:
    """Return the pixels of a mark, at the border if it lies outside, and the way it points."""
    x, y = to_px(mark.x, mark.y)
    left, top, right, bottom = to_px.box
    out = (int(x > right) - int(x < left), int(y > bottom) - int(y < top))
    if out == (0, 0):
        return x, y, None
    return min(max(x, left + 6), right - 6), min(max(y, top + 6), bottom - 6), out


def _bars(to_px: ToPixels, mark: Mark, out: tuple[int, int] | None) -> str:
    if out:
        return ""
    left, top, right, bottom = to_px.box
    x, _ = to_px(mark.x, mark.y)
    parts = []
    if mark.reading:
        _, high = to_px(mark.x, mark.reading[1])
        _, low = to_px(mark.x, mark.reading[0])
        high, low = max(high, top), min(low, bottom)
        parts.append(
            f'<rect x="{x - 4:.1f}" y="{high:.1f}" width="8" height="{low - high:.1f}" '
            f'fill="{mark.colour}" fill-opacity=".18"/>'
        )
    for error, across in ((mark.x_error, True), (mark.y_error, False)):
        if not error:
            continue
        a = to_px(mark.x - error * across, mark.y - error * (not across))
        b = to_px(mark.x + error * across, mark.y + error * (not across))
        (ax, bx) = (min(max(v, left), right) for v in (a[0], b[0]))
        (ay, by) = (min(max(v, top), bottom) for v in (a[1], b[1]))
        cap = (0, 3) if across else (3, 0)
        parts.append(
            f'<path d="M{ax:.1f} {ay:.1f}L{bx:.1f} {by:.1f}'
            + "".join(
                f"M{px - cap[0]:.1f} {py - cap[1]:.1f}L{px + cap[0]:.1f} {py + cap[1]:.1f}"
                for px, py in ((ax, ay), (bx, by))
            )
            + f'" fill="none" stroke="{mark.colour}" stroke-width="1.4"/>'
        )
    return "".join(parts)


def _text(name: str, x: float, y: float, colour: str) -> str:
    return (
        f'<text x="{x:.1f}" y="{y + 0.35 * _NAME_SIZE:.1f}" text-anchor="middle" '
        f'font-size="{_NAME_SIZE:g}" font-family="DejaVu Sans,Verdana,Arial,sans-serif" '
        f'fill="{colour}" stroke="#fff" stroke-width="3" paint-order="stroke">{escape(name)}</text>'
    )


def _arrow_head(x: float, y: float, out: tuple[int, int]) -> str:
    way = np.array(out) / np.hypot(*out)
    side = np.array([-way[1], way[0]])
    centre = np.array([x, y])
    corners = [centre + 6 * way, centre - 5 * way + 6 * side, centre - 5 * way - 6 * side]
    return f'<polygon points="{" ".join(f"{a:.1f},{b:.1f}" for a, b in corners)}"/>'


def shape_path(shape: str, x: float, y: float, size: float) -> str:
    """Return a mark as an SVG element of about the same area whatever its shape."""
    if shape == "circle":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{size * 0.95:.1f}"/>'
    points = _OUTLINES[shape](size)
    return f'<polygon points="{" ".join(f"{x + a:.1f},{y + b:.1f}" for a, b in points)}"/>'


def _regular(corners: int, radius: float, turn: float) -> Callable[[float], list]:
    angles = np.deg2rad(turn + np.arange(corners) * 360 / corners)
    return lambda s: [(radius * s * np.cos(a), radius * s * np.sin(a)) for a in angles]


def _cross(size: float) -> list[tuple[float, float]]:
    a, b = 0.38 * size, 1.1 * size
    return [
        (-a, -b), (a, -b), (a, -a), (b, -a), (b, a), (a, a),
        (a, b), (-a, b), (-a, a), (-b, a), (-b, -a), (-a, -a),
    ]  # fmt: skip


_OUTLINES: dict[str, Callable[[float], list]] = {
    "square": _regular(4, 1.2, 45),
    "diamond": _regular(4, 1.2, 0),
    "triangle": _regular(3, 1.25, -90),
    "wedge": _regular(3, 1.25, 90),
    "hexagon": _regular(6, 1.05, 90),
    "cross": _cross,
    "kite": lambda s: [(0, -1.3 * s), (0.75 * s, 0), (0, 1.3 * s), (-0.75 * s, 0)],
}
