"""How a difference of a value is shared out among the inputs that differ: Shapley values.

The shares are averaged over every order in which the inputs could have changed one after the other.
They add up to the difference exactly, an input that did not change gets nothing, no order is
preferred, and going back gives the same shares with the other sign. No derivative is needed, so
steps, ends of a scale and `where` are shared out as exactly as sums.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from itertools import pairwise

import numpy as np

from gradekit.core.aliases import Columns
from gradekit.relations.declaration import CONDITIONS, Relation

_Values = Mapping[str, float]
_Function = Callable[[dict[str, np.ndarray]], np.ndarray]

# Between the two compositions a formula may be undefined where some inputs have changed and others
# not (a logarithm of what is negative there). Then the straight way is walked in this many steps,
# each of which stays close to compositions that have a value.
_STEPS = (1, 2, 4, 8, 16, 32, 64)


def shares(
    function: _Function, before: _Values, after: _Values, changed: list[str]
) -> dict[str, float]:
    """Share out function(after) - function(before) among the inputs that changed.

    Parameters
    ----------
    function : callable
        Takes a dictionary of arrays, one an input, all of one length; gives an array.
    before, after : mapping of input to number
    changed : list of str
        The inputs that differ. 2 to the power of their count are computed at once.

    Returns
    -------
    dict
        A share for each changed input; NaN where the function has no value on the way.

    Examples
    --------
    >>> shares(lambda x: x["a"] * x["b"], {"a": 1, "b": 1}, {"a": 3, "b": 2}, ["a", "b"])
    {'a': 3.0, 'b': 2.0}
    """
    total = dict.fromkeys(changed, math.nan)
    for steps in _STEPS:
        total = dict.fromkeys(changed, 0.0)
        stops = np.linspace(0.0, 1.0, steps + 1)
        for low, high in pairwise(stops):
            start, end = _between(before, after, low), _between(before, after, high)
            for name, part in _box(function, start, end, changed).items():
                total[name] += part
        if all(map(math.isfinite, total.values())):
            break
    return total


def _box(function: _Function, before: _Values, after: _Values, changed: list[str]) -> dict:
    """Return the Shapley values of one step: each input averaged over all orders."""
    count = len(changed)
    sets = np.arange(2**count)  # bit i is set where input i has its new value
    columns = {name: np.full(sets.size, float(value)) for name, value in before.items()}
    for bit, name in enumerate(changed):
        columns[name][(sets >> bit) & 1 == 1] = after[name]
    with np.errstate(all="ignore"):
        values = np.broadcast_to(function(columns), sets.shape)
    size = np.bitwise_count(sets)
    orders = [math.factorial(k) * math.factorial(count - k - 1) for k in range(count)]
    weights = np.array(orders, dtype=float) / math.factorial(count)
    result = {}
    for bit, name in enumerate(changed):
        without = sets[(sets >> bit) & 1 == 0]
        steps = values[without | (1 << bit)] - values[without]
        result[name] = float(weights[size[without]] @ steps)
    return result


def _between(before: _Values, after: _Values, share: float) -> dict[str, float]:
    if share in (0.0, 1.0):
        return dict(after if share else before)
    return {name: value + share * (after[name] - value) for name, value in before.items()}


def function_of(relation: Relation) -> _Function:
    """Return a relation as a function of contents and conditions, with the ends of its scale.

    Parameters
    ----------
    relation : Relation

    Returns
    -------
    callable
        For `shares`; iron is what the contents leave.
    """

    def value(columns: Columns) -> np.ndarray:
        if "Fe" in relation.inputs:
            contents = (v for n, v in columns.items() if n not in CONDITIONS)
            columns = {**columns, "Fe": 100.0 - sum(contents)}
        return np.clip(relation.value(columns), relation.floor, relation.ceiling)

    return value
