"""The table that every estimate is: made, joined, and taken away from where nothing is known."""

from __future__ import annotations

from collections.abc import Callable
from statistics import NormalDist
from typing import Any, TypeAlias, cast

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from gradekit.core.flags import Flag
from gradekit.relations.topics import CATALOGUE

ENDS = ["value", "low", "high"]
#: From heats, quantity, level and conditions to a table as `estimates` makes it.
Estimator: TypeAlias = Callable[[pd.DataFrame, str, float, dict], pd.DataFrame]


def estimates(
    batch: pd.DataFrame, value: np.ndarray, half: ArrayLike, basis: Any, flag: np.ndarray
) -> pd.DataFrame:
    """Return the table of values, each give or take half an interval."""
    columns = {"value": value, "low": value - half, "high": value + half, "basis": basis}
    return pd.DataFrame(columns | {"flag": flag.astype(np.uint16)}, batch.index)


def empty(batch: pd.DataFrame, basis: str) -> pd.DataFrame:
    """Return a table without values, for steel that nothing is known of."""
    nothing = np.full(len(batch), np.nan)
    return estimates(batch, nothing, nothing, basis, np.full(len(batch), int(Flag.NO_SUPPORT)))


def withhold(frame: pd.DataFrame, rows: Any, basis: Any, flag: Flag = Flag.NO_SUPPORT) -> None:
    """Take the values of some heats away, flag them and say why (`basis`, None leaves it)."""
    frame.loc[rows, ENDS] = np.nan
    frame.loc[rows, "flag"] |= np.uint16(flag)
    if basis is not None:
        frame.loc[rows, "basis"] = basis


def in_parts(batch: pd.DataFrame, keys: np.ndarray, make: Callable) -> pd.DataFrame:
    """Join the tables of `make(key, rows)` for the heats of each key, in the order of the heats."""
    parts = [make(key, keys == key) for key in pd.unique(keys)]
    return pd.concat(parts).reindex(batch.index) if len(parts) > 1 else parts[0]


def normal(level: float) -> float:
    """Return how many standard errors each side a level asks for."""
    return NormalDist().inv_cdf(0.5 + level / 2.0)


def trade_error(name: str) -> float:
    """Return the standard error that a relation is declared with, the same at every value."""
    return float(cast(float, CATALOGUE[name].error))


def some(given: dict, mask: np.ndarray) -> dict:
    """Return the conditions of some heats."""
    return {k: v[mask] for k, v in given.items()}
