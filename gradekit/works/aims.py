"""What is asked of a steel, as a window for each element."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike
from gradekit.core.elements import require_element
from gradekit.core.errors import InputError, nearest, said
from gradekit.heats.batch import as_batch

# Below these a single number of an aim is what the charge may bring, not what it must reach.
_EXACT_FROM, _EXACT_STABILISER = 1.0, 0.1
_ALWAYS_EXACT, _STABILISERS = ("C", "Si", "N"), ("Nb", "Ti")


def aim_windows(aim: HeatsLike) -> pd.DataFrame:
    """Return `low` and `high` of each element, wt%; NaN where a side is open.

    Examples
    --------
    >>> aim_windows({"Cr": 18.1, "P": 0.035, "Ni": (8, 8.5)}).loc["P"].tolist()
    [nan, 0.035]
    """
    if isinstance(aim, pd.DataFrame) and {"min", "max"} <= set(aim.columns):
        frame = pd.DataFrame({"low": aim["min"], "high": aim["max"]}).astype(float)
        pairs = {e: tuple(r) for e, r in zip(frame.index, frame.to_numpy(), strict=True)}
    elif isinstance(aim, (Mapping, pd.Series)):
        pairs = dict(aim)
    else:
        batch = as_batch(aim)
        if len(batch) != 1:
            raise InputError("aim", "one steel", said(f"{len(batch)} heats"))
        pairs = batch.iloc[0].dropna().to_dict()
    rows = {}
    for element, given in pairs.items():
        require_element(element, "element of the aim")
        if element != "Fe":
            rows[element] = _window(element, given)
    if not rows:
        raise InputError("aim", "at least one element", said("none"))
    return pd.DataFrame.from_dict(rows, orient="index", columns=["low", "high"])


def stated(wanted: pd.DataFrame, known: pd.Index) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """Leave out what no analysis speaks of, and say so; what must be brought is refused."""
    gone = [e for e in wanted.index if e not in known]
    for element in gone:
        if wanted.at[element, "low"] > 0:
            raise InputError(f"{element} of the aim", "in a material of the price book", element,
                             nearest(element, known))  # fmt: skip
    words = tuple(f"{e} is in no analysis of the price book: not judged" for e in gone)
    return wanted.drop(index=gone), words


def _window(element: str, given: Any) -> tuple[float, float]:
    try:
        if isinstance(given, (tuple, list)):
            low, high = (np.nan if x is None else float(x) for x in given)
        else:
            high = float(given)
            exact = element in _ALWAYS_EXACT or high >= _EXACT_FROM
            exact |= element in _STABILISERS and high >= _EXACT_STABILISER
            low = high if exact else np.nan
    except (TypeError, ValueError):
        raise InputError(f"{element} of the aim", "a number or a pair (low, high)", given) from None
    if low > high or low < 0 or high < 0 or high > 100:
        raise InputError(f"{element} of the aim", "0 <= low <= high <= 100 wt%", given)
    return low, high


def carbon_end_of(wanted: pd.DataFrame) -> float:
    """The carbon that the steel is blown down to: the top of its window."""
    if "C" not in wanted.index:
        return 0.0
    return float(known_or(wanted.at["C", "high"], known_or(wanted.at["C", "low"], 0.0)))


def window_words(window: pd.Series) -> str:
    """Say a window in words."""
    low, high = window["low"], window["high"]
    if low == high:
        return f"{low:g}"
    parts = [f"at least {low:g}"] if np.isfinite(low) else []
    return " and ".join(parts + ([f"at most {high:g}"] if np.isfinite(high) else []))


def known_or(value: float, otherwise: float) -> float:
    """Return the value, or the other one where it is NaN."""
    return otherwise if np.isnan(value) else value
