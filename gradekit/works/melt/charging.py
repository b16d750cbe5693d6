"""The cheapest charge for a steel: what to melt, what it costs, which limits cost how much.

Scrap may be radioactive, oily, closed or leaded and is checked before it is charged; wet scrap and
closed containers explode under liquid steel; nickel, cobalt and manganese dust harm.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError, nearest
from gradekit.works.aims import carbon_end_of, known_or, stated, window_words, windows
from gradekit.works.melt.charge_result import TONNE, Charge, no_charge, result_of
from gradekit.works.melt.programme import Limit, Programme
from gradekit.works.melt.shop import Shop, make_shop, spent_metal, unasked

__all__ = ["charge", "forecast"]


def charge(
    aim: object,
    prices: object,
    recoveries: object,
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
    shop, wanted = make_shop(prices, recoveries), windows(aim)
    if minimise not in ("cost", "co2"):
        raise InputError("minimise", "'cost' or 'co2'", minimise)
    materials = shop.book.materials
    wanted, silent = stated(wanted, shop.kept.columns)
    given = _amounts(fixed, materials.index, "fixed")
    used_up = _amounts(consumed, materials.index, "consumed")
    factor = materials["co2"]
    silent_on_co2 = factor.isna().to_numpy() & (minimise == "co2")
    offered = ~(unasked(shop, wanted) | silent_on_co2) | (given > 0).to_numpy()
    weights = (materials["price"] if minimise == "cost" else factor.fillna(0.0)).to_numpy() / TONNE
    limits, which = _limits(shop, wanted, used_up, carbon_max)
    least = given.to_numpy()
    most = np.where(least > 0, least, (materials["stock"] - used_up).clip(lower=0.0))
    programme = Programme(
        [replace(k, row=k.row[offered]) for k in limits],
        least[offered], most[offered], list(materials.index[offered]), "kg/t",
    )  # fmt: skip
    best = programme.best(weights[offered])
    if best is None:
        return no_charge(shop, programme, silent)
    found = result_of(shop, wanted, used_up, best.spread(offered), which, silent)
    return found if minimise == "cost" else found.without_prices()


def forecast(
    mix: Mapping[str, float] | pd.Series, prices: object, recoveries: object, carbon: float = 0.0
) -> pd.Series:
    """Return the steel that a given mix makes, wt%, with residuals.

    Parameters
    ----------
    mix : mapping of material to kg (any amount)
    prices, recoveries : see `charge`
    carbon : float
        wt% to which the converter blows.

    Examples
    --------
    >>> steel = forecast({"scrap_304_solids": 1}, "data/prices.csv", "data/recoveries.csv")
    >>> steel[["Cr", "P", "Cu"]].round(4).tolist()
    [18.0132, 0.0334, 0.4128]
    """
    shop = make_shop(prices, recoveries)
    amounts = _amounts(mix, shop.kept.index, "mix")
    kept = (amounts.to_numpy() @ shop.kept.drop(columns="C", errors="ignore")).astype(float)
    total = kept.sum() / (1.0 - carbon / 100.0)
    if not total > 0:
        raise InputError("mix", "at least one metal", dict(mix))
    return pd.concat([100.0 * kept / total, pd.Series({"C": carbon})])


def _amounts(given: Mapping | None, materials: pd.Index, what: str) -> pd.Series:
    found = pd.Series(0.0, index=materials)
    for material, kg in dict(given or {}).items():
        if material not in materials:
            raise InputError(f"material in {what}", "a row of the price book", material,
                             nearest(material, materials))  # fmt: skip
        try:
            found[material] = float(kg)
        except (TypeError, ValueError):
            raise InputError(f"{what}: {material}", "kg a tonne", kg) from None
        if not found[material] >= 0:
            raise InputError(f"{what}: {material}", "kg a tonne, from 0 up", kg)
    return found


def _limits(
    shop: Shop, wanted: pd.DataFrame, used_up: pd.Series, carbon_max: float | None
) -> tuple[list[Limit], dict[str, int]]:
    """Return the limits and at which place that of each element stands."""
    spent = spent_metal(shop, used_up)
    carbon = carbon_end_of(wanted) * TONNE / 100.0
    metal = shop.kept.drop(columns="C", errors="ignore")
    rest = TONNE - carbon - float(spent.drop("C", errors="ignore").sum())
    limits = [Limit("1000 kg of steel", metal.sum(axis=1).to_numpy(), rest, rest, movable=False)]
    wt = {"unit": "wt%", "scale": 100.0 / TONNE}
    which = {}
    for element, window in wanted.iterrows():
        low, high = (x * TONNE / 100.0 for x in (window["low"], window["high"]))
        words = f"{element} {window_words(window)} wt%"
        if element == "C":
            every, end = shop.carbon_blown + shop.carbon_late, carbon_end_of(wanted)
            limits += [
                Limit(f"carbon at least {end:g} wt% before the blow", every, low=carbon, **wt),
                Limit(f"carbon at most {end:g} wt% from the ladle", shop.carbon_late, high=carbon,
                      **wt),
            ]  # fmt: skip
            continue
        which[element] = len(limits)
        already = float(spent.get(element, 0.0))
        limits.append(
            Limit(words, shop.kept[element].to_numpy(), known_or(low, -np.inf) - already,
                  known_or(high, np.inf) - already, **wt)
        )  # fmt: skip
    if carbon_max is not None:
        limits.append(Limit(f"carbon at most {carbon_max:g} wt% before the blow",
                            shop.carbon_blown, high=carbon_max * TONNE / 100.0, **wt))  # fmt: skip
    return limits, which
