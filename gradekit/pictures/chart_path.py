"""A steel on a constitution diagram, with the way that its elements take it there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any
from xml.etree.ElementTree import Element

import numpy as np

from gradekit.core.markup import number
from gradekit.core.svg import FONT, drawing, shape, stacked
from gradekit.diagrams.constitution import Diagram, diagram
from gradekit.pictures.draw import background
from gradekit.pictures.marks import Mark, ToPixels
from gradekit.pictures.overlay import overlay
from gradekit.pictures.paper import NAME, centred, outline
from gradekit.pictures.placing import place_labels
from gradekit.pictures.style import COLOURS, text_size
from gradekit.relations.declaration import Linear
from gradekit.relations.topics import CATALOGUE

PATH_WIDTH = 560
_SHORT = 5.0  # pixels; a step that is shorter has no name


def terms_path(chart: str | Diagram, heat: Mapping[str, float]) -> list[tuple[str, float, float]]:
    """Return the way of a steel across a diagram, an element at a time.

    Parameters
    ----------
    chart : name or Diagram
        Its axes are linear in the contents.
    heat : mapping of element to wt%

    Returns
    -------
    list of (words, x, y)
        Where the sum stands after each term: first chromium and nickel alone, then the others, as
        'Mo: +0.4 across' or 'C: +1.2 up'; the last is the steel.

    Examples
    --------
    >>> terms_path("schaeffler_1949", {"Cr": 18.0, "Ni": 9.0, "C": 0.04, "Si": 0.5})[-1][1:]
    (18.75, 10.2)
    """
    chart = diagram(chart) if isinstance(chart, str) else chart
    axes = [CATALOGUE[name] for name in chart.axes]
    sums = np.zeros(2)
    steps: dict[str, np.ndarray] = {}
    for way, axis in enumerate(axes):
        assert isinstance(axis, Linear)
        sums[way] += axis.intercept
        for term, factor in axis.terms.items():
            moved = factor * heat.get(term, 0.0)
            if term in ("Cr", "Ni"):
                sums[way] += moved
            elif moved:
                steps.setdefault(term, np.zeros(2))[way] += moved
    path = [("Cr and Ni alone", float(sums[0]), float(sums[1]))]
    for term, step in sorted(steps.items(), key=lambda item: -float(np.abs(item[1]).max())):
        sums = sums + step
        ways = [
            f"{'+' if size > 0 else ''}{number(float(size), 2)} {name}"
            for size, name in zip(step, ("across", "up"), strict=True) if size
        ]  # fmt: skip
        path.append((f"{term}: {', '.join(ways)}", round(float(sums[0]), 6),
                     round(float(sums[1]), 6)))  # fmt: skip
    return path


def path_picture(picture: Mapping[str, Any], width: int = PATH_WIDTH) -> Element:
    """Draw points on their diagram, and the way to the first of them.

    Parameters
    ----------
    picture : mapping
        `diagram`, a name; `points`, a sequence of (words, x, y); `path`, the same, as `terms_path`
        gives it, or empty.
    width : int
        Pixels.

    Returns
    -------
    Element
        Each step of the path is an arrow named by its element; its label says all in words.

    Examples
    --------
    >>> path = terms_path("wrc_1992", {"Cr": 19.0, "Ni": 9.5, "C": 0.03, "N": 0.06})
    >>> shown = {"diagram": "wrc_1992", "points": [["the steel", *path[-1][1:]]], "path": path}
    >>> path_picture(shown).get("viewBox").split()[2]
    '560'
    """
    resting, to_px = background(picture["diagram"], width)
    path: Sequence = picture.get("path") or ()
    points: Sequence = picture.get("points") or ()
    marks = [Mark(x, y, words, style) for style, (words, x, y) in enumerate(points)]
    told = "; ".join(f"{words} at {number(x, 3)}, {number(y, 3)}" for words, x, y in points)
    way = ", then ".join(words for words, _, _ in path)
    words = f"{told}. {f'The way there: {way}.' if way else ''}".strip()
    layers = [resting, *([_arrows(path, to_px, points)] if len(path) > 1 else [])]
    return stacked(*layers, overlay(to_px, marks, words=words))


def _arrows(path: Sequence, to_px: ToPixels, points: Sequence) -> Element:
    left, top, right, bottom = to_px.box
    spots = np.clip([to_px(x, y) for _, x, y in path], (left, top), (right, bottom))
    start, colour = spots[0], COLOURS[1]
    parts = [
        shape("circle", cx=start[0], cy=start[1], r=4, fill="#fff", stroke=colour, stroke_width=2)
    ]
    names, middles = [str(path[0][0])], [start]
    for (words, _, _), (a, b) in zip(path[1:], pairwise(spots), strict=True):
        long = float(np.hypot(*(b - a)))
        if long < 1.0:
            continue
        parts.append(shape("line", x1=a[0], y1=a[1], x2=b[0], y2=b[1], stroke=colour,
                           stroke_width=2))  # fmt: skip
        if long >= _SHORT:
            way = (b - a) / long
            side = np.array([-way[1], way[0]])
            head = [b, b - 7 * way + 3.5 * side, b - 7 * way - 3.5 * side]
            parts.append(outline(head, 1, fill=colour))
            names.append(str(words).partition(":")[0])
            middles.append((a + b) / 2)
    sizes = [text_size(name, NAME) for name in names] + [(0.0, 0.0)] * len(points)
    anchors = np.array([*middles, *(to_px(x, y) for _, x, y in points)])
    places = place_labels(anchors, sizes, to_px.box, to_px.labels)
    for name, place in zip(names, places, strict=False):
        if place is not None:
            parts.append(centred(name, place.x, place.y, bold=True))
    return drawing(to_px.width, to_px.height, *parts, font_family=FONT)
