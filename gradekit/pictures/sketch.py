"""Pictures that explain: several small ones side by side, which wrap where the page is narrow."""

from __future__ import annotations

from functools import cached_property
from xml.etree.ElementTree import Element

from gradekit.core.markup import Html, picture, small, tag
from gradekit.core.svg import FONT, drawing, printable, shape
from gradekit.pictures.drawn import DrawnFigure

_GAP = 12.0


class Sketch(DrawnFigure):
    """Small pictures of one size or of several, with what they rest on.

    Parameters
    ----------
    parts : tuple of Element
        As `gradekit.core.svg.drawing` makes them, without nested pictures.
    title : str
    rests_on : str
        What is computed, and from what; what is only a sketch.
    columns : int
        How many stand beside each other where all of them make one picture.

    Attributes
    ----------
    svg : str
        All parts as one picture.
    """

    def __init__(
        self, parts: tuple[Element, ...], title: str, rests_on: str = "", columns: int = 1
    ):
        self.parts, self.title, self.rests_on = parts, printable(title), rests_on
        self._columns = columns
        said = " ".join(part.get("aria-label", "") for part in parts)
        self.description = printable(f"{said} {rests_on}".strip())

    @cached_property
    def tree(self) -> Element:
        """All parts as one picture."""
        rows = [self.parts[k : k + self._columns] for k in range(0, len(self.parts), self._columns)]
        placed, y, widest = [], 0.0, 0.0
        for row in rows:
            x = 0.0
            for part in row:
                wide, high = _size(part)
                view = {"viewBox": f"0 0 {wide:g} {high:g}"}
                placed.append(shape("svg", *part, x=x, y=y, width=wide, height=high, **view))
                x += wide + _GAP
            widest = max(widest, x - _GAP)
            y += max(_size(part)[1] for part in row) + _GAP
        return drawing(widest, y - _GAP, *placed, title=self.title, words=self.description,
                       font_family=FONT)  # fmt: skip

    def _repr_html_(self) -> str:
        shown = Html("".join(picture(part) for part in self.parts))
        flow = "display:flex;flex-wrap:wrap;gap:8px 12px;align-items:flex-start"
        return tag("div", tag("div", shown, style=flow), small(self.rests_on), class_="gk")


def _size(part: Element) -> tuple[float, float]:
    _, _, wide, high = map(float, part.get("viewBox", "").split())
    return wide, high
