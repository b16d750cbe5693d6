"""Where the value of a relation comes from: its terms, or what each element changes."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.composition import as_batch
from gradekit.errors import InputError, said
from gradekit.evaluate import evaluate
from gradekit.listing import resolve
from gradekit.relation import Function, Linear, Relation

__all__ = ["explain"]


def explain(heat: object, name: str | Relation, **conditions: float) -> pd.DataFrame:
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
        sum to the value. `kind` is 'term' for a term of the formula; where the formula is no sum,
        it is 'difference': what the value loses when this element alone is taken away, with one
        row 'shared' for what cannot be ascribed to one element.

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
    batch = as_batch(heat)
    if len(batch) != 1:
        raise InputError("heat to explain", "one heat", said(f"{len(batch)} heats"))
    (relation,) = resolve(name)
    result = evaluate(batch, relation, **conditions)
    value = float(result.values.iloc[0, 0])
    space = {
        e: float(np.nan_to_num(batch[e].iloc[0])) if e in batch else 0.0 for e in relation.elements
    }
    if "Fe" in space:
        space["Fe"] = 100.0 - float(batch.iloc[0].sum())
    space |= {c: float(v if v.ndim == 0 else v[0]) for c, v in result.conditions.items()}
    space = {k: np.float64(v) for k, v in space.items()}  # which divides by zero without raising
    if np.isnan(value):
        rows = [("value", np.nan, np.nan, np.nan, result.words(batch.index[0], relation.name))]
    elif isinstance(relation, Linear):
        rows = _linear_rows(relation, space)
    else:
        rows = _function_rows(relation, space)
    table = pd.DataFrame(rows, columns=["term", "amount", "coefficient", "contribution", "kind"])
    rest = value - table["contribution"].sum()
    if abs(rest) > 1e-9 * max(1.0, abs(value)):
        table.loc[len(table)] = ("end of the scale", np.nan, np.nan, rest, "clamp")
    table = table.set_index("term")
    table.attrs |= {"relation": relation.name, "unit": relation.unit, "value": value}
    return table


def _linear_rows(relation: Linear, space: dict) -> list[tuple]:
    rows = [("constant", np.nan, np.nan, relation.intercept, "term")] if relation.intercept else []
    amounts = relation.term_values(space)
    for term, coefficient in relation.terms.items():
        amount = float(amounts[term])
        rows.append((term, amount, coefficient, coefficient * amount, "term"))
    return rows


def _function_rows(relation: Function, space: dict) -> list[tuple]:
    terms = relation.compiled.terms
    if len(terms) > 1:
        rows = []
        for text, formula in terms:
            contribution = float(formula.on(space))
            own = set(formula.names) & set(text.replace("*", " ").split())
            amount = space[own.pop()] if len(own) == 1 and len(formula.names) == 1 else np.nan
            per = contribution / amount if amount else np.nan
            rows.append((text, amount, per, contribution, "term"))
        return rows
    whole = float(relation.value(space))
    rows = []
    for name in relation.elements:
        if name == "Fe" or not space[name]:
            continue
        with np.errstate(all="ignore"):
            without = float(relation.value(space | {name: np.float64(0.0)}))
        if np.isfinite(without):
            rows.append((name, space[name], np.nan, whole - without, "difference"))
    rows.append(("shared", np.nan, np.nan, whole - sum(r[3] for r in rows), "difference"))
    return rows
