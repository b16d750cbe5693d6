"""What the steps ask of a batch: a column, what is not reported, a condition heat by heat."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import compress
from typing import cast

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given
from gradekit.core.errors import InputError
from gradekit.heats.notes import not_reported, notes_of


def column(heats: pd.DataFrame, element: str) -> pd.Series:
    """Return the content of an element, wt%; NaN where it is not reported."""
    return heats[element] if element in heats else pd.Series(np.nan, index=heats.index)


def amount(heats: pd.DataFrame, element: str) -> np.ndarray:
    """Return the content of an element, wt%; 0 where it is not reported."""
    return np.nan_to_num(heats[element].to_numpy()) if element in heats else np.zeros(len(heats))


def unknown(heats: pd.DataFrame, *elements: str, otherwise: str = "") -> list[str]:
    """Say for each heat which of these elements is not reported; `otherwise` where none.

    Examples
    --------
    >>> unknown(pd.DataFrame({"C": [0.02, np.nan]}, index=["H1", "H2"]), "C")
    ['', 'no value: C not reported']
    """
    everywhere = np.ones(len(heats), dtype=bool)
    holes = [np.isnan(heats[e].to_numpy()) if e in heats else everywhere for e in elements]
    unread = notes_of(heats).get("unread", {})
    gone = [tuple(compress(elements, hole)) for hole in zip(*holes, strict=True)]
    return [f"no value: {not_reported(g, unread)}" if g else otherwise for g in gone]


def each_heat(value: Given, heats: pd.DataFrame, name: str) -> pd.Series:
    """Return a condition as a Series over the heats.

    Parameters
    ----------
    value : number, or a Series or mapping with one a heat (NaN where it has none)
    name : str
        For the message.
    """
    series = pd.Series(value) if isinstance(value, (pd.Series, Mapping)) else None
    try:
        if series is not None:
            return series.reindex(heats.index).astype(float)
        return pd.Series(float(cast(float, value)), index=heats.index)
    except (TypeError, ValueError):
        raise InputError(name, "a number, or a Series with one a heat", value) from None
