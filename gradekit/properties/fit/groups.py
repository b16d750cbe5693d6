"""Which rows belong together, so that no heat is both learnt from and asked about."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from typing import cast

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, Label
from gradekit.core.errors import NOTHING, InputError, said
from gradekit.properties.fit.source import known_column
from gradekit.standards.guard import laboratory_sd

# The words of a header, without accents, by what they group: a heat before its pieces.
_HEATS = "heat|melt|charge|cast|schmelze|coulee|colata|colada"
_PIECES = "batch|batche|lot|los|coil|bund|bobine|specimenset|sampleset|testset"
_HOUSES = (
    "laboratory|laboratorie|laboratorium|laboratoire|lab|labor|publication|paper|source|work|werk"
    "|mill|usine|producer"
)
_FEW = 5  # houses fewer than these cannot be held out whole
_NO_GROUP = re.compile(
    "treat|date|weight|rate|input|temp|time|size|thick|width|length|speed|position|affected|tint"
    "|specific|capacity|condition|type|kind|practice|route|finish|grit|wrought|state"
    r"|\bproduct\b|\bas\b|\bend\b|\bside\b|\bform\b|\bloss"
)
_SUMMARIES = frozenset(
    "mean average avg median mittel mittelwert sd std stdev stddev min max minimum maximum count"
    " sum total range aim".split()
)
_ALIKE = (
    "the column whose rows belong together: tests of one heat are alike, and a split by rows"
    " would test the fit on heats that it knows"
)
_REPEAT = 2.8  # sqrt(2) x 1.96: two analyses of one heat differ by less in 95 of 100 cases
_OTHER = 0.05  # of the mean content, where no standard deviation of an analysis is known


def visible_group(frame: pd.DataFrame) -> str | None:
    """Return the column that seems to say which rows belong together.

    A heat under any of its names comes before its pieces (coil, lot), these before laboratories,
    works and publications, which need five values at least.

    Examples
    --------
    >>> visible_group(pd.DataFrame({"heat_treatment": ["a", "b"], "Heat no.": [71, 72]}))
    'Heat no.'
    >>> visible_group(pd.DataFrame({"Werk": ["a", "b"], "N° de coulée": [71, 72]}))
    'N° de coulée'
    """
    headers = {column: _plain(column) for column in frame.columns}
    for names, least in ((_HEATS, 2), (_PIECES, 2), (_HOUSES, _FEW)):
        for name in names.split("|"):
            for column, words in headers.items():
                if not _says(words, name):
                    continue
                values = pd.to_numeric(frame[column], errors="coerce").dropna()
                if (values % 1 == 0).all() and frame[column].nunique() >= least:
                    return column
    return None


def _says(words: str, names: str) -> bool:
    """Tell whether a header names one of several groups: 'cast no', 'Nr der Schmelze', 'HeatID'."""
    one = re.compile(rf"\b({names})(s|n|en)?(no|nr|num|number|nummer|id|code|name)?\b")
    match = one.search(words) or one.match(words.replace(" ", ""))
    return bool(match) and not _NO_GROUP.search(words)


def _plain(header: Label) -> str:
    """Return the words of a header in small letters, without accents, digits and signs."""
    text = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", str(header))
    text = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower()
    return " ".join(re.findall("[a-z]+", text))


def like_analyses(batch: pd.DataFrame) -> tuple[np.ndarray, str]:
    """Return the same number for rows that may be one heat, and in words what counts as alike.

    Two rows are alike where every content differs by no more than two analyses of one heat do;
    what is like the same row is one heat. A content known in only one of the rows parts them.

    Examples
    --------
    >>> heats = pd.DataFrame({"Cr": [18.1, 18.15, 17.0], "N": [0.05, 0.051, 0.05]})
    >>> like_analyses(heats)[0].tolist()
    [0, 0, 1]
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    table = laboratory_sd()
    middle = table[["low", "high"]].mean(axis=1)
    off = {}
    for element in batch:
        mean = batch[element].mean()
        known = middle[(table["element"] == element) & (table["above_wt_pct"] <= mean)]
        off[element] = _REPEAT * known.iloc[-1] if len(known) else max(_OTHER * mean, 1e-6)
    scaled = (batch / pd.Series(off)).fillna(-1e3).to_numpy()
    rows, at = np.unique(scaled, axis=0, return_inverse=True)
    near = cKDTree(rows).query_pairs(1 + 1e-9, p=np.inf, output_type="ndarray")
    links = coo_array((np.ones(len(near)), near.T), shape=(len(rows), len(rows)))
    heats = connected_components(links, directed=False)[1][at.reshape(-1)]
    reach = ", ".join(f"{e} {v:.2g}" for e, v in off.items() if np.isfinite(v))
    return pd.factorize(heats)[
        0
    ], f"every content within what two analyses of a heat differ by (wt%: {reach})"


def summary_rows(frame: pd.DataFrame) -> np.ndarray:
    """Tell which rows are no tests: 'mean', 'max' in the column of heats, or in the first one."""
    column = visible_group(frame) or frame.columns[0]
    words = frame[column].astype("string").str.strip(" .:()").str.lower()
    return words.isin(_SUMMARIES).to_numpy(dtype=bool, na_value=False)


def group_labels(
    frame: pd.DataFrame, groups: Given, batch: pd.DataFrame, tested: np.ndarray, notes: list
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
            heats, alike = like_analyses(batch)
            count, analyses = len(np.unique(heats[tested])), len(batch[tested].drop_duplicates())
            notes.append(
                f"no column of heats: {tested.sum()} rows of {analyses} analyses are taken for"
                f" {count} heats, {alike}, of typical laboratories, from trade memory"
            )
            return heats.astype(str), "analysis"
        groups = seen
    if isinstance(groups, str):
        known_column(frame, groups, "groups")
        column, name = frame[groups], groups
    else:
        column, name = pd.Series(list(cast(Sequence, groups))), "groups"
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
    if not _says(_plain(name), _HEATS):
        heats, _ = like_analyses(batch)
        own = pd.Series(labels[tested])
        shared = own[own.groupby(heats[tested]).transform("nunique") > 1]
        if alike := shared.nunique():
            notes.append(
                f"{alike} values of '{name}' have an analysis like that of another one: if they are"
                " pieces of one heat, what is held out is known; name the heat instead"
            )
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
