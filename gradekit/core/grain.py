"""Grain size number and mean lineal intercept, each from the other."""

from __future__ import annotations

import numpy as np

# ASTM E112, from memory: G = -6.6438 log10(mean lineal intercept in mm) - 3.288.
_SLOPE, _SHIFT = 6.6438, 3.288


def intercept_um(grain_size_astm: np.ndarray) -> np.ndarray:
    """Return the mean lineal intercept, µm, of an ASTM grain size number.

    Examples
    --------
    >>> round(float(intercept_um(8.0)), 1)
    20.0
    """
    return 1000.0 * 10.0 ** (-(np.asarray(grain_size_astm, dtype=float) + _SHIFT) / _SLOPE)


def grain_number(grain_size_um: np.ndarray) -> np.ndarray:
    """Return the ASTM grain size number of a mean lineal intercept, µm.

    Examples
    --------
    >>> round(float(grain_number(20.0)), 1)
    8.0
    """
    return -_SLOPE * np.log10(np.asarray(grain_size_um, dtype=float) / 1000.0) - _SHIFT
