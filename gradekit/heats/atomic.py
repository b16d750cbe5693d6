"""The step between wt% and at%."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.core.elements import atomic_masses, require_element
from gradekit.core.errors import InputError


def to_atomic_percent(batch: pd.DataFrame) -> pd.DataFrame:
    """Convert a batch from wt% to at%, iron being the balance.

    Parameters
    ----------
    batch : DataFrame, shape (heats, elements)
        Contents in wt%; an unknown (NaN) takes no part and stays unknown.

    Returns
    -------
    DataFrame
        Contents in at%, with the column `Fe` added as the balance.

    Raises
    ------
    InputError
        What is no DataFrame, or a column that is no element.

    Examples
    --------
    >>> b = pd.DataFrame({"Cr": [18.0], "Ni": [8.0]}, index=["H1"])
    >>> to_atomic_percent(b).round(2).loc["H1"].to_dict()
    {'Cr': 19.15, 'Ni': 7.54, 'Fe': 73.31}
    """
    full = _of_elements(batch).assign(Fe=100.0 - batch.sum(axis=1))
    moles = full / _masses(full.columns)
    return moles.div(moles.sum(axis=1), axis=0) * 100.0


def to_weight_percent(batch: pd.DataFrame) -> pd.DataFrame:
    """Convert a batch from at% to wt%, iron being the balance.

    Parameters
    ----------
    batch : DataFrame, shape (heats, elements)
        Contents in at%, with or without `Fe`; without it iron is taken as the balance.

    Returns
    -------
    DataFrame
        Contents in wt% without `Fe`, which is always the balance of a batch.

    Raises
    ------
    InputError
        What is no DataFrame, or a column that is no element.

    Examples
    --------
    >>> b = pd.DataFrame({"Cr": [18.0], "Ni": [8.0]}, index=["H1"])
    >>> to_weight_percent(to_atomic_percent(b)).round(6).loc["H1"].to_dict()
    {'Cr': 18.0, 'Ni': 8.0}
    """
    full = batch if "Fe" in _of_elements(batch) else batch.assign(Fe=100.0 - batch.sum(axis=1))
    grams = full * _masses(full.columns)
    return (grams.div(grams.sum(axis=1), axis=0) * 100.0).drop(columns="Fe")


def _of_elements(batch: pd.DataFrame) -> pd.DataFrame:
    if not isinstance(batch, pd.DataFrame):
        raise InputError("batch", "a DataFrame of elements, as as_batch gives it", batch)
    return batch


def _masses(columns: pd.Index) -> np.ndarray:
    masses = atomic_masses()
    return np.array([masses[require_element(c)] for c in columns])
