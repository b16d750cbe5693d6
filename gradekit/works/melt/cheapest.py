"""The cheapest charge for a steel: what to melt, what it costs, which limits cost how much.

Scrap may be radioactive, oily, closed or leaded and is checked before it is charged; wet scrap and
closed containers explode under liquid steel; nickel, cobalt and manganese dust harm.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike, TableLike
from gradekit.core.errors import InputError, one_of
from gradekit.core.programme import infeasible_set, marginals, minimise, relax
from gradekit.works.aims import aim_windows, carbon_end_of, known_or, stated, window_words
from gradekit.works.melt.charge_result import TONNE, Charge, no_charge, result_of
from gradekit.works.melt.price_book import BookLike
from gradekit.works.melt.shop import Shop, make_shop, spent_metal, unwanted_alloys

# Limits may miss each other by so little (of the largest entry of their rows, kg/t) and still count
# as kept together; a price so small beside the dearest material is the noise of the solver.
_NOTHING = 1e-7


def charge(
    aim: HeatsLike,
    prices: BookLike,
    recoveries: TableLike,
    *,
    minimise: str = "cost",
    fixed: Mapping[str, float] | None = None,
    consumed: Mapping[str, float] | None = None,
    carbon_max: float | None = None,
) -> Charge:
    """Find the cheapest charge that gives a steel.

    Parameters
    ----------
    aim : mapping or Series of element to wt%, table with `min` and `max`, or one heat
        A pair (low, high) is a window, None leaves a side open. A single number is met exactly
        for C, Si, N, for whatever is at least 1 wt% and for Nb and Ti from 0.1 wt%; any other
        single number is the most that the charge may bring. `.steel` shows what was understood.
    prices, recoveries : see `as_price_book`, `as_recoveries`
    minimise : 'cost' or 'co2'
        For 'co2' a material without a factor is left out.
    fixed : mapping of material to kg/t, optional
        Amounts that are given, such as the lime of the converter.
    consumed : mapping of material to kg/t, optional
        Amounts used up for reduction: paid, but their main element does not enter the steel.
    carbon_max : float, optional
        Most carbon that the furnace may hand over, wt%.

    Returns
    -------
    Charge

    Raises
    ------
    InputError
        An element or material that is not in the tables, a window that is turned round.

    Notes
    -----
    Carbon is blown down to its aim. What the converter burns (silicon, nitrogen, niobium,
    titanium, aluminium: no recovery there) counts only from materials added to the ladle. P, S,
    Cu, Sn leave the charge only as far as the recoveries say. An alloy of an element that the aim
    does not name is not bought.

    Examples
    --------
    >>> steel = {"C": (None, 0.03), "Si": 0.4, "Mn": (1.0, 1.5), "Cr": 18.1, "Ni": 8.05,
    ...          "N": (0.04, 0.07), "P": (None, 0.035), "Cu": (None, 0.5)}
    >>> c = charge(steel, "data/prices.csv", "data/recoveries.csv")
    >>> c.feasible, round(float(c.steel.at["Cr", "forecast"]), 6)
    (True, 18.1)
    """
    shop, wanted = make_shop(prices, recoveries), aim_windows(aim)
    if minimise not in ("cost", "co2"):
        raise InputError("minimise", "'cost' or 'co2'", minimise)
    materials = shop.book.materials
    wanted, silent = stated(wanted, shop.kept.columns)
    given = _amounts(fixed, materials.index, "fixed")
    used_up = _amounts(consumed, materials.index, "consumed")
    factor = materials["co2"]
    silent_on_co2 = factor.isna().to_numpy() & (minimise == "co2")
    offered = ~(unwanted_alloys(shop, wanted) | silent_on_co2) | (given > 0).to_numpy()
    weights = (materials["price"] if minimise == "cost" else factor.fillna(0.0)).to_numpy() / TONNE
    limits, which = _limits(shop, wanted, used_up, carbon_max)
    least = given.to_numpy()
    most = np.where(least > 0, least, (materials["stock"] - used_up).clip(lower=0.0))
    task = _Task(limits, least, most, offered, list(materials.index))
    best = task.best(weights)
    if best is None:
        return no_charge(shop, task.clash(), silent)
    mix, reduced, prices = best
    paid = {element: prices[i] for element, i in which.items()}
    result = result_of(shop, wanted, used_up, mix, reduced, paid, silent)
    return result if minimise == "cost" else result.without_prices()


def _amounts(given: Mapping | None, materials: pd.Index, what: str) -> pd.Series:
    amounts = pd.Series(0.0, index=materials)
    for material, kg in dict(given or {}).items():
        one_of(f"material in {what}", material, materials, "a row of the price book")
        try:
            amounts[material] = float(kg)
        except (TypeError, ValueError):
            raise InputError(f"{what}: {material}", "kg a tonne", kg) from None
        if not amounts[material] >= 0:
            raise InputError(f"{what}: {material}", "kg a tonne, from 0 up", kg)
    return amounts


@dataclass(frozen=True, eq=False)
class _Limit:
    """low <= row · x <= high, with the words that a reader knows it by.

    `scale` turns a distance of the row into `unit`; a limit that is no choice is not `movable`.
    """

    words: str
    row: np.ndarray
    low: float = -np.inf
    high: float = np.inf
    unit: str = "kg/t"
    scale: float = 1.0
    movable: bool = True


class _Task:
    """The limits as rows of a linear programme over the materials that are offered."""

    def __init__(
        self, limits: list[_Limit], least: np.ndarray, most: np.ndarray, offered: np.ndarray,
        names: list[str],
    ):  # fmt: skip
        self.limits, self.offered = limits, offered
        self.least, self.most = least[offered], most[offered]
        self.names = [n for n, taken in zip(names, offered, strict=True) if taken]

    def best(self, weights: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray] | None:
        """Return the cheapest mix, what one more kg of each adds, and the price of each limit."""
        rows, ends, owner = self._rows(self.limits)
        cost = weights[self.offered]
        best = minimise(cost, rows, ends, self.least, self.most)
        if not best.feasible:
            return None
        price, _ = marginals(cost, rows, ends - rows @ best.x, self.least, self.most, best.x)
        mix, reduced = np.zeros(len(weights)), np.zeros(len(weights))
        mix[self.offered] = best.x
        reduced[self.offered] = cost + price @ rows
        reduced[np.abs(reduced) < _NOTHING * cost.max()] = 0.0
        return mix, reduced, np.bincount(owner, price, len(self.limits))

    def clash(self) -> pd.DataFrame:
        """Return a smallest set of limits that cannot be kept together, stocks among them.

        Beside each stands how far it alone would have to give way, NaN where that is no way.
        """
        every = self.limits + [
            _Limit(f"stock of {n} at most {m:g} kg/t", np.eye(len(self.offered))[i], high=m)
            for i, n, m in zip(np.flatnonzero(self.offered), self.names, self.most, strict=True)
            if np.isfinite(m)
        ]
        kept = infeasible_set(self._blamed(every), lambda members: not self._blamed(every, members))
        relief = [self._relief(every, i) if every[i].movable else np.nan for i in kept]
        frame = pd.DataFrame(
            {"gives way by": relief, "unit": [every[i].unit * every[i].movable for i in kept]},
            index=pd.Index([every[i].words for i in kept], name="limit"),
        )
        return frame.sort_values("gives way by", kind="stable")

    def _blamed(self, every: list[_Limit], members: list[int] | None = None) -> list[int]:
        """Return limits, of these members, that already exclude each other; [] where none do."""
        members = list(range(len(every))) if members is None else members
        if not members:
            return []
        rows, ends, owner = self._rows([every[i] for i in members])
        size = np.abs(rows).max(axis=1)
        least = relax(rows, ends, self.least, self._open, np.diag(np.where(size > 0, size, 1.0)))
        if least.total <= _NOTHING:
            return []
        return [members[k] for k in dict.fromkeys(owner[least.blamed].tolist())]

    def _relief(self, every: list[_Limit], i: int) -> float:
        """Return how far this limit alone must give way, in its unit; NaN where that is no way."""
        rows, ends, owner = self._rows(every)
        least = relax(rows, ends, self.least, self._open, (owner == i)[:, None].astype(float))
        return least.total * every[i].scale if np.isfinite(least.total) else float("nan")

    @property
    def _open(self) -> np.ndarray:
        """Upper ends of the materials where the stocks are limits."""
        return np.full(len(self.names), np.inf)

    def _rows(self, limits: list[_Limit]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return rows and ends of rows @ x <= ends, and which limit each belongs to."""
        every = [
            (sign * limit.row[self.offered], sign * end, k)
            for k, limit in enumerate(limits)
            for sign, end in ((1.0, limit.high), (-1.0, limit.low))
            if np.isfinite(end)
        ]
        rows, ends, owner = zip(*every, strict=True)
        return np.array(rows), np.array(ends), np.array(owner)


def _limits(
    shop: Shop, wanted: pd.DataFrame, used_up: pd.Series, carbon_max: float | None
) -> tuple[list[_Limit], dict[str, int]]:
    """Return the limits and at which place that of each element stands."""
    spent = spent_metal(shop, used_up)
    carbon = carbon_end_of(wanted) * TONNE / 100.0
    metal = shop.kept.drop(columns="C", errors="ignore")
    rest = TONNE - carbon - float(spent.drop("C", errors="ignore").sum())
    limits = [_Limit("1000 kg of steel", metal.sum(axis=1).to_numpy(), rest, rest, movable=False)]
    wt: dict[str, Any] = {"unit": "wt%", "scale": 100.0 / TONNE}
    which = {}
    for element, window in wanted.iterrows():
        low, high = (x * TONNE / 100.0 for x in (window["low"], window["high"]))
        words = f"{element} {window_words(window)} wt%"
        if element == "C":
            every, end = shop.carbon_blown + shop.carbon_late, carbon_end_of(wanted)
            limits += [
                _Limit(f"carbon at least {end:g} wt% before the blow", every, low=carbon, **wt),
                _Limit(f"carbon at most {end:g} wt% from the ladle", shop.carbon_late, high=carbon,
                      **wt),
            ]  # fmt: skip
            continue
        which[element] = len(limits)
        already = float(spent.get(element, 0.0))
        limits.append(
            _Limit(words, shop.kept[element].to_numpy(), known_or(low, -np.inf) - already,
                  known_or(high, np.inf) - already, **wt)
        )  # fmt: skip
    if carbon_max is not None:
        limits.append(_Limit(f"carbon at most {carbon_max:g} wt% before the blow",
                            shop.carbon_blown, high=carbon_max * TONNE / 100.0, **wt))  # fmt: skip
    return limits, which
