"""The constraints of a brief: its limits, bounds, grades, and where its relations hold."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np

from gradekit.core.elements import is_element
from gradekit.core.linear import Expression
from gradekit.core.markup import number
from gradekit.design.brief import Brief
from gradekit.design.quantities import Quantity, read_quantity
from gradekit.relations.declaration import CONDITIONS, Relation
from gradekit.relations.topics import CATALOGUE
from gradekit.works.tables import process_table

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
    form: Expression | None = None
    error: float = 0.0
    guarded: bool = True

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
    maker = _Maker(brief, priced, count_errors, guarded)
    return maker.all(), maker.notes


class _Maker:
    """Collects the constraints of a brief, each once."""

    def __init__(self, brief: Brief, priced: Mapping, count_errors: bool, guarded: bool):
        self.brief, self.priced, self.guarded = brief, priced, guarded
        self.notes: list[str] = []
        self.limited: dict[str, tuple] = {}
        self.count_errors = count_errors
        self.kept: dict[tuple, Constraint] = {}
        self.forms: dict[str, Expression | None] = {}

    def all(self) -> list[Constraint]:
        brief = self.brief
        relations: dict[str, Relation] = {}
        for key, span in brief.limits.items():
            asked = brief.asked(key, self.priced)
            self.notes += asked.left
            named = key.name if isinstance(key, Relation) else key
            for quantity in asked.quantities:
                ends = self.limited[quantity.key] = asked.span_of(quantity, span)
                origin, guide = "the brief", quantity.key in asked.guides
                # One relation of several for a quantity ties nothing to where it holds: there the
                # others speak.
                if not guide and (len(asked.quantities) == 1 or quantity.key == named):
                    relations |= quantity.named
                if named in CATALOGUE and named not in {q.key for q in asked.quantities}:
                    origin += f", in place of {named}, which holds nowhere in the bounds"
                elif len(asked.quantities) > 1 and quantity.key != named:
                    origin += f", asked of every relation for {_of_what(quantity)}"
                if guide:
                    origin += ", outside its range: a guide, no promise"
                self.add(quantity, ends, "limit", origin)
            for element, ends in asked.ties.items():
                self.add(
                    Quantity(element, {}), ends, "range", f"where a relation for {named} holds"
                )
        for element, (low, high) in brief.bounds.items():
            if low is None or low != high:
                span = (low or None, None if high == 100 else high)
                self.add(Quantity(element, {}), span, "bound", "the brief")
        self.add_grades()
        for row in brief.defining:
            origin = f"{brief.held}: {row.words}" if row.words else brief.held
            self.add(row.quantity, (row.low, row.high), "family", origin)
        if self.guarded:
            self.add_melt_ends()
        for aim in brief.objectives:
            relations |= aim.named
        if brief.stay_in_range:
            for relation in relations.values():
                self.add_ranges(relation)
        return list(self.kept.values())

    def add_grades(self) -> None:
        for row in self.brief.windows:
            element = Quantity(row.element, {})
            self.add(element, (_end(row.min), None), "standard", row.min_from)
            self.add(element, (None, _end(row.max)), "standard", row.max_from)
        for words, line, where, _ in self.brief.rules:
            self.add(
                Quantity(str(line), {}, rule=line), (0.0, None), "standard", f"{where}: {words}"
            )

    def add_melt_ends(self) -> None:
        """Keep the aim to what a melt shop reaches, where the brief asks for nothing else.

        Beyond these ends contents cost in making, or harm, what no price of an alloy tells.
        """
        for row in _melt_ends():
            low, high = self.brief.box.get(row.element, (1.0, 0.0))
            least = row.least_wt_pct if low == 0 and high > row.least_wt_pct else None
            most = None if row.element in self.brief.bounds else _end(row.most_wt_pct)
            most = most if most and low < most < high else None
            origin = f"typical limit of a melt shop ({row.status}): {row.note}"
            self.add(Quantity(row.element, {}), (least, most), "melt", origin)

    def add_ranges(self, relation: Relation) -> None:
        for key, span in relation.ranges.items():
            if key in CONDITIONS:
                given = self.brief.conditions[key]
                low, high = span
                if (low is not None and given < low) or (high is not None and given > high):
                    self.notes.append(f"{relation.name} claims nothing at {key} = {given:g}")
                continue
            own = key in ("value", relation.name)
            if own:
                # Beyond the end of its own range a value that a limit keeps anyway is no use made.
                low, high = self.limited.get(relation.name, (None, None))
                span = (span[0] if low is not None else None, span[1] if high is not None else None)
            quantity = (
                Quantity(relation.name, {relation.name: relation})
                if own
                else read_quantity(key, self.priced, f"range of {relation.name}")
            )
            if not own and is_element(key) and not span[0]:
                span = (None, span[1])
            self.add(quantity, span, "range", f"range of {relation.name}")

    def add(self, quantity: Quantity, span: tuple, kind: str, origin: str) -> None:
        for sense, bound in ((-1, span[0]), (1, span[1])):
            if bound is None:
                continue
            if kind != "range" and _beyond_scale(quantity.relation, sense, bound):
                continue
            key = (quantity.key, sense, bound)
            known = self.kept.get(key)
            if known:
                if origin not in known.origin:
                    known.origin += f"; {origin}"
                continue
            if quantity.key not in self.forms:
                self.forms[quantity.key] = quantity.form(self.brief.conditions)
            # A range says where a relation holds; its own error has no part in that.
            error = 0.0
            if kind != "range":
                error = quantity.error_at(bound, self.brief.conditions)
            counted = self.count_errors or (kind == "family" and self.guarded)
            self.kept[key] = Constraint(
                quantity,
                sense,
                float(bound),
                kind,
                origin,
                self.forms[quantity.key],
                error if counted and np.isfinite(error) else 0.0,
                kind != "melt",
            )


def _of_what(quantity: Quantity) -> str:
    return quantity.relation.quantity if quantity.relation else quantity.key


@cache
def _melt_ends() -> list:
    return list(process_table("melt_ends").itertuples())


def _beyond_scale(relation: Relation | None, sense: int, bound: float) -> bool:
    """True for a constraint that the end of a scale keeps by itself."""
    if relation is None:
        return False
    if sense > 0:
        return relation.ceiling is not None and bound >= relation.ceiling
    return relation.floor is not None and bound <= relation.floor


def _end(value: float) -> float | None:
    return float(value) if np.isfinite(value) and value != 0 else None
