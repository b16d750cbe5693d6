"""Which rows belong together, so that no heat is both learnt from and asked about."""

from __future__ import annotations

import re

import numpy as np
import pandas as pd

from gradekit.errors import NOTHING, InputError, said
from gradekit.fitting.source import known_column

__all__ = ["group_labels", "summary_rows", "visible_group"]

_GROUPS = (
    "heat", "melt", "charge", "cast", "schmelze", "laborator", "lab", "publication", "paper",
    "source",
)  # fmt: skip
_NO_GROUP = ("treat", "date", "weight", "rate", "input", "temp", "time")
_SUMMARIES = frozenset(
    "mean average avg median mittel mittelwert sd std stdev stddev min max minimum maximum count"
    " sum total range aim".split()
)
_ALIKE = (
    "the column whose rows belong together: tests of one heat are alike, and a split by rows"
    " would test the fit on heats that it knows"
)


def visible_group(frame: pd.DataFrame) -> str | None:
    """Return the column that seems to say which rows belong together.

    Examples
    --------
    >>> visible_group(pd.DataFrame({"heat_treatment": ["a", "b"], "Heat no.": [71, 72]}))
    'Heat no.'
    """
    lower = {c: re.sub(r"[^a-z]", "", str(c).lower()) for c in frame.columns}
    for word in _GROUPS:
        for column, name in lower.items():
            if not name.startswith(word) or any(w in name for w in _NO_GROUP):
                continue
            values = pd.to_numeric(frame[column], errors="coerce").dropna()
            if (values % 1 == 0).all() and frame[column].nunique() > 1:
                return column
    return None


def summary_rows(frame: pd.DataFrame) -> np.ndarray:
    """Tell which rows are no tests: 'mean', 'max' in the column of heats, or in the first one."""
    column = visible_group(frame) or frame.columns[0]
    words = frame[column].astype("string").str.strip(" .:()").str.lower()
    return words.isin(_SUMMARIES).to_numpy(dtype=bool, na_value=False)


def group_labels(
    frame: pd.DataFrame, groups: object, batch: pd.DataFrame, tested: np.ndarray, notes: list
) -> tuple[np.ndarray, str]:
    """Return the group of each row and the name of the grouping.

    Parameters
    ----------
    frame, batch : DataFrame, rows as in the table
    groups : name of a column, one label a row, or None
    tested : ndarray of bool
        Rows with a value of the target; only these need a group.
    notes : list of str, added to

    Raises
    ------
    InputError
        Where groups are visible and not named, or named so that heats are torn apart.
    """
    seen = visible_group(frame)
    if groups is None:
        if seen is not None and not frame.loc[tested, seen].is_unique:
            raise InputError("groups", _ALIKE, NOTHING, f'groups="{seen}"')
        if seen is None:
            notes.append("no column of heats: rows of the same analysis are taken for one heat")
            codes = batch.fillna(-1.0).groupby(list(batch.columns), sort=False).ngroup()
            return codes.astype(str).to_numpy(), "analysis"
        groups = seen
    if isinstance(groups, str):
        known_column(frame, groups, "groups")
        column, name = frame[groups], groups
    else:
        column, name = pd.Series(list(groups)), "groups"
        if len(column) != len(frame):
            raise InputError(
                "groups", f"a column, or one label for each of {len(frame)} rows",
                said(f"{len(column)} labels"),
            )  # fmt: skip
    nameless = column.isna().to_numpy() & tested
    if nameless.any():
        rows = ", ".join(map(str, frame.index[nameless][:5]))
        raise InputError(f"groups '{name}'", "known in every tested row", said(f"blank: {rows}"))
    labels = column.astype("string").str.strip().fillna("").to_numpy(dtype=str)
    if seen is not None and name != seen:
        _refuse_torn(labels[tested], frame.loc[tested, seen].astype(str), name, seen, notes)
    return labels, str(name)


def _refuse_torn(labels: np.ndarray, heats: pd.Series, name: str, seen: str, notes: list) -> None:
    """Refuse groups that part the rows of heats, and are finer than the heats."""
    parts = pd.Series(labels, index=heats.index).groupby(heats.to_numpy())
    torn = int((parts.nunique() > 1).sum())
    if not torn:
        return
    if len(np.unique(labels)) > heats.nunique():
        raise InputError(
            "groups", "whole heats: a split by rows tests the fit on heats that it knows",
            said(f"{torn} of {heats.nunique()} values of '{seen}' in more than one group"),
            f'groups="{seen}"',
        )  # fmt: skip
    notes.append(
        f"{torn} values of '{seen}' have tests in more than one '{name}': what is held out is in"
        " part known from the other groups"
    )
