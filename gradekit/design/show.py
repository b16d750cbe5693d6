"""How an answer is shown: lines that always stand beside an aim, tables, the picture."""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element

import numpy as np

from gradekit.core.markup import Html, Part, details, items, number, table
from gradekit.design.prices import COST
from gradekit.design.sketches import bars
from gradekit.design.words import percent

if TYPE_CHECKING:
    from gradekit.design.result import Design

__all__ = ["lines", "pages", "text", "window_bars"]

_CAUTION = (
    "An estimate from published relations, not a certificate: standards, codes and a licensed "
    "engineer decide, and a heat is accepted on its own analysis and tests."
)


def lines(design: Design) -> list[str]:
    """Return what always stands beside an aim: route, certainty, prices, caution."""
    found = design.found
    told = [f"Route: {design.route}."]
    if design.feasible and np.isfinite(found.floor) and not design.proven:
        told.append(
            f"What keeps the linear limits alone costs {number(found.floor, 5)} {design.unit} at "
            f"least, so at most {number(found.value - found.floor, 3)} could be left to gain."
        )
    if design.confidence is None:
        told.append("No guard bands: at a limit a heat is as likely to fall short as to pass.")
    elif design.problem.z:
        whom = "all limits together" if design.together else "each limit by itself"
        counted = any(d.error for d in design.problem.demands)
        told.append(
            f"Guard bands for {percent(design.confidence)} of heats, {whom}, published errors "
            f"{'' if counted else 'not '}counted: scatter is paid in every heat, the error of a "
            "relation once for the steel."
        )
    if design.problem.reach:
        told.append(
            f"The window reaches at least {number(design.problem.reach)} standard deviations of "
            "each element to either side, as far as the written decimals allow."
        )
    if design.scatter is not None:
        told += [f"Scatter: {design.scatter.basis}.", *design.scatter.notes]
        if design.feasible:
            inside = design.certainty.loc["inside the window", "share"]
            told.append(
                f"{percent(inside)} of the virtual heats fall inside the window; one outside it "
                "may still keep every limit. window_sd= asks for a wider one."
            )
    if design.prices is not None:
        told.append(design.prices.warning)
    return [*told, _CAUTION]


def text(design: Design) -> str:
    """Return the answer as plain text."""
    if not design.feasible:
        return "\n".join([design.headline, design.conflict.words, *lines(design), *design.flags])
    value = f"{design.problem.aim.title}: {number(design.found.value, 5)} {design.unit}"
    parts = [design.headline, "", design.window.to_string(), "", value.strip()]
    return "\n".join([*parts, *lines(design), *design.flags])


def pages(design: Design) -> list[Part]:
    """Return the parts of the answer as a page shows them."""
    notes = details("Flags and notes", items([*lines(design), *design.flags]))
    if not design.feasible:
        return [*design.conflict.pages(), notes]
    shown = design.limits.drop(columns=["flags"])
    named = shown["kind"] == "limit"
    binds = (shown["slack"] == 0) | (shown["shadow price"] > 0)
    rest = shown[~named & ~binds].drop(columns=["shadow price"])
    return [
        _value(design),
        window_bars(design),
        table(
            design.sheet.round({"scatter": 4, "room": 1, "reserve": 1}),
            "Aim and window as written, wt%; room in standard deviations, reserve in tolerances",
        ),
        table(
            shown[named | binds].drop(columns=["kind"]),
            "Limits of the brief and whatever else binds, at the optimum",
            wide=["origin"],
        ),
        table(design.demands, "What each demand costs", wide=["words"]),
        _sure(design),
        notes,
        details(
            "Bounds, standards and ranges that do not bind",
            table(rest, "At the optimum", wide=["origin"]),
        ),
    ]


def _sure(design: Design) -> Html:
    sure = design.certainty[["share", "low", "high", "share with error"]]
    if sure.empty:
        return Html()
    all_kept = (sure[["share", "share with error"]] == 1.0).all(axis=1)
    caption = "Virtual heats that keep each limit, %, with 95 % interval"
    if all_kept.any():
        caption += f"; the {all_kept.sum()} demands that every one of them keeps are left out"
    return table((100 * sure[~all_kept]).round(2), caption)


def _value(design: Design) -> str:
    aim = design.problem.aim
    said = f"Least: {aim.title}, {number(design.found.value, 5)} {design.unit}".strip()
    if design.prices is not None and aim.key != COST:
        said += f"; alloy cost {number(design.cost, 5)} {design.prices.unit}"
    return f"{said}."


def window_bars(design: Design) -> Element:
    """Return the picture of the window: each element within what its own limits leave."""
    rows = []
    sheet = design.sheet
    written = zip(sheet["min"], sheet["aim"], sheet["max"], strict=True)
    for (element, low, aim, high), span, texts in zip(
        design.window.itertuples(), _spans(design), written, strict=True
    ):
        rows.append(
            {
                "name": f"{element}, wt%",
                "span": span,
                "window": (low, high if np.isfinite(high) else span[1]),
                "aim": aim,
                "text": " · ".join(texts),
            }
        )
    return bars(rows, "Window and aim of each element within what its own limits leave")


def _spans(design: Design) -> list[tuple[float, float]]:
    """The lowest and highest content that the demands on each element alone leave."""
    problem = design.problem
    low, high = problem.low.copy(), problem.high.copy()
    for demand in problem.demands:
        if demand.quantity.named or demand.quantity.formula or demand.kind == "range":
            continue
        k = problem.index[demand.quantity.key]
        if demand.sense > 0:
            high[k] = min(high[k], demand.bound)
        else:
            low[k] = max(low[k], demand.bound)
    low = np.minimum(low, design.window["min"])
    high = np.fmax(high, design.window["max"].fillna(0.0))
    return list(zip(low, np.where(high > low, high, low + 1e-3), strict=True))
