"""The diagram of an exercise: as a picture, and as data for a page that draws the points itself."""

from __future__ import annotations

from functools import cache
from xml.etree.ElementTree import Element

from gradekit.core.svg import write
from gradekit.diagrams.constitution import diagram
from gradekit.lessons.exercise import Exercise
from gradekit.pictures.chart_path import PATH_WIDTH, path_picture
from gradekit.pictures.draw import background


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
    picture, to_px = background(name, PATH_WIDTH)
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
    shown = vars(exercise.picture)
    return path_picture(shown if working else shown | {"path": ()}, PATH_WIDTH)
