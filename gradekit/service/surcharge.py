"""What the alloy of a steel costs and emits at a user's prices, and from which contents."""

from __future__ import annotations

import pandas as pd

from gradekit.design.prices import Prices
from gradekit.relations.declaration import Linear
from gradekit.relations.evaluate import evaluate
from gradekit.service.candidate import Candidate


def alloy_cost(prices: Prices, steel: Candidate) -> float:
    """Return the alloy cost at the cheap end of the window, where producers melt, money a tonne."""
    return _of(prices.cost, steel)


def footprint(prices: Prices, steel: Candidate) -> str:
    """Return the CO2 of the alloys in words, or that the list tells none."""
    if set(prices.footprint.elements) <= {"Fe"}:
        return "none held"
    return f"{_of(prices.footprint, steel):.1f} t CO2/t"


def surcharge_table(prices: Prices, steels: tuple[Candidate, ...]) -> pd.DataFrame:
    """Return the difference of alloy cost element by element, the first steel being the present.

    Returns
    -------
    DataFrame of texts
        A row an element that makes a difference of a unit of money a tonne, then the sum: the price
        of the list, the lowest content of the present grade and of each other, with what the
        difference costs.
    """
    now, others = steels[0], steels[1:]
    contents = [_contents(prices.cost, steel) for steel in steels]
    rows: dict[str, list[str]] = {}
    for element, per_percent in prices.cost.terms.items():
        amounts = [100.0 - sum(c.values()) if element == "Fe" else c[element] for c in contents]
        money = [(a - amounts[0]) * per_percent for a in amounts[1:]]
        if max(map(abs, money)) < 0.5:
            continue
        price = prices.table.at[element, "price"]
        rows[element] = [f"{price:g}", f"{amounts[0]:.3g} %"] + [
            f"{a:.3g} %, {m:+.0f}" if a != amounts[0] else "as now"
            for a, m in zip(amounts[1:], money, strict=True)
        ]
    rows["sum"] = ["", ""] + [f"{_of(prices.cost, s) - _of(prices.cost, now):+.0f}" for s in others]
    heads = [f"price, {prices.unit}", now.name, *(s.name for s in others)]
    return pd.DataFrame(rows.values(), index=list(rows), columns=heads)


def _contents(relation: Linear, steel: Candidate) -> dict[str, float]:
    return {e: steel.least.get(e, 0.0) for e in relation.elements if e != "Fe"}


def _of(relation: Linear, steel: Candidate) -> float:
    return float(evaluate(_contents(relation, steel), relation).values.iloc[0, 0])
