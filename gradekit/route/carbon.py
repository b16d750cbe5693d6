"""Carbon, chromium, temperature and CO pressure in equilibrium: every published form.

Three of the forms give carbon outright; the fourth gives the pressure and is solved. Between
1650 and 1750 °C they agree within a factor of 1.3 to 1.7, below 1600 °C they do not: a band is
shown, never one figure.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import pandas as pd

from gradekit.composition import as_batch
from gradekit.evaluate import evaluate
from gradekit.relations import CATALOGUE
from gradekit.route.blow import oxygen_per_kg

__all__ = [
    "PREFERRED",
    "bubble_pressure",
    "carbon_end",
    "chromium_burnt",
    "pressure_held",
    "temperature_needed",
]

#: The form that the others are shown beside.
PREFERRED = "c_eq_hilty_kaveney_ni"
_SOLVED = "pco_eq_itoh_2000"
_OUTRIGHT = tuple(CATALOGUE.quantities()["equilibrium carbon"])
# Ends between which an answer is looked for; a root beyond them is no answer for a converter.
_CARBON, _TEMPERATURE, _PRESSURE = (1e-5, 8.0), (1200.0, 2200.0), (1e-6, 1e3)


def bubble_pressure(
    oxygen: float, inert: float, pressure_atm: float = 1.0, used: float = 1.0
) -> float:
    """Return the CO pressure in a bubble of the blown gas, atm.

    Parameters
    ----------
    oxygen, inert : float
        Parts by volume.
    pressure_atm : float
        In the vessel.
    used : float
        Share of the oxygen that burns carbon.

    Examples
    --------
    >>> [round(bubble_pressure(o, i), 3) for o, i in [(4, 1), (3, 1), (1, 1), (1, 3), (1, 9)]]
    [0.889, 0.857, 0.667, 0.4, 0.182]
    """
    co = 2.0 * oxygen * used
    return pressure_atm * co / (co + inert)


def carbon_end(heats: object, temperature_C: object, pCO_atm: object) -> pd.DataFrame:
    """Return the carbon down to which chromium stays in the metal, by every form.

    Parameters
    ----------
    heats : anything `as_batch` takes
        Chromium and nickel count in all forms, the other elements in one.
    temperature_C, pCO_atm : number, or one a heat

    Returns
    -------
    DataFrame, shape (heats, forms), wt%
        NaN where a form has no answer.

    Examples
    --------
    >>> carbon_end({"Cr": 18, "Ni": 8}, 1700, 0.4).round(2).iloc[0].tolist()
    [0.13, 0.1, 0.13, 0.08]
    """
    return _by_form(
        heats,
        temperature_C,
        pCO_atm,
        outright=lambda name, space: CATALOGUE[name].value(space),
        solve="C",
        ends=_CARBON,
    )


def temperature_needed(heats: object, pCO_atm: object) -> pd.DataFrame:
    """Return the temperature at which the carbon of the heat is reached, °C, by every form.

    Examples
    --------
    >>> temperature_needed({"C": 0.1, "Cr": 18, "Ni": 8}, 0.4).round(-1).iloc[0].tolist()
    [1730.0, 1700.0, 1730.0, 1660.0]
    """
    batch = as_batch(heats)
    carbon = _column(batch, "C")

    def outright(name: str, space: Mapping) -> np.ndarray:
        # more heat, less carbon
        gap = lambda t: carbon - CATALOGUE[name].value({**space, "temperature_C": t})  # noqa: E731
        return bisect(gap, *_TEMPERATURE, len(batch))

    return _by_form(
        batch, np.nan, pCO_atm, outright=outright, solve="temperature_C", ends=_TEMPERATURE
    )


def pressure_held(heats: object, temperature_C: object) -> pd.DataFrame:
    """Return the CO pressure at which carbon and chromium of the heat are in balance, atm.

    Examples
    --------
    >>> pressure_held({"C": 0.1, "Cr": 18, "Ni": 8}, 1700).round(2).iloc[0].tolist()
    [0.3, 0.4, 0.32, 0.51]
    """
    batch = as_batch(heats)
    carbon = _column(batch, "C")

    def outright(name: str, space: Mapping) -> np.ndarray:
        gap = lambda p: CATALOGUE[name].value({**space, "pCO_atm": p}) - carbon  # noqa: E731
        return bisect(gap, *_PRESSURE, len(batch))

    return _by_form(
        batch, temperature_C, np.nan, outright=outright, solve="pCO_atm", ends=_PRESSURE, sign=-1
    )


def chromium_burnt(heat: pd.Series, path: pd.DataFrame, temperature_C: float) -> pd.DataFrame:
    """Return the least chromium that burns while the carbon is blown down.

    Where the gas would make a bubble with more CO than carbon and chromium allow, only so much of
    the oxygen can burn carbon that the pressure fits; the rest burns chromium.

    Parameters
    ----------
    heat : Series of wt%
        Its chromium counts all the way.
    path : DataFrame, one row a gas
        `oxygen_to_inert`, `carbon_from`, `carbon_to` (wt%), `pressure_atm` of the vessel.
    temperature_C : float

    Returns
    -------
    DataFrame, shape (gases, forms), kg for a tonne of bath
    """
    points = 41
    ratio, pressure = (
        np.repeat(path[c].to_numpy(), points) for c in ("oxygen_to_inert", "pressure_atm")
    )
    carbon = np.linspace(path["carbon_from"], path["carbon_to"], points).T.ravel()
    batch = pd.DataFrame([heat] * len(carbon)).reset_index(drop=True).assign(C=carbon)
    held = pressure_held(batch, temperature_C).to_numpy().T
    with np.errstate(all="ignore"):
        share = np.where(held < pressure, held / (2.0 * ratio * (pressure - held)), 1.0)
        share = np.where(np.isnan(held), np.nan, np.clip(share, 0.0, 1.0))
        wasted = (1.0 / share - 1.0) * oxygen_per_kg("C") / oxygen_per_kg("Cr")
    wasted = wasted.reshape(len(held), len(path), points)
    kg = 10.0 * carbon.reshape(1, len(path), points)
    burnt = 0.0 - np.trapezoid(wasted, kg, axis=2)  # 0 - 0 is 0, where -0 would show as -0
    return pd.DataFrame(burnt.T, index=path.index, columns=[*_OUTRIGHT, _SOLVED])


def _by_form(
    heats: object,
    temperature_C: object,
    pCO_atm: object,
    *,
    outright: Callable[[str, Mapping], np.ndarray],
    solve: str,
    ends: tuple[float, float],
    sign: int = 1,
) -> pd.DataFrame:
    batch = as_batch(heats)
    known = evaluate(batch, [], temperature_C=temperature_C, pCO_atm=pCO_atm)
    pressure = np.broadcast_to(known.conditions["pCO_atm"], len(batch))
    solved = CATALOGUE[_SOLVED]
    names = {e for n in (*_OUTRIGHT, _SOLVED) for e in CATALOGUE[n].elements}
    space = {e: np.nan_to_num(_column(batch, e)) for e in names}
    space |= {"temperature_C": known.conditions["temperature_C"], "pCO_atm": pressure}

    def gap(x: np.ndarray) -> np.ndarray:
        here = {**space, solve: x}
        return sign * (solved.value(here) - here["pCO_atm"])

    with np.errstate(all="ignore"):
        columns = {name: outright(name, space) for name in _OUTRIGHT}
        columns[_SOLVED] = bisect(gap, *ends, len(batch))
    for name, values in columns.items():
        gone = [np.isnan(_column(batch, e)) for e in CATALOGUE[name].required if e != solve]
        unknown = np.any(gone, axis=0) if gone else np.zeros(len(batch), dtype=bool)
        columns[name] = np.where(unknown | ~np.isfinite(values), np.nan, values)
    return pd.DataFrame(columns, index=batch.index)


def bisect(rising: Callable, low: float, high: float, count: int) -> np.ndarray:
    """Return where a rising function is zero, for many at once; NaN where it is not between."""
    a, b = np.full(count, low), np.full(count, high)
    outside = ~((rising(a) <= 0) & (rising(b) >= 0))
    for _ in range(50):  # 1 part in 10^15 of the interval
        middle = 0.5 * (a + b)
        below = rising(middle) < 0
        a, b = np.where(below, middle, a), np.where(below, b, middle)
    return np.where(outside, np.nan, 0.5 * (a + b))


def _column(batch: pd.DataFrame, element: str) -> np.ndarray:
    return batch[element].to_numpy() if element in batch else np.full(len(batch), np.nan)
