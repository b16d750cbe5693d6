"""Cells of a workbook as they look on the screen."""

from __future__ import annotations

import re
import warnings
import zipfile
from collections.abc import Callable
from functools import cache, partial
from typing import BinaryIO

from gradekit.core.errors import InputError, said

__all__ = ["sheets_of"]

_MOST_UNPACKED = 100_000_000


def sheets_of(file: BinaryIO, source: str) -> dict[str, Callable[[], list[list]]]:
    """Return the sheets of an XLSX workbook by name, each a function that gives its rows.

    Row 0 is row 1 of the sheet. A cell is a text, number, date or None; a number shown as per
    cent is what it shows, and a zero shown with decimals is the text it shows.
    """
    import openpyxl

    try:
        with zipfile.ZipFile(file) as packed:
            unpacked = sum(item.file_size for item in packed.infolist())
        if unpacked > _MOST_UNPACKED:
            raise InputError(
                f"file '{source}'",
                f"at most {_MOST_UNPACKED / 1e6:g} MB when unpacked",
                said(f"{unpacked / 1e6:.0f} MB"),
            )
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(file, read_only=True)
            values = openpyxl.load_workbook(file, read_only=True, data_only=True)
    except InputError:
        raise
    except Exception as error:
        # openpyxl raises whatever its parsers raise on a damaged or foreign file.
        raise InputError(
            f"file '{source}'", "a whole XLSX workbook", said(f"{type(error).__name__}: {error}")
        ) from None
    sheets = {ws.title: cache(partial(_rows, ws, values[ws.title])) for ws in book.worksheets}
    if not sheets:
        raise InputError(f"file '{source}'", "a workbook with a sheet", said("none"))
    return sheets


def _rows(sheet, values) -> list[list]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        sheet.reset_dimensions()
        rows = [[_shown(cell) for cell in row] for row in sheet.iter_rows()]
        formulas = [
            (i, j)
            for i, row in enumerate(rows)
            for j, c in enumerate(row)
            if isinstance(c, _Formula)
        ]
        if formulas:
            values.reset_dimensions()
            computed = [[_shown(cell) for cell in row] for row in values.iter_rows()]
            for i, j in formulas:
                found = computed[i][j] if i < len(computed) and j < len(computed[i]) else None
                rows[i][j] = str(rows[i][j]) if found is None else found
    # Spreadsheets keep formatted but empty rows to the very end.
    while rows and all(cell is None for cell in rows[-1]):
        rows.pop()
    return rows


class _Formula(str):
    """A formula; where it was never computed it stays, and is refused as a number."""


def _shown(cell) -> object:
    value = cell.value
    if value is None:
        return None
    if cell.data_type == "f":
        return _Formula(getattr(value, "text", value))
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        shape = cell.number_format or ""
        if "%" in shape:
            return round(value * 100, 10)
        decimals = re.fullmatch(r"0[.](0+)", shape)
        if value == 0 and decimals:
            return f"0.{decimals[1]}"
        if isinstance(value, float) and value.is_integer():
            return int(value)
    return value
