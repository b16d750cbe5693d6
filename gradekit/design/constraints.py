"""The constraints of a brief: its limits, bounds, grades, and where its relations hold."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np

from gradekit.core.elements import is_element
from gradekit.core.linear import Expression, Ratio
from gradekit.core.markup import number
from gradekit.design.brief import Brief
from gradekit.design.quantities import Quantity, name_of, read_quantity
from gradekit.relations.declaration import CONDITIONS, Relation
from gradekit.relations.topics import CATALOGUE
from gradekit.works.tables import process_table

_Span = tuple[float | None, float | None]
#: What is asked: quantity, lowest and highest value, kind and origin of the constraint.
_Demand = tuple[Quantity, _Span, str, str]
#: Significant digits in which a bound is said: it is the user's own number.
DIGITS = 6


@dataclass(eq=False)
class Constraint:
    """One end of one limit.

    Attributes
    ----------
    quantity : Quantity
    sense : int
        +1 for 'at most', -1 for 'at least'.
    bound : float
    kind : str
        'limit', 'bound', 'standard', 'family', 'melt' or 'range'.
    origin : str
        Where it comes from, in words.
    form : Expression or None
    index : mapping of element to its place in `line`
    error : float
        Published standard error in the unit of the quantity; 0 where none is counted.
    guarded : bool
        False for a constraint on the aim itself, such as a ceiling on its cost or what a melt shop
        reaches.
    """

    quantity: Quantity
    sense: int
    bound: float
    kind: str
    origin: str
    form: Expression | None
    index: Mapping[str, int]
    error: float = 0.0
    guarded: bool = True

    @cached_property
    def line(self) -> tuple[np.ndarray, float, tuple[np.ndarray, float] | None]:
        """Row and end of row @ x <= end, and row and constant of the sum that a ratio divides by.

        A curved constraint has zeros and no end.
        """
        if self.form is None:
            return np.zeros(len(self.index)), np.inf, None
        form, bound, below = self.form, self.bound, None
        if isinstance(form, Ratio):
            # (above / below) <= r is above - r below <= 0 where the sum below is positive.
            below = form.below.row(self.index)
            form, bound = form.above.plus(form.below.times(-bound)), 0.0
        row, constant = form.row(self.index)
        return self.sense * row, self.sense * (bound - constant), below

    @cached_property
    def label(self) -> str:
        """The constraint in signs, such as 'pren_16n ≥ 19'."""
        return f"{self.quantity.key} {'≤' if self.sense > 0 else '≥'} {number(self.bound, DIGITS)}"

    @cached_property
    def words(self) -> str:
        """The constraint with its title and unit."""
        sign = "at most" if self.sense > 0 else "at least"
        bound = number(self.bound, DIGITS)
        return f"{self.quantity.title} {sign} {bound} {self.quantity.unit}".strip()

    @property
    def bare(self) -> bool:
        """True where it is judged before the end of a scale hides the value.

        So it is judged whether a relation holds, and what it votes.
        """
        return self.kind in ("range", "family")

    def kept(self, values: np.ndarray) -> np.ndarray:
        """Tell for each value whether it keeps the constraint; an unknown value does not."""
        with np.errstate(invalid="ignore"):
            slack = self.sense * (self.bound - values)
            return slack >= -1e-9 * max(1.0, abs(self.bound))


def constraints_of(
    brief: Brief, priced: Mapping[str, Relation], count_errors: bool, guarded: bool = False
) -> tuple[list[Constraint], list[str]]:
    """Return the constraints of a brief, and notes in words.

    Parameters
    ----------
    brief : Brief
    priced : mapping of name to relation
        What the price list gives.
    count_errors : bool
        Whether published errors are to be guarded against.
    guarded : bool
        Whether there are guard bands: those of the family count published errors in any case, for
        there is no sister steel by which they could cancel.
    """
    notes: list[str] = []
    index = {element: place for place, element in enumerate(brief.variables)}
    kept: dict[tuple, Constraint] = {}
    for quantity, span, kind, origin in _asked(brief, priced, guarded, notes):
        counted = count_errors or (kind == "family" and guarded)
        for sense, bound in zip((-1, 1), span, strict=True):
            if bound is None or (kind != "range" and _beyond_scale(quantity, sense, bound)):
                continue
            known = kept.get((quantity.key, sense, bound))
            if known:
                if origin not in known.origin:
                    known.origin += f"; {origin}"
                continue
            # A range says where a relation holds; its own error has no part in that.
            error = quantity.error_at(bound, brief.conditions) if kind != "range" else 0.0
            kept[quantity.key, sense, bound] = Constraint(
                quantity,
                sense,
                float(bound),
                kind,
                origin,
                quantity.form(brief.conditions),
                index,
                error if counted and np.isfinite(error) else 0.0,
                kind != "melt",
            )
    return list(kept.values()), notes


def _asked(
    brief: Brief, priced: Mapping[str, Relation], guarded: bool, notes: list[str]
) -> Iterator[_Demand]:
    """Yield all that a brief asks, the same thing perhaps more than once."""
    relations: dict[str, Relation] = {}
    limited: dict[str, _Span] = {}
    for key, span in brief.limits.items():
        asked = brief.asked(key, priced)
        notes += asked.left
        named = name_of(key)
        keys = [quantity.key for quantity in asked.quantities]
        for quantity in asked.quantities:
            ends = limited[quantity.key] = asked.span_of(quantity, span)
            origin, guide = "the brief", quantity.key in asked.guides
            # One relation of several for a quantity ties nothing to where it holds: there the
            # others speak.
            if not guide and (len(keys) == 1 or quantity.key == named):
                relations |= quantity.named
            if named in CATALOGUE and named not in keys:
                origin += f", in place of {named}, which holds nowhere in the bounds"
            elif len(keys) > 1 and quantity.key != named:
                origin += f", asked of every relation for {_of_what(quantity)}"
            if guide:
                origin += ", outside its range: a guide, no promise"
            yield quantity, ends, "limit", origin
        for element, ends in asked.ties.items():
            yield Quantity(element, {}), ends, "range", f"where a relation for {named} holds"
    for element, (low, high) in brief.bounds.items():
        if low is None or low != high:
            ends = low or None, None if high == 100 else high
            yield Quantity(element, {}), ends, "bound", "the brief"
    for row in brief.windows:
        content = Quantity(row.element, {})
        yield content, (_end(row.min), None), "standard", row.min_from
        yield content, (None, _end(row.max)), "standard", row.max_from
    for words, line, where, _ in brief.rules:
        rule = Quantity(str(line), {}, rule=line)
        yield rule, (0.0, None), "standard", f"{where}: {words}"
    for row in brief.defining:
        origin = f"{brief.held}: {row.words}" if row.words else brief.held
        yield row.quantity, (row.low, row.high), "family", origin
    if guarded:
        yield from _melt_ends(brief)
    for aim in brief.objectives:
        relations |= aim.named
    for relation in relations.values() if brief.stay_in_range else ():
        for key, span in relation.ranges.items():
            if key in CONDITIONS:
                given = brief.conditions[key]
                low, high = span
                if (low is not None and given < low) or (high is not None and given > high):
                    notes.append(f"{relation.name} claims nothing at {key} = {given:g}")
            elif key in ("value", relation.name):
                # Beyond the end of its own range a value that a limit keeps anyway is no use made.
                low, high = limited.get(relation.name, (None, None))
                ends = span[0] if low is not None else None, span[1] if high is not None else None
                yield read_quantity(relation, {}), ends, "range", f"range of {relation.name}"
            else:
                quantity = read_quantity(key, priced, f"range of {relation.name}")
                ends = None if is_element(key) and not span[0] else span[0], span[1]
                yield quantity, ends, "range", f"range of {relation.name}"


def _melt_ends(brief: Brief) -> Iterator[_Demand]:
    """Keep the aim to what a melt shop reaches, where the brief asks for nothing else.

    Beyond these ends contents cost in making, or harm, what no price of an alloy tells.
    """
    for row in _process_ends():
        low, high = brief.box.get(row.element, (1.0, 0.0))
        least = row.least_wt_pct if low == 0 and high > row.least_wt_pct else None
        most = None if row.element in brief.bounds else _end(row.most_wt_pct)
        most = most if most and low < most < high else None
        origin = f"typical limit of a melt shop ({row.status}): {row.note}"
        yield Quantity(row.element, {}), (least, most), "melt", origin


def _of_what(quantity: Quantity) -> str:
    return quantity.relation.quantity if quantity.relation else quantity.key


@cache
def _process_ends() -> list:
    return list(process_table("melt_ends").itertuples())


def _beyond_scale(quantity: Quantity, sense: int, bound: float) -> bool:
    """True for a constraint that the end of a scale keeps by itself."""
    relation = quantity.relation
    if relation is None:
        return False
    end = relation.ceiling if sense > 0 else relation.floor
    return end is not None and sense * (bound - end) >= 0


def _end(value: float) -> float | None:
    return float(value) if np.isfinite(value) and value != 0 else None
