"""A picture made of SVG elements, drawn by matplotlib where PNG or PDF is asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element

from gradekit.core.errors import InputError
from gradekit.pictures.canvas import safe
from gradekit.pictures.style import styled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["canvas_of"]

_ANCHORS = {"start": "left", "middle": "center", "end": "right"}


def canvas_of(picture: Element) -> Figure:
    """Return a picture of texts, rectangles and upright lines as a matplotlib figure.

    Parameters
    ----------
    picture : Element
        As `gradekit.core.svg.drawing` makes it; what its elements do not say they have from it.

    Returns
    -------
    matplotlib Figure

    Raises
    ------
    InputError
        Another kind of element.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    width, height = (float(size) for size in picture.get("viewBox", "").split()[2:])
    figure = Figure(figsize=(width / 72, height / 72))
    FigureCanvasAgg(figure)
    with styled():
        axes = figure.add_axes((0, 0, 1, 1), xlim=(0, width), ylim=(height, 0))
        axes.set_axis_off()
        for node in picture:
            _draw(axes, node, picture)
    return figure


def _draw(axes: Axes, node: Element, picture: Element) -> None:
    from matplotlib.patches import Rectangle

    def at(name: str) -> float:
        return float(node.get(name) or picture.get(name) or 0)

    colour = node.get("fill") or picture.get("fill", "black")
    if node.tag == "text":
        axes.text(
            at("x"), at("y"), safe(node.text), color=colour, fontsize=at("font-size"),
            ha=_ANCHORS[node.get("text-anchor", "start")], va="baseline",
            fontweight=node.get("font-weight", "normal"),
        )  # fmt: skip
    elif node.tag == "rect":
        axes.add_patch(Rectangle((at("x"), at("y")), at("width"), at("height"), fc=colour, lw=0))
    elif node.tag == "path":
        x, _, rest = node.get("d", "").removeprefix("M").partition(" ")
        top, _, end = rest.partition("V")
        ends = [float(x)] * 2, [float(top), float(end)]
        axes.plot(*ends, color=node.get("stroke"), lw=at("stroke-width"))
    elif node.tag not in ("title", "desc"):
        raise InputError("picture", "made of text, rect and path", node.tag)
