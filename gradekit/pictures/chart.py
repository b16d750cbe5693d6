"""The chart of a diagram: pale named fields, dark boundaries, thin lines with their values."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from gradekit.diagrams.constitution import Diagram
from gradekit.diagrams.files import IsoLine, Region
from gradekit.pictures.canvas import FOOT, LEAD, empty_axes, label_ground, write_foot, write_heading
from gradekit.pictures.marks import Mark, ToPixels
from gradekit.pictures.placing import LabelBox, meets, middle_of
from gradekit.pictures.style import INK, QUIET, text_size, tint
from gradekit.relations.topics import CATALOGUE

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure as Canvas

_LEFT, _RIGHT, _TOP, _BOTTOM = 58, 40, 58, 50
_LINE = "#8b949c"


class RegionLabel(NamedTuple):
    """The name of a field: where its middle lies (pixels) and how large it is."""

    text: str
    x: float
    y: float
    size: float
    ground: tuple


class Layout(NamedTuple):
    """Where everything goes, before anything is drawn."""

    to_px: ToPixels
    labels: tuple[RegionLabel, ...]
    title: str


class Chart(NamedTuple):
    """A drawn chart: its figure and axes, and the way to its pixels."""

    figure: Canvas
    axes: Axes
    to_px: ToPixels


def layout(
    diagram: Diagram, width: int, title: str | None = None, marks: Sequence[Mark] = ()
) -> Layout:
    """Lay a chart out for a page of so many pixels; a title of '' leaves the title out.

    The names of the fields keep clear of the marks.
    """
    data = diagram.data
    top = _TOP if title != "" else _TOP - 24
    right = width - _RIGHT
    bottom = top + round((right - _LEFT) * 0.64)
    to_px = ToPixels(width, bottom, LabelBox(_LEFT, top, right, bottom), data.x[1:], data.y[1:])
    taken = np.array([to_px(m.x, m.y) for m in marks], dtype=float).reshape(-1, 2)
    labels = tuple(_label(region, k, to_px, taken) for k, region in enumerate(diagram.regions))
    boxes = tuple(LabelBox.around(a.x, a.y, *text_size(a.text, a.size)) for a in labels)
    return Layout(replace(to_px, labels=boxes), labels, diagram.title if title is None else title)


def _label(region: Region, number: int, to_px: ToPixels, taken: np.ndarray) -> RegionLabel:
    """Find the middle of a field, and the largest size at which its name fits there."""
    ring = np.column_stack(to_px(*region.polygon.T))
    for size in (16, 14, 12, 10.5, 9):
        wide, high = text_size(region.label, size)
        x, y, room = middle_of(ring, wide + 6, high + 2, taken)
        if room >= 1:
            break
    return RegionLabel(region.label, float(x), float(y), size, tint(region.label, number))


def chart(diagram: Diagram, plan: Layout, foot: int = 0, says: str = "") -> Chart:
    """Draw a diagram without points, inside the style of the library.

    Parameters
    ----------
    diagram : Diagram
    plan : Layout
    foot : int
        Pixels to leave free below the chart, for a legend.
    says : str
        A sentence to stand below the chart after the caution.
    """
    data = diagram.data
    width = plan.to_px.width
    left, top, right, bottom = box = plan.to_px.box
    words = f"{diagram.caution}. {data.use.capitalize()}. {says}".strip()
    lines = textwrap.wrap(words, int((width - left - 8) / (0.545 * FOOT)))
    height = bottom + _BOTTOM + foot + LEAD * len(lines)
    figure, axes = empty_axes(width, height, box, xlim=data.x[1:], ylim=data.y[1:])
    for side in ("top", "right"):
        axes.spines[side].set_visible(True)
    wide, high = right - left + 2 * _RIGHT, bottom - top + 2 * _BOTTOM
    axes.set_xlabel(_axis_words(data.x.relation, "Chromium equivalent", wide), labelpad=5)
    axes.set_ylabel(_axis_words(data.y.relation, "Nickel equivalent", high), labelpad=5)
    to_px = replace(plan.to_px, height=height)
    _fields(axes, diagram)
    _lines(axes, diagram, to_px)
    for label in plan.labels:
        _write(
            axes, to_px, label.x, label.y, label.text,
            ha="center", va="center", fontsize=label.size, fontweight="bold", color="#4b5560",
            bbox=label_ground(label.ground),
        )  # fmt: skip
    write_heading(figure, [plan.title], left)
    write_foot(figure, lines, left, 8)
    return Chart(figure, axes, to_px)


def _axis_words(relation: str, words: str, room: float) -> str:
    """Name an axis by its formula, or where that is too long by its relation, or by its unit."""
    formula = CATALOGUE[relation].formula.replace("*", "").replace("-", "−")
    says = [f"{words}, wt%:  {formula}", f"{words} ({relation}), wt%", f"{words}, wt%"]
    says = says[len(formula) >= 48 :]
    return next((s for s in says if text_size(s, 12)[0] <= room), says[-1])


def _fields(axes: Axes, diagram: Diagram) -> None:
    from matplotlib.patches import Polygon

    for number, region in enumerate(diagram.regions):
        colour = tint(region.label, number)
        axes.add_patch(Polygon(region.polygon, facecolor=colour, edgecolor=colour, lw=0.6))
    for boundary in diagram.boundaries:
        axes.plot(*boundary.points.T, color=INK, lw=1.5, zorder=3)


def _lines(axes: Axes, diagram: Diagram, to_px: ToPixels) -> None:
    """Draw the iso-lines with their values outside the frame where they leave it."""
    _, top, right, _ = to_px.box
    used: list[LabelBox] = []
    for line in diagram.iso_lines:
        axes.plot(*line.points.T, color=_LINE, lw=0.6, zorder=2)
    for line in sorted(diagram.iso_lines, key=_roundness):
        x, y = to_px(*line.points[-1])
        words = f"{line.value:g}"
        wide, high = text_size(words, FOOT)
        if y - top < 2.5:
            px, py, ha, va = x, top - 4, "center", "bottom"
            box = LabelBox.around(x, top - 2 - high / 2, wide + 4, high + 4)
        else:
            px, py, ha, va = x + 4, y, "left", "center"
            box = LabelBox(x, y - high / 2, x + wide + 6, y + high / 2)
        if meets(np.array(box), np.array(used).reshape(-1, 4)):
            continue
        used.append(box)
        _write(axes, to_px, px, py, words, ha=ha, va=va, fontsize=FOOT, color=QUIET)
    _write(
        axes, to_px, right + 36, top - 4 - 15, f"{diagram.data.quantity}, {diagram.data.unit}",
        ha="right", va="bottom", fontsize=FOOT, color=QUIET,
    )  # fmt: skip


def _roundness(line: IsoLine) -> tuple:
    """Ends first, then the rounder values: they get a label where there is no room for all."""
    rest = next(
        k for k, step in enumerate((100, 20, 10, 5, 1, 0)) if not step or not line.value % step
    )
    return rest, line.value


def _write(axes: Axes, to_px: ToPixels, px: float, py: float, words: str, **how: Any) -> None:
    """Write at a place given in pixels of the page."""
    axes.text(*to_px.share(px, py), words, transform=axes.transAxes, clip_on=False, zorder=5, **how)
