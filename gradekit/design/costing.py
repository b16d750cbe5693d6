"""What a composition costs, in parts: its metals, and what its contents cost in the making."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd

from gradekit.design.prices import Prices
from gradekit.design.quantities import Quantity
from gradekit.relations.declaration import Linear
from gradekit.works.melt.making import MakingCost

#: Name of what a steel costs with its making, and the columns of the table of its parts.
TOTAL, PART_COLUMNS = "cost", ["money", "counted", "source", "evidence"]


def total_cost(alloys: Linear, making: Sequence[MakingCost]) -> Quantity:
    """Return the total of an alloy cost and of what its elements cost in the making."""
    return Quantity(TOTAL, {alloys.name: alloys}, making=making)


def cost_parts(
    aim: pd.Series, prices: Prices, making: Sequence[MakingCost], unknown: Sequence[str]
) -> pd.DataFrame:
    """Return what a composition costs, a row a part; the money adds up to the cost.

    Returns
    -------
    DataFrame
        `money` a tonne of steel, NaN where it is not known; `counted` in words, `source`,
        `evidence`. The metals first, the dearest on top, then the making.
    """
    alloys = prices.cost
    contents = {**aim, "Fe": 100.0 - aim.sum()}
    metals = {e: float(alloys.terms.get(e, 0.0) * x) for e, x in contents.items()}
    where = alloys.citation
    rows = [
        (e, money, f"{contents[e]:.4g} wt%, price over recovery", where, alloys.status)
        for e, money in sorted(metals.items(), key=lambda each: -each[1])
        if money
    ]
    rows += [
        (f"{part.element}: {part.what}", float(part.line.value(aim[part.element])), part.basis,
         part.source, part.status)
        for part in making
    ]  # fmt: skip
    rows += [("making", np.nan, words, "", "") for words in unknown]
    return pd.DataFrame(rows, columns=["part", *PART_COLUMNS]).set_index("part")
