"""What changed between two compositions and how much of it each element carries.

How the change is shared out is in `gradekit.relations.shares`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import pandas as pd

from gradekit.core.aliases import Given, HeatsLike
from gradekit.core.errors import InputError
from gradekit.heats.batch import one_heat
from gradekit.relations.declaration import Relation
from gradekit.relations.evaluate import Result, evaluate
from gradekit.relations.listing import resolve
from gradekit.relations.shares import function_of, shares

_Values = Mapping[str, float]


def why(
    before: HeatsLike, after: HeatsLike, name: str | Relation, **conditions: Given
) -> pd.DataFrame:
    """Share out the change of a value among the elements and conditions that changed.

    Parameters
    ----------
    before, after : anything `as_batch` takes
        One heat each, wt%. What one of them does not report counts as zero, with a flag, as in
        `evaluate`.
    name : str or Relation
        Any relation, linear or not, also a reading of a diagram such as `ferrite_wrc_1992`.
    **conditions
        As for `evaluate`: one value for both, or a pair (before, after).

    Returns
    -------
    DataFrame, indexed by element or condition
        `before`, `after` (wt% or the unit of the condition) and `contribution` (unit of the
        relation), largest first. The contributions add up to value(after) - value(before). `attrs`
        hold `relation`, `unit`, `before`, `after` (the two values) and `flags` (what is to be said
        of each in words). Where one of the two has no value the contributions are NaN.

    Raises
    ------
    InputError
        More than one heat on a side, a name that is no relation, an unknown condition.

    Notes
    -----
    Shares are Shapley values: L. S. Shapley, A value for n-person games, in Contributions to the
    Theory of Games II, Princeton 1953, pp. 307-317.

    Examples
    --------
    >>> old = {"C": .05, "Cr": 18.2, "Ni": 8.1, "Mn": 1.4, "Si": .4, "Mo": .3, "N": .05}
    >>> table = why(old, old | {"Ni": 7.1, "N": .09}, "md30_nohara_1977", grain_size_astm=8)
    >>> table["contribution"].round(1).to_dict()
    {'Ni': 29.0, 'N': -18.5}
    """
    (relation,) = resolve(name)
    pairs = {name: _pair(name, value) for name, value in conditions.items()}
    results = [
        _one(label, heat, relation, {name: pair[side] for name, pair in pairs.items()})
        for side, (label, heat) in enumerate((("before", before), ("after", after)))
    ]
    old, new = (float(result.values.iat[0, 0]) for result in results)
    ends = _given(results[0], results[1]), _given(results[1], results[0])
    changed = [n for n in _players(relation, *ends) if ends[0][n] != ends[1][n]]
    parts = shares(function_of(relation), *ends, changed) if math.isfinite(new - old) else {}
    table = pd.DataFrame(
        {
            "before": [ends[0][n] for n in changed],
            "after": [ends[1][n] for n in changed],
            "contribution": [parts.get(n, math.nan) for n in changed],
        },
        index=pd.Index(changed, name="element or condition"),
        dtype=float,
    )
    order = table["contribution"].abs().sort_values(ascending=False, kind="stable").index
    table = table.loc[order]
    table.attrs = {
        "relation": relation.name,
        "unit": relation.unit,
        "before": old,
        "after": new,
        "flags": tuple(r.words(r.heats.index[0], relation.name) for r in results),
    }
    return table


def _players(relation: Relation, *ends: _Values) -> list[str]:
    """Return the inputs whose change can move the value; with `Fe` in it, all contents."""
    if "Fe" in relation.inputs:
        return list(ends[0])
    return [n for n in ends[0] if n in relation.inputs]


def _given(result: Result, other: Result) -> dict[str, float]:
    """Return what the relation is given on one side, with a zero for what only the other has."""
    names = [n for r in (result, other) for n in r.given(r.heats.index[0]) if n != "Fe"]
    own = result.given(result.heats.index[0])
    return {n: float(own.get(n, 0.0)) for n in dict.fromkeys(names)}


def _one(label: str, heat: HeatsLike, relation: Relation, conditions: dict) -> Result:
    return evaluate(one_heat(heat, f"heat {label}"), relation, **conditions)


def _pair(name: str, value: object) -> tuple[object, object]:
    if not isinstance(value, (tuple, list)):
        return value, value
    if len(value) != 2:
        raise InputError(name, "one value, or a pair (before, after)", value)
    return value[0], value[1]
