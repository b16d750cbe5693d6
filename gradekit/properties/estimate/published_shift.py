"""What nitrogen and grain size do to strength, taken from a published relation.

The measured heats hardly tell: a quarter of them report nitrogen, and that below 0.09 %. So the
published relation is asked for the difference against the middle of those heats, and an estimate
is shifted by it. The relation holds at room temperature; an effect fades in a straight line to
nothing at the temperature where the card says that it is gone.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from gradekit.relations.evaluate import evaluate_batch

#: What the shift answers for. Not told, it shifts nothing.
INPUTS = ("N", "grain_size_um")
_ROOM = 20.0
# Any austenitic heat serves: only differences are used.
_HEAT = {"C": 0.05, "Si": 0.5, "Mn": 1.5, "Cr": 18.0, "Ni": 10.0, "Mo": 0.0, "Cu": 0.0}


def parts(data: Mapping, columns: pd.DataFrame) -> dict[str, np.ndarray]:
    """Return the published effect at room temperature of each input.

    Parameters
    ----------
    data : mapping
        `relation`, and `reference` with the middle value of each input.
    columns : DataFrame
        `N` in wt%, `grain_size_um`; unknown as NaN.

    Returns
    -------
    dict of ndarray, in the unit of the relation
        Zero where the input is not known.

    Examples
    --------
    >>> data = {"relation": "yield_nordberg_2004", "reference": {"N": .02, "grain_size_um": 60.}}
    >>> fine = pd.DataFrame({"N": [.02], "grain_size_um": [20.]})
    >>> round(float(parts(data, fine)["grain_size_um"][0]), 1)
    25.1
    """
    reference = data["reference"]
    told = columns[list(INPUTS)].notna().any(axis=1).to_numpy()
    effects = {name: np.zeros(len(columns)) for name in INPUTS}
    # heats of one analysis and grain share their effect: each is computed once
    pairs, which = np.unique(
        columns.loc[told, list(INPUTS)].fillna(reference).to_numpy(dtype=float),
        axis=0, return_inverse=True,
    )  # fmt: skip
    nitrogen, grain = pairs.T
    middle = np.full(len(pairs), reference["grain_size_um"])

    def at(n: np.ndarray | float, d: np.ndarray) -> np.ndarray:
        heats = pd.DataFrame({**_HEAT, "N": n}, index=range(len(pairs)))
        result = evaluate_batch(heats, data["relation"], grain_size_um=d, delta_ferrite_pct=0.0)
        return result.values.iloc[:, 0].to_numpy()

    without = at(reference["N"], grain)
    effects["N"][told] = (at(nitrogen, grain) - without)[which.ravel()]
    effects["grain_size_um"][told] = (without - at(reference["N"], middle))[which.ravel()]
    return effects


def fading(gone_at: float | None, temperature: np.ndarray) -> np.ndarray:
    """Return the share of an effect that is left at each temperature, °C."""
    if gone_at is None:
        return np.ones(len(temperature))
    return np.clip((gone_at - temperature) / (gone_at - _ROOM), 0.0, 1.0)


def shift(data: Mapping | None, columns: pd.DataFrame) -> np.ndarray:
    """Return what nitrogen and grain size add to an estimate.

    Parameters
    ----------
    data : mapping or None
        As for `parts`, with `gone_at_C` of each input. None: no published effect.
    columns : DataFrame
        `N`, `grain_size_um` and `temperature_C`.
    """
    if data is None:
        return np.zeros(len(columns))
    temperature = columns["temperature_C"].to_numpy(dtype=float)
    effects = parts(data, columns)
    return sum(effects[k] * fading(data["gone_at_C"][k], temperature) for k in INPUTS)
