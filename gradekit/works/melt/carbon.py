"""Carbon, chromium, temperature and CO pressure in equilibrium: every published form.

Three of the forms give carbon outright; the fourth gives the pressure and is solved. Between
1650 and 1750 °C they agree within a factor of 1.3 to 1.7, below 1600 °C they do not: a band is
shown, never one figure.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given
from gradekit.relations.evaluate import conditions_of
from gradekit.relations.topics import CATALOGUE
from gradekit.works.melt.blow import oxygen_per_kg

#: The form that the others are shown beside.
PREFERRED = "c_eq_hilty_kaveney_ni"
_SOLVED = "pco_eq_itoh_2000"
_OUTRIGHT = tuple(CATALOGUE.quantities()["equilibrium carbon"])
# Ends between which an answer is looked for; a root beyond them is no answer for a converter.
_ENDS = {"C": (1e-5, 8.0), "temperature_C": (1200.0, 2200.0), "pCO_atm": (1e-6, 1e3)}


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


def least_burnt(
    contents: Mapping[str, np.ndarray],
    carbon_from: np.ndarray,
    carbon_to: np.ndarray,
    oxygen_to_inert: np.ndarray,
    pressure_atm: np.ndarray,
    temperature_C: float,
) -> dict[str, np.ndarray]:
    """Return the least chromium that burns while the carbon is blown down, by form.

    Where the gas would make a bubble with more CO than carbon and chromium allow, only so much of
    the oxygen can burn carbon that the pressure fits; the rest burns chromium.

    Parameters
    ----------
    contents : mapping of element to ndarray, shape (heats,), wt%
        Chromium counts all the way.
    carbon_from, carbon_to : ndarray, shape (heats, gases), wt%
    oxygen_to_inert, pressure_atm : ndarray, shape (gases,)
        Of the gas, and in the vessel.
    temperature_C : float

    Returns
    -------
    dict of form to ndarray, shape (heats, gases), kg for a tonne of bath
    """
    points = 41
    ratio, pressure = oxygen_to_inert[:, None], pressure_atm[:, None]
    carbon = np.linspace(carbon_from, carbon_to, points, axis=-1)
    bath = {
        e: np.broadcast_to(amount[:, None, None], carbon.shape).ravel()
        for e, amount in contents.items()
    }
    by_form = _by_form(bath | {"C": carbon.ravel()}, carbon.size, "pCO_atm",
                     temperature_C=temperature_C)  # fmt: skip
    held = np.reshape(list(by_form.values()), (-1, *carbon.shape))
    with np.errstate(all="ignore"):
        share = np.where(held < pressure, held / (2.0 * ratio * (pressure - held)), 1.0)
        share = np.where(np.isnan(held), np.nan, np.clip(share, 0.0, 1.0))
        wasted = (1.0 / share - 1.0) * oxygen_per_kg("C") / oxygen_per_kg("Cr")
    # 0 - 0 is 0, where -0 would show as -0
    burnt = 0.0 - np.asarray(np.trapezoid(wasted, 10.0 * carbon, axis=-1))
    return dict(zip(by_form, burnt, strict=True))


def in_balance(batch: pd.DataFrame, wanted: str, **given: Given) -> pd.DataFrame:
    """Return carbon, temperature or CO pressure in equilibrium with the rest, by every form.

    Parameters
    ----------
    batch : clean batch
        Chromium and nickel count in all forms, the other elements in one.
    wanted : 'C', 'temperature_C' or 'pCO_atm'
        The carbon down to which chromium stays in the metal, or at what the carbon of the heat is
        reached.
    **given
        The other two, but carbon, which the batch holds: a number, or one a heat.

    Returns
    -------
    DataFrame, shape (heats, forms), wt%, °C or atm
        NaN where a form has no answer.

    Examples
    --------
    >>> steel = pd.DataFrame({"C": [0.1], "Cr": [18.0], "Ni": [8.0]})
    >>> in_balance(steel, "C", temperature_C=1700, pCO_atm=0.4).round(2).iloc[0].tolist()
    [0.13, 0.1, 0.13, 0.08]
    >>> in_balance(steel, "temperature_C", pCO_atm=0.4).round(-1).iloc[0].tolist()
    [1730.0, 1700.0, 1730.0, 1660.0]
    >>> in_balance(steel, "pCO_atm", temperature_C=1700).round(2).iloc[0].tolist()
    [0.3, 0.4, 0.32, 0.51]
    """
    known = conditions_of(batch, given)
    contents = dict(zip(batch, batch.to_numpy().T, strict=True))
    return pd.DataFrame(_by_form(contents, len(batch), wanted, **known), index=batch.index)


def _by_form(contents: Mapping, count: int, wanted: str, **given: Given) -> dict[str, np.ndarray]:
    """Return carbon, temperature or pressure in equilibrium with the rest; NaN where none is."""
    by_form = {}
    with np.errstate(all="ignore"):
        for name in (*_OUTRIGHT, _SOLVED):
            form = CATALOGUE[name]
            space = {e: np.nan_to_num(contents.get(e, 0.0)) for e in form.elements}
            space |= {e: contents.get(e, np.nan) for e in ("C", *form.required)} | given
            values = _in_balance(name, space, wanted, count)
            by_form[name] = np.where(np.isfinite(values), values, np.full(count, np.nan))
    return by_form


def _in_balance(name: str, space: dict, wanted: str, count: int) -> np.ndarray:
    form = CATALOGUE[name]
    if wanted == "C" and name != _SOLVED:
        return form.value(space)
    direction = -1.0 if wanted == "pCO_atm" else 1.0  # more CO, less room for carbon

    def above(log: np.ndarray) -> np.ndarray:
        # The forms are nearly straight between logarithms, so that few steps find the root.
        here = {**space, wanted: np.exp(log)}
        value = form.value(here)
        ratio = value / here["pCO_atm"] if name == _SOLVED else here["C"] / value
        return direction * np.log(ratio)

    low, high = np.log(_ENDS[wanted])
    return np.exp(root(above, low, high, count))


def root(rising: Callable, low: float, high: float, count: int) -> np.ndarray:
    """Return where a rising function is zero, for many at once; NaN where it is not between.

    A line through both ends, over and over; an end that stays counts half (the Illinois rule).
    """
    a, b = np.full(count, low), np.full(count, high)
    at_a, at_b = rising(a), rising(b)
    inside = (at_a <= 0) & (at_b >= 0)
    for _ in range(100):
        step = np.where(at_b == 0, 0.0, at_b * (b - a) / (at_b - at_a))
        before, b = (b, at_b), b - step
        at_b = rising(b)
        stays = at_b * before[1] > 0
        a, at_a = np.where(stays, a, before[0]), np.where(stays, 0.5 * at_a, before[1])
        if np.all(np.abs(step[inside]) < 1e-14 * (high - low)):
            break
    return np.where(inside, b, np.nan)
