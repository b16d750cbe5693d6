"""The route as a picture: a row a step, with the check that decides it and its margin."""

from __future__ import annotations

import textwrap
from functools import cached_property
from itertools import groupby
from operator import itemgetter
from typing import NamedTuple
from xml.etree.ElementTree import Element

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError
from gradekit.core.markup import number, verdict
from gradekit.core.svg import FONT, drawing, shape
from gradekit.pictures.drawn import DrawnFigure
from gradekit.pictures.style import INK, QUIET, text_size
from gradekit.works.deciding import deciding
from gradekit.works.walk import Route

_FILL = {"ok": "#0b8a6f", "caution": "#c1571a", "stop": "#7d2a62", "not assessed": "#8a939c"}
_LINE = 17
# Below this width the words stand under the bars.
_NARROW = 700
_STEP_ROOM, _HALF = 180, 70
_LETTER = 7.0  # pixels, of small text on average


class RouteChart(DrawnFigure):
    """The route of one heat or of several, as a picture made of text and bars.

    Attributes
    ----------
    svg : str
    rows : DataFrame
        What is drawn, as `gradekit.works.deciding.deciding` returns it.
    """

    def __init__(self, rows: pd.DataFrame, width: int = 900):
        self.rows, self._width = rows, width
        self.title = "Route of " + ", ".join(map(str, dict.fromkeys(rows["heat"])))
        self.description = "; ".join(_words(rows))

    @cached_property
    def tree(self) -> Element:
        """The picture as a tree of SVG elements."""
        return _drawn(self.rows, self._width, self.title, self.description)

    def __repr__(self) -> str:
        return "Route chart\n" + "\n".join(_words(self.rows))


def route_chart(route: Route | pd.DataFrame, width: int = 900) -> RouteChart:
    """Draw a route: a row a step, with the check that decides it and its margin.

    Parameters
    ----------
    route : Route, or the table of `assess_route`
        Several heats stand one below the other in each step.
    width : int
        Pixels.

    Returns
    -------
    RouteChart
        The bar goes from the limit: to the right is room left, to the left beyond the limit; its
        length is margin/(value + margin). Verdicts are words and signs.

    Raises
    ------
    InputError
        Anything but a walked route or its table.

    Examples
    --------
    >>> from gradekit.works.walk import walk_route
    >>> chart = route_chart(walk_route({"C": .05, "Si": .4, "Cr": 18.2, "Ni": 8.1, "N": .05}))
    >>> chart.svg.count("<text") > 8
    True
    """
    rows = route.table if isinstance(route, Route) else route
    if not isinstance(rows, pd.DataFrame) or not {"step", "heat", "margin"} <= set(rows):
        raise InputError("route to draw", "what gk.walk_route(...) returned", route)
    return RouteChart(deciding(rows), width)


def _words(rows: pd.DataFrame) -> list[str]:
    columns = (rows[name].tolist() for name in ("step", "heat", "verdict", "check"))
    return [
        f"{step}, {heat}: {word}; {check}" for step, heat, word, check in zip(*columns, strict=True)
    ]


class _Places(NamedTuple):
    """Where the columns of the picture stand, in pixels."""

    zero: float  # of the bars
    text: float
    room: int  # letters of a line
    narrow: bool
    lead: int  # height of a line for the name of a step alone


def _drawn(rows: pd.DataFrame, width: int, title: str, words: str) -> Element:
    places = _places(rows, width)
    several = rows["heat"].nunique() > 1
    zero, y, top = places.zero, 42, 38
    bands, parts = [], [
        shape("text", "limit", x=zero, y=16, text_anchor="middle", fill=QUIET),
        shape("text", "beyond", x=zero - 6, y=32, text_anchor="end", fill=QUIET),
        shape("text", "room left", x=zero + 6, y=32, fill=QUIET),
    ]  # fmt: skip
    records = rows.to_dict("records")
    for k, (step, rest) in enumerate(groupby(records, key=itemgetter("step"))):
        begin, group = y, list(rest)
        parts.append(shape("text", step, x=8, y=y + 14, font_weight="bold"))
        y += places.lead
        for row in group:
            drawn, height = _row(row, y, places, several, row is group[0])
            parts += drawn
            y += height + 4
        y += 6
        if k % 2 == 0:
            band = shape("rect", x=0, y=begin - 3, width=width, height=y - begin, fill="#f4f6f8")
            bands.append(band)
    if not places.narrow:  # there each bar has its own piece of the axis, which crosses no word
        axis = shape("path", d=f"M{zero} {top}L{zero} {y}", stroke=INK, stroke_width=1.2)
        bands.append(axis)
    ground = shape("rect", width=width, height=y + 4, fill="white")
    return drawing(
        width, y + 4, ground, *bands, *parts, title=title, words=words,
        font_family=FONT, font_size=12, fill=INK,
    )  # fmt: skip


def _places(rows: pd.DataFrame, width: int) -> _Places:
    narrow = width < _NARROW
    zero = width - _HALF - 8 if narrow else _STEP_ROOM + 118 + _HALF
    text = 20 if narrow else zero + _HALF + 14
    ends = zero - _HALF - 16 - max(text_size(verdict(v), 12)[0] for v in rows["verdict"])
    crowded = narrow and max(8 + text_size(s, 12.5)[0] for s in rows["step"]) > ends
    room = max(20, int((width - text - 4) / _LETTER))
    return _Places(zero, text, room, narrow, _LINE if crowded else 0)


def _held(text: str) -> str:
    """A number with its unit, which no line parts."""
    return text.replace(" ", "\N{NO-BREAK SPACE}")


def _lines(texts: list[str], x: float, y: float, **how: str | float) -> list[Element]:
    return [shape("text", t, x=x, y=y + k * _LINE, **how) for k, t in enumerate(texts)]


def _row(
    row: dict, y: int, places: _Places, several: bool, below_step: bool
) -> tuple[list[Element], int]:
    """One check as elements, and its height; the name of its heat stands below that of a step."""
    zero, text, room, narrow, _ = places
    colour = _FILL[row["verdict"]]
    word = f"{verdict(row['verdict'])}{' in part' if row['partly'] else ''}"
    parts = [
        shape("text", word, x=zero - _HALF - 8, y=y + 15, text_anchor="end", fill=colour,
              font_weight="bold")
    ]  # fmt: skip
    if np.isfinite(row["share"]):
        long = row["share"] * _HALF
        parts.append(
            shape("rect", x=zero + min(long, 0.0), y=y + 4, width=max(abs(long), 1.5), height=14,
                  fill=colour)
        )  # fmt: skip
    unit = "" if row["unit"] == "1" else f" {row['unit']}"
    value = f"{number(row['value'], 4)}{unit}" if np.isfinite(row["value"]) else "no value"
    limit = f"{row['limit']}{unit}" if row["limit"] else ""
    first = f"{row['check']}: {_held(value)}{' against ' if limit else ''}{_held(limit)}"
    if narrow:
        parts.append(
            shape("path", d=f"M{zero} {y + 2}L{zero} {y + 19}", stroke=INK, stroke_width=1.2)
        )
        lines = textwrap.wrap(f"{row['heat']}: {first}" if several else first, room)
        return parts + _lines(lines, text, y + 30), (1 + len(lines)) * _LINE
    if several:
        who = textwrap.wrap(str(row["heat"]), 26)[:2]
        parts += _lines(who, 20, y + (30 if below_step else 15), fill=QUIET)
    lines = textwrap.wrap(first, room)
    below = textwrap.wrap(row["counts"] if np.isfinite(row["value"]) else row["reason"], room)
    parts += _lines(lines, text, y + 14)
    parts += _lines(below, text, y + 14 + len(lines) * _LINE, fill=QUIET, font_size=11)
    return parts, max(2, len(lines) + len(below)) * _LINE
