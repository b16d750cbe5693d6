"""Points on a diagram with their names and errors, and the moving layer of an explorer."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from gradekit.composition import as_batch
from gradekit.diagram import Diagram
from gradekit.drawing.placing import Box, place_labels
from gradekit.drawing.style import COLOURS, INK, SHAPES, text_size
from gradekit.elements import require_element
from gradekit.errors import InputError, said
from gradekit.flags import Flag
from gradekit.html import escape
from gradekit.relations import CATALOGUE

__all__ = ["Mark", "ToPixels", "marks_of", "overlay", "shape_path"]

_NAME_SIZE = 12.0


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
    height: int
    box: Box
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    labels: tuple[Box, ...] = ()

    def __call__(self, x: object, y: object) -> tuple:
        (x0, x1), (y0, y1) = self.x_range, self.y_range
        left, top, right, bottom = self.box
        px = left + (np.asarray(x) - x0) * ((right - left) / (x1 - x0))
        py = bottom - (np.asarray(y) - y0) * ((bottom - top) / (y1 - y0))
        return (float(px), float(py)) if np.ndim(px) == 0 else (px, py)


def marks_of(
    diagram: Diagram,
    heats: object,
    *,
    scatter: object = None,
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


def axis_scatter(diagram: Diagram, scatter: object) -> tuple[float, float]:
    """Return the standard deviations of both equivalents that a scatter of elements makes."""
    if scatter is None:
        return 0.0, 0.0
    if isinstance(scatter, pd.DataFrame) and not scatter.columns.equals(scatter.index):
        spots = diagram.locate(scatter)
        if len(spots) < 3:
            raise InputError("scatter", "at least three heats", said(f"{len(spots)} heats"))
        return float(spots["x"].std()), float(spots["y"].std())
    if isinstance(scatter, pd.DataFrame):
        covariance = scatter
    else:
        try:
            sizes = pd.Series(scatter, dtype=float)
        except (TypeError, ValueError):
            raise InputError("scatter", "a standard deviation for each element", scatter) from None
        covariance = pd.DataFrame(np.diag(sizes**2), index=sizes.index, columns=sizes.index)
    for element in covariance.index:
        require_element(element, "scatter, element")
    found = []
    for axis in (diagram.data.x.relation, diagram.data.y.relation):
        terms = getattr(CATALOGUE[axis], "terms", None)
        if terms is None or not CATALOGUE[axis].plain:
            raise InputError(f"scatter along {axis}", "of a linear relation", CATALOGUE[axis].form)
        weights = np.array([terms.get(e, 0.0) for e in covariance.index])
        found.append(float(np.sqrt(weights @ covariance.to_numpy(dtype=float) @ weights)))
    return found[0], found[1]


def _reading_reach(diagram: Diagram, spots: pd.DataFrame) -> list[tuple[float, float] | None]:
    low, high = (
        diagram.y_at(spots["x"], spots["value"] + sign * spots["tolerance"]) for sign in (1, -1)
    )
    beyond = (spots["flag"].to_numpy() & int(Flag.CLAMPED | Flag.UNDEFINED)) != 0
    return [
        None if off or not (np.isfinite(a) and np.isfinite(b)) else (min(a, b), max(a, b))
        for a, b, off in zip(low, high, beyond, strict=True)
    ]


def overlay(to_px: ToPixels, marks: Iterable[Mark], *, trail: bool = False, words: str = "") -> str:
    """Return the moving layer of an explorer as one SVG string, to lie over the background.

    Parameters
    ----------
    to_px : ToPixels
        As `background` returned it.
    marks : Mark
        A point outside the chart stands as an arrow head at the border.
    trail : bool
        Whether a thin line joins the marks in their order.
    words : str
        What the layer shows, for a screen reader; the layer is hidden from it if empty.

    Returns
    -------
    str
        An `<svg>` of the size of the background.

    Examples
    --------
    >>> to_px = ToPixels(100, 80, Box(10, 10, 90, 70), (18, 30), (10, 18))
    >>> "circle" in overlay(to_px, [Mark(20.0, 12.0, "trial")])
    True
    """
    marks = list(marks)
    centres = [_inside(to_px, mark) for mark in marks]
    spots = np.array([(x, y) for x, y, _ in centres]).reshape(-1, 2)
    names = [
        f"{m.name} (outside)" if out and m.name else m.name
        for m, (_, _, out) in zip(marks, centres, strict=True)
    ]
    sizes = [text_size(n, _NAME_SIZE) if n else (0.0, 0.0) for n in names]
    taken = [*to_px.labels, *bar_boxes(to_px, marks)]
    where = place_labels(spots, sizes, to_px.box, taken, mark=6.0)
    parts = [_bars(to_px, m, out) for m, (_, _, out) in zip(marks, centres, strict=True)]
    if trail and len(marks) > 1:
        line = " ".join(f"{x:.1f},{y:.1f}" for x, y in spots)
        parts.append(
            f'<polyline points="{line}" fill="none" stroke="{INK}" stroke-dasharray="2 3"/>'
        )
    for mark, (x, y, out) in zip(marks, centres, strict=True):
        shape = _arrow_head(x, y, out) if out else shape_path(mark.shape, x, y, 6.0)
        parts.append(
            shape.replace("/>", f' fill="{mark.colour}" stroke="#fff" stroke-width="1.3"/>')
        )
    for mark, name, (x, y), spot in zip(marks, names, spots, where, strict=True):
        if spot is None:
            continue
        if spot.leader:
            parts.append(
                f'<line x1="{x:.1f}" y1="{y:.1f}" x2="{spot.leader[0]:.1f}" '
                f'y2="{spot.leader[1]:.1f}" stroke="{mark.colour}" stroke-width=".8"/>'
            )
        parts.append(_text(name, spot.x, spot.y, mark.colour))
    tag = f'role="img" aria-label="{escape(words)}"' if words else 'aria-hidden="true"'
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {to_px.width} {to_px.height}" '
        f'style="width:100%;max-width:{to_px.width}px;height:auto;display:block" {tag}>'
        f"{''.join(parts)}</svg>"
    )


def _inside(to_px: ToPixels, mark: Mark) -> tuple[float, float, tuple[int, int] | None]:
    """Return the pixels of a mark, at the border if it lies outside, and the way it points."""
    x, y = to_px(mark.x, mark.y)
    left, top, right, bottom = to_px.box
    out = (int(x > right) - int(x < left), int(y > bottom) - int(y < top))
    if out == (0, 0):
        return x, y, None
    return min(max(x, left + 6), right - 6), min(max(y, top + 6), bottom - 6), out


def _bars(to_px: ToPixels, mark: Mark, out: tuple[int, int] | None) -> str:
    if out:
        return ""
    left, top, right, bottom = to_px.box
    x, _ = to_px(mark.x, mark.y)
    parts = []
    if mark.reading:
        _, high = to_px(mark.x, mark.reading[1])
        _, low = to_px(mark.x, mark.reading[0])
        high, low = max(high, top), min(low, bottom)
        parts.append(
            f'<rect x="{x - 4:.1f}" y="{high:.1f}" width="8" height="{low - high:.1f}" '
            f'fill="{mark.colour}" fill-opacity=".18"/>'
        )
    for error, across in ((mark.x_error, True), (mark.y_error, False)):
        if not error:
            continue
        a = to_px(mark.x - error * across, mark.y - error * (not across))
        b = to_px(mark.x + error * across, mark.y + error * (not across))
        (ax, bx) = (min(max(v, left), right) for v in (a[0], b[0]))
        (ay, by) = (min(max(v, top), bottom) for v in (a[1], b[1]))
        cap = (0, 3) if across else (3, 0)
        parts.append(
            f'<path d="M{ax:.1f} {ay:.1f}L{bx:.1f} {by:.1f}'
            + "".join(
                f"M{px - cap[0]:.1f} {py - cap[1]:.1f}L{px + cap[0]:.1f} {py + cap[1]:.1f}"
                for px, py in ((ax, ay), (bx, by))
            )
            + f'" fill="none" stroke="{mark.colour}" stroke-width="1.4"/>'
        )
    return "".join(parts)


def bar_boxes(to_px: ToPixels, marks: Iterable[Mark]) -> list[Box]:
    """Return the places, in pixels, that the bars of scatter take."""
    boxes = []
    for mark in marks:
        (x, y), (x1, y1) = (
            to_px(mark.x, mark.y),
            to_px(mark.x + mark.x_error, mark.y - mark.y_error),
        )
        if mark.x_error:
            boxes.append(Box(2 * x - x1 - 1, y - 2, x1 + 1, y + 2))
        if mark.y_error:
            boxes.append(Box(x - 2, 2 * y - y1 - 1, x + 2, y1 + 1))
    return boxes


def _text(name: str, x: float, y: float, colour: str) -> str:
    return (
        f'<text x="{x:.1f}" y="{y + 0.35 * _NAME_SIZE:.1f}" text-anchor="middle" '
        f'font-size="{_NAME_SIZE:g}" font-family="DejaVu Sans,Verdana,Arial,sans-serif" '
        f'fill="{colour}" stroke="#fff" stroke-width="3" paint-order="stroke">{escape(name)}</text>'
    )


def _arrow_head(x: float, y: float, out: tuple[int, int]) -> str:
    way = np.array(out) / np.hypot(*out)
    side = np.array([-way[1], way[0]])
    centre = np.array([x, y])
    corners = [centre + 6 * way, centre - 5 * way + 6 * side, centre - 5 * way - 6 * side]
    return f'<polygon points="{" ".join(f"{a:.1f},{b:.1f}" for a, b in corners)}"/>'


def shape_path(shape: str, x: float, y: float, size: float) -> str:
    """Return a mark as an SVG element of about the same area whatever its shape."""
    if shape == "circle":
        return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{size * 0.95:.1f}"/>'
    points = _OUTLINES[shape](size)
    return f'<polygon points="{" ".join(f"{x + a:.1f},{y + b:.1f}" for a, b in points)}"/>'


def _regular(corners: int, radius: float, turn: float) -> Callable[[float], list]:
    angles = np.deg2rad(turn + np.arange(corners) * 360 / corners)
    return lambda s: [(radius * s * np.cos(a), radius * s * np.sin(a)) for a in angles]


def _cross(size: float) -> list[tuple[float, float]]:
    a, b = 0.38 * size, 1.1 * size
    return [
        (-a, -b), (a, -b), (a, -a), (b, -a), (b, a), (a, a),
        (a, b), (-a, b), (-a, a), (-b, a), (-b, -a), (-a, -a),
    ]  # fmt: skip


_OUTLINES: dict[str, Callable[[float], list]] = {
    "square": _regular(4, 1.2, 45),
    "diamond": _regular(4, 1.2, 0),
    "triangle": _regular(3, 1.25, -90),
    "wedge": _regular(3, 1.25, 90),
    "hexagon": _regular(6, 1.05, 90),
    "cross": _cross,
    "kite": lambda s: [(0, -1.3 * s), (0.75 * s, 0), (0, 1.3 * s), (-0.75 * s, 0)],
}
