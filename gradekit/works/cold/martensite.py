"""Martensite that cold rolling makes, and what the strip then withstands."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, Numbers
from gradekit.relations.evaluate import evaluate_batch
from gradekit.works.tables import as_numbers, row_of_kind, rule

_HALF_AT = 0.30  # true strain that turns half at Md30, by definition of Md30

#: All published forms, the one without a grain size first.
MD30_FORMS = ("md30_angel_1954", "md30_nohara_1977", "md30_gladman_1974", "md30_sjoberg_1973")


def martensite(strain: Numbers, temperature_C: Numbers, md30_C: Numbers) -> np.ndarray:
    """Return the share of strain-induced martensite.

    Parameters
    ----------
    strain : array or number
        True strain.
    temperature_C, md30_C : arrays or numbers
        Of the strip, and of the steel.

    Returns
    -------
    ndarray, 0 to 1

    Raises
    ------
    InputError
        What is no number.

    Notes
    -----
    The logistic rule that `kinetics` writes out, a working rule that gives one half at Md30 and
    the strain by which Md30 is defined; no published kinetics carries constants for a composition.

    Examples
    --------
    >>> martensite([0.3, 0.5, 0.7], 25, -10).round(2).tolist()
    [0.11, 0.36, 0.61]
    """
    power, slope = _constants()
    e, t, m = as_numbers(strain=strain, temperature_C=temperature_C, md30_C=md30_C)
    with np.errstate(divide="ignore"):
        odds = -power * np.log(_HALF_AT) - slope * (t - m) + power * np.log(e)
    return np.where(e > 0, 1.0 / (1.0 + np.exp(-np.clip(odds, -700.0, 700.0))), 0.0 * (e + t + m))


def _constants() -> tuple[float, float]:
    """Return the strain exponent and the slope with temperature, 1/°C."""
    return rule("martensite_b").least, rule("martensite_t").least


def kinetics() -> str:
    """Return the rule of `martensite` as it is written, with its status.

    Examples
    --------
    >>> kinetics()
    'ln(f/(1-f)) = 3.61 - 0.06 (T - Md30) + 3 ln strain, heuristic'
    """
    power, slope = _constants()
    status = rule("martensite_b").status
    constant = -power * np.log(_HALF_AT)
    return f"ln(f/(1-f)) = {constant:.2f} - {slope:g} (T - Md30) + {power:g} ln strain, {status}"


def md30_forms(heats: pd.DataFrame, grain_size_astm: Given = None) -> pd.DataFrame:
    """Return Md30 by every published form, °C; Nohara's only where the grain size is known."""
    given = {} if grain_size_astm is None else {"grain_size_astm": grain_size_astm}
    return evaluate_batch(heats, list(MD30_FORMS), **given).values


def hardening_curve(kind: str) -> dict[str, Any] | None:
    """Return k, n and e0 of a family's curve k (e0 + strain)^n, None where none is at hand."""
    return row_of_kind("hardening", kind)


def hardened(strain: Numbers, kind: str = "austenitic") -> np.ndarray:
    """Return the flow stress of a cold-rolled steel, MPa, from the annealed state.

    Parameters
    ----------
    strain : array or number
        Equivalent strain.
    kind : str
        Kind of steel; by default 304. All curves are from memory: a tensile curve decides.

    Examples
    --------
    >>> hardened([0.0, 0.223]).round().tolist(), float(hardened(0.0, "duplex").round())
    ([78.0, 652.0], 552.0)
    """
    curve = hardening_curve(kind)
    assert curve is not None, kind
    return curve["k_mpa"] * (curve["e0"] + np.asarray(strain, dtype=float)) ** curve["n"]


def reduction_for(stress_MPa: Numbers) -> np.ndarray:
    """Return the reduction of thickness after which 304 has a flow stress, %.

    Examples
    --------
    >>> reduction_for([517, 758]).round(1).tolist()
    [12.4, 26.9]
    """
    curve = hardening_curve("austenitic")
    assert curve is not None
    k, n, e0 = (curve[x] for x in ("k_mpa", "n", "e0"))
    strain = (np.asarray(stress_MPa, dtype=float) / k) ** (1.0 / n) - e0
    return 100.0 * (1.0 - np.exp(-np.maximum(strain, 0.0)))


def strain_of(reduction_pct: Numbers) -> np.ndarray:
    """Return the true strain of a reduction of thickness.

    Examples
    --------
    >>> round(float(strain_of(20)), 3)
    0.223
    """
    return -np.log1p(-np.asarray(reduction_pct, dtype=float) / 100.0)
