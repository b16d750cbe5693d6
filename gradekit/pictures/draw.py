"""Pictures: constitution diagrams with heats, and the charts that results share.

matplotlib is loaded when the first picture is made, and its settings are left as they were.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from numbers import Real
from xml.etree.ElementTree import Element

import pandas as pd

from gradekit.core.aliases import HeatsLike
from gradekit.core.errors import InputError, one_of, said
from gradekit.core.markup import number
from gradekit.diagrams.constitution import Diagram
from gradekit.diagrams.constitution import diagram as named_diagram
from gradekit.heats.batch import as_batch
from gradekit.heats.notes import about
from gradekit.pictures.canvas import legend_rows, write_legend
from gradekit.pictures.chart import chart, layout
from gradekit.pictures.figure import Figure
from gradekit.pictures.marks import Mark, ToPixels, marks_of
from gradekit.pictures.points import bar_words, draw_names, draw_points, name_places
from gradekit.pictures.style import SHAPES, WIDTH, styled
from gradekit.relations.topics import CATALOGUE

# Beyond these a name for each heat is noise.
_MOST_NAMES = 25
_NARROWEST = 200  # pixels, below which a diagram has no room for its axes


def background(
    diagram: str | Diagram, width: int = WIDTH, title: str = ""
) -> tuple[Element, ToPixels]:
    """Draw the resting layer of an explorer, once for all that show it.

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
        The picture, which says 'reconstruction', the tolerance and 'not for code acceptance',
        and the function `to_px(x, y)` for what `overlay` lays over it.

    Examples
    --------
    >>> picture, to_px = background("wrc_1992", 640)
    >>> picture.tag, to_px.width
    ('svg', 640)
    """
    return _resting(_diagram(diagram), width, title)


@lru_cache(maxsize=16)
def _resting(diagram: Diagram, width: int, title: str) -> tuple[Element, ToPixels]:
    with styled():
        drawn = chart(diagram, layout(diagram, width, title))
        figure = Figure(drawn.figure, diagram.title, _describe(diagram))
        return figure.tree, drawn.to_px


def draw(
    diagram: str | Diagram,
    heats: HeatsLike = None,
    scatter: pd.DataFrame | pd.Series | Mapping | None = None,
    *,
    group: str | Iterable | None = None,
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
        Whether heat names stand at the points; by default for up to 25 heats without groups that
        do not lie too close.
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

    Raises
    ------
    InputError
        A diagram or a column for `group` that there is not, heats that cannot be read, a width
        of no picture.

    Examples
    --------
    >>> heat = {"C": .02, "Cr": 19.5, "Ni": 9.8, "Mo": .2, "N": .06, "Nb": 0, "Cu": .1}
    >>> picture = draw("wrc_1992", heat)
    >>> "heat 1" in picture.description
    True
    """
    if not isinstance(width, Real) or not width >= _NARROWEST:
        raise InputError("width", f"a number of pixels, at least {_NARROWEST}", width)
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
    plan = layout(diagram, width, title, marks)
    says = bar_words(marks)
    wanted = names if names is not None else len(marks) <= _MOST_NAMES and len(legend) < 2
    places = name_places(plan.to_px, marks) if wanted else []
    unnamed = sum(place is None for place in places)
    if names is None and unnamed > len(places) / 3:
        places = []
        says = f"{says} Names left out: the points lie too close.".strip()
    elif unnamed:
        says = f"{says} {unnamed} of {len(places)} names left out for want of room.".strip()
    rows = legend_rows(legend, width - 70)
    with styled():
        drawn = chart(diagram, plan, 22 * len(rows) + 8 * bool(rows), says)
        draw_points(drawn.axes, plan.to_px, marks, small=len(marks) > _MOST_NAMES)
        draw_names(drawn.axes, plan.to_px, marks, places)
        write_legend(drawn.figure, rows, plan.to_px.box.left, plan.to_px.box.high + 54)
    text = f"{_describe(diagram, marks, lost)} {says}".strip()
    return Figure(drawn.figure, title or diagram.title, text)


def _diagram(diagram: str | Diagram) -> Diagram:
    return diagram if isinstance(diagram, Diagram) else named_diagram(diagram)


def _groups(batch: pd.DataFrame, group: str | Iterable | None) -> tuple[list[int], list[str]]:
    """Return the style number of each heat and the names of the groups."""
    if group is None:
        return [0] * len(batch), []
    if isinstance(group, str):
        columns = about(batch)
        one_of("group", group, columns, "a column that came with the heats")
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


def _describe(diagram: Diagram, marks: Sequence[Mark] = (), lost: int = 0) -> str:
    """Say in words what the picture shows."""
    data = diagram.data
    fields = ", ".join(r.label + (f" ({r.words})" if r.words else "") for r in data.regions)
    x, y = (
        f"{CATALOGUE[axis.relation].title} from {axis.low:g} to {axis.high:g} wt%"
        for axis in (data.x, data.y)
    )
    text = (
        f"{diagram.title}: {x} across, {y} upwards. Fields: {fields}. "
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
        who = "1 heat lacks" if lost == 1 else f"{lost} heats lack"
        text += f" {who} an element that a place needs, and cannot be shown."
    return text
