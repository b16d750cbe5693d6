"""The table that every estimate is."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pandas as pd

from gradekit.core.flags import Flag

ESTIMATE_COLUMNS = ["value", "low", "high", "basis", "flag"]


def empty(batch: pd.DataFrame, basis: str) -> pd.DataFrame:
    """Return a table without values, for steel that nothing is known of."""
    frame = pd.DataFrame(index=batch.index, columns=ESTIMATE_COLUMNS)
    frame[["value", "low", "high"]] = np.nan
    frame["basis"] = basis
    frame["flag"] = np.full(len(batch), int(Flag.NO_SUPPORT), dtype=np.uint16)
    return frame.astype({"value": float, "low": float, "high": float})


def normal(level: float) -> float:
    """Return how many standard errors each side a level asks for."""
    return NormalDist().inv_cdf(0.5 + level / 2.0)


def some(given: dict, mask: np.ndarray) -> dict:
    """Return the conditions of some heats."""
    return {k: v[mask] for k, v in given.items()}
