"""Large plain tables: one header, then one heat a row, read in chunks of bounded memory."""

from __future__ import annotations

import codecs
import csv
import io
import re
from functools import partial
from typing import BinaryIO

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError, said
from gradekit.core.files import original_text
from gradekit.heats.certificates.blocks import fields, numbers_where_plain
from gradekit.heats.certificates.building import checked, is_name_column, parse_column, unique_names
from gradekit.heats.certificates.cells import column_element
from gradekit.heats.certificates.layout import Block, Spoken, find_blocks, without_comment
from gradekit.heats.certificates.lines import delimiter_of, rows_of_text
from gradekit.heats.certificates.rowkinds import LIMITS, is_line, kind_column, kind_of
from gradekit.heats.notes import with_notes

__all__ = ["read_plain"]

_CHUNK = 8_000_000
_SAMPLE = 64_000
_FIELDS = re.compile(r"Expected \d+ fields in line (\d+), saw (\d+)")


class _NotPlain(Exception):
    """The file is laid out in a way that only reading it cell by cell understands."""


def read_plain(file: BinaryIO, source: str, size: int) -> pd.DataFrame | None:
    """Read a large table, or return None if it is laid out as certificates are.

    Parameters
    ----------
    file : binary file at its beginning
    source : str
        Name of the file for messages.
    size : int
        Bytes of the file, from which the number of rows is estimated.
    """
    raw = file.read(_SAMPLE)
    start = len(codecs.BOM_UTF8) if raw.startswith(codecs.BOM_UTF8) else 0
    raw = raw[start : _last_row_end(raw)]
    try:
        text, encoding = raw.decode(), "utf-8"
    except UnicodeDecodeError:
        text, encoding = raw.decode("cp1252", errors="replace"), "cp1252"
    try:
        table = _Table(text, source)
    except (_NotPlain, InputError):
        return None
    head = io.StringIO(text, newline="")
    reader = csv.reader(iter(head.readline, ""), delimiter=table.delimiter)
    for _ in range(table.first):
        next(reader)
    file.seek(start + len(text[: head.tell()].encode(encoding)))
    try:
        for chunk in _chunks(file, source):
            table.take(chunk, size)
        return table.batch()
    except _NotPlain:
        return None


class _Table:
    """The one table of a large file: its header, and what has been read of it."""

    def __init__(self, sample: str, source: str):
        self.source = source
        self.delimiter = delimiter_of(sample)
        blocks, titles = find_blocks(rows_of_text(sample, source), source)
        block = blocks[0]
        plain = len(blocks) == 1 and not block.turned and bool(block.rows)
        if not plain or isinstance(block.rows[0][1], Spoken) or " " in self.delimiter:
            raise _NotPlain
        if fields(titles) or kind_column(block) is not None:
            raise _NotPlain
        self.titles = titles
        self.block: Block = block
        self.first = block.rows[0][0]
        header = block.header
        self.headers = {i: h for i, name in enumerate(header) if (h := column_element(name))}
        elements = [h.element for h in self.headers.values()]
        if "Fe" in elements or len(set(elements)) < len(elements):
            raise _NotPlain
        self.name_at = next((i for i, h in enumerate(header) if is_name_column(h)), None)
        self.others = [
            i for i, h in enumerate(header) if h and i not in self.headers and i != self.name_at
        ]
        self.contents = np.empty((0, len(elements)))
        self.numbers: list[np.ndarray] = []
        self.names: list[str | None] = []
        self.about: dict[int, list] = {i: [] for i in self.others}
        self.marks: dict[str, dict[int, str]] = {}
        self.said_so = [
            f"column '{header[i]}': {h.remark}" for i, h in self.headers.items() if h.remark
        ]
        self.left_out: list[str] = []
        self.ppm: dict[str, int] = {}
        self.rows, self.records, self.bytes = 0, self.first, 0

    def take(self, chunk: bytes, size: int) -> None:
        """Read the next rows."""
        frame = self._frame(chunk)
        beyond = frame[len(self.block.header)].notna()
        if beyond.any():
            self._refuse_beyond(int(np.argmax(beyond)), frame)
        kept = self._kept(frame)
        at = np.flatnonzero(kept)
        numbers = self.records + at
        text = self._texts(chunk, frame)
        names = self._column(frame, self.name_at, kept)
        block = np.empty((len(at), len(self.headers)))
        for k, (i, header) in enumerate(self.headers.items()):
            cells = text.get(i, frame[i])[kept].reset_index(drop=True)
            if cells.dtype.kind not in "if":
                cells = cells.astype(object).where(cells.notna(), None)
            where = partial(self._where, numbers, names, i, header.element)
            said_now: list[str] = []
            block[:, k], marks = parse_column(cells, header, where, said_now)
            for remark in said_now:
                element, count = remark.split(":")[0], int(remark.split()[1])
                self.ppm[element] = self.ppm.get(element, 0) + count
            if marks:
                known = self.marks.setdefault(header.element, {})
                known |= {self.rows + row: mark for row, mark in marks.items()}
        # No word for a limit ends with a digit, almost every name of a heat does.
        if any(n and not n[-1].isdigit() and kind_of(n) in LIMITS for n in set(names)):
            raise _NotPlain
        self.names += names
        for i in self.others:
            self.about[i] += self._column(frame, i, kept)
        self._store(block, len(chunk), size)
        self.numbers.append(numbers)
        self.records += len(frame)

    def _frame(self, chunk: bytes, only: list[int] | None = None) -> pd.DataFrame:
        width = len(self.block.header)
        # An empty first row with one cell more than the header shows pandas the width.
        chunk = self.delimiter.encode() * width + b"\n" + chunk
        texts = {i: str for i in range(width + 1) if only or i not in self.headers}
        options = dict(
            sep=self.delimiter,
            header=None,
            names=range(width + 1),
            usecols=only,
            index_col=False,
            dtype=texts,
            keep_default_na=False,
            na_values=[""],
            skip_blank_lines=False,
            low_memory=False,
        )
        for encoding in ("utf-8", "cp1252"):
            try:
                frame = pd.read_csv(io.BytesIO(chunk), encoding=encoding, **options)
                return frame.iloc[1:].reset_index(drop=True)
            except UnicodeDecodeError as error:
                problem = str(error)
            except pd.errors.ParserError as error:
                found = _FIELDS.search(str(error))
                if not found:
                    where = f"{self.source}, after row {self.records}"
                    raise InputError(where, "rows of cells", said(str(error))) from None
                row = self.records + int(found[1]) - 1
                raise InputError(
                    f"{self.source}, row {row}",
                    f"at most {width} cells, as many as the header has",
                    said(f"{found[2]} cells"),
                ) from None
        where = f"{self.source}, after row {self.records}"
        raise InputError(where, "text in UTF-8 or cp1252", said(problem))

    def _texts(self, chunk: bytes, frame: pd.DataFrame) -> dict[int, pd.Series]:
        """Read columns with a zero once more as texts, as '0.00' is a bound and '0' is none."""
        doubtful = []
        for i in self.headers:
            values = frame[i].to_numpy()
            if values.dtype.kind in "if" and ((values == 0) | np.isinf(values)).any():
                doubtful.append(i)
        if not doubtful:
            return {}
        again = self._frame(chunk, doubtful)
        return {i: again[i] for i in doubtful}

    def _kept(self, frame: pd.DataFrame) -> np.ndarray:
        """Tell heats from blank rows, comments and lines of text."""
        kept = np.ones(len(frame), dtype=bool)
        lone = frame[list(self.headers)].isna().all(axis=1).to_numpy(copy=True)
        if 0 not in self.headers:
            lone |= frame[0].str.startswith("#", na=False).to_numpy(dtype=bool)
        for row in np.flatnonzero(lone):
            cells = [None if c != c else c for c in frame.iloc[row]]
            cells = [c if c is None or isinstance(c, str) else str(c) for c in cells]
            filled = [c for c in without_comment(cells, []) if c is not None and c.strip()]
            if not filled:
                kept[row] = False
            elif len(filled) == 1 and is_line(filled[0]):
                kept[row] = False
                self.left_out.append(
                    f"{self.block.where(self.records + row)}: no analysis, left out: "
                    f"'{filled[0].strip()[:60]}'"
                )
        return kept

    def _column(self, frame: pd.DataFrame, i: int | None, kept: np.ndarray) -> list:
        if i is None:
            return [None] * int(kept.sum())
        # One object a text, however often it stands there.
        codes, texts = pd.factorize(frame[i].to_numpy(dtype=object)[kept])
        known = [(original_text(t) if t[:1] == "'" else t).strip() or None for t in texts]
        return [known[c] if c >= 0 else None for c in codes.tolist()]

    def _where(self, numbers: np.ndarray, names: list, i: int, element: str, row: int) -> str:
        return f"{self.block.where(int(numbers[row]), i)}, heat '{names[row]}', {element}"

    def _refuse_beyond(self, row: int, frame: pd.DataFrame) -> None:
        width = len(self.block.header)
        raise InputError(
            self.block.where(self.records + row, width),
            f"at most {width} cells, as many as the header has",
            str(frame[width].iloc[row]),
        )

    def _store(self, block: np.ndarray, read: int, size: int) -> None:
        self.bytes += read
        needed = self.rows + len(block)
        if needed > len(self.contents):
            estimate = int(needed * max(1.0, size / self.bytes) * 1.05) + 100
            larger = np.empty((estimate, block.shape[1]))
            larger[: self.rows] = self.contents[: self.rows]
            self.contents = larger
        self.contents[self.rows : needed] = block
        self.rows = needed

    def batch(self) -> pd.DataFrame:
        """Return what has been read."""
        if not self.rows:
            raise _NotPlain
        numbers = np.concatenate(self.numbers)
        names: list = self.names
        if self.name_at is None:
            names = [f"heat {row + 1}" for row in range(self.rows)]
        elif None in names or len(set(names)) < len(names):
            names = unique_names(
                names, lambda row: f"{self.block.where(int(numbers[row]))}: ", self.said_so
            )
        index = pd.Index(names, name="heat")
        elements = [h.element for h in self.headers.values()]
        batch = pd.DataFrame(self.contents[: self.rows], index=index, columns=elements, copy=False)
        columns = dict(zip(elements, self.headers, strict=True))

        def place(row: int | None, element: str | None) -> str:
            return self.block.place(
                None if row is None else int(numbers[row]), columns.get(element)
            )

        checked(batch, place)
        self.said_so += self.left_out[:5]
        self.said_so += [
            f"{element}: {count} values of a size that only ppm can have, read as ppm"
            for element, count in self.ppm.items()
        ]
        about = {
            self.block.header[i]: pd.Series(
                numbers_where_plain(self.block.header[i], values), index=index, dtype=object
            )
            for i, values in self.about.items()
            if any(value is not None for value in values)
        }
        bounds = {
            element: {names[row]: mark for row, mark in marks.items()}
            for element, marks in self.marks.items()
        }
        notes = {"bounds": bounds, "about": about, "messages": self.said_so}
        notes |= {"titles": self.titles, "source": self.source}
        return with_notes(batch, {key: value for key, value in notes.items() if value})


def _last_row_end(data: bytes) -> int:
    """Return where the last whole row ends; a line break inside quotes ends none."""
    end = len(data)
    while end > 0:
        end = data.rfind(b"\n", 0, end) + 1
        if data.count(b'"', 0, end) % 2 == 0:
            return end
        end -= 1
    return 0


def _chunks(file: BinaryIO, source: str):
    rest = b""
    while data := file.read(_CHUNK):
        data = rest + data
        end = _last_row_end(data)
        if not end and len(data) > 4 * _CHUNK:
            raise InputError(f"file '{source}'", "rows of a table", said("one endless line"))
        rest = data[end:]
        if end:
            yield data[:end]
    if rest.strip():
        yield rest
