"""An empty chart with title and foot text, its margins in pixels."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

from gradekit.core.aliases import Label
from gradekit.core.svg import printable
from gradekit.pictures.style import COLOURS, INK, MARKERS, QUIET, SHAPES, text_size

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure as Canvas

_SMALL = 10.5
_LEAD = 15


def sheet(
    width: int,
    inner_height: int,
    title: str,
    foot: str = "",
    *,
    left: int = 62,
    right: int = 24,
    bottom: int = 46,
    legend: int = 0,
    above: int = 0,
) -> tuple[Canvas, Axes]:
    """Return a figure and its axes, inside the style of the library.

    Parameters
    ----------
    width : int
        Of the picture, pixels.
    inner_height : int
        Of the axes.
    title, foot : str
        Above and below; the foot is wrapped.
    left, right, bottom : int
        Margins.
    legend : int
        Rows of a legend between title and axes.
    above : int
        Pixels left free directly above the axes.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    heading = textwrap.wrap(title, max(20, int((width - 20) / (0.64 * 15))))
    notes = textwrap.wrap(foot, int((width - 20) / (0.545 * _SMALL)))
    top = 16 + 20 * len(heading) + 22 * legend + above
    below = bottom + (_LEAD * len(notes) + 8 if notes else 0)
    height = top + inner_height + below
    figure = Figure(figsize=(width / 72, height / 72))
    FigureCanvasAgg(figure)
    axes = figure.add_axes(
        (left / width, below / height, (width - left - right) / width, inner_height / height)
    )
    for row, line in enumerate(heading):
        figure.text(
            10 / width, 1 - (20 + 20 * row) / height, safe(line),
            fontsize=15, fontweight="bold", va="center",
        )  # fmt: skip
    for row, line in enumerate(notes):
        y = (_LEAD * (len(notes) - row) - 6) / height
        figure.text(10 / width, y, safe(line), fontsize=_SMALL, color=QUIET, va="center")
    return figure, axes


def safe(text: Label) -> str:
    """Return text that every picture can hold, and that is never taken for mathematics."""
    return printable(str(text)).replace("$", r"\$")


def shorten(text: str, length: int) -> str:
    """Return text of at most so many characters."""
    text = str(text)
    return text if len(text) <= length else f"{text[: length - 1]}…"


def legend_rows(names: list[str], width: float) -> list[list[tuple[int, str]]]:
    """Break the entries of a legend into rows."""
    rows: list[list[tuple[int, str]]] = []
    room = 0.0
    for number, name in enumerate(names):
        need = _entry(name)
        if not rows or need > room:
            rows.append([])
            room = width
        rows[-1].append((number, name))
        room -= need
    return rows


def write_legend(
    figure: Canvas,
    rows: list[list[tuple[int, str]]],
    left: float,
    top: float,
    hatches: tuple[str, ...] = (),
) -> None:
    """Write a legend of marks, or of bars if hatches are given.

    Its first row lies at `top` pixels from the upper border.
    """
    from matplotlib.patches import Rectangle

    width, height = figure.get_size_inches() * 72
    axes = figure.add_axes((0, 0, 1, 1), frameon=False)
    axes.set(xlim=(0, width), ylim=(height, 0), xticks=[], yticks=[])
    for row, entries in enumerate(rows):
        x, y = left + 6.0, top + 22 * row
        for style, name in entries:
            shape, colour = SHAPES[style % len(SHAPES)], COLOURS[style % len(COLOURS)]
            if hatches:
                hatch = hatches[style % len(hatches)]
                axes.add_patch(
                    Rectangle((x - 7, y - 5), 14, 10, fc=colour, ec="white", hatch=hatch, lw=0)
                )
            else:
                axes.plot(x, y, marker=MARKERS[shape], ms=9, mfc=colour, mec="white", ls="none")
            axes.text(x + 10, y, safe(name), va="center", fontsize=11, color=INK)
            x += _entry(name)


def _entry(name: str) -> float:
    return text_size(name, 11)[0] + 34
