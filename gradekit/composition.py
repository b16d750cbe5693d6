"""The border: whatever describes heats becomes one table of compositions.

A batch is a plain DataFrame: one row a heat, one column an element, wt%, float64. Iron is the
balance and is never stored. What does not fit a number travels along in `Notes`.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping

import numpy as np
import pandas as pd

from gradekit.cells import FAMILIAR, column_element, parse_cell, ppm_sized
from gradekit.elements import require_element
from gradekit.errors import NOTHING, InputError, said

__all__ = ["Notes", "about", "as_batch", "bounds", "messages", "with_notes"]

_KEY = "gradekit"
_NAME_COLUMNS = ("heat", "heat no", "heat number", "cast", "charge", "schmelze", "coulée", "name")
# Analyses carry rounding, so a sum may pass 100 by a little.
_MOST = 100.2


class Notes(dict):
    """What the border learnt beside the numbers; one shared record, never copied.

    Keys: `bounds` {element: {heat: text}}, `about` {column: {heat: value}}, `messages` [text],
    `source` text, `limits` {row label: {element: value}}.
    """

    def __deepcopy__(self, memo: dict) -> Notes:
        return self


def notes_of(batch: pd.DataFrame | pd.Series) -> Notes:
    """Return the notes of a batch; empty ones if it has none."""
    found = batch.attrs.get(_KEY)
    return found if isinstance(found, Notes) else Notes()


def with_notes(batch: pd.DataFrame, notes: Mapping) -> pd.DataFrame:
    """Attach notes to a batch and return it."""
    batch.attrs[_KEY] = Notes(notes)
    return batch


def bounds(batch: pd.DataFrame) -> pd.DataFrame:
    """Return what was reported as a bound instead of a number.

    Returns
    -------
    DataFrame, shape (heats, elements)
        The text as reported, such as '<0.005' or 'n.d.', and an empty text elsewhere. A bound
        '<x' stands in the batch as x, its upper end; 'n.d.', 'tr' and '-' stand as unknown.

    Examples
    --------
    >>> bounds(as_batch({"Cr": 18.1, "Nb": "<0.005"})).loc["heat 1", "Nb"]
    '<0.005'
    """
    table = pd.DataFrame("", index=batch.index, columns=batch.columns)
    for element, marks in notes_of(batch).get("bounds", {}).items():
        if element in table:
            table[element] = [str(marks.get(heat, "")) for heat in batch.index]
    return table


def about(batch: pd.DataFrame) -> pd.DataFrame:
    """Return the columns that came with the heats and are no analysis (grade, date, note).

    Examples
    --------
    >>> about(as_batch([{"heat": "H1", "grade": "TW-188", "Cr": 18.1}])).loc["H1", "grade"]
    'TW-188'
    """
    columns = notes_of(batch).get("about", {})
    return pd.DataFrame(
        {name: [values.get(heat) for heat in batch.index] for name, values in columns.items()},
        index=batch.index,
    )


def messages(batch: pd.DataFrame) -> list[str]:
    """Return in words what was understood on the way in (ppm, renamed heats, bounds)."""
    return list(notes_of(batch).get("messages", []))


def as_batch(source: object) -> pd.DataFrame:
    """Make one table of compositions of anything that describes heats.

    Parameters
    ----------
    source : dict, Series, list of dicts, DataFrame, path of a CSV or XLSX file
        Elements in wt%. A header 'N ppm' is read as ppm. Cells may be numbers or texts as
        certificates have them: '18,12', '<0.005', 'n.d.', '-', 'tr'.

    Returns
    -------
    DataFrame, shape (heats, elements), wt%, float64
        Unknown contents are NaN. `bounds`, `about` and `messages` tell the rest.

    Raises
    ------
    InputError
        Unknown element, text in a number, negative content, sum over 100 %.

    Examples
    --------
    >>> as_batch({"Cr": "18,1", "Ni": 8.05, "N": 480}).round(3).loc["heat 1"].to_dict()
    {'Cr': 18.1, 'Ni': 8.05, 'N': 0.048}
    """
    if isinstance(source, pd.DataFrame):
        if _is_clean(source):
            return _checked(source)
        return build_batch(source)
    if isinstance(source, pd.Series):
        name = "heat 1" if source.name is None else source.name
        if not all(isinstance(e, str) for e in source.index):
            raise InputError("index of the Series", "element symbols", list(source.index)[:3])
        row = source.to_frame().T if source.dtype == object else pd.DataFrame([source])
        row.index = [name]
        marks = notes_of(source)
        batch = as_batch(row)
        return with_notes(batch, marks) if marks and not notes_of(batch) else batch
    if isinstance(source, Mapping):
        return _from_records([source])
    if isinstance(source, (str, os.PathLike)):
        from gradekit.reading import read_heats

        return read_heats(source)
    if isinstance(source, Iterable):
        return _from_records(list(source))
    raise InputError("heats", "a dict, Series, list of dicts, DataFrame or path", source)


def _from_records(records: list) -> pd.DataFrame:
    if not records:
        raise InputError("heats", "at least one heat", NOTHING)
    for record in records:
        if not isinstance(record, Mapping):
            raise InputError("a heat in the list", "a dict of element to wt%", record)
    return build_batch(pd.DataFrame([dict(r) for r in records], dtype=object), strict=True)


def build_batch(
    table: pd.DataFrame, where: str = "", notes: Mapping | None = None, strict: bool = False
) -> pd.DataFrame:
    """Build a batch from a table whose cells may be anything a certificate holds.

    Parameters
    ----------
    table : DataFrame
        One row a heat; elements among the columns.
    where : str
        Prefix that places an error, such as "heats.csv, row {row}".
    notes : mapping, optional
        What is already known (source, messages).
    strict : bool
        Refuse every number whose name is no element, as fits a dict typed by hand.
    """
    notes = dict(notes or {})
    said_so: list[str] = list(notes.get("messages", []))
    heats = _heat_names(table, said_so)
    columns: dict[str, np.ndarray] = {}
    marks: dict[str, dict] = {}
    remarks: dict[str, dict] = {}
    for position, header in enumerate(table.columns):
        if _is_name_column(header):
            continue
        cells = table.iloc[:, position]
        found = column_element(header)
        if found is None:
            _refuse_near_element(header, cells, where, strict)
            remarks[str(header)] = dict(zip(heats, cells, strict=True))
            continue
        element, factor, note = found
        if note:
            said_so.append(f"column '{header}': {note}")
        if element == "Fe":
            continue
        if element in columns:
            raise InputError(f"{_place(where)}column of {element}", "there once", str(header))
        columns[element], bound = _numbers(cells, heats, element, factor, where, said_so)
        if bound:
            marks[element] = bound
    if not columns:
        raise InputError(
            f"{_place(where)}header", "element symbols such as C, Cr, Ni", list(table.columns)[:8]
        )
    batch = pd.DataFrame(columns, index=pd.Index(heats, name="heat"), dtype=float)
    notes |= {"messages": said_so, "bounds": marks, "about": remarks}
    return with_notes(_checked(batch, where), {k: v for k, v in notes.items() if v})


def _is_clean(table: pd.DataFrame) -> bool:
    from gradekit.elements import symbols

    return (
        all(dtype == np.float64 for dtype in table.dtypes)
        and table.index.is_unique
        and table.columns.is_unique
        and symbols().issuperset(table.columns)
        and "Fe" not in table.columns
        and not table.index.hasnans
    )


def _checked(batch: pd.DataFrame, where: str = "") -> pd.DataFrame:
    """Refuse negative contents and sums over 100 %; every border ends here."""
    if batch.empty:
        raise InputError("heats", "at least one heat and one element", NOTHING)
    values = batch.to_numpy()
    with np.errstate(invalid="ignore"):
        wrong = (values < 0) | (values > 100) | np.isinf(values)
    if wrong.any():
        row, column = np.argwhere(wrong)[0]
        raise InputError(
            f"{_place(where)}heat '{batch.index[row]}', {batch.columns[column]}",
            "between 0 and 100 wt%",
            float(values[row, column]),
        )
    total = np.nansum(values, axis=1)
    if (total > _MOST).any():
        row = int(np.argmax(total))
        raise InputError(
            f"{_place(where)}heat '{batch.index[row]}', sum of the contents",
            "at most 100 wt%",
            said(f"{total[row]:.2f} wt%"),
        )
    return batch


def _heat_names(table: pd.DataFrame, said_so: list[str]) -> list:
    column = next((p for p, h in enumerate(table.columns) if _is_name_column(h)), None)
    if column is not None:
        raw = list(table.iloc[:, column])
    elif isinstance(table.index, pd.RangeIndex):
        raw = [f"heat {i + 1}" for i in range(len(table))]
    else:
        raw = list(table.index)
    names, seen = [], set()
    for row, name in enumerate(raw, start=1):
        empty = name is None or (isinstance(name, float) and np.isnan(name))
        name = "" if empty else (name.strip() if isinstance(name, str) else name)
        if name == "":
            name = f"unnamed (row {row})"
            said_so.append(f"row {row} has no heat name: called '{name}'")
        original, number = name, 1
        while name in seen:
            number += 1
            name = f"{original} ({number})"
        if number > 1:
            said_so.append(f"heat '{original}' stands more than once: row {row} is called '{name}'")
        seen.add(name)
        names.append(name)
    return names


def _is_name_column(header: object) -> bool:
    return isinstance(header, str) and header.strip().rstrip(".").lower() in _NAME_COLUMNS


def _numbers(
    cells: pd.Series, heats: list, element: str, factor: float, where: str, said_so: list[str]
) -> tuple[np.ndarray, dict]:
    marks: dict = {}
    if cells.dtype == np.float64 or cells.dtype == np.int64:
        numbers = cells.to_numpy(dtype=float)
    else:
        numbers = np.empty(len(cells))
        for row, cell in enumerate(cells):
            try:
                numbers[row], mark = parse_cell(cell)
            except ValueError:
                raise InputError(
                    f"{_place(where.format(row=row + 1))}heat '{heats[row]}', column '{element}'",
                    "a number, a bound such as '<0.005', or 'n.d.'",
                    cell,
                ) from None
            if mark:
                marks[heats[row]] = mark
    numbers = numbers * factor
    if factor == 1.0:
        by_size = ppm_sized(element, numbers)
        if by_size.any():
            numbers = np.where(by_size, numbers * 1e-4, numbers)
            said_so.append(
                f"{element}: {int(by_size.sum())} value(s) of a size that only ppm can have, "
                "read as ppm"
            )
    return numbers, marks


def _refuse_near_element(header: object, cells: pd.Series, where: str, strict: bool) -> None:
    """A header that looks like a symbol, but is none, is a slip and must not vanish."""
    name = str(header).strip()
    if name.lower() in FAMILIAR or not name:
        return
    numeric = any(isinstance(c, (int, float, np.number)) and c == c for c in cells)
    if re.fullmatch(r"[A-Za-z]{1,2}", name) or (strict and numeric):
        require_element(name, f"{_place(where)}element")


def _place(where: str) -> str:
    return f"{re.sub(r',? ?row {row}', '', where)}, " if where else ""
