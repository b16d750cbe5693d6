"""A trial beside a reference, as strings: table, bars of disagreement, places in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from xml.etree.ElementTree import Element

import numpy as np

from gradekit.core.flags import Flag
from gradekit.core.markup import Column, Html, Moving, columns_table, evidence, number, tag
from gradekit.core.svg import drawing, shape
from gradekit.diagrams.constitution import Diagram
from gradekit.diagrams.placement import Spot
from gradekit.pictures.marks import ToPixels
from gradekit.relations.evaluate import Result

_BLUE = "#1f6f9f"


@dataclass(frozen=True)
class Line:
    """What the table says of one relation."""

    name: str
    title: str
    quantity: str
    unit: str
    trial: float
    reference: float
    error: float
    status: str
    words: str
    reference_words: str = ""


def compared(trial: Result, reference: Result) -> list[Line]:
    """Return what the table says of the relations of two results of one heat each."""
    (a,), (b,) = trial.heats.index, reference.heats.index
    (values, _, errors), (others, _, _) = trial.row(a), reference.row(b)
    return [
        Line(r.name, r.title, r.quantity, r.unit_shown, float(v), float(o), float(e), r.status,
             trial.words(a, r.name), reference.words(b, r.name))
        for r, v, o, e in zip(trial.relations, values, others, errors, strict=True)
    ]  # fmt: skip


def values_table(lines: Iterable[Line], reference: str) -> Html:
    """Return the table of relations: trial, reference, change, evidence, and flags in words."""
    lines = list(lines)
    names = [_name(x.title, x.name) for x in lines]
    columns = [
        Column("Trial", [tag("b", number(x.trial)) for x in lines], exact=[x.trial for x in lines]),
        Column(reference, [x.reference for x in lines]),
        Column("Change", [signed(x.trial - x.reference) for x in lines]),
        Column("±", [number(x.error, 2) for x in lines]),
        Column("Unit", [x.unit for x in lines], text=True),
        Column("Evidence", [evidence(x.status) for x in lines], text=True),
        Column("Remarks", [_remarks(x, reference) for x in lines], text=True, wide=True),
    ]
    caption = f"Trial beside {reference}; ± is one standard error"
    return columns_table(
        columns, caption, names, "Relation", relations=[x.name for x in lines],
        class_="gk-values", data_of="values",
    )  # fmt: skip


@cache
def _name(title: str, name: str) -> Html:
    return Html(f"{tag('span', title)}<br>{tag('code', name)}")


def _remarks(line: Line, reference: str) -> str:
    if not line.reference_words or line.reference_words == line.words:
        return line.words
    return "; ".join(filter(None, (line.words, f"{reference}: {line.reference_words}")))


def spread_bars(lines: Sequence[Line], reference: str, width: int = 420) -> Moving:
    """Return a bar for each quantity that several relations give, from the lowest to the highest.

    Each relation is a tick; the words above the bar say what the picture shows.
    """
    groups: dict[str, list[Line]] = {}
    for line in lines:
        groups.setdefault(line.quantity, []).append(line)
    bars = [_bars(group, reference, width) for group in groups.values() if len(group) > 1]
    parts = [part for own in bars for part in own]
    head = [tag("p", "Where relations disagree", class_="lead")] if parts else []
    return Moving("spread", (*head, *parts))


def _bars(group: Sequence[Line], reference: str, width: int) -> list[str | Element]:
    rows = [("trial", _BLUE, [g.trial for g in group])]
    rows.append((reference, "currentColor", [g.reference for g in group]))
    given = np.array([v for _, _, values in rows for v in values], dtype=float)
    given = given[np.isfinite(given)]
    if not len(given):
        return []
    low, high = float(given.min()), float(given.max())
    reach = (high - low) or 1.0

    def at(value: float) -> float:
        return 8 + (width - 16) * (value - low) / reach

    unit = f" {group[0].unit}".rstrip()
    drawn, told = [], []
    for row, (who, colour, values) in enumerate(rows):
        values = [v for v in values if np.isfinite(v)]
        if not values:
            continue
        y, least, most = 9 + 16 * row, min(values), max(values)
        ticks = "".join(f"M{at(v):.1f} {y - 6}v12" for v in values)
        drawn += [
            shape("path", d=f"M{at(least):.1f} {y}H{at(most):.1f}", stroke=colour, stroke_width=3,
                  stroke_dasharray="5 3" if row else None),
            shape("path", d=ticks, stroke=colour, stroke_width=2),
        ]  # fmt: skip
        told.append(
            f"{who} ({'dashed' if row else 'solid'}) {number(least, 3)} to {number(most, 3)}{unit}"
            f", {number(most - least, 2)} apart, {len(values)} relations"
        )
    words = f"{group[0].quantity}: {'; '.join(told)}"
    return [words, drawing(width, 34, *drawn, words=words)]


def crowd(to_px: ToPixels, x: Iterable[float], y: Iterable[float]) -> Element:
    """Return all heats as faint dots in a picture of the size of the background."""
    (x0, x1), (y0, y1) = to_px.x_range, to_px.y_range
    spots = [to_px(a, b) for a, b in zip(x, y, strict=True) if x0 <= a <= x1 and y0 <= b <= y1]
    # dots are the round ends of lines without length: one element, however many heats
    path = "".join(f"M{px:.1f} {py:.1f}h0" for px, py in spots)
    dots = shape("path", d=path, stroke="#20262e", stroke_width=5.2, stroke_linecap="round",
                 stroke_opacity=".35")  # fmt: skip
    return drawing(to_px.width, to_px.height, dots)


def places_in_words(drawn: Diagram, spots: Iterable[tuple[str, Spot]]) -> list[str]:
    """Return what is read on a diagram at each point, in words; a point has a name."""
    told = []
    for name, spot in spots:
        words = Flag(spot.flag).words()
        if not (np.isfinite(spot.x) and np.isfinite(spot.y)):
            told.append(f"{name}: no place on the diagram ({words}).")
            continue
        where = f"field {spot.region}" if spot.region else "outside the chart"
        value = f"{number(spot.value, 3)} ± {number(spot.tolerance, 2)} {drawn.data.unit}"
        told.append(f"{name}: {where}, {value}{f' ({words})' if words else ''}.")
    return told


def signed(change: float) -> str:
    """Return a change with its sign.

    Examples
    --------
    >>> signed(0.25), signed(-3.0)
    ('+0.25', '−3')
    """
    return f"+{number(change, 3)}" if change > 0 else number(change, 3)
