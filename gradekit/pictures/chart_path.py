"""A steel on a constitution diagram, with the way that its elements take it there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache
from typing import TypeAlias
from xml.etree.ElementTree import Element

import numpy as np

from gradekit.core.markup import number
from gradekit.core.svg import FONT, drawing, shape, stacked
from gradekit.pictures.draw import background
from gradekit.pictures.marks import Mark, ToPixels
from gradekit.pictures.overlay import overlay
from gradekit.pictures.placing import place_labels
from gradekit.pictures.style import COLOURS, INK, text_size

__all__ = ["Step", "path_picture", "resting"]

WIDTH = 560
_SIZE = 12.0
#: Words and a place, wt%.
Step: TypeAlias = tuple[str, float, float]
_SHORT = 5.0  # pixels; a step that is shorter has no name


def path_picture(name: str, points: Iterable[Step] = (), path: Sequence[Step] = ()) -> Element:
    """Draw points on a diagram, and a way across it, step by step.

    Parameters
    ----------
    name : name of a diagram
    points : iterable of (words, x, y)
    path : sequence of (words, x, y)
        Each step is an arrow with its words, where it is long enough for them.

    Returns
    -------
    Element
        Its label says all points and steps in words.

    Examples
    --------
    >>> path = [("Cr, Ni", 19.0, 9.5), ("20·N", 19.0, 10.7), ("the steel", 19.0, 10.7)]
    >>> path_picture("wrc_1992", path=path).get("viewBox").split()[2]
    '560'
    """
    picture, to_px = resting(name)
    points = list(points)
    marks = [Mark(x, y, words, style) for style, (words, x, y) in enumerate(points)]
    if path and tuple(path[-1]) not in map(tuple, points):
        words, x, y = path[-1]
        marks.append(Mark(x, y, words, 2))
    told = "; ".join(f"{words} at {number(x, 3)}, {number(y, 3)}" for words, x, y in points)
    way = ", then ".join(f"{words} at {number(x, 3)}, {number(y, 3)}" for words, x, y in path)
    words = f"{told}. {f'The way: {way}.' if way else ''}".strip(". ")
    layers = [picture, *([_arrows(path, to_px, points)] if len(path) > 1 else [])]
    return stacked(*layers, overlay(to_px, marks, words=words))


@cache
def resting(name: str) -> tuple[Element, ToPixels]:
    """Return a diagram as the lessons draw it, and the way to its pixels."""
    return background(name, WIDTH)


def _arrows(path: Sequence[Step], to_px: ToPixels, points: Sequence[Step]) -> Element:
    px, py = (np.array(v) for v in to_px([p[1] for p in path], [p[2] for p in path]))
    left, top, right, bottom = to_px.box
    px, py = np.clip(px, left, right), np.clip(py, top, bottom)
    spots = np.column_stack([px, py])
    colour = COLOURS[1]
    parts = [shape("circle", cx=px[0], cy=py[0], r=4, fill="#fff", stroke=colour, stroke_width=2)]
    names, middles = [], []
    for k in range(1, len(spots)):
        a, b = spots[k - 1], spots[k]
        long = float(np.hypot(*(b - a)))
        if long < 1.0:
            continue
        parts.append(shape("line", x1=a[0], y1=a[1], x2=b[0], y2=b[1], stroke=colour,
                           stroke_width=2))  # fmt: skip
        if long >= _SHORT:
            way = (b - a) / long
            side = np.array([-way[1], way[0]])
            head = [b, b - 7 * way + 3.5 * side, b - 7 * way - 3.5 * side]
            corners = " ".join(f"{x:.1f},{y:.1f}" for x, y in head)
            parts.append(shape("polygon", points=corners, fill=colour))
            if k < len(spots) - 1:  # the last place is named by its mark
                names.append(path[k][0])
                middles.append((a + b) / 2)
    names.insert(0, path[0][0])
    middles.insert(0, spots[0])
    sizes = [text_size(name, _SIZE) for name in names]
    ends = to_px([p[1] for p in points], [p[2] for p in points]) if points else ([], [])
    taken = [*to_px.labels]
    anchors = np.vstack([middles, *np.column_stack(ends)]) if points else np.array(middles)
    places = place_labels(anchors, [*sizes, *[(0.0, 0.0)] * len(points)], to_px.box, taken)
    for name, place in zip(names, places, strict=False):
        if place is not None:
            parts.append(
                shape("text", name, x=place.x, y=place.y + 0.35 * _SIZE, text_anchor="middle",
                      font_size=_SIZE, fill=INK, stroke="#fff", stroke_width="3",
                      paint_order="stroke", font_weight="700")
            )  # fmt: skip
    return drawing(to_px.width, to_px.height, *parts, font_family=FONT)
