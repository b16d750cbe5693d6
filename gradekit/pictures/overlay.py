"""The moving layer of an explorer: marks, bars and names as one small picture."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from xml.etree.ElementTree import Element

import numpy as np

from gradekit.core.svg import drawing, shape
from gradekit.pictures.marks import Mark, ToPixels, bar_boxes
from gradekit.pictures.paper import NAME, centred, corners, outline
from gradekit.pictures.placing import place_labels
from gradekit.pictures.style import INK, text_size


def overlay(
    to_px: ToPixels, marks: Iterable[Mark], *, trail: bool = False, words: str = ""
) -> Element:
    """Return the moving layer of an explorer, to lie over the background.

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
    Element
        A picture of the size of the background.

    Examples
    --------
    >>> from gradekit.pictures.placing import LabelBox
    >>> to_px = ToPixels(100, 80, LabelBox(10, 10, 90, 70), (18, 30), (10, 18))
    >>> overlay(to_px, [Mark(20.0, 12.0, "trial")])[0].tag
    'circle'
    """
    marks = list(marks)
    centres = [(mark, *_inside(to_px, mark)) for mark in marks]
    spots = np.array([(x, y) for _, x, y, _ in centres]).reshape(-1, 2)
    names = [f"{m.name} (outside)" if out and m.name else m.name for m, _, _, out in centres]
    sizes = [text_size(n, NAME) if n else (0.0, 0.0) for n in names]
    taken = [*to_px.labels, *bar_boxes(to_px, marks)]
    where = place_labels(spots, sizes, to_px.box, taken, mark=6.0)
    parts = [bar for mark, _, _, out in centres if not out for bar in _bars(to_px, mark)]
    if trail and len(marks) > 1:
        parts.append(
            shape("polyline", points=corners(spots), fill="none", stroke=INK,
                  stroke_dasharray="2 3")
        )  # fmt: skip
    for mark, x, y, out in centres:
        drawn = _arrow_head(x, y, out) if out else mark_shape(mark.shape, x, y, 6.0)
        drawn.attrib |= {"fill": mark.colour, "stroke": "#fff", "stroke-width": "1.3"}
        parts.append(drawn)
    for mark, name, (x, y), spot in zip(marks, names, spots, where, strict=True):
        if spot is None:
            continue
        if spot.leader:
            parts.append(
                shape("line", x1=x, y1=y, x2=spot.leader[0], y2=spot.leader[1],
                      stroke=mark.colour, stroke_width=".8")
            )  # fmt: skip
        parts.append(centred(name, spot.x, spot.y, colour=mark.ink))
    return drawing(to_px.width, to_px.height, *parts, words=words)


def _inside(to_px: ToPixels, mark: Mark) -> tuple[float, float, tuple[int, int] | None]:
    """Return the pixels of a mark, at the border if it lies outside, and the way it points."""
    x, y = to_px(mark.x, mark.y)
    left, top, right, bottom = to_px.box
    out = (int(x > right) - int(x < left), int(y > bottom) - int(y < top))
    if out == (0, 0):
        return x, y, None
    return min(max(x, left + 6), right - 6), min(max(y, top + 6), bottom - 6), out


def _bars(to_px: ToPixels, mark: Mark) -> Iterator[Element]:
    left, top, right, bottom = to_px.box
    x, _ = to_px(mark.x, mark.y)
    if mark.reading:
        _, high = to_px(mark.x, mark.reading[1])
        _, low = to_px(mark.x, mark.reading[0])
        high, low = max(high, top), min(low, bottom)
        yield shape("rect", x=x - 4, y=high, width=8, height=low - high, fill=mark.colour,
                    fill_opacity=".18")  # fmt: skip
    for error, across in ((mark.x_error, True), (mark.y_error, False)):
        if not error:
            continue
        a = to_px(mark.x - error * across, mark.y - error * (not across))
        b = to_px(mark.x + error * across, mark.y + error * (not across))
        (ax, bx) = (min(max(v, left), right) for v in (a[0], b[0]))
        (ay, by) = (min(max(v, top), bottom) for v in (a[1], b[1]))
        cap = "m0-3v6" if across else "m-3 0h6"
        path = f"M{ax:.1f} {ay:.1f}L{bx:.1f} {by:.1f}{cap}M{ax:.1f} {ay:.1f}{cap}"
        yield shape("path", d=path, fill="none", stroke=mark.colour, stroke_width="1.4")


def _arrow_head(x: float, y: float, out: tuple[int, int]) -> Element:
    way = np.array(out) / np.hypot(*out)
    side = np.array([-way[1], way[0]])
    centre = np.array([x, y])
    return outline([centre + 6 * way, centre - 5 * way + 6 * side, centre - 5 * way - 6 * side], 1)


def mark_shape(name: str, x: float, y: float, size: float) -> Element:
    """Return a mark of about the same area whatever its shape."""
    if name == "circle":
        return shape("circle", cx=x, cy=y, r=size * 0.95)
    return outline([(x + a, y + b) for a, b in _OUTLINES[name](size)], 1)


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
