"""What a composition costs, in parts: its metals, and what its contents cost in the making."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from gradekit.design.prices import Prices
from gradekit.design.quantities import Namespace, Quantity
from gradekit.relations.declaration import Linear
from gradekit.works.melt.making import MakingCost

#: Name of what a steel costs with its making, and the columns of the table of its parts.
TOTAL, PART_COLUMNS = "cost", ["money", "counted", "source", "evidence"]


@dataclass(frozen=True, eq=False)
class Total(Quantity):
    """Alloys and making together: a sum and convex broken lines."""

    alloys: Linear | None = None
    making: Sequence[MakingCost] = ()

    @staticmethod
    def of(alloys: Linear, making: Sequence[MakingCost]) -> Total:
        """Return the total of an alloy cost and of what its elements cost in the making."""
        return Total(TOTAL, {alloys.name: alloys}, alloys=alloys, making=making)

    @property
    def title(self) -> str:
        return "Cost of alloys and making at the works' prices"

    @property
    def unit(self) -> str:
        return self.alloys.unit if self.alloys else ""

    @property
    def inputs(self) -> tuple[str, ...]:
        own = self.alloys.inputs if self.alloys else ()
        return tuple(dict.fromkeys([*own, *(part.element for part in self.making)]))

    def form(self, conditions: Mapping[str, float]) -> None:
        return None

    def raw(self, space: Namespace) -> np.ndarray:
        assert self.alloys is not None
        return self.alloys.value(space) + self._made(space)

    def combine(self, space: Namespace, values: Mapping[str, np.ndarray]) -> np.ndarray:
        assert self.alloys is not None
        return values[self.alloys.name] + self._made(space)

    def error_at(self, value: float, conditions: Mapping[str, float]) -> float:
        return 0.0

    def _made(self, space: Namespace) -> np.ndarray:
        return sum((part.line.value(space[part.element]) for part in self.making), np.zeros(()))


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
