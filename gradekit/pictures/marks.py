"""Points on a diagram with their names and errors, and the way to their pixels."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike, Numbers
from gradekit.core.errors import InputError, said
from gradekit.core.flags import Flag
from gradekit.diagrams.constitution import Diagram
from gradekit.heats.batch import as_batch
from gradekit.heats.scatter import as_scatter
from gradekit.pictures.placing import LabelBox
from gradekit.pictures.style import COLOURS, INK, SHAPES
from gradekit.relations.declaration import Linear
from gradekit.relations.topics import CATALOGUE

# So many colours are dark enough for text.
_DARK = 6


@dataclass(frozen=True)
class Mark:
    """One point of a diagram.

    Parameters
    ----------
    x, y : float
        Equivalents, wt%.
    name : str
    style : int
        Number of its shape and colour.
    x_error, y_error : float
        Half lengths of the bars of its scatter, wt%.
    reading : (low, high), optional
        The y between which the tolerance of the reading lets the point lie, wt%.
    """

    x: float
    y: float
    name: str = ""
    style: int = 0
    x_error: float = 0.0
    y_error: float = 0.0
    reading: tuple[float, float] | None = None

    @property
    def colour(self) -> str:
        return COLOURS[self.style % len(COLOURS)]

    @property
    def ink(self) -> str:
        """The colour of its name: that of the mark, but dark where the mark is light."""
        return self.colour if self.style % len(COLOURS) < _DARK else INK

    @property
    def shape(self) -> str:
        return SHAPES[self.style % len(SHAPES)]


@dataclass(frozen=True)
class ToPixels:
    """From equivalents to pixels of a background, y downwards: `to_px(x, y)`.

    Attributes
    ----------
    width, height : int
        Of the whole picture.
    box : Box
        Of the chart inside it: left, low (upper border), right, high (lower border).
    x_range, y_range : (low, high)
        Ends of the axes, wt%.
    labels : tuple of Box
        What the background has already written into the chart.
    """

    width: int
    height: float
    box: LabelBox
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    labels: tuple[LabelBox, ...] = ()

    def share(self, px: float, py: float) -> tuple[float, float]:
        """Return a place of the picture as shares of the axes, from their lower left corner."""
        left, top, right, bottom = self.box
        return (px - left) / (right - left), (bottom - py) / (bottom - top)

    def __call__(self, x: Numbers, y: Numbers) -> tuple:
        (x0, x1), (y0, y1) = self.x_range, self.y_range
        left, top, right, bottom = self.box
        px = left + (np.asarray(x) - x0) * ((right - left) / (x1 - x0))
        py = bottom - (np.asarray(y) - y0) * ((bottom - top) / (y1 - y0))
        return (float(px), float(py)) if np.ndim(px) == 0 else (px, py)


def marks_of(
    diagram: Diagram,
    heats: HeatsLike,
    *,
    scatter: pd.DataFrame | pd.Series | Mapping | None = None,
    reading_error: bool = False,
    styles: Iterable[int] | None = None,
) -> list[Mark]:
    """Return the marks of heats that can be placed.

    Parameters
    ----------
    diagram : Diagram
    heats : anything `as_batch` takes
    scatter : optional
        Standard deviation of each element (dict or Series, wt%), a covariance (DataFrame whose
        index and columns are elements), or a table of heats to take it from. Bars reach one
        standard deviation of the equivalents to either side.
    reading_error : bool
        Whether the marks carry the tolerance of the diagram's reading.
    styles : numbers of shape and colour, one a heat; all alike by default
    """
    batch = as_batch(heats)
    spots = diagram.locate(batch)
    x_error, y_error = axis_scatter(diagram, scatter)
    styles = list(styles) if styles is not None else [0] * len(batch)
    reach = _reading_reach(diagram, spots) if reading_error else [None] * len(batch)
    return [
        Mark(float(x), float(y), str(name), style, x_error, y_error, band)
        for name, x, y, style, band in zip(
            spots.index, spots["x"], spots["y"], styles, reach, strict=True
        )
        if np.isfinite(x) and np.isfinite(y)
    ]


def axis_scatter(
    diagram: Diagram, scatter: pd.DataFrame | pd.Series | Mapping | None
) -> tuple[float, float]:
    """Return the standard deviations of both equivalents that a scatter of elements makes."""
    if scatter is None:
        return 0.0, 0.0
    if isinstance(scatter, pd.DataFrame) and not scatter.columns.equals(scatter.index):
        spots = diagram.locate(scatter)
        if len(spots) < 3:
            raise InputError("scatter", "at least three heats", said(f"{len(spots)} heats"))
        return float(spots["x"].std()), float(spots["y"].std())
    if not isinstance(scatter, (Mapping, pd.Series, pd.DataFrame)):
        raise InputError("scatter", "a standard deviation for each element", scatter)
    spread = as_scatter(scatter)
    elements = list(spread.elements)
    sizes: list[float] = []
    for axis in (diagram.data.x.relation, diagram.data.y.relation):
        relation = CATALOGUE[axis]
        if not isinstance(relation, Linear) or not relation.plain:
            raise InputError(f"scatter along {axis}", "of a linear relation", relation.form)
        weights = np.array([relation.terms.get(e, 0.0) for e in elements])
        sizes.append(float(np.sqrt(weights @ spread.total(elements) @ weights)))
    return sizes[0], sizes[1]


def _reading_reach(diagram: Diagram, spots: pd.DataFrame) -> list[tuple[float, float] | None]:
    low, high = (
        diagram.y_at(spots["x"], spots["value"] + sign * spots["tolerance"]) for sign in (1, -1)
    )
    beyond = (spots["flag"].to_numpy() & int(Flag.CLAMPED | Flag.UNDEFINED)) != 0
    return [
        None if off or not (np.isfinite(a) and np.isfinite(b)) else (min(a, b), max(a, b))
        for a, b, off in zip(low, high, beyond, strict=True)
    ]


def bar_boxes(to_px: ToPixels, marks: Iterable[Mark]) -> list[LabelBox]:
    """Return the places, in pixels, that the bars of scatter take."""
    boxes = []
    for mark in marks:
        x, y = to_px(mark.x, mark.y)
        x1, y1 = to_px(mark.x + mark.x_error, mark.y - mark.y_error)
        if mark.x_error:
            boxes.append(LabelBox.around(x, y, 2 * (x1 - x) + 2, 4))
        if mark.y_error:
            boxes.append(LabelBox.around(x, y, 4, 2 * (y1 - y) + 2))
    return boxes
