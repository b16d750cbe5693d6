"""The border: whatever describes heats becomes one table of compositions.

A batch is a plain DataFrame: one row a heat, one column an element, wt%, float64. Iron is the
balance and is never stored. What does not fit a number travels along in `Notes`.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from typing import IO, cast

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike, Label, PathLike
from gradekit.core.elements import symbols
from gradekit.core.errors import NOTHING, InputError, said
from gradekit.heats.certificates.building import build_batch, checked
from gradekit.heats.certificates.cells import is_clean, with_clean_keys
from gradekit.heats.certificates.headers import column_element
from gradekit.heats.certificates.joining import join_batches
from gradekit.heats.notes import notes_of


def as_batch(source: HeatsLike) -> pd.DataFrame:
    """Make one table of compositions of anything that describes heats.

    Parameters
    ----------
    source : dict, Series, list of dicts, dict of dicts, DataFrame, path or pasted text
        Elements in wt%. A header 'N ppm' is read as ppm. Cells may be numbers or texts as
        certificates have them: '18,12', '<0.005', 'n.d.', '-', 'tr'. A list of batches is joined
        to one with the bounds and messages of each; `pandas.concat` joins the numbers alone.

    Returns
    -------
    DataFrame, shape (heats, elements), wt%, float64
        Unknown contents are NaN. `bounds`, `about` and `messages` tell the rest. A DataFrame that
        is a batch already is returned itself, and its numbers are taken at their word.

    Raises
    ------
    InputError
        Unknown element, text in a number, negative content, sum over 100 %, nothing reported.

    Examples
    --------
    >>> as_batch({"Cr": "18,1", "Ni": 8.05, "N": 480}).loc["heat 1"].to_dict()
    {'Cr': 18.1, 'Ni': 8.05, 'N': 0.048}
    """
    if isinstance(source, pd.DataFrame):
        if _is_batch(source):
            return checked(source)
        return build_batch(source, notes=notes_of(source))
    if isinstance(source, pd.Series):
        return _from_series(source)
    if isinstance(source, Mapping):
        return _from_mapping(source)
    if isinstance(source, (str, bytes, os.PathLike)) or hasattr(source, "read"):
        from gradekit.heats.reading import read_heats

        return read_heats(cast("PathLike | bytes | IO[bytes]", source))
    if isinstance(source, np.ndarray):
        named = "pd.DataFrame(array, columns=['C', 'Cr', 'Ni'])"
        raise InputError("heats", "a table with element symbols", "an array without names", named)
    if isinstance(source, Iterable):
        return _from_records(list(source))
    raise InputError("heats", "a dict, Series, list of dicts, DataFrame or path", source)


def one_heat(heat: HeatsLike, what: str = "heat") -> pd.DataFrame:
    """Return what `as_batch` gives of a single heat; several are refused, `what` being its name.

    Examples
    --------
    >>> one_heat({"Cr": 18.2, "Ni": 8.1}).shape
    (1, 2)
    """
    batch = as_batch(heat)
    if len(batch) != 1:
        raise InputError(what, "one heat", said(f"{len(batch)} heats"))
    return batch


def _from_series(row: pd.Series) -> pd.DataFrame:
    if not all(isinstance(e, str) for e in row.index):
        raise InputError("index of the Series", "element symbols", list(row.index)[:3])
    if not row.index.is_unique:
        twice = row.index[row.index.duplicated()][0]
        raise InputError("index of the Series", "each element once", twice)
    if not any(column_element(e) for e in row.index):
        raise InputError(
            "index of the Series",
            "element symbols, as in one row of a batch",
            list(row.index)[:3],
            "for a column, heats[['Cr']]",
        )
    name = "heat 1" if row.name is None else row.name
    table = row.to_frame(name).T
    table.attrs = row.attrs
    return as_batch(table)


def _from_mapping(source: Mapping) -> pd.DataFrame:
    values = list(source.values())
    if values and all(isinstance(v, (Mapping, pd.Series)) for v in values):
        return _from_records([{"heat": name, **dict(v)} for name, v in source.items()])
    if any(isinstance(v, (list, tuple, np.ndarray, pd.Series)) for v in values):
        try:
            return as_batch(pd.DataFrame(dict(source)))
        except ValueError as error:
            if isinstance(error, InputError):
                raise
            raise InputError("heats", "columns of one length", said(str(error))) from None
    return _from_records([source])


def _from_records(records: list) -> pd.DataFrame:
    if not records:
        raise InputError("heats", "at least one heat", NOTHING)
    # A row of a batch brings the notes of all of it.
    noted = {id(n): n for r in records if isinstance(r, pd.Series) and (n := notes_of(r))}
    if len(noted) > 1 or any(isinstance(r, pd.DataFrame) for r in records):
        return join_batches([as_batch(record) for record in records])
    rows = []
    for record in records:
        if isinstance(record, pd.Series):
            record = {**({} if record.name is None else {"heat": record.name}), **record}
        if not isinstance(record, Mapping):
            raise InputError("a heat in the list", "a dict of element to wt%", record)
        rows.append(with_clean_keys(record))
    notes = next(iter(noted.values()), None)
    return build_batch(pd.DataFrame(rows, dtype=object), notes=notes, strict=True)


def _is_batch(table: pd.DataFrame) -> bool:
    """Tell whether a table is a batch already; a content over 100 is a slip, or ppm."""
    return (
        table.index.nlevels == 1
        and all(dtype == np.float64 for dtype in table.dtypes)
        and table.index.is_unique
        and table.columns.is_unique
        and symbols().issuperset(table.columns)
        and "Fe" not in table.columns
        and not table.index.hasnans
        and "" not in table.index
        and all(map(_is_name, table.index))
        and not np.fmax.reduce(table.to_numpy(), axis=None, initial=0.0) > 100
    )


def _is_name(label: Label) -> bool:
    """Tell whether a label can be kept as it is: every file holds it, and it is one thing."""
    return is_clean(label) if type(label) is str else not isinstance(label, (bool, tuple))
