"""From one table of cells to a checked batch: names, numbers, bounds, and what is refused."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterable, Mapping
from functools import partial

import numpy as np
import pandas as pd

from gradekit.core.elements import require_element
from gradekit.core.errors import NOTHING, InputError, said
from gradekit.heats.certificates.cells import (
    FAMILIAR,
    Header,
    column_element,
    parse_cell,
    plain_text,
    ppm_sized,
    scaled,
)
from gradekit.heats.notes import with_notes

__all__ = ["build_batch", "checked", "is_name_column", "parse_column", "unique_names"]

_NO = r"(?:[\s./-]*(?:no|nr|n°|nº|num|number|nummer|id|#))?"
_NAME_COLUMN = re.compile(
    rf"(?:heat|cast|charge|charges|melt|schmelze?n?|coul[ée]e|colata|colada|name){_NO}\.?", re.I
)
_BALANCE = re.compile(r"|bal\.?|balance|rest|rem\.?|remainder|base", re.I)
# Analyses carry rounding, so a sum may pass 100 by a little.
_MOST = 100.2
# The same remark on many rows is counted, not repeated.
_REPEATS = 5
Place = Callable[[int | None, int | None], str]


def build_batch(
    table: pd.DataFrame,
    place: Place | None = None,
    notes: Mapping | None = None,
    strict: bool = False,
) -> pd.DataFrame:
    """Build a batch from a table whose cells may be anything a certificate holds.

    Parameters
    ----------
    table : DataFrame
        One row a heat; elements among the columns.
    place : callable, optional
        Says where position (row, column) of the table is found, such as 'x.csv, row 5, column F, '.
    notes : mapping, optional
        What is already known (source, messages, bounds of the same heats).
    strict : bool
        Refuse every number whose name is no element, as fits a dict typed by hand.
    """
    place = place or (lambda row, column: "")
    notes = dict(notes or {})
    said_so: list[str] = list(notes.get("messages", []))
    name_column = next((p for p, h in enumerate(table.columns) if is_name_column(h)), None)
    heats = _heat_names(table, name_column, place, said_so)
    contents: dict[str, np.ndarray] = {}
    positions: dict[str, int] = {}
    marks: dict[str, dict] = {}
    remarks: dict[str, dict] = {}
    for position, name in enumerate(table.columns):
        if position == name_column:
            continue
        cells = table.iloc[:, position]
        header = column_element(name)
        if header is None:
            _refuse_near_element(name, cells, place(None, position), strict)
            told = dict(zip(heats, map(plain_text, cells), strict=True))
            if any(value is not None for value in told.values()):
                remarks[str(name)] = told
            continue
        if header.remark and (said_now := f"column '{name}': {header.remark}") not in said_so:
            said_so.append(said_now)
        at = partial(_at, place, position, heats, header.element)
        if header.element == "Fe":
            _require_balance(cells, at)
            continue
        if header.element in contents:
            raise InputError(
                f"{place(None, position)}column of {header.element}", "there once", str(name)
            )
        numbers, bound = parse_column(cells, header, at, said_so)
        contents[header.element], positions[header.element] = numbers, position
        if bound:
            marks[header.element] = {heats[row]: text for row, text in bound.items()}
    if not contents:
        raise InputError(
            f"{place(None, None)}header",
            "element symbols such as C, Cr, Ni",
            list(map(str, table.columns))[:8] or NOTHING,
        )
    batch = pd.DataFrame(contents, index=pd.Index(heats, name="heat"), dtype=float)
    for element, known in notes.get("bounds", {}).items():
        if element in contents:
            marks[element] = dict(known) | marks.get(element, {})
    notes |= {"bounds": marks, "about": dict(notes.get("about", {})) | remarks}
    notes["messages"] = said_so
    checked(batch, lambda row, e: place(row, positions.get(e)))
    return with_notes(batch, {k: v for k, v in notes.items() if v})


def parse_column(
    cells: Iterable, header: Header, at: Callable[[int], str], said_so: list[str]
) -> tuple[np.ndarray, dict[int, str]]:
    """Return the contents of one column in wt%, and the marks of its bounds by row."""
    marks: dict[int, str] = {}
    if isinstance(cells, pd.Series) and cells.dtype in (np.float64, np.int64):
        numbers = scaled(cells.to_numpy(dtype=float), header.factor)
    else:
        numbers = np.empty(len(cells))
        known: dict[str, tuple[float, str]] = {}
        for row, cell in enumerate(cells):
            found = known.get(cell) if isinstance(cell, str) else None
            if found is None:
                try:
                    found = parse_cell(cell, header.factor)
                except ValueError:
                    expected = "a number, a bound such as '<0.005', or 'n.d.'"
                    raise InputError(at(row), expected, cell, _hint(cell)) from None
                if isinstance(cell, str):
                    known[cell] = found
            numbers[row] = found[0]
            if found[1]:
                marks[row] = found[1]
    if not header.stated:
        by_size = np.flatnonzero(ppm_sized(header.element, numbers))
        if len(by_size):
            numbers = numbers.copy()
            numbers[by_size] = scaled(numbers[by_size], 1e-4)
            for row in by_size:
                if row in marks:
                    marks[row] = parse_cell(marks[row], 1e-4)[1]
            values = "value" if len(by_size) == 1 else "values"
            said_so.append(
                f"{header.element}: {len(by_size)} {values} of a size that only ppm can have, "
                "read as ppm"
            )
    elif header.factor == 1e-4 and header.element in ("C", "N", "S"):
        small = int(np.sum((numbers > 0) & (numbers < 1e-4)))
        if small:
            values = "value lies" if small == 1 else "values lie"
            said_so.append(
                f"{header.element}: {small} {values} below 1 ppm in a column of ppm; if per cent "
                "is meant, correct the file"
            )
    return numbers, marks


def _hint(cell: object) -> str | None:
    if isinstance(cell, dt.date):
        return "a spreadsheet has made a date of the number: format the cell as text"
    if isinstance(cell, str) and cell.startswith("="):
        return "a formula that was never computed: open and save the file in a spreadsheet"
    return None


def is_name_column(header: object) -> bool:
    """Tell whether a column holds the names of the heats."""
    return isinstance(header, str) and bool(_NAME_COLUMN.fullmatch(header.strip()))


def checked(batch: pd.DataFrame, place: Place | None = None) -> pd.DataFrame:
    """Refuse negative contents and sums over 100 %; every border ends here."""
    place = place or (lambda row, element: "")
    if batch.empty:
        raise InputError(f"{place(None, None)}heats", "at least one heat and one element", NOTHING)
    values = batch.to_numpy()
    lowest, highest = np.fmin.reduce(values, axis=0), np.fmax.reduce(values, axis=0)
    if np.isnan(highest).all():
        raise InputError(f"{place(None, None)}heats", "at least one content reported", NOTHING)
    if not (np.nanmin(lowest) >= 0 and np.nanmax(highest) <= 100):
        wrong = (values < 0) | (values > 100)
        row, column = np.argwhere(wrong)[0]
        element = batch.columns[column]
        raise InputError(
            f"{place(row, element)}heat '{batch.index[row]}', {element}",
            "between 0 and 100 wt%",
            float(values[row, column]),
            f"for a figure in ppm, '{element} ppm'" if values[row, column] > 100 else None,
        )
    total = values.sum(axis=1)
    holes = np.isnan(total)
    if holes.any():
        total[holes] = np.nansum(values[holes], axis=1)
    if total.max() > _MOST:
        row = int(np.argmax(total))
        raise InputError(
            f"{place(row, None)}heat '{batch.index[row]}', sum of the contents",
            "at most 100 wt%",
            said(f"{total[row]:.2f} wt%"),
        )
    return batch


def _heat_names(table: pd.DataFrame, column: int | None, place: Place, said_so: list[str]) -> list:
    if column is not None:
        raw = list(table.iloc[:, column])
    elif isinstance(table.index, pd.RangeIndex):
        raw = [f"heat {i + 1}" for i in range(len(table))]
    else:
        raw = list(table.index)
    return unique_names(raw, lambda row: place(row, None) or f"row {row + 1}: ", said_so)


def unique_names(raw: list, at: Callable[[int], str], said_so: list[str]) -> list:
    """Return a name for every heat, none empty and none twice; what was changed is said."""
    names, seen, unnamed, again = [], {}, [], []
    for row, name in enumerate(raw):
        name = plain_text(name)
        if name is None:
            name = f"unnamed {len(unnamed) + 1}"
            unnamed.append(f"{at(row)}no heat name: called '{name}'")
        original = name
        while name in seen:
            seen[original] += 1
            name = f"{original} ({seen[original]})"
        if name != original:
            again.append(f"{at(row)}heat '{original}' stands there again: called '{name}'")
        seen[name] = 1
        names.append(name)
    for remarks in (unnamed, again):
        said_so += remarks[:_REPEATS]
        if len(remarks) > _REPEATS:
            said_so.append(f"… and so in {len(remarks) - _REPEATS} more rows")
    return names


def _at(place: Place, position: int, heats: list, element: str, row: int) -> str:
    return f"{place(row, position)}heat '{heats[row]}', {element}"


def _require_balance(cells: Iterable, at: Callable[[int], str]) -> None:
    """Iron is computed and never read; but what stands there must be iron or 'balance'."""
    for row, cell in enumerate(cells):
        if isinstance(cell, str) and _BALANCE.fullmatch(cell.strip()):
            continue
        try:
            parse_cell(cell)
        except ValueError:
            raise InputError(at(row), "a number or 'balance'", cell) from None


def _refuse_near_element(header: object, cells: pd.Series, where: str, strict: bool) -> None:
    """A header that looks like a symbol, but is none, is a slip and must not vanish."""
    name = str(header).strip()
    if name.lower() in FAMILIAR or not name:
        return
    numeric = any(isinstance(c, (int, float, np.number)) and c == c for c in cells)
    if re.fullmatch(r"[A-Za-z]{1,2}", name) or (strict and numeric):
        require_element(name, f"{where}element")
