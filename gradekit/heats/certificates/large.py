"""Large plain tables: the ordinary reader decides by their first rows, pandas reads the others."""

from __future__ import annotations

import codecs
import csv
import re
from collections.abc import Callable
from dataclasses import replace
from typing import BinaryIO

import numpy as np
import pandas as pd
from pandas.api.types import union_categoricals

from gradekit.core.errors import InputError
from gradekit.core.files import original_text
from gradekit.core.numbers import column_sign
from gradekit.core.reader import MOST_SIGNS, FileLine, blank, decoded, looks_utf16
from gradekit.heats.certificates.blocks import batch_of
from gradekit.heats.certificates.building import written_numbers
from gradekit.heats.certificates.cells import clean_text
from gradekit.heats.certificates.headers import column_element
from gradekit.heats.certificates.layout import TableBlock, element_of, find_blocks, is_header
from gradekit.heats.certificates.lines import delimiter_of, rows_of_text, spoken_line
from gradekit.heats.certificates.names import is_name_column
from gradekit.heats.certificates.rowkinds import (
    kind_column,
    means_no_heat,
    name_like,
    unlike,
)
from gradekit.heats.certificates.units import is_unit_column
from gradekit.heats.notes import Journal

HEAD = 64_000
PIECE = 8_000_000
ROWS = 50_000
#: So many rows decide the encoding, the separator and which way round the table stands.
_DECIDING = 200
_SYMBOL = re.compile(r"[A-Z][A-Za-z]?(?:\s?\+\s?[A-Z][a-z])?(?=[\s:=<≤]|$)")


class NotPlain(Exception):
    """Somewhere the table is laid out in a way that only the ordinary reader understands."""


def read_plain(file: BinaryIO, source: str) -> pd.DataFrame:
    """Read a table of one row of headers and one heat a row, as the ordinary reader would.

    Parameters
    ----------
    file : binary file at its beginning
    source : str
        Name of the file for messages.

    Raises
    ------
    NotPlain
        With the reason and its place in words; nothing of the file has been taken then.
    InputError
        A cell that the ordinary reader refuses, with its place.
    """
    head = file.read(HEAD)
    head = head[: head.rfind(b"\n") + 1]
    if looks_utf16(head[:400]) or head.lstrip()[:1] in (b"{", b"["):
        raise NotPlain("it is no text in UTF-8 or cp1252")
    journal = Journal(source)
    try:
        text = decoded(head, source)
        sep = delimiter_of(text)
        lines = rows_of_text(text, journal)
        blocks = find_blocks(lines, journal)
    except InputError as error:
        raise NotPlain(f"its first rows are not understood: {error}") from None
    block = blocks[0]
    header = block.header
    analysed = [i for i, h in enumerate(header) if column_element(h)]
    plain = len(lines) > _DECIDING and len(blocks) == 1 and len(sep) == 1 and sep != " "
    plain = plain and bool(block.rows) and not (block.turned or journal.remarks)
    plain = plain and bool(analysed) and "Fe" not in map(element_of, header)
    first = block.rows[0][0] if plain else 0
    width = len(lines[first])
    if not plain or width < max(2, len(header)) or any(map(is_unit_column, header)):
        raise NotPlain("its first rows are those of no plain table")
    if sum(getattr(line, "lines", 1) for line in lines[:first] if line) != sum(
        map(bool, lines[:first])
    ):
        raise NotPlain("a cell of its titles runs over several lines")
    encoding, marks, parted = _survey(file, source, sep, first)
    name_at = next((i for i, h in enumerate(header) if is_name_column(h)), None)
    if name_at is None and name_like(block, analysed, None) is not None:
        raise NotPlain("no column is headed as that of the heats")
    file.seek(0)
    # Categories that pandas reads itself may be numbers, and '0.00' is a bound where '0' is none.
    columns: list[list] = [[] for _ in range(width)]
    try:
        for chunk in pd.read_csv(
            file,
            sep=sep,
            encoding=encoding,
            header=None,
            names=range(width),
            skiprows=first,
            dtype=object,
            na_filter=False,
            skip_blank_lines=False,
            quoting=csv.QUOTE_MINIMAL if marks else csv.QUOTE_NONE,
            chunksize=ROWS,
        ):
            for i, pieces in enumerate(columns):
                cells = chunk[i].to_numpy()
                pieces += cells.tolist() if i == name_at else [pd.Categorical.from_codes(
                    *pd.factorize(cells))]  # fmt: skip
    except (pd.errors.ParserError, UnicodeDecodeError) as error:
        raise NotPlain(str(error)) from None
    names = None if name_at is None else [*map(_name, columns[name_at])]
    frame = pd.DataFrame(
        {i: union_categoricals(c) for i, c in enumerate(columns) if i != name_at}, copy=False
    )
    del columns
    if parted != len(frame) * (width - 1):
        raise NotPlain(f"some row does not have {width} cells")
    for i in frame:
        texts = [*map(original_text, frame[i].cat.categories)]
        if len(set(texts)) < len(texts) or max(map(len, texts)) > MOST_SIGNS:
            raise NotPlain(f"cells of column {i + 1} are guarded or too long")
        frame[i] = frame[i].cat.rename_categories(texts)
    if names and max(map(len, names)) > MOST_SIGNS:
        raise NotPlain("a name is too long")
    labels: list = names or [None] * len(frame)
    part = _Columns(replace(block, name_at=name_at), labels, frame, first)
    _check(part, sep)
    first_rows = ((header[i], part.cells(i, 5000).unique()) for i in analysed)
    journal.sign = column_sign(written_numbers(first_rows))
    return batch_of([part], journal)


def _name(cell: str) -> str:
    plain = cell.isprintable() and "'" not in cell
    return cell.strip() if plain else clean_text(original_text(cell))


class _Columns(TableBlock):
    """The heats of a large table, whose cells stand in columns of a frame."""

    def __init__(self, block: TableBlock, names: list, frame: pd.DataFrame, first: int):
        kinds = [""] * len(frame)
        super().__init__(**vars(block) | {"rows": [], "names": names, "kinds": kinds})
        self.frame, self.first = frame, first

    @property
    def numbers(self) -> range:
        return range(self.first, self.first + len(self.frame))

    def cells(self, column: int, most: int | None = None) -> pd.Series:
        return self.frame[column].iloc[:most]


def _survey(file: BinaryIO, source: str, sep: str, first: int) -> tuple[str, int, int]:
    """Return the encoding, the quotation marks and how often cells are parted below a row."""
    cell = re.compile(
        rf'(?<![^{re.escape(sep)}\n])"[^"\r\n]*"(?=[{re.escape(sep)}\r\n]|\Z)'.encode()
    )
    utf8, encoding, marks, parted = codecs.getincrementaldecoder("utf-8")(), "utf-8-sig", 0, 0
    file.seek(0)
    while lines := file.readlines(PIECE):
        chunk = b"".join(lines)
        if b"\0" in chunk or chunk.count(b"\r") != chunk.count(b"\r\n"):
            raise NotPlain("zeros or bare returns stand in it")
        parted += chunk.count(sep.encode())
        parted -= sum(line.count(sep.encode()) for line in lines[:first])
        if b'"' in chunk:
            quoted = cell.findall(chunk)
            if chunk.count(b'"') != 2 * len(quoted):
                raise NotPlain("a quotation mark stands in it that opens and closes no cell")
            marks += len(quoted)
            parted -= sum(q.count(sep.encode()) for q in quoted)
        first = 0
        if encoding != "cp1252":
            try:
                utf8.decode(chunk)
            except UnicodeDecodeError:
                encoding = "cp1252"
    if encoding == "cp1252":
        file.seek(0)
        decoded(file.read(), source)  # refuses UTF-8 with a few damaged characters
    return encoding, marks, parted


def _check(part: _Columns, sep: str) -> None:
    """Raise `NotPlain` where a row may be anything else than a heat of its own."""
    frame, header, names = part.frame, part.header, part.names
    width, label = len(frame.columns) + (part.name_at is not None), part.name_at or 0
    texts = {i: frame[i].cat.categories for i in frame}
    codes = {i: frame[i].cat.codes.to_numpy() for i in texts}

    def rows(bad: np.ndarray, what: str) -> None:
        if bad.any():
            raise NotPlain(f"row {part.numbers[int(np.argmax(bad))] + 1} {what}")

    def over(i: int, tell: Callable[[str], int]) -> np.ndarray:
        if i == part.name_at:
            return np.fromiter(map(tell, names), np.int16, len(names))
        return np.array([tell(text) for text in texts[i]], np.int16)[codes[i]]

    rows(over(0, lambda t: blank(t) or t.lstrip()[:1] in "#-=|:+"), "does not begin with a heat")
    if part.name_at is None:
        rows(over(label, lambda t: means_no_heat(clean_text(t))), "is no heat")
    else:
        no_name = over(label, lambda t: not t or (not t[-1].isdigit() and means_no_heat(t)))
        rows(no_name, "is no heat with a name")
        rows(over(label, lambda t: unlike(t, names)), "has no digit in its name")
    for i in range(len(header), width):
        rows(over(i, blank) == 0, f"has more than {len(header)} cells")
    filled, figures, symbols = np.zeros((3, len(frame)), np.int16)
    for i in range(width):
        figures += over(i, lambda t: t[:1] in "0123456789<" and bool(t))
        if i != label:
            filled += over(i, blank) == 0
        if i != part.name_at or re.search(_SYMBOL.pattern, "\n".join(names), re.M):
            symbols += over(i, lambda t: _symbols(t, sep))
    rows(filled == 0, "has no analysis")
    for at in np.flatnonzero((2 * figures <= width) | (symbols > 1)):
        row = [names[at] if i == part.name_at else frame[i].iat[at] for i in range(width)]
        line = FileLine(row, sep.join(row))
        try:
            other = is_header(line, (), True) or spoken_line(line, part.numbers[at], "")
        except InputError:
            other = True
        if other:
            raise NotPlain(f"row {part.numbers[at] + 1} is a header or speaks in pairs")
    if kind_column(part) is not None:
        raise NotPlain("a column tells the kind of each row")


def _symbols(text: str, sep: str) -> int:
    """Return how many elements with a content behind them a cell may begin."""
    return sum(
        (m.end() < len(text) or sep.isspace()) and column_element(m[0]) is not None
        for m in _SYMBOL.finditer(text)
    )
