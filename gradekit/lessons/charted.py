"""The diagram of an exercise: as a picture, and as data for a page that draws the points itself."""

from __future__ import annotations

from functools import cache
from xml.etree.ElementTree import Element

from gradekit.core.svg import stacked, write
from gradekit.diagrams.constitution import diagram
from gradekit.lessons.exercise import Exercise
from gradekit.pictures.draw import background
from gradekit.pictures.marks import Mark, ToPixels
from gradekit.pictures.overlay import overlay

__all__ = ["chart_data", "chart_picture"]

WIDTH = 560


@cache
def _resting(name: str) -> tuple[Element, ToPixels]:
    return background(name, WIDTH)


@cache
def chart_data(name: str) -> dict:
    """Return a diagram without points, and how wt% become its pixels.

    Returns
    -------
    dict
        `svg` (text), `width`, `height` (pixels), `box` (left, upper, right, lower border of the
        chart, pixels), `x`, `y` (ends of the axes, wt%), `caution`.

    Examples
    --------
    >>> made = chart_data("wrc_1992")
    >>> made["x"], made["svg"][:4]
    ([18.0, 30.0], '<svg')
    """
    picture, to_px = _resting(name)
    return {
        "svg": write(picture), "width": to_px.width, "height": round(to_px.height, 1),
        "box": [round(edge, 1) for edge in to_px.box], "x": [*to_px.x_range],
        "y": [*to_px.y_range], "caution": f"{diagram(name).title}: {diagram(name).caution}",
    }  # fmt: skip


def chart_picture(exercise: Exercise, working: bool = False) -> Element:
    """Return the diagram of an exercise with its points, and with its path if `working`.

    Examples
    --------
    >>> from gradekit.lessons.exercise import Picture
    >>> made = Exercise("t", "Where?", {}, (20.0, 12.0), picture=Picture("wrc_1992"))
    >>> chart_picture(made).tag
    'svg'
    """
    assert exercise.picture is not None
    picture, to_px = _resting(exercise.picture.diagram)
    points = [Mark(x, y, name) for name, x, y in exercise.picture.points]
    layers = [overlay(to_px, points, words=", ".join(m.name for m in points))]
    path = exercise.picture.path if working else ()
    if path:
        last = len(path) - 1
        steps = [Mark(x, y, name if at in (0, last) else "", 1 if at < last else 0)
                 for at, (name, x, y) in enumerate(path)]  # fmt: skip
        layers.append(overlay(to_px, steps, trail=True, words=" → ".join(n for n, *_ in path)))
    return stacked(picture, *layers)
