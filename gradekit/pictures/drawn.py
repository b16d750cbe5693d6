"""A picture made of SVG elements, drawn by matplotlib where PNG or PDF is asked for."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property
from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element

import numpy as np

from gradekit.core.errors import InputError
from gradekit.pictures.canvas import empty_axes, safe
from gradekit.pictures.figure import Figure
from gradekit.pictures.placing import LabelBox
from gradekit.pictures.style import styled

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure as Canvas

_ANCHORS = {"start": "left", "middle": "center", "end": "right"}


class DrawnFigure(Figure):
    """A figure whose `tree` of elements comes first."""

    @cached_property
    def canvas(self) -> Canvas:
        """The picture as a matplotlib figure, for PNG and PDF."""
        return canvas_of(self.tree)


def canvas_of(picture: Element) -> Canvas:
    """Return a picture of texts, straight lines and filled shapes as a matplotlib figure.

    Parameters
    ----------
    picture : Element
        As `gradekit.core.svg.drawing` makes it, or several in one; what its elements do not say
        they have from it.

    Returns
    -------
    matplotlib Figure

    Raises
    ------
    InputError
        Another kind of element.
    """
    width, height = (float(size) for size in picture.get("viewBox", "").split()[2:])
    whole = LabelBox(0, 0, width, height)
    with styled():
        figure, axes = empty_axes(width, height, whole, xlim=(0, width), ylim=(height, 0))
        axes.set_axis_off()
        for node in picture:
            _draw(axes, node, picture, np.zeros(2))
        for order, artist in enumerate(axes.get_children()):
            artist.set_zorder(order)  # as they come, whatever they are
    return figure


def _draw(axes: Axes, node: Element, picture: Element, corner: np.ndarray) -> None:
    from matplotlib.patches import Circle, Polygon, Rectangle

    def at(name: str) -> float:
        return float(node.get(name) or picture.get(name) or 0)

    def look(filled: str = "black") -> dict:
        fill, stroke = node.get("fill") or picture.get("fill", filled), node.get("stroke")
        return {
            "fc": fill, "alpha": at("fill-opacity") or None, "ec": stroke or "none",
            "lw": at("stroke-width") if stroke else 0,
        }  # fmt: skip

    left, top = corner
    if node.tag == "text":
        axes.text(
            left + at("x"), top + at("y"), safe(node.text), fontsize=at("font-size"),
            color=node.get("fill") or picture.get("fill", "black"), va="baseline",
            ha=_ANCHORS[node.get("text-anchor", "start")],
            fontweight=int(at("font-weight")) if node.get("font-weight", "").isdigit()
            else node.get("font-weight", "normal"),
        )  # fmt: skip
    elif node.tag == "svg":
        for inner in node:
            _draw(axes, inner, picture, corner + np.array([at("x"), at("y")]))
    elif node.tag == "rect":
        axes.add_patch(
            Rectangle((left + at("x"), top + at("y")), at("width"), at("height"), **look())
        )
    elif node.tag == "circle":
        axes.add_patch(Circle((left + at("cx"), top + at("cy")), at("r"), **look()))
    elif node.tag == "polygon":
        axes.add_patch(Polygon(corner + _pairs(node), **look()))
    elif node.tag == "polyline":
        axes.plot(*(corner + _pairs(node)).T, color=node.get("stroke"), lw=at("stroke-width"),
                  ls=_dashes(node))  # fmt: skip
    elif node.tag == "line":
        axes.plot([left + at("x1"), left + at("x2")], [top + at("y1"), top + at("y2")],
                  color=node.get("stroke"), lw=at("stroke-width") or 1)  # fmt: skip
    elif node.tag == "path":
        pieces = [corner + piece for piece in _walked(node.get("d", ""))]
        if node.get("fill", "none") == "none":
            for piece in pieces:
                axes.plot(*piece.T, color=node.get("stroke"), lw=at("stroke-width"),
                          ls=_dashes(node))  # fmt: skip
        else:
            for piece in pieces:
                axes.add_patch(Polygon(piece, **look()))
    elif node.tag not in ("title", "desc"):
        raise InputError("picture", "made of texts, lines and filled shapes", node.tag)


def _pairs(node: Element) -> np.ndarray:
    return np.array([pair.split(",") for pair in node.get("points", "").split()], dtype=float)


def _dashes(node: Element) -> tuple | str:
    given = node.get("stroke-dasharray")
    if not given:
        return "solid"
    # matplotlib counts dashes in widths of the line
    wide = float(node.get("stroke-width") or 1)
    return 0, tuple(float(d) / wide for d in given.split())


def _walked(data: str) -> Iterator[np.ndarray]:
    """Yield the pieces of a path of straight lines between points."""
    for piece in data.split("M")[1:]:
        points = piece.rstrip("Z").replace("L", " ")
        if any(map(str.isalpha, points)):
            raise InputError("path of a picture", "of straight lines between points: M, L, Z", data)
        ring = np.array(points.split(), dtype=float).reshape(-1, 2)
        yield np.vstack([ring, ring[:1]]) if piece.endswith("Z") else ring
