"""Grain size of annealed austenite after time at temperature, and the other way round."""

from __future__ import annotations

import numpy as np

from gradekit.core.aliases import Numbers
from gradekit.works.tables import as_numbers, rule

_GAS = 8.314e-3  # kJ/(mol K)


def grain_after(start_um: Numbers, temperature_C: Numbers, seconds: Numbers) -> np.ndarray:
    """Return the grain size after time at temperature, µm.

    Parameters
    ----------
    start_um : array or number
        Grain size when growth begins.
    temperature_C, seconds : arrays or numbers

    Returns
    -------
    ndarray, µm

    Raises
    ------
    InputError
        What is no number.

    Notes
    -----
    d² = d0² + k0 t exp(-Q/RT); Q 285 ± 35 kJ/mol, verified for austenitic stainless steel; k0 a
    working value that goes with 285.

    Examples
    --------
    >>> grain_after(12, 1100, [60, 300]).round(1).tolist()
    [20.5, 39.1]
    """
    d0, celsius, t = as_numbers(start_um=start_um, temperature_C=temperature_C, seconds=seconds)
    kelvin = celsius + 273.15
    k0, q = _constants()
    return np.sqrt(d0**2 + k0 * t * np.exp(-q / (_GAS * kelvin)))


def temperature_for_grain(start_um: Numbers, seconds: Numbers, largest_um: Numbers) -> np.ndarray:
    """Return the temperature at which the grain has just its largest size, °C.

    NaN where the grain is larger from the start.

    Examples
    --------
    >>> round(float(temperature_for_grain(12, 60, 20.5)))
    1100
    """
    d0, t, d = (np.asarray(x, dtype=float) for x in (start_um, seconds, largest_um))
    k0, q = _constants()
    with np.errstate(invalid="ignore", divide="ignore"):
        inside = np.log(np.where(d > d0, k0 * t / (d**2 - d0**2), np.nan))
        return np.where(inside > 0, q / (_GAS * inside) - 273.15, np.nan)


def _constants() -> tuple[float, float]:
    return rule("grain_k0").least, rule("grain_q").middle
