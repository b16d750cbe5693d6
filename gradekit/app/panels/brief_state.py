"""What the explorer of a brief remembers, as plain data, and the boxes that it is typed into."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from gradekit.app.state import Part
from gradekit.app.widgets.numbers import Field
from gradekit.core.errors import NOTHING, InputError
from gradekit.design.brief import Brief
from gradekit.design.result import Design

Rows = tuple[tuple[str, float | None, float | None], ...]
#: Elements of which nobody plays with the price.
PLAIN = ("C", "P", "S", "B", "N")


@dataclass(frozen=True)
class BriefState:
    """What the panel remembers; a limit or bound without an end asks for nothing."""

    limits: Rows
    bounds: Rows
    conditions: tuple[tuple[str, float | None], ...]
    prices: tuple[tuple[str, float], ...]
    least: str
    confidence: float | None
    relation_error: bool
    family: str
    more: bool = False
    beside: BriefState | None = None


def data_of(state: BriefState) -> dict:
    """Return a state as plain data."""
    data = {field.name: getattr(state, field.name) for field in fields(state)}
    for part in ("limits", "bounds"):
        data[part] = {name: [low, high] for name, low, high in data[part]}
    data["conditions"], data["prices"] = dict(state.conditions), dict(state.prices)
    return data | {"beside": data_of(state.beside) if state.beside else None}


def state_from(data: dict, where: str, choices: Mapping[str, list]) -> BriefState:
    """Return the state in plain data, each choice one of those that there are."""
    names = sorted(field.name for field in fields(BriefState))
    flags = ("relation_error", "more")
    if sorted(data) != names or not all(isinstance(data[flag], bool) for flag in flags):
        raise InputError(f"{where}, state", f"with {', '.join(names)}", list(data))
    spans: dict[str, Rows] = {}
    for part in ("limits", "bounds"):
        rows = data[part]
        if not isinstance(rows, dict):
            raise InputError(f"{where}, {part}", "pairs of ends by name", rows or NOTHING)
        for name, span in rows.items():
            if not isinstance(span, list) or len(span) != 2 or not all(map(_is_end, span)):
                raise InputError(f"{where}, {name}", "two numbers, null for an open end", span)
        spans[part] = tuple((name, low, high) for name, (low, high) in rows.items())
    pairs: dict[str, tuple] = {}
    for part in ("conditions", "prices"):
        values = data[part]
        if not isinstance(values, dict) or not all(map(_is_end, values.values())):
            raise InputError(f"{where}, {part}", "numbers by name", values)
        pairs[part] = tuple(values.items())
    for name, known in choices.items():
        if data[name] not in known:
            raise InputError(f"{where}, {name}", f"one of {known}", data[name])
    beside = data["beside"]
    if not isinstance(beside, dict | None):
        raise InputError(f"{where}, beside", "a state, or null", beside)
    return BriefState(
        limits=spans["limits"], bounds=spans["bounds"], conditions=pairs["conditions"],
        prices=pairs["prices"], least=data["least"], confidence=data["confidence"],
        relation_error=data["relation_error"], family=data["family"],
        more=data["more"], beside=state_from(beside, where, choices) if beside else None,
    )  # fmt: skip


def _is_end(value: Any) -> bool:
    return value is None or (isinstance(value, int | float) and not isinstance(value, bool))


def spans(name: str) -> Part:
    """Return the part that holds rows with both ends, each with a box: 'Ni ≥' and 'Ni ≤'."""

    def held(state: BriefState) -> dict[str, float | None]:
        rows = getattr(state, name)
        return {f"{key} {sign}": end for key, *ends in rows
                for sign, end in zip("≥≤", ends, strict=True)}  # fmt: skip

    def put(state: BriefState, ends: Mapping[str, float | None]) -> BriefState:
        rows = ((key, ends[f"{key} ≥"], ends[f"{key} ≤"]) for key, *_ in getattr(state, name))
        changes: dict[str, Any] = {name: tuple(rows)}
        return replace(state, **changes)

    return Part(name, held, put)


#: A condition without a value still has its box.
GIVEN = Part(
    "conditions",
    lambda state: dict(state.conditions),
    lambda state, values: replace(state, conditions=tuple(values.items())),
)


def _step(size: float) -> float:
    """Return the power of ten at or below a size: what a slider steps by."""
    return 10.0 ** np.floor(np.log10(size))


def limit_field(
    brief: Brief, box: str, value: float | None, keys: dict, near: Design | None
) -> Field:
    """Return the box of one end of a limit; its slider lies about the value or the aim."""
    name, sign = box.rsplit(" ", 1)
    priced = near.prices.relations if near is not None and near.prices is not None else None
    quantity, *_ = brief.asked(keys.get(name, name), priced).quantities
    middle = value
    if middle is None and near is not None and not quantity.awaited:
        known = {*near.brief.variables, *near.brief.conditions, "Fe"}
        if set(quantity.inputs) <= known:
            middle = float(near.problem.raw([quantity], near.solution.x[None])[0, 0])
    middle = middle if middle is not None and np.isfinite(middle) else 0.0
    size = max(abs(middle), 0.1)
    word = "at least" if sign == "≥" else "at most"
    title = f"{quantity.title} {word}, {quantity.unit or 'no unit'}; empty for no limit"
    return Field(
        box, round(middle - 0.6 * size, 6), round(middle + 0.6 * size, 6), _step(size / 5.0), None,
        title=title, optional=True, unit=quantity.unit,
    )  # fmt: skip


def bound_field(box: str, value: float | None) -> Field:
    """Return the box of one end of a content."""
    high = 2.0 * (value or 1.0)
    element, sign = box.split()
    word = "at least" if sign == "≥" else "at most"
    return Field(
        box, 0.0, high, _step(high / 20.0), 0.0, 100.0, optional=True, unit="wt%",
        title=f"{element} {word}, wt%; empty for no limit of the brief's own",
    )  # fmt: skip


def price_field(element: str, value: float) -> Field:
    """Return the box of a price."""
    step, title = _step(max(value, 1.0) / 20.0), f"{element}, money a contained tonne"
    return Field(element, 0.0, 2.0 * value, step, 0.0, title=title)
