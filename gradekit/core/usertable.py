"""A table that a user keeps, known by the names of its columns: prices, plant, recoveries, tests.

Whatever it is written in (CSV with any separator and encoding, XLSX, DataFrame) comes as the same
columns, and what is refused is refused with file, row and column.
"""

from __future__ import annotations

import difflib
import io
import os
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from gradekit.core.aliases import Cell, PathLike
from gradekit.core.errors import NOTHING, InputError, nearest, said
from gradekit.core.numbers import TwoWays, column_sign, decided, doubtful, number_of
from gradekit.core.reader import (
    FileLine,
    blank,
    content_of,
    decoded,
    letters,
    no_table,
    split_lines,
)

_BLANK = frozenset({"", "-", "–", "n.d.", "nd", "n/a", "na", "nan", "none", "null"})
_BOOKS = (".xlsx", ".xlsm")
_DELIMITERS = (",", ";", "\t", "|")
_LOOK = 60
#: So near to a column that is read, a name is a slip of it.
_SLIP = 0.82


def is_blank(cell: Cell) -> bool:
    """Tell whether a cell says nothing.

    Examples
    --------
    >>> is_blank(" - "), is_blank(float("nan")), is_blank("0")
    (True, True, False)
    """
    return blank(cell) or (isinstance(cell, str) and cell.strip().lower() in _BLANK)


def read_number(cell: Cell, what: str, must_be: str, sign: str = "", most: float = np.inf) -> float:
    """Return the number in a cell or box, or refuse it in words.

    Parameters
    ----------
    cell : str or number
    what : str
        The place, for the message.
    must_be : str
        What would be accepted.
    sign : {'', '.', ','}
        Decimal sign of the column or file, for a number that can be read two ways.
    most : float
        No reading above it is possible.

    Examples
    --------
    >>> read_number("18,1", "Cr", "a number")
    18.1
    >>> read_number("1,700", "N", "a number")
    Traceback (most recent call last):
    gradekit.InputError: N · must be a number that can be read one way only · got '1,700' · \
nearest 1.7 or 1700
    """
    if isinstance(cell, (int, float, np.number)) and not isinstance(cell, (bool, np.bool_)):
        try:
            return float(cell)
        except OverflowError:
            raise InputError(what, must_be, said(f"{cell!s:.20}…")) from None
    if isinstance(cell, str):
        try:
            return number_of(cell, sign, most)
        except TwoWays as two:
            one = must_be.replace("a number", "a number that can be read one way only", 1)
            raise InputError(what, one, cell, two.readings) from None
        except ValueError:
            pass
    raise InputError(what, must_be, NOTHING if is_blank(cell) else cell)


@dataclass(eq=False)
class UserTable:
    """The rows of a table, its columns by their known names.

    Attributes
    ----------
    frame : DataFrame
        Cells as they stood, blank ones None; the index counts rows as a spreadsheet does.
    source : str
        Name of the file, or what it is a table of.
    columns : dict of name to letters of the column; empty for a DataFrame
    comments : str
        Lines that begin with #.
    remarks : list of str
        What was decided or left out, in words.
    """

    frame: pd.DataFrame
    source: str
    columns: dict[str, str] = field(default_factory=dict)
    comments: str = ""
    remarks: list[str] = field(default_factory=list)

    def __contains__(self, column: str) -> bool:
        return column in self.frame

    def place(self, row: int, column: str) -> str:
        """Say where a cell stands; `row` counts from 0."""
        where = f", column {self.columns[column]}" if column in self.columns else ""
        return f"{self.source}, row {self.frame.index[row]}{where}"

    def words(self, column: str) -> list[str]:
        """Return a column as texts, '' where nothing stands."""
        if column not in self.frame:
            return [""] * len(self.frame)
        return ["" if blank(c) else str(c).strip() for c in self.frame[column]]

    def sign(self, column: str) -> str:
        """Return the decimal sign that decides a number of this column which can be read two ways.

        The clear numbers of the column decide; without them those of the table do, if their
        sign is the other one: two decimal signs in one table are not to be expected.
        """
        own = [c for c in self.frame[column] if isinstance(c, str)]
        unclear = next(doubtful(own), None)
        if unclear is None:
            return ""
        sign = column_sign(own)
        others = self.frame.drop(columns=column).to_numpy(dtype=object).ravel()
        other = column_sign(c for c in others if isinstance(c, str))
        if sign and other and sign != other:
            return ""  # as where a tonne's thousands stand beside a figure with another sign
        sign, words = decided(unclear, sign, other, "the table")
        remark = f"{self.source}, column '{column}': '{unclear}' is read as {words}"
        if sign and remark not in self.remarks:
            self.remarks.append(remark)
        return sign

    def numbers(
        self,
        column: str,
        name: Callable[[int], str] | None = None,
        least: float = -np.inf,
        most: float = np.inf,
        needed: bool = False,
        unit: str = "",
    ) -> np.ndarray:
        """Return a column as numbers, NaN where nothing stands or there is no such column.

        Parameters
        ----------
        column : str
        name : callable, optional
            Says what the number of a row is, such as 'price of Ni'.
        least, most : float
        needed : bool
            Whether a blank is refused.
        unit : str
            May stand behind the number.
        """
        values = np.full(len(self.frame), np.nan)
        if column not in self.frame:
            return values
        must_be = "a number"
        if np.isfinite(most):
            must_be = f"between {least:g} and {most:g}"
        elif np.isfinite(least):
            must_be = f"a number, {least:g} or more"
        must_be += "" if needed else ", or blank"
        must_be += f", in {unit}" if unit else ""
        sign = self.sign(column)
        for row, cell in enumerate(self.frame[column]):
            if is_blank(cell) and not needed:
                continue
            what = self.place(row, column) + (f", {name(row)}" if name else "")
            bare = cell.strip().removesuffix(unit).strip() if isinstance(cell, str) else cell
            values[row] = read_number(bare, what, must_be, sign, most)
            if not least <= values[row] <= most or np.isinf(values[row]):
                raise InputError(what, must_be, cell)
        return values

    def once(self, column: str, names: Sequence[str]) -> None:
        """Refuse a name that stands in two rows."""
        seen: set[str] = set()
        for row, name in enumerate(names):
            if name in seen:
                raise InputError(self.place(row, column), "there once", name)
            seen.add(name)


def sheets_of_file(
    path: str | os.PathLike, what: str, header: Callable[[Sequence], int], remarks: list[str]
) -> tuple[str, list[Sequence[Sequence]]]:
    """Return the name of a file and the rows of its sheets; a text is one sheet.

    Parameters
    ----------
    path : path of a CSV, TXT or XLSX file
    what : str
        For messages.
    header : callable
        Says of a row how many columns it names; the separator is the one that shows most.
    remarks : list
        Takes what was decided, in words.
    """
    if not isinstance(path, (str, os.PathLike)):
        raise InputError(what, "a path or a table", NOTHING if path is None else path)
    place = Path(path)
    raw = content_of(path, what)
    if place.suffix.lower() in _BOOKS or raw.startswith(b"PK\x03\x04"):
        from gradekit.core.workbook import sheets_of

        return place.name, [rows() for rows in sheets_of(io.BytesIO(raw), place.name).values()]
    if wrong_kind := no_table(raw[:4096]):
        raise InputError(f"{what} '{place.name}'", "a CSV, TXT or XLSX file", said(wrong_kind))
    text = decoded(raw, place.name)
    sample = "\n".join(text.splitlines()[:_LOOK])

    def named(delimiter: str) -> int:
        rows = split_lines(sample, delimiter, place.name, [])
        return max((header(row) for row in rows), default=0)

    delimiter = max(_DELIMITERS, key=named)
    return place.name, [split_lines(text, delimiter, place.name, remarks)]


def _key(cell: Cell) -> str:
    return "_".join(str(cell).lstrip("# ").split()).casefold() if isinstance(cell, str) else ""


def user_table(
    source: PathLike | pd.DataFrame,
    what: str,
    needed: Sequence[str],
    optional: Iterable[str] = (),
    also: Callable[[str], bool] = lambda name: False,
) -> UserTable:
    """Return a table known by its columns.

    Parameters
    ----------
    source : path of a CSV or XLSX file, or DataFrame
        Titles may stand above the header; lines that begin with # are comments.
    what : str
        Name of the table for messages, such as 'price list'.
    needed, optional : names of columns
        A column of another name is kept, and said not to be used; if it is a slip of one that is
        read, it is refused.
    also : callable
        Tells of a further name in small letters whether the caller uses such a column.

    Raises
    ------
    InputError
        No such file, a column missing or there twice, a row longer than the header, no row.
    """
    remarks: list[str] = []
    known = {_key(name): name for name in [*needed, *optional]}
    if isinstance(source, pd.DataFrame):
        table = UserTable(_of_frame(source, what), f"the {what}", remarks=remarks)
    else:
        table = _of_file(source, what, needed, known, also, remarks)
    lacking = [name for name in needed if name not in table.frame]
    if lacking:
        got = [str(c) for c in table.frame.columns][:8]
        close = nearest(lacking[0], got)
        raise InputError(f"columns of {table.source}", ", ".join(lacking), got or NOTHING, close)
    if table.frame.empty:
        raise InputError(f"rows of {table.source}", "one at least", NOTHING)
    return table


def _of_frame(source: pd.DataFrame, what: str) -> pd.DataFrame:
    if isinstance(source.columns, pd.MultiIndex) or isinstance(source.index, pd.MultiIndex):
        raise InputError(what, "a table with one row of names", said("a MultiIndex"))
    named = source.index.name is not None and source.index.name not in source
    frame = source.reset_index(drop=not named).astype(object)
    if not frame.columns.is_unique:
        twice = frame.columns[frame.columns.duplicated()][0]
        raise InputError(f"columns of the {what}", "named once each", said(f"'{twice}' twice"))
    return frame.where(frame.notna(), None).set_axis(range(1, len(frame) + 1))


def _of_file(
    source: PathLike,
    what: str,
    needed: Sequence[str],
    known: dict[str, str],
    also: Callable[[str], bool],
    remarks: list[str],
) -> UserTable:
    def names(row: Sequence) -> int:
        return sum((key := _key(cell)) in known or also(key) for cell in row)

    name, sheets = sheets_of_file(source, what, names, remarks)
    heads = [(names(row), rows, at) for rows in sheets for at, row in enumerate(rows[:_LOOK])]
    _, rows, at = max(heads, key=lambda head: head[0], default=(0, [], 0))
    comments = [
        row.line.lstrip("# ").strip() if isinstance(row, FileLine) else str(row[0]).lstrip("# ")
        for row in rows
        if row and isinstance(row[0], str) and row[0].startswith("#") and not names(row)
    ]
    if not any(map(names, rows[at : at + 1])):
        got = next((row for row in rows if any(not is_blank(c) for c in row)), None)
        shown = NOTHING if got is None else [str(c)[:30] for c in got][:8]
        raise InputError(f"columns of {name}", ", ".join(needed), shown)

    def titled(column: int, cell: Cell) -> str:
        """Return the known name of a column, or its own; a slip of a known one is refused."""
        key = _key(cell)
        if is_blank(cell) or key in known or also(key):
            return "" if is_blank(cell) else known.get(key, key)
        slip = difflib.get_close_matches(key, known, n=1, cutoff=_SLIP) if len(key) > 4 else []
        if slip:
            where = f"{name}, row {at + 1}, column {letters(column)}"
            raise InputError(where, "the name of a column that is read", str(cell), known[slip[0]])
        remarks.append(f"{name}: column '{cell}' is not used")
        return str(cell).strip()

    header = [titled(i, cell) for i, cell in enumerate(rows[at])]
    if twice := [title for title in header if title and header.count(title) > 1]:
        raise InputError(f"columns of {name}, row {at + 1}", "named once each", twice[0])
    body: dict[int, list] = {}
    for number, row in enumerate(rows[at + 1 :], start=at + 2):
        if all(is_blank(c) for c in row) or (isinstance(row[0], str) and row[0].startswith("#")):
            continue
        beyond = next((i for i in range(len(header), len(row)) if not is_blank(row[i])), None)
        if beyond is not None:
            where = f"{name}, row {number}, column {letters(beyond)}"
            most = f"at most {len(header)} cells, as many as the header has"
            raise InputError(where, most, row[beyond])
        cells = [*row[: len(header)], *[None] * (len(header) - len(row))]
        body[number] = [None if blank(cell) else cell for cell in cells]
    kept = [i for i, title in enumerate(header) if title]
    frame = pd.DataFrame(
        [[cells[i] for i in kept] for cells in body.values()],
        index=list(body), columns=[header[i] for i in kept], dtype=object,
    )  # fmt: skip
    columns = {header[i]: letters(i) for i in kept}
    return UserTable(frame, name, columns, " ".join(filter(None, comments)), remarks)
