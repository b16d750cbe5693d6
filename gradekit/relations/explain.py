"""Where the value of a relation comes from: its terms, or what each element changes."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike, Label
from gradekit.core.formula import Formula
from gradekit.heats.batch import one_heat
from gradekit.relations.declaration import Function, Linear, Relation
from gradekit.relations.evaluate import Result, evaluate
from gradekit.relations.listing import resolve
from gradekit.relations.shares import function_of, shares


class Share(NamedTuple):
    """One row of `explain`, whose columns these are: a term, or what one element changes."""

    term: str
    amount: float
    coefficient: float
    contribution: float
    kind: str


class Breakdown(NamedTuple):
    """A value (unit of the relation) taken apart; the contributions sum to it."""

    relation: Relation
    value: float
    parts: tuple[Share, ...]


def explain(heat: HeatsLike, name: str | Relation, **conditions: float) -> pd.DataFrame:
    """Take the value of one relation for one heat apart.

    Parameters
    ----------
    heat : anything `as_batch` takes
        One heat, wt%.
    name : str or Relation
    **conditions
        As for `evaluate`.

    Returns
    -------
    DataFrame, indexed by term
        `amount`, `coefficient`, `contribution` (unit of the relation), `kind`. The contributions
        sum to the value. `kind` is 'term' for a term of the formula. Where the formula is no sum,
        the first row is the value of a 'reference' steel (the one on which the relation is checked,
        as far as this heat reports its elements), and each further row is the 'share' of an element
        in the difference from it, averaged over all orders as in `why`.

    Raises
    ------
    InputError
        More than one heat, a name that is no relation, an unknown condition.

    Examples
    --------
    >>> table = explain({"Cr": 18.2, "Mo": 0.3, "Ni": 8.1, "N": 0.05}, "pren_16n")
    >>> table["contribution"].round(2).to_dict()
    {'Cr': 18.2, 'Mo': 0.99, 'N': 0.8}
    """
    batch = one_heat(heat, "heat to explain")
    (relation,) = resolve(name)
    (breakdown,) = take_apart(evaluate(batch, relation, **conditions), batch.index[0])
    table = pd.DataFrame(breakdown.parts, columns=Share._fields).set_index("term")
    table.attrs |= {"relation": relation.name, "title": relation.title, "unit": relation.unit}
    table.attrs["value"] = breakdown.value
    return table


def take_apart(result: Result, heat: Label) -> tuple[Breakdown, ...]:
    """Take the values of one heat apart; what `explain` gives, without tables.

    Parameters
    ----------
    result : Result
    heat : label of the batch

    Returns
    -------
    tuple of Breakdown, one for each relation of the result
        The value (unit of the relation) and its parts, as the rows of `explain`.

    Raises
    ------
    InputError
        A heat that is not in this result.

    Examples
    --------
    >>> result = evaluate({"Cr": 18.2, "Mo": 0.3, "N": 0.05}, ["pren_16n", "pren_30n"])
    >>> _, found = take_apart(result, "heat 1")
    >>> round(found.value, 2), found.parts[-1].term, found.parts[-1].contribution
    (20.69, 'N', 1.5)
    """
    given, values = result.given(heat), result.row(heat)[0].tolist()
    return tuple(
        Breakdown(relation, value, tuple(_parts(relation, value, given)))
        if math.isfinite(value)
        else Breakdown(relation, value, (_no_value(result.words(heat, relation.name)),))
        for relation, value in zip(result.relations, values, strict=True)
    )


def _no_value(reason: str) -> Share:
    return Share("value", math.nan, math.nan, math.nan, reason)


def _parts(relation: Relation, value: float, given: dict) -> list[Share]:
    with np.errstate(all="ignore"):  # a term may be undefined where an element is taken away
        if isinstance(relation, Function):
            parts = _function(relation, given)
        else:
            assert isinstance(relation, Linear)
            parts = _linear(relation, given)
    rest = value - sum(part.contribution for part in parts)
    if abs(rest) > 1e-9 * max(1.0, abs(value)):
        parts.append(Share("end of the scale", math.nan, math.nan, rest, "clamp"))
    return parts


def _linear(relation: Linear, given: dict) -> list[Share]:
    constant, nan = relation.intercept, math.nan
    parts = [Share("constant", nan, nan, constant, "term")] if constant else []
    amounts = relation.term_values(given)
    for term, coefficient in relation.terms.items():
        amount = float(amounts[term])
        parts.append(Share(term, amount, coefficient, coefficient * amount, "term"))
    return parts


def _function(relation: Function, given: dict) -> list[Share]:
    terms = relation.compiled.terms
    if len(terms) > 1:
        return [_term(text, formula, given) for text, formula in terms]
    steel = relation.check.composition
    known = {n: float(v) for n, v in given.items() if n != "Fe"}
    base = known | {n: float(steel.get(n, 0.0)) for n in relation.elements if known.get(n)}
    changed = [n for n in relation.elements if n != "Fe" and base[n] != known[n]]
    function = function_of(relation)
    start = float(function({n: np.asarray(v) for n, v in base.items()}))
    parts = [Share("reference steel", math.nan, math.nan, start, "reference")]
    for name, share in shares(function, base, known, changed).items():
        parts.append(Share(name, known[name], math.nan, share, "share"))
    return parts


def _term(text: str, formula: Formula, given: dict) -> Share:
    contribution = float(formula.on(given))
    own = set(formula.names) & set(text.replace("*", " ").split())
    single = own == {text} or len(own) == len(formula.names) == 1
    amount = float(given[own.pop()]) if single else math.nan
    per = contribution / amount if amount else math.nan
    return Share(text, amount, per, contribution, "term")
