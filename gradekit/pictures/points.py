"""Marks, their bars and their names on a drawn chart."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from gradekit.pictures.canvas import label_ground, safe, shorten
from gradekit.pictures.marks import Mark, ToPixels, bar_boxes
from gradekit.pictures.placing import Placed, place_labels
from gradekit.pictures.style import MARKERS, text_size

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_NAME_SIZE = 11.0


def draw_points(axes: Axes, to_px: ToPixels, marks: Sequence[Mark], small: bool) -> None:
    """Draw marks and bars; a mark off the chart stands hollow on its border."""
    inside = [m for m in marks if _on_chart(to_px, m)]
    for style in dict.fromkeys(m.style for m in inside):
        group = [m for m in inside if m.style == style]
        x, y = np.array([(m.x, m.y) for m in group]).T
        colour = group[0].colour
        read = [m for m in group if m.reading]
        if read:
            low, high = np.array([m.reading for m in read]).T
            axes.vlines([m.x for m in read], low, high, color=colour, lw=8, alpha=0.18, zorder=3.5)
        x_error, y_error = np.array([(m.x_error, m.y_error) for m in group]).T
        if x_error.any() or y_error.any():
            axes.errorbar(
                x, y, y_error if y_error.any() else None, x_error if x_error.any() else None,
                ls="none", color=colour, elinewidth=1.2, capsize=2.5, capthick=1.2, zorder=4,
            )  # fmt: skip
        axes.plot(
            x, y, ls="none", marker=MARKERS[group[0].shape], ms=7 if small else 9, mfc=colour,
            mec="white", mew=0.8 if small else 1.2, zorder=5,
        )  # fmt: skip
    for mark in marks:
        if not _on_chart(to_px, mark):
            axes.plot(
                *_at_border(to_px, mark), marker=MARKERS[mark.shape], ms=9, mfc="white",
                mec=mark.colour, mew=1.6, zorder=6, clip_on=False,
            )  # fmt: skip


def bar_words(marks: Sequence[Mark]) -> str:
    """Say what the bars and hollow marks are."""
    words = []
    if any(m.x_error or m.y_error for m in marks):
        words.append("Bars: ± one standard deviation of the heats.")
    if any(m.reading for m in marks):
        words.append("Pale bars: where the tolerance of the reading lets a point lie.")
    return " ".join(words)


def name_places(to_px: ToPixels, marks: Sequence[Mark]) -> list[Placed | None]:
    """Return where the name of each mark goes, None where there is no room."""
    spots = np.array([to_px(*_at_border(to_px, m)) for m in marks]).reshape(-1, 2)
    sizes = [text_size(_name(to_px, m), _NAME_SIZE) for m in marks]
    taken = [*to_px.labels, *bar_boxes(to_px, [m for m in marks if _on_chart(to_px, m)])]
    return place_labels(spots, sizes, to_px.box, taken, mark=6.0)


def draw_names(
    axes: Axes, to_px: ToPixels, marks: Sequence[Mark], places: Sequence[Placed | None]
) -> None:
    """Write the names that have a place, with a leader where they stand apart."""
    for mark, place in zip(marks, places, strict=False):
        if place is None:
            continue
        if place.leader:
            ends = (to_px.share(*to_px(*_at_border(to_px, mark))), to_px.share(*place.leader))
            axes.plot(
                *zip(*ends, strict=True), color=mark.colour, lw=0.7, zorder=4.5,
                transform=axes.transAxes,
            )  # fmt: skip
        axes.text(
            *to_px.share(place.x, place.y), safe(_name(to_px, mark)), ha="center", va="center",
            fontsize=_NAME_SIZE, color=mark.ink, zorder=7, transform=axes.transAxes,
            bbox=label_ground("white") | {"alpha": 0.6},
        )  # fmt: skip


def _name(to_px: ToPixels, mark: Mark) -> str:
    return shorten(mark.name if _on_chart(to_px, mark) else f"{mark.name} (outside)", 24)


def _on_chart(to_px: ToPixels, mark: Mark) -> bool:
    (x0, x1), (y0, y1) = to_px.x_range, to_px.y_range
    return x0 <= mark.x <= x1 and y0 <= mark.y <= y1


def _at_border(to_px: ToPixels, mark: Mark) -> tuple[float, float]:
    return float(np.clip(mark.x, *to_px.x_range)), float(np.clip(mark.y, *to_px.y_range))
