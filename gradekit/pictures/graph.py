"""A small graph of SVG elements, quick enough to be drawn anew at each step of an explorer."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from functools import cache
from xml.etree.ElementTree import Element

import numpy as np

from gradekit.core.aliases import Numbers
from gradekit.core.markup import number
from gradekit.core.svg import shape
from gradekit.pictures.marks import Mark, ToPixels
from gradekit.pictures.overlay import overlay
from gradekit.pictures.paper import LETTERS, corners, paper, writing
from gradekit.pictures.placing import LabelBox
from gradekit.pictures.style import INK, QUIET, text_size

_WIDTH, _HEIGHT = 414, 310
_LEFT, _TOP, _RIGHT, _BOTTOM = 46, 26, 16, 40


class Graph:
    """Two axes and what is drawn between them, the last on top.

    Parameters
    ----------
    x, y : (low, high)
        Ends of the axes.
    xlabel, ylabel : str
        With the unit; the latter stands above its axis, so that nobody has to tilt the head.
    height : int
        Pixels of the whole picture.

    Examples
    --------
    >>> graph = Graph((0, 10), (0, 1), "strain", "share")
    >>> graph.line([0, 5, 10], [0, 0.2, 0.9], "#12497d")
    >>> graph.tree("Martensite", "rises with strain").get("viewBox")
    '0 0 414 310'
    """

    def __init__(
        self,
        x: tuple[float, float],
        y: tuple[float, float],
        xlabel: str,
        ylabel: str,
        height: int = _HEIGHT,
    ):
        box = LabelBox(_LEFT, _TOP, _WIDTH - _RIGHT, height - _BOTTOM)
        self.to_px = ToPixels(_WIDTH, height, box, x, y)
        self._labels = xlabel, ylabel
        self._parts: list[Element] = []
        self._names: list[Element] = []

    def area(
        self, x: Numbers, low: Numbers, high: Numbers, colour: str, opacity: float = 1.0
    ) -> None:
        """Fill between two curves."""
        x, low, high = np.broadcast_arrays(np.asarray(x, dtype=float), low, high)
        ring = [*zip(x, low, strict=True), *zip(x[::-1], high[::-1], strict=True)]
        self.field(ring, colour, opacity)

    def field(
        self, points: Iterable[tuple[float, float]], colour: str, opacity: float = 1.0
    ) -> None:
        """Fill a polygon; what lies beyond the axes is cut off at them."""
        ring = np.array(list(points), dtype=float)
        (x0, x1), (y0, y1) = self.to_px.x_range, self.to_px.y_range
        inside = self._corners(np.clip(ring[:, 0], x0, x1), np.clip(ring[:, 1], y0, y1))
        faint = None if opacity == 1.0 else f"{opacity:g}"
        self._parts.append(shape("polygon", points=inside, fill=colour, fill_opacity=faint))

    def run(
        self,
        points: Iterable[tuple[float, float]],
        colour: str = INK,
        size: float = 1.8,
        dash: str | None = None,
    ) -> None:
        """Draw a line from point to point."""
        x, y = zip(*points, strict=True)
        self.line(x, y, colour, size, dash)

    def line(
        self, x: Numbers, y: Numbers, colour: str = INK, size: float = 1.8, dash: str | None = None
    ) -> None:
        """Draw a curve; what lies beyond the axes or is not a number is left out."""
        x, y = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
        (x0, x1), (y0, y1) = self.to_px.x_range, self.to_px.y_range
        room = 1e-9 * max(abs(x1 - x0), abs(y1 - y0))
        seen = (x >= x0 - room) & (x <= x1 + room) & (y >= y0 - room) & (y <= y1 + room)
        for piece in np.split(np.arange(len(x)), np.flatnonzero(np.diff(seen)) + 1):
            if len(piece) > 1 and seen[piece[0]]:
                self._parts.append(
                    shape("polyline", points=self._corners(x[piece], y[piece]), fill="none",
                          stroke=colour, stroke_width=size, stroke_dasharray=dash)
                )  # fmt: skip

    def note(
        self,
        x: float,
        y: float,
        text: str | Sequence[str],
        *,
        anchor: str = "start",
        dx: float = 0.0,
        dy: float = 0.0,
        colour: str = INK,
        bold: bool = False,
    ) -> None:
        """Write words beside a point, a line each."""
        px, py = self.to_px(x, y)
        lines = [text] if isinstance(text, str) else text
        for row, line in enumerate(lines):
            self._names.append(
                writing(line, px + dx, py + dy + row * (LETTERS + 2.5), anchor=anchor,
                        colour=colour, bold=bold, halo=True)
            )  # fmt: skip

    def marks(self, marks: Iterable[Mark], trail: bool = False) -> None:
        """Lay named points over the rest; one that lies beyond the axes stands at their border."""
        taken = tuple(self._box(name) for name in self._names)
        self._names.extend(overlay(replace(self.to_px, labels=taken), marks, trail=trail))

    def tree(self, title: str = "", words: str = "") -> Element:
        """Return the picture."""
        to_px = self.to_px
        left, top, right, bottom = to_px.box
        rules, figures = [], []
        for value in _ticks(*to_px.x_range, 6):
            px, _ = to_px(value, 0)
            rules.append(f"M{px:.1f} {bottom:.0f}L{px:.1f} {bottom + 5:.0f}")
            figures.append(writing(number(value), px, bottom + 18, anchor="middle", size=12))
        for value in _ticks(*to_px.y_range, 6):
            _, py = to_px(0, value)
            rules.append(f"M{left:.0f} {py:.1f}L{left - 5:.0f} {py:.1f}")
            figures.append(writing(number(value), left - 8, py + 4.2, anchor="end", size=12))
        xlabel, ylabel = self._labels
        frame = f"M{left:.0f} {top:.0f}L{left:.0f} {bottom:.0f}L{right:.0f} {bottom:.0f}"
        return paper(
            to_px.width, to_px.height, *self._parts,
            shape("path", d=frame + "".join(rules), fill="none", stroke=INK, stroke_width=1),
            *figures,
            writing(xlabel, right, bottom + 34, anchor="end", colour=QUIET),
            writing(ylabel, 4, 15, colour=QUIET),
            *self._names,
            title=title, words=words, font_size=LETTERS,
        )  # fmt: skip

    def _corners(self, x: np.ndarray, y: np.ndarray) -> str:
        return corners(zip(*self.to_px(x, y), strict=True))

    @staticmethod
    def _box(name: Element) -> LabelBox:
        if name.tag != "text":
            return LabelBox(-9.0, -9.0, -8.0, -8.0)
        size = float(name.get("font-size", LETTERS))
        wide = text_size(name.text or "", size)[0]
        x, y = float(name.get("x", 0)), float(name.get("y", 0))
        left = (
            x - {"start": 0.0, "middle": 0.5, "end": 1.0}[name.get("text-anchor", "start")] * wide
        )
        return LabelBox(left, y - size, left + wide, y + 3)


@cache
def _ticks(low: float, high: float, most: int) -> list[float]:
    from matplotlib.ticker import MaxNLocator

    ticks = MaxNLocator(most, steps=[1, 2, 2.5, 5, 10]).tick_values(low, high)
    room = 1e-9 * (high - low)
    return [float(v) for v in ticks if low - room <= v <= high + room]
