"""Pictures: constitution diagrams with heats, and the charts that results share.

matplotlib is loaded when the first picture is made, and its settings are left as they were.
"""

from __future__ import annotations

from collections import Counter

import numpy as np
import pandas as pd

from gradekit.composition import about, as_batch
from gradekit.diagram import Diagram
from gradekit.diagram import diagram as named_diagram
from gradekit.drawing.charts import bars, intervals, lines, scatter_fit
from gradekit.drawing.figure import Figure
from gradekit.drawing.marks import Mark, ToPixels, bar_boxes, marks_of, overlay
from gradekit.drawing.placing import place_labels
from gradekit.drawing.sheet import legend_rows, safe, shorten, write_legend
from gradekit.drawing.style import MARKERS, SHAPES, STYLE, WIDTH, styled, text_size
from gradekit.errors import InputError, nearest, said
from gradekit.html import number

__all__ = [
    "STYLE",
    "Figure",
    "Mark",
    "ToPixels",
    "background",
    "bars",
    "draw",
    "intervals",
    "lines",
    "marks_of",
    "overlay",
    "scatter_fit",
]

# Beyond these a name for each heat is noise.
_MOST_NAMES = 25
_NAME = 11.0


def background(diagram: str | Diagram, width: int = WIDTH, title: str = "") -> tuple[str, ToPixels]:
    """Draw the resting layer of an explorer once.

    Parameters
    ----------
    diagram : name or Diagram
    width : int
        Pixels of the page at which texts have their nominal size.
    title : str
        Written above the chart; left out by default, since an explorer names it already.

    Returns
    -------
    tuple
        The SVG string, which says 'reconstruction', the tolerance and 'not for code acceptance',
        and the function `to_px(x, y)` for what `overlay` lays over it.

    Examples
    --------
    >>> svg, to_px = background("wrc_1992", 640)
    >>> svg.startswith("<svg"), to_px.width
    (True, 640)
    """
    from gradekit.drawing.chart import chart

    diagram = _diagram(diagram)
    with styled():
        drawn = chart(diagram, width, title)
        figure = Figure(drawn.figure, diagram.title, _describe(diagram))
        return figure.svg, drawn.to_px


def draw(
    diagram: str | Diagram,
    heats: object = None,
    scatter: object = None,
    *,
    group: object = None,
    names: bool | None = None,
    reading_error: bool = False,
    title: str | None = None,
    width: int = WIDTH,
) -> Figure:
    """Draw a constitution diagram, with heats on it.

    The diagrams of the library are reconstructions; each picture says so, with the tolerance of
    the reading and 'not for code acceptance'.

    Parameters
    ----------
    diagram : 'wrc_1992', 'schaeffler_1949', 'delong_1973' or a Diagram
    heats : anything `as_batch` takes, optional
    scatter : optional
        Standard deviations per element, a covariance, or a table of heats: bars of one standard
        deviation of the equivalents on each point.
    group : optional
        One value a heat, or the name of a column that came with them ('grade'): each group has
        its shape and colour, named in a legend.
    names : bool, optional
        Whether heat names stand at the points; by default for up to 25 heats without groups.
    reading_error : bool
        Whether a pale bar shows how far along y the tolerance of the reading lets a point lie.
    title : str, optional
    width : int
        Pixels.

    Returns
    -------
    Figure
        Shows itself in a notebook; `.save(path)` writes SVG, PNG or PDF; `.canvas` is the
        matplotlib figure.

    Examples
    --------
    >>> heat = {"C": .02, "Cr": 19.5, "Ni": 9.8, "Mo": .2, "N": .06, "Nb": 0, "Cu": .1}
    >>> picture = draw("wrc_1992", heat)
    >>> "heat 1" in picture.description
    True
    """
    from gradekit.drawing.chart import chart

    diagram = _diagram(diagram)
    marks: list[Mark] = []
    legend: list[str] = []
    lost = 0
    if heats is not None:
        batch = as_batch(heats)
        styles, legend = _groups(batch, group)
        marks = marks_of(
            diagram, batch, scatter=scatter, reading_error=reading_error, styles=styles
        )
        lost = len(batch) - len(marks)
        if names is None:
            names = len(batch) <= _MOST_NAMES and len(legend) < 2
    rows = legend_rows(legend, width - 70)
    with styled():
        drawn = chart(diagram, width, title, 22 * len(rows), _bar_words(marks))
        unnamed = _points(drawn, marks, bool(names))
        write_legend(
            drawn.figure, rows, drawn.to_px.box.left, drawn.to_px.height - 22 * len(rows) + 8
        )
    text = _describe(diagram, marks, lost)
    if names and unnamed:
        text += f" {unnamed} names are left out for want of room."
    return Figure(drawn.figure, title or diagram.title, text)


def _diagram(diagram: str | Diagram) -> Diagram:
    return diagram if isinstance(diagram, Diagram) else named_diagram(diagram)


def _groups(batch: pd.DataFrame, group: object) -> tuple[list[int], list[str]]:
    """Return the style number of each heat and the names of the groups."""
    if group is None:
        return [0] * len(batch), []
    if isinstance(group, str):
        columns = about(batch)
        if group not in columns:
            close = nearest(group, columns.columns)
            raise InputError("group", "a column that came with the heats", group, close)
        values = columns[group]
    elif isinstance(group, pd.Series):
        values = group.reindex(batch.index)
    else:
        values = pd.Series(list(group), dtype=object)
        if len(values) != len(batch):
            raise InputError(
                "group", f"one value for each of {len(batch)} heats", said(f"{len(values)}")
            )
    texts = ["not stated" if pd.isna(v) or v == "" else str(v) for v in values]
    known = [name for name, _ in Counter(texts).most_common()]
    if len(known) > len(SHAPES):
        raise InputError("group", f"at most {len(SHAPES)} groups", said(f"{len(known)} groups"))
    return [known.index(t) for t in texts], known


def _points(drawn: object, marks: list[Mark], names: bool) -> int:
    """Draw marks, bars and names; return how many names found no room."""
    axes, to_px = drawn.axes, drawn.to_px
    inside = [m for m in marks if _on_chart(to_px, m)]
    for mark in inside:
        if mark.reading:
            axes.plot(
                [mark.x, mark.x], mark.reading, color=mark.colour, lw=8, alpha=0.18,
                solid_capstyle="butt", zorder=3.5,
            )  # fmt: skip
        if mark.x_error or mark.y_error:
            axes.errorbar(
                mark.x, mark.y, mark.y_error or None, mark.x_error or None, color=mark.colour,
                elinewidth=1.2, capsize=2.5, capthick=1.2, zorder=4,
            )  # fmt: skip
    crowd = len(marks) > _MOST_NAMES
    for style in dict.fromkeys(m.style for m in inside):
        group = [m for m in inside if m.style == style]
        axes.plot(
            [m.x for m in group], [m.y for m in group], ls="none",
            marker=MARKERS[group[0].shape], ms=7 if crowd else 9, mfc=group[0].colour,
            mec="white", mew=0.8 if crowd else 1.2, zorder=5,
        )  # fmt: skip
    _outside(axes, to_px, [m for m in marks if not _on_chart(to_px, m)])
    return _write_names(drawn, marks) if names else 0


def _bar_words(marks: list[Mark]) -> str:
    """Say what the bars of these marks are."""
    words = []
    if any(m.x_error or m.y_error for m in marks):
        words.append("Bars: ± one standard deviation of the heats.")
    if any(m.reading for m in marks):
        words.append("Pale bars: where the tolerance of the reading lets a point lie.")
    return " ".join(words)


def _on_chart(to_px: ToPixels, mark: Mark) -> bool:
    (x0, x1), (y0, y1) = to_px.x_range, to_px.y_range
    return x0 <= mark.x <= x1 and y0 <= mark.y <= y1


def _at_border(to_px: ToPixels, mark: Mark) -> tuple[float, float]:
    return (
        float(np.clip(mark.x, *to_px.x_range)),
        float(np.clip(mark.y, *to_px.y_range)),
    )


def _outside(axes: object, to_px: ToPixels, marks: list[Mark]) -> None:
    """Points off the chart stand as hollow marks on its border."""
    for mark in marks:
        axes.plot(
            *_at_border(to_px, mark), marker=MARKERS[mark.shape], ms=9, mfc="white",
            mec=mark.colour, mew=1.6, zorder=6, clip_on=False,
        )  # fmt: skip


def _write_names(drawn: object, marks: list[Mark]) -> int:
    from gradekit.drawing.chart import label_ground

    axes, to_px = drawn.axes, drawn.to_px
    names = [m.name if _on_chart(to_px, m) else f"{m.name} (outside)" for m in marks]
    names = [shorten(n, 24) for n in names]
    spots = np.array([to_px(*_at_border(to_px, m)) for m in marks]).reshape(-1, 2)
    sizes = [text_size(n, _NAME) for n in names]
    taken = [*to_px.labels, *bar_boxes(to_px, [m for m in marks if _on_chart(to_px, m)])]
    where = place_labels(spots, sizes, to_px.box, taken, mark=6.0)
    (x0, x1), (y0, y1) = to_px.x_range, to_px.y_range
    left, top, right, bottom = to_px.box
    for mark, name, (px, py), spot in zip(marks, names, spots, where, strict=True):
        if spot is None:
            continue
        ends = np.array([(px, py), spot.leader or (px, py), (spot.x, spot.y)])
        x = x0 + (ends[:, 0] - left) / (right - left) * (x1 - x0)
        y = y0 + (bottom - ends[:, 1]) / (bottom - top) * (y1 - y0)
        if spot.leader:
            axes.plot(x[:2], y[:2], color=mark.colour, lw=0.7, zorder=4.5)
        axes.text(
            x[2], y[2], safe(name), ha="center", va="center", fontsize=_NAME,
            color=mark.colour, zorder=7, bbox=label_ground("white") | {"alpha": 0.6},
        )  # fmt: skip
    return sum(w is None for w in where)


def _describe(diagram: Diagram, marks: list[Mark] = (), lost: int = 0) -> str:
    """Say in words what the picture shows."""
    data = diagram.data
    fields = ", ".join(r.label + (f" ({r.words})" if r.words else "") for r in data.regions)
    text = (
        f"{diagram.title}: {data.x.relation} from {data.x.low:g} to {data.x.high:g} wt% across, "
        f"{data.y.relation} from {data.y.low:g} to {data.y.high:g} wt% upwards. Fields: {fields}. "
        f"Lines of equal {data.quantity} from {data.iso_lines[0].value:g} to "
        f"{data.iso_lines[-1].value:g} {data.unit}. {diagram.caution}."
    )
    if marks:
        spots = diagram.locate_xy([m.x for m in marks], [m.y for m in marks])
        where = spots["region"].astype(str).where(spots["region"] != "", "outside the chart")
        if len(marks) <= 12:
            each = (
                f"{m.name} at {number(m.x, 3)}, {number(m.y, 3)} in {place}, "
                f"{number(v, 3)} ± {number(t, 3)} {data.unit}"
                for m, place, v, t in zip(
                    marks, where, spots["value"], spots["tolerance"], strict=True
                )
            )
            text += f" Heats: {'; '.join(each)}."
        else:
            counts = ", ".join(f"{n} in {place}" for place, n in where.value_counts().items() if n)
            text += f" {len(marks)} heats: {counts}."
    if lost:
        text += f" {lost} heats lack an element that their place needs and are not shown."
    return text
