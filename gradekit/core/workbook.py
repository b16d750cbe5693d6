"""Cells of a workbook as they look on the screen."""

from __future__ import annotations

import re
import warnings
import zipfile
from collections.abc import Callable
from functools import cache, partial
from typing import Any, BinaryIO

from gradekit.core.aliases import Cell
from gradekit.core.errors import InputError, said
from gradekit.core.reader import MOST_COLUMNS, MOST_ROWS, cell_at

MOST_UNPACKED = 100_000_000
#: Rows times columns of a sheet: what is read of it in a few seconds.
_MOST_AREA = 2_000_000
_CELL = re.compile(rb'<(?:\w+:)?(?:row|c)\b[^>]*?\sr="([A-Za-z]*)(\d+)"')
_MERGED = re.compile(
    rb'<(?:\w+:)?mergeCell\b[^>]*?\sref="([A-Z]{1,3})(\d{1,7}):([A-Z]{1,3})(\d{1,7})"'
)
# A unit or a sign of a bound that the number format puts beside the number.
_BESIDE = re.compile(r"[%‰<≤>]|pp[mb]|\w\s?/\s?k?[gt]\b", re.I)


class Merged(str):
    """A copy of the one text of several cells that were merged."""


def sheets_of(file: BinaryIO, source: str) -> dict[str, Callable[[], list[list]]]:
    """Return the sheets of an XLSX workbook by name, each a function that gives its rows.

    Row 0 is row 1 of the sheet. A cell is a text, number, date or None; a number is what its
    format shows: per cent, with a unit or a sign of a bound beside it, or a zero with decimals.

    Raises
    ------
    InputError
        No whole workbook, or one that would fill the memory.
    """
    import openpyxl

    try:
        with zipfile.ZipFile(file) as packed:
            items = packed.infolist()
            _refuse_other({item.filename for item in items}, source)
            unpacked = sum(item.file_size for item in items)
            if unpacked > MOST_UNPACKED:
                raise InputError(
                    f"file '{source}'",
                    f"at most {MOST_UNPACKED / 1e6:g} MB when unpacked",
                    said(f"{unpacked / 1e6:.0f} MB"),
                )
            merged = {}
            for item in items:
                if re.fullmatch(r"/?xl/worksheets/[^/]*\.xml", item.filename, re.I):
                    merged[item.filename.strip("/")] = _measured(packed.read(item), source)
        with warnings.catch_warnings(action="ignore"):
            book = openpyxl.load_workbook(file, read_only=True)
    except InputError:
        raise
    except Exception as error:
        # openpyxl raises whatever its parsers raise on a damaged or foreign file.
        raise InputError(
            f"file '{source}'", "a whole XLSX workbook", said(f"{type(error).__name__}: {error}")
        ) from None

    @cache
    def values():
        with warnings.catch_warnings(action="ignore"):
            return openpyxl.load_workbook(file, read_only=True, data_only=True)

    sheets: dict[str, Callable[[], list[list[Any]]]] = {
        ws.title: cache(
            partial(_rows, ws, values, merged.get(str(ws._worksheet_path).strip("/"), []), source)
        )
        for ws in book.worksheets
    }
    if not sheets:
        raise InputError(f"file '{source}'", "a workbook with a sheet", said("none"))
    return sheets


def _refuse_other(names: set[str], source: str) -> None:
    """Refuse what is packed like a workbook and is none."""
    if "[Content_Types].xml" in names and any(n.startswith("xl/") for n in names):
        if "xl/workbook.bin" not in names:
            return
        what = "a binary workbook .xlsb"
    elif "content.xml" in names:
        what = "an OpenDocument file such as .ods"
    else:
        what = "a packed folder (unpack it first)"
    open_it = "open it in a spreadsheet and save it as .xlsx"
    raise InputError(f"file '{source}'", "an XLSX workbook", said(what), open_it)


def _measured(xml: bytes, source: str) -> list[tuple[int, int, int, int]]:
    """Refuse a sheet that is too large; return its merged areas (first row, column, last ...)."""
    rows = columns = 0
    for cell in _CELL.finditer(xml):
        rows = max(rows, int(cell[2][:12]))
        if cell[1]:
            columns = max(columns, _position(cell[1].upper()[:8]) + 1)
    if rows > MOST_ROWS or columns > MOST_COLUMNS:
        most = f"at most {MOST_ROWS} rows and {MOST_COLUMNS} columns, as a sheet has"
        raise InputError(f"file '{source}'", most, said(f"row {rows}, column {columns}"))
    area = rows * columns
    if area > _MOST_AREA:
        raise InputError(
            f"a sheet of '{source}'",
            f"at most {_MOST_AREA:,} cells, empty ones counted",
            said(f"{rows:,} rows and {columns:,} columns"),
            "a sheet without far cells that only carry a format, or a CSV file",
        )
    return [
        (int(m[2]) - 1, _position(m[1]), int(m[4]) - 1, _position(m[3]))
        for m in _MERGED.finditer(xml)
    ]


def _position(name: bytes) -> int:
    number = 0
    for sign in name:
        number = number * 26 + sign - 64
    return number - 1


def _rows(sheet, values: Callable, merged: list[tuple], source: str) -> list[list]:
    try:
        with warnings.catch_warnings(action="ignore"):
            rows = _cells(sheet)
            if any(isinstance(cell, _Formula) for row in rows for cell in row):
                computed = _cells(values()[sheet.title])
                for i, row in enumerate(rows):
                    for j, cell in enumerate(row):
                        if isinstance(cell, _Formula):
                            value = cell_at(computed[i], j) if i < len(computed) else None
                            row[j] = str(cell) if value is None else value
    except Exception as error:
        # A sheet is parsed as it is walked, and its faults come then.
        raise InputError(
            f"file '{source}', sheet '{sheet.title}'",
            "a whole sheet",
            said(f"{type(error).__name__}: {error}"[:100]),
        ) from None
    # Spreadsheets keep formatted but empty rows and cells to the very end.
    for row in rows:
        while row and row[-1] is None:
            row.pop()
    while rows and not rows[-1]:
        rows.pop()
    for top, left, bottom, right in merged[:10_000]:
        if top < len(rows) and left < len(rows[top]) and isinstance(rows[top][left], str):
            text = Merged(rows[top][left])
            for row in rows[top : bottom + 1]:
                last = min(right + 1, left + 1000)
                row += [None] * (last - len(row))
                for j in range(left, last):
                    row[j] = text if row[j] is None else row[j]
    return rows


def _cells(sheet) -> list[list]:
    sheet.reset_dimensions()
    return [[_shown(cell) for cell in row] for row in sheet.iter_rows()]


class _Formula(str):
    """A formula; where it was never computed it stays, and is refused as a number."""


def _shown(cell) -> Cell:
    value = cell.value
    if value is None:
        return None
    if cell.data_type == "f":
        return _Formula(getattr(value, "text", value))
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        shape = (cell.number_format or "").split(";")[0]
        beside = _BESIDE.findall("".join(_literals(shape)))
        if "%" in re.sub(r'"[^"]*"|\\.', "", shape):
            return round(value * 100, 10)
        if beside:
            before = beside[0] in "<≤>"
            return (
                f"{beside[0]}{value!r}"
                if before
                else f"{value!r} {' '.join(_literals(shape)).strip()}"
            )
        decimals = re.fullmatch(r"0[.](0+)", shape)
        if value == 0 and decimals:
            return f"0.{decimals[1]}"
        if isinstance(value, float) and value.is_integer():
            return int(value)
    return value


def _literals(shape: str) -> list[str]:
    """Return the texts that a number format prints as they are."""
    return [(a or b).strip() for a, b in re.findall(r'"([^"]*)"|\\(.)', shape)]
