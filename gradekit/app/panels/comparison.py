"""A trial beside a reference, as strings: table, bars of disagreement, places in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from gradekit.core.markup import escape, number
from gradekit.pictures.draw import ToPixels

__all__ = ["Line", "Spot", "crowd", "said_of_spots", "spread_bars", "values_table"]

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


@dataclass(frozen=True)
class Spot:
    """A point on a diagram, with what is read there."""

    label: str
    x: float
    y: float
    region: str
    value: float
    tolerance: float
    unit: str
    words: str


def values_table(lines: Iterable[Line], reference: str) -> str:
    """Return the table of relations: trial, reference, change, evidence, and flags in words."""
    head = "".join(
        f'<th scope="col"{" class=t" if text else ""}>{escape(name)}</th>'
        for name, text in (
            *(("Relation", True), ("Trial", False), (reference, False), ("Change", False)),
            *(("±", False), ("Unit", True), ("Evidence", True), ("To be said of it", True)),
        )
    )
    body = []
    for line in lines:
        unit = "" if line.unit == "1" else line.unit
        words = line.words
        if line.reference_words and line.reference_words != line.words:
            words = f"{words}{'; ' if words else ''}{reference}: {line.reference_words}"
        body.append(
            f'<tr><th scope="row">{escape(line.title)}<br><code>{escape(line.name)}</code></th>'
            f"<td><b>{number(line.trial)}</b></td><td>{number(line.reference)}</td>"
            f"<td>{_signed(line.trial - line.reference)}</td><td>{number(line.error, 2)}</td>"
            f'<td class="t">{escape(unit)}</td><td class="t">{escape(line.status)}</td>'
            f'<td class="t w">{escape(words)}</td></tr>'
        )
    return (
        f'<table class="gk-values"><caption>Trial beside {escape(reference)}; ± is one standard '
        f"error</caption>"
        f"<thead><tr>{head}</tr></thead><tbody>{''.join(body)}</tbody></table>"
    )


def spread_bars(lines: Sequence[Line], reference: str, width: int = 420) -> str:
    """Return a bar for each quantity that several relations give, from the lowest to the highest.

    Each relation is a tick; the words beside the bar say what the picture shows.
    """
    groups: dict[str, list[Line]] = {}
    for line in lines:
        groups.setdefault(line.quantity, []).append(line)
    parts = [_bars(group, reference, width) for group in groups.values() if len(group) > 1]
    if not any(parts):
        return ""
    return f'<p class="lead">Where relations disagree</p>{"".join(parts)}'


def _bars(group: Sequence[Line], reference: str, width: int) -> str:
    rows = [("trial", _BLUE, [g.trial for g in group])]
    rows.append((reference, "currentColor", [g.reference for g in group]))
    given = np.array([v for _, _, values in rows for v in values], dtype=float)
    given = given[np.isfinite(given)]
    if not len(given):
        return ""
    low, high = float(given.min()), float(given.max())
    reach = (high - low) or 1.0

    def at(value: float) -> float:
        return 8 + (width - 16) * (value - low) / reach

    unit = "" if group[0].unit == "1" else f" {group[0].unit}"
    drawn, said = [], []
    for row, (who, colour, values) in enumerate(rows):
        values = [v for v in values if np.isfinite(v)]
        if not values:
            continue
        y, least, most = 9 + 16 * row, min(values), max(values)
        dash = "" if row == 0 else ' stroke-dasharray="5 3"'
        drawn.append(
            f'<path d="M{at(least):.1f} {y}H{at(most):.1f}" stroke-width="3"{dash}/>'
            + "".join(f'<path d="M{at(v):.1f} {y - 6}v12" stroke-width="2"/>' for v in values)
        )
        drawn[-1] = f'<g stroke="{colour}">{drawn[-1]}</g>'
        said.append(
            f"{who} ({'dashed' if row else 'solid'}) {number(least, 3)} to {number(most, 3)}{unit}"
            f", {number(most - least, 2)} apart, {len(values)} relations"
        )
    quantity = group[0].quantity
    text = f"{quantity}: " + "; ".join(said)
    return (
        f'<div class="gk-spread"><p><b>{escape(quantity)}</b>: {escape("; ".join(said))}</p>'
        f'<svg viewBox="0 0 {width} 34" role="img" aria-label="{escape(text)}" '
        f'style="width:100%;max-width:{width}px">{"".join(drawn)}</svg></div>'
    )


def crowd(to_px: ToPixels, x: Iterable[float], y: Iterable[float]) -> str:
    """Return all heats as faint dots in an SVG of the size of the background."""
    (x0, x1), (y0, y1) = to_px.x_range, to_px.y_range
    dots = []
    for a, b in zip(x, y, strict=True):
        if x0 <= a <= x1 and y0 <= b <= y1:
            px, py = to_px(a, b)
            dots.append(f'<circle cx="{px:.1f}" cy="{py:.1f}" r="2.6"/>')
    return (
        f'<svg viewBox="0 0 {to_px.width} {to_px.height}" aria-hidden="true" '
        f'style="max-width:{to_px.width}px" fill="#20262e" fill-opacity=".35">'
        f"{''.join(dots)}</svg>"
    )


def said_of_spots(spots: Iterable[Spot]) -> list[str]:
    """Return what is read at each point, in words."""
    said = []
    for spot in spots:
        if not (np.isfinite(spot.x) and np.isfinite(spot.y)):
            said.append(f"{spot.label}: no place on the diagram ({spot.words}).")
            continue
        where = f"field {spot.region}" if spot.region else "outside the chart"
        value = f"{number(spot.value, 3)} ± {number(spot.tolerance, 2)} {spot.unit}"
        words = f" ({spot.words})" if spot.words else ""
        said.append(f"{spot.label}: {where}, {value}{words}.")
    return said


def _signed(change: float) -> str:
    return f"+{number(change, 3)}" if change > 0 else number(change, 3)
