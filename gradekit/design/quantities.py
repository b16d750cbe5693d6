"""What a limit or a range speaks of: an element, a relation, or an expression of these."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any

import numpy as np

from gradekit.core.elements import is_element
from gradekit.core.errors import InputError, nearest
from gradekit.core.formula import Formula
from gradekit.core.linear import Expression, NotLinear, Sum, expression, symbol_sums
from gradekit.relations.declaration import CONDITIONS, Linear, Relation
from gradekit.relations.topics import CATALOGUE
from gradekit.works.melt.making import MakingCost

Namespace = Mapping[str, Any]

# Quantities that are one thing on different scales.
_SAME = ({"ferrite", "ferrite number", "ferrite index"},)
_SOLIDIFIED = ("casting", "weld")
# wt% from which a relation that has no term for an element cannot speak for a steel that holds it,
# where its rivals have one: nitrogen weighs 14 to 30 times as much as nickel.
_FELT = {"N": 0.1, "Cu": 1.0, "Mo": 1.0, "Ni": 1.0}


@dataclass(frozen=True, eq=False)
class Quantity:
    """One number that a composition has.

    Attributes
    ----------
    key : str
        An element, the name of a relation, or an expression of both.
    named : mapping of name to relation
        The relations in it.
    formula : Formula or None
        The expression; None where the key is one element or one relation.
    awaited : tuple of str
        Names that only a price list will give a meaning.
    rule : Sum or None
        A joint rule of a standard, read there already.
    making : sequence of MakingCost
        Convex broken lines that come to it: what contents cost in the making.
    """

    key: str
    named: Mapping[str, Relation]
    formula: Formula | None = None
    awaited: tuple[str, ...] = ()
    rule: Sum | None = None
    making: Sequence[MakingCost] = ()

    @property
    def relation(self) -> Relation | None:
        """The relation, where the quantity is one."""
        return next(iter(self.named.values()), None) if self.formula is None else None

    @property
    def title(self) -> str:
        if self.making:
            return "Cost of alloys and making at the works' prices"
        return self.relation.title if self.relation else self.key

    @property
    def unit(self) -> str:
        if self.relation:
            return self.relation.unit_shown
        return "wt%" if all(is_element(n) for n in self.inputs) and "/" not in self.key else ""

    @cached_property
    def inputs(self) -> tuple[str, ...]:
        """Elements and conditions that are needed."""
        if self.rule is not None:
            return tuple(self.rule.slopes)
        names: list[str] = []
        for name in self.formula.names if self.formula else self.named or [self.key]:
            if name not in self.awaited:
                names += self.named[name].inputs if name in self.named else [name]
        return tuple(dict.fromkeys([*names, *(part.element for part in self.making)]))

    @property
    def required(self) -> tuple[str, ...]:
        """Elements without which there is no value."""
        return tuple(e for r in self.named.values() for e in r.required)

    def form(self, conditions: Mapping[str, float]) -> Expression | None:
        """Return the exact linear form, or None where there is none."""
        if self.making:  # broken lines are no sum
            return None
        if self.rule is not None:
            return self.rule
        if self.formula is None:
            if self.relation:
                return form_of(self.relation, conditions)
            return Sum(0.0, {self.key: 1.0})
        space: dict = symbol_sums(self.formula.names)
        for name in self.formula.names:
            if name in CONDITIONS:
                space[name] = conditions[name]
            elif name in self.named:
                space[name] = form_of(self.named[name], conditions)
                if space[name] is None:
                    return None
        return _or_none(self.formula, space)

    def value(self, space: Namespace, read: Mapping[str, np.ndarray] | None = None) -> np.ndarray:
        """Return the value from the bare formulas of the relations, without the ends of a scale.

        Parameters
        ----------
        space : mapping of element or condition to contents
        read : mapping of relation to values, optional
            What a user reads of the relations, in the place of the bare formulas.
        """
        if self.rule is not None:
            return self.rule.over(space)
        values = {n: r.value(space) for n, r in self.named.items()} if read is None else read
        if self.formula is not None:
            return self.formula.on({**space, **values})
        value = values[self.relation.name] if self.relation else space[self.key]
        return sum((part.line.value(space[part.element]) for part in self.making), value)

    def error_at(self, value: float, conditions: Mapping[str, float]) -> float:
        """Return the standard error of the relations at this value, NaN where none is known."""
        if not self.named:
            return 0.0
        if self.relation:
            return float(self.relation.error_at(np.asarray(value)))
        # A sum of relations: their errors are independent. Anything else has no known error.
        assert self.formula is not None  # several relations stand in an expression
        names = [n for n in self.formula.names if n not in CONDITIONS]
        form = _or_none(self.formula, symbol_sums(names) | dict(conditions))
        sizes = {n: r.error for n, r in self.named.items()}
        if not isinstance(form, Sum) or not all(
            isinstance(s, (int, float)) for s in sizes.values()
        ):
            return float("nan")
        return float(np.sqrt(sum((form.slopes.get(n, 0.0) * s) ** 2 for n, s in sizes.items())))


def form_of(relation: Relation, conditions: Mapping[str, float]) -> Expression | None:
    """Return the exact linear form of a relation under these conditions, or None.

    Ends of the scale (floor, ceiling) are left to the caller: the form is that of the formula.

    Examples
    --------
    >>> form_of(CATALOGUE["pren_16n"], {}).slopes
    {'Cr': 1.0, 'Mo': 3.3, 'N': 16.0}
    >>> form_of(CATALOGUE["ferrite_wrc_1992"], {}) is None
    True
    """
    return _cached(relation, tuple((c, float(conditions[c])) for c in relation.conditions))


@lru_cache(maxsize=1024)
def _cached(relation: Relation, conditions: tuple) -> Expression | None:
    space = symbol_sums(relation.elements) | dict(conditions)
    if isinstance(relation, Linear):
        return _or_none(lambda: _terms(relation, space))
    return _or_none(lambda: relation.value(space))


def _or_none(formula: Formula | Callable, space: Mapping | None = None) -> Expression | None:
    try:
        return expression(formula, space)
    except NotLinear:
        return None


def _terms(relation: Linear, space: Mapping) -> Expression:
    total: Expression = Sum(float(relation.intercept))
    for term, coefficient in relation.terms.items():
        product = Sum(coefficient)
        for name, power in relation.factors[term]:
            product = product * space[name] ** power
        total = total + product
    return total


def name_of(key: str | Relation) -> str:
    """Return the name of a limit: what was written, or that of a relation of one's own."""
    return key.name if isinstance(key, Relation) else str(key)


@lru_cache(maxsize=512)
def _formula(text: str) -> Formula:
    return Formula(text)


def read_quantity(
    key: str | Relation,
    extra: Mapping[str, Relation | None],
    what: str = "limit",
    also: Iterable[str] = (),
) -> Quantity:
    """Return the quantity that a name, a relation or an expression means.

    Parameters
    ----------
    key : str or Relation
        'Ni', 'pren_16n', 'cr_eq_hammar_1979 / ni_eq_hammar_1979', 'Ti - 5*(C + N)'.
    extra : mapping of name to relation
        Relations known beside the catalogue (those of a price list); None for a name that is
        accepted although nothing gives it a meaning yet.
    what : str
        Begins an error message.
    also : names
        Other words that the caller takes, for the error message.

    Examples
    --------
    >>> read_quantity("Ti - 5*(C + N)", {}).inputs
    ('Ti', 'C', 'N')
    """
    if isinstance(key, Relation):
        return Quantity(key.name, {key.name: key})
    if not isinstance(key, str):
        raise InputError(what, "an element, a relation's name or an expression", key)
    if is_element(key):
        return Quantity(key, {})

    def known(name: str) -> Relation | None:
        if name in CATALOGUE and name not in extra:
            return CATALOGUE[name]
        return extra.get(name)

    if relation := known(key):
        return Quantity(key, {key: relation})
    if re.fullmatch(r"[A-Za-z][\w .]*", key) and key not in extra:  # a name, no algebra
        raise InputError(
            what,
            "an element, a name of gk.catalogue(), or an expression of these",
            key,
            nearest(key, [*also, *CATALOGUE, *extra, *CATALOGUE.quantities()]),
        )
    formula = _formula(key)
    named = {name: relation for name in formula.names if (relation := known(name))}
    for name in formula.names:
        if not (name in named or name in extra or is_element(name) or name in CONDITIONS):
            near = nearest(name, [*CATALOGUE, *extra])
            raise InputError(f"{what} '{key}'", "made of elements and relations", name, near)
    awaited = tuple(n for n in formula.names if n in extra and n not in named)
    return Quantity(key, named, formula, awaited)


def rivals_of(first: Relation) -> list[Relation]:
    """Relations of the same quantity, in a state that can be set beside the one limited."""
    group = next((g for g in _SAME if first.quantity in g), {first.quantity})
    same = (names for quantity, names in CATALOGUE.quantities().items() if quantity in group)
    return [
        r
        for r in (CATALOGUE[n] for names in same for n in names)
        if r.name != first.name and (r.state == first.state or first.state in _SOLIDIFIED)
    ]


# Per cent of ferrite beside the ferrite number of the same weld: equal up to 8, 13.8 % at 16 FN,
# and 0.70 of it at the level of duplex steel.
_PERCENT, _NUMBER = (0.0, 8.0, 13.8, 35.0, 70.0), (0.0, 8.0, 16.0, 50.0, 100.0)


def on_scale(
    span: tuple[float | None, float | None], unit: str, other: str
) -> tuple[float | None, float | None]:
    """Return the ends of a limit in another unit of the same thing; open where there is no way.

    Examples
    --------
    >>> on_scale((None, 8.0), "%", "FN"), on_scale((35.0, None), "%", "FN")
    ((None, 8.0), (50.0, None))
    """
    if unit == other:
        return span
    ways = {("%", "FN"): (_PERCENT, _NUMBER), ("FN", "%"): (_NUMBER, _PERCENT)}
    if (unit, other) not in ways:
        return None, None
    low, high = (None if end is None else float(np.interp(end, *ways[unit, other])) for end in span)
    return low, high


def without_term(relation: Relation, contents: Mapping[str, float]) -> str:
    """Return the element that a relation has no term for although the steel holds much of it.

    '' where there is none, or where no relation of the quantity has a term for it.
    """
    if relation.unit == "1":
        return ""  # an index is what it counts
    for element, least in _FELT.items():
        if element in relation.elements or not contents.get(element, 0.0) >= least:
            continue
        if any(element in rival.elements for rival in rivals_of(relation)):
            return element
    return ""
