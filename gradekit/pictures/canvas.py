"""The one form of chart that the drawings fill: title, legend, axes and foot, in pixels."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Literal

from gradekit.core.aliases import Label
from gradekit.core.svg import printable
from gradekit.pictures.placing import LabelBox
from gradekit.pictures.style import INK, QUIET, style_of, styled, text_size

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure as Canvas

#: Size of the letters of a foot, and from one of its lines to the next.
FOOT, LEAD = 10.5, 15
_ROW = 11.5  # size of the names of rows


@contextmanager
def sheet(
    width: int,
    inner_height: int,
    title: str,
    foot: str = "",
    *,
    xlabel: str = "",
    ylabel: str = "",
    left: int = 62,
    right: int = 24,
    bottom: int = 46,
    rows: Sequence[str] = (),
    legend: Sequence[str] = (),
    hatches: tuple[str, ...] = (),
    above: int = 0,
    grid: Literal["x", "y", "both", ""] = "both",
) -> Iterator[tuple[Canvas, Axes]]:
    """Yield a figure and its axes to draw into, inside the style of the library.

    Parameters
    ----------
    width : int
        Of the picture, pixels.
    inner_height : int
        Of the axes.
    title, foot : str
        Above and below; the foot is wrapped.
    xlabel, ylabel : str
    left, right, bottom : int
        Margins.
    rows : texts, optional
        Names of rows, the first on top, in place of numbers upwards; they take their own room.
    legend : texts, optional
        Names by number of their look, between title and axes; one alone is not named.
    hatches : texts, optional
        Of the bars that the legend names; marks if there are none.
    above : int
        Pixels left free directly above the axes.
    grid : str
        'x', 'y', 'both', or '' for none.
    """
    heading = textwrap.wrap(title, max(20, int((width - 20) / (0.64 * 15))))
    notes = textwrap.wrap(foot, int((width - 20) / (0.545 * FOOT)))
    entries = legend_rows(legend, width - 40) if len(legend) > 1 else []
    top = 16 + 20 * len(heading) + 22 * len(entries) + above
    end = top + inner_height
    height = end + bottom + (LEAD * len(notes) + 8 if notes else 0)
    if rows:
        left = int(max(text_size(name, _ROW)[0] for name in rows)) + 20
    with styled():
        figure, axes = empty_axes(width, height, LabelBox(left, top, width - right, end))
        write_heading(figure, heading, 10)
        write_foot(figure, notes, 10, 6)
        if rows:
            _name_rows(axes, rows)
        yield figure, axes
        axes.set(xlabel=xlabel or None, ylabel=ylabel or None)
        if grid:
            axes.grid(axis=grid)
        if entries:
            write_legend(figure, entries, 10, 24 + 20 * len(heading), hatches)


def empty_axes(width: float, height: float, box: LabelBox, **settings: Any) -> tuple[Canvas, Axes]:
    """Return a new figure of so many pixels and its axes, whose box has y downwards."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(width / 72, height / 72))
    FigureCanvasAgg(figure)
    left, top, right, bottom = box
    place = (left / width, 1 - bottom / height, (right - left) / width, (bottom - top) / height)
    return figure, figure.add_axes(place, **settings)


def write_heading(figure: Canvas, lines: Sequence[str], x: float) -> None:
    """Write lines at the upper border of a figure."""
    _write(figure, lines, x, 20, 20, fontsize=15, fontweight="bold")


def _write(
    figure: Canvas, lines: Sequence[str], x: float, y: float, lead: float, **how: Any
) -> None:
    """Write lines one below the other, the first `y` pixels below the upper border."""
    width, height = figure.get_size_inches() * 72
    for row, line in enumerate(lines):
        figure.text(x / width, 1 - (y + lead * row) / height, safe(line), va="center", **how)


def write_foot(figure: Canvas, lines: Sequence[str], x: float, above: float) -> None:
    """Write lines at the lower border of a figure."""
    y = figure.get_size_inches()[1] * 72 - LEAD * len(lines) + above
    _write(figure, lines, x, y, LEAD, fontsize=FOOT, color=QUIET)


def _name_rows(axes: Axes, names: Sequence[str]) -> None:
    axes.set(yticks=range(len(names)), ylim=(len(names) - 0.4, -0.6))
    axes.set_yticklabels([safe(name) for name in names], fontsize=_ROW)
    axes.tick_params(axis="y", length=0)
    axes.spines["left"].set_visible(False)


#: Beneath a name, so that it is read on any colour.
GROUND = {"fc": "white", "ec": "none", "pad": 1, "alpha": 0.8}


def label_ground(colour: str | tuple[float, float, float]) -> dict:
    """Return the patch behind a text, so that lines do not run through it."""
    return {"boxstyle": "square,pad=0.08", "facecolor": colour, "edgecolor": "none", "alpha": 0.8}


def beside(
    axes: Axes, words: Label, at: tuple[float, float], by: tuple[float, float], **how: Any
) -> None:
    """Write words beside a point, so many pixels to the right and upwards."""
    axes.annotate(safe(words), at, by, textcoords="offset points", **how)


def safe(text: Label) -> str:
    """Return text that every picture can hold, and that is never taken for mathematics."""
    return printable(str(text)).replace("$", r"\$")


def shorten(text: str, length: int) -> str:
    """Return text of at most so many characters."""
    text = str(text)
    return text if len(text) <= length else f"{text[: length - 1]}…"


def legend_rows(names: Sequence[str], width: float) -> list[list[tuple[int, str]]]:
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
            colour, marker = style_of(style)
            if hatches:
                hatch = hatches[style % len(hatches)]
                axes.add_patch(
                    Rectangle((x - 7, y - 5), 14, 10, fc=colour, ec="white", hatch=hatch, lw=0)
                )
            else:
                axes.plot(x, y, marker=marker, ms=9, mfc=colour, mec="white", ls="none")
            axes.text(x + 10, y, safe(name), va="center", fontsize=11, color=INK)
            x += _entry(name)


def _entry(name: str) -> float:
    return text_size(name, 11)[0] + 34
