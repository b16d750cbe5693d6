"""The table of tests as it stands in a file: which sheet, titles above, units under the header."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd

from gradekit.core.aliases import Cell, Label, TableLike
from gradekit.core.errors import InputError, nearest, one_of, said
from gradekit.core.usertable import UserTable, sheets_of_file
from gradekit.heats.certificates.headers import column_element
from gradekit.heats.certificates.units import unit_factor

_BOOKS = (".xlsx", ".xlsm")
_TEXTS = (".csv", ".tsv", ".txt")


def table_of(source: TableLike, target: str) -> pd.DataFrame:
    """Return the table with a header row that names the target, blank cells as None.

    Parameters
    ----------
    source : DataFrame, or path of a CSV or XLSX file
        Titles may stand above the header, and units in the row below it.
    target : str
        Column by which the header is known.

    Returns
    -------
    DataFrame
        Of a file, the index counts rows as a spreadsheet does.

    Raises
    ------
    InputError
        No such file or column, or two columns of one name.
    """
    if isinstance(source, pd.DataFrame):
        frame = source.reset_index() if source.index.name else source.copy()
    elif isinstance(source, (str, os.PathLike)):
        frame = _of_file(Path(source), target)
    else:
        raise InputError("table of tests", "a DataFrame, or a CSV or XLSX file", source)
    if not frame.columns.is_unique:
        twice = frame.columns[frame.columns.duplicated()][0]
        raise InputError("columns of the table", "named once each", said(f"'{twice}' twice"))
    known_column(frame, target, "target")
    text = frame.select_dtypes(exclude="number")
    blank = text.apply(lambda c: c.astype("string").str.strip().eq("").fillna(True))
    frame[text.columns] = text.mask(blank.astype(bool), None)
    return frame


def _of_file(path: Path, target: str) -> pd.DataFrame:
    if path.suffix.lower() not in (*_BOOKS, *_TEXTS):
        raise InputError("table of tests", "a CSV or XLSX file", path.name)

    def named(row: Sequence) -> int:
        return sum(_text(c) == target or column_element(c) is not None for c in row)

    _, sheets = sheets_of_file(path, "table of tests", named, [])
    # A title may name the target too: the header is where most elements stand beside it.
    heads = [
        (sum(column_element(c) is not None for c in row), rows, at)
        for rows in sheets
        for at, row in enumerate(rows)
        if target in map(_text, row)
    ]
    if heads:
        _, rows, at = max(heads, key=lambda head: head[0])
        return _framed(rows, at)
    cells = {_text(c) for rows in sheets for row in rows[:50] for c in row if isinstance(c, str)}
    raise InputError("target", "a column of the table", target, nearest(target, cells))


def _framed(rows: Sequence[Sequence], at: int) -> pd.DataFrame:
    header = [_text(cell) for cell in rows[at]]
    while header and not header[-1]:
        header.pop()
    header = [name or f"column {k + 1}" for k, name in enumerate(header)]
    body = {
        at + 2 + k: [*row[: len(header)], *[None] * (len(header) - len(row))]
        for k, row in enumerate(rows[at + 1 :])
        if any(map(_text, row)) and not _text(row[0]).startswith("#")
    }
    first = next(iter(body), None)
    if first is not None and _is_units(body[first]):
        units = map(_text, body.pop(first))
        header = [
            f"{name} {unit}" if column_element(name) and unit_factor(unit) else name
            for name, unit in zip(header, units, strict=True)
        ]
    return pd.DataFrame(list(body.values()), index=list(body), columns=header, dtype=object)


def _is_units(row: Sequence) -> bool:
    """Tell whether a row under the header has units and no number."""
    cells = [_text(c) for c in row if _text(c)]
    return any(unit_factor(c) for c in cells) and not any(c[:1].isdigit() for c in cells)


def _text(cell: Cell) -> str:
    return "" if cell is None else str(cell).strip()


def known_column(frame: pd.DataFrame, name: Label, what: str) -> None:
    """Refuse a column that the table has not."""
    one_of(what, name, frame.columns, "a column of the table")


def numbers(column: pd.Series, name: str, unit: str = "") -> np.ndarray:
    """Return a column as numbers, blank cells as NaN; its own unit may stand behind a number.

    Raises
    ------
    InputError
        With the row, for text and bounds: '> 300' is no measured value.
    """
    if pd.api.types.is_numeric_dtype(column):
        return column.to_numpy(dtype=float)
    return UserTable(column.to_frame(name), f"column '{name}'").numbers(name, unit=unit)
