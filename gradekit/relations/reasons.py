"""What is to be said of one value: the flags it has, each with its reason in this heat."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
import pandas as pd

from gradekit.core.aliases import Label
from gradekit.core.flags import Flag
from gradekit.core.formula import Formula
from gradekit.heats.notes import bounded, bounds, not_reported, notes_of
from gradekit.relations.declaration import ESSENTIAL, Relation
from gradekit.relations.groups import families_in_words


@dataclass(frozen=True, eq=False)
class HeatGiven:
    """What relations are given for one heat.

    Attributes
    ----------
    batch : DataFrame
        The heats among which it is.
    heat : its label
    at : int
        Its place in the batch.
    amounts : dict of name to number
        Contents and the balance `Fe` in wt%, 0 where nothing is reported; conditions in the unit of
        their name, those alone that were given.
    family : str
        Family of the steel, '' where it cannot be told.
    """

    batch: pd.DataFrame
    heat: Label
    at: int
    contents: np.ndarray
    amounts: Mapping[str, np.float64]
    family: str

    @cached_property
    def reported(self) -> set[str]:
        """The elements reported, and iron, which is the balance."""
        return {"Fe", *self.batch.columns[np.isfinite(self.contents)]}

    @cached_property
    def blank(self) -> set[str]:
        """The elements of the batch that are not reported for this heat."""
        return {*self.batch.columns} - self.reported

    def marks(self) -> pd.Series:
        """The bounds reported, '<0.005', by element."""
        one = self.batch.loc[[self.heat]]
        return bounds(one).loc[self.heat, list(bounded(one))]


def reasons(
    relation: Relation, value: float, flags: int, given: HeatGiven, formulas: Mapping[str, Formula]
) -> list[str]:
    """Return what is to be said of a value, a sentence a reason.

    Parameters
    ----------
    relation : Relation
    value : float, unit of the relation
    flags : int
        `Flag` bits of the value.
    given : HeatGiven
    formulas : mapping of a key of a range to what it computes
    """
    set_flags = _set_in(int(flags))
    unknown, said = [], []
    if Flag.MISSING in set_flags or Flag.ASSUMED_ZERO in set_flags:
        unknown = [e for e in relation.elements if e not in given.reported]
    if Flag.MISSING in set_flags:
        unread = notes_of(given.batch).get("unread", {})
        gone = not_reported((e for e in unknown if e in relation.required), unread)
        said.append(f"no value: {gone}")
    if Flag.CONDITION_MISSING in set_flags:
        said.append(f"no value: {', '.join(relation.conditions)} not given")
    if Flag.UNDEFINED in set_flags:
        said.append("no value: the formula is not defined here")
    if Flag.OTHER_FAMILY in set_flags:
        said.append(
            f"made for {families_in_words(relation.families)} steels; this one is {given.family}"
        )
    if Flag.BELOW_RANGE in set_flags or Flag.ABOVE_RANGE in set_flags:
        said += _range_reasons(relation, value, given, formulas)
    if Flag.OUTSIDE_DATA in set_flags:
        said.append("outside the data it was fitted to")
    if Flag.CLAMPED in set_flags:
        said.append(f"beyond the end of the scale, shown as {value:g} {relation.unit}")
    if Flag.BOUND in set_flags:
        marks = given.marks()
        used = [f"{e} {marks[e]}" for e in relation.elements if e in marks]
        said.append(f"reported as a bound: {', '.join(used)}")
    if Flag.ASSUMED_ZERO in set_flags:
        zero = ", ".join(e for e in unknown if e not in relation.required)
        said.append(f"assumed zero: {zero}")
    if Flag.RANGE_NOT_STATED in set_flags:
        where = "" if relation.domain == "not stated" else f" (said to be for {relation.domain})"
        said.append(f"range not stated in figures{where}")
    return said


@cache
def _set_in(flags: int) -> tuple[Flag, ...]:
    return tuple(Flag(flags))


def _range_reasons(
    relation: Relation, value: float, given: HeatGiven, formulas: Mapping[str, Formula]
) -> list[str]:
    said = []
    for key, (low, high) in relation.ranges.items():
        x = value if key == "value" else _amount(key, given, formulas)
        if x is None or not np.isfinite(x):
            continue
        if (low is not None and x < low) or (high is not None and x > high):
            side = "below" if low is not None and x < low else "above"
            said.append(f"{key} {x:.4g} is {side} the range {_reach(low, high)}")
    return said


def _reach(low: float | None, high: float | None) -> str:
    if low is None or high is None:
        return f"up to {high:g}" if low is None else f"from {low:g}"
    return f"{low:g}…{high:g}"


def _amount(key: str, given: HeatGiven, formulas: Mapping[str, Formula]) -> float | None:
    """What a range is about, None where it is not known: the rules of `Plan` for its flags."""
    if key not in formulas:
        return None if key in given.blank else given.amounts.get(key)
    formula = formulas[key]
    if any(n not in given.amounts or (n in given.blank and n in ESSENTIAL) for n in formula.names):
        return None
    with np.errstate(all="ignore"):
        return float(formula.on(given.amounts))
