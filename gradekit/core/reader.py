"""What every file of a user goes through first: which encoding, which cells, how large it may be.

A quotation mark counts as one only where it opens a cell and closes it. A cell may run over
several lines only where each of them alone has too few cells; anything else is a character of the
text, and that is said. So no mark can swallow the lines below it.
"""

from __future__ import annotations

import codecs
import os
import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import BinaryIO

import pandas as pd

from gradekit.core.aliases import Cell, PathLike
from gradekit.core.errors import InputError, nearest, said
from gradekit.core.files import original_text

#: A table of more cells is refused before it is taken apart; a works' ten years are a fifth of it.
MOST_CELLS = 20_000_000
#: As many as a sheet has.
MOST_ROWS = 1_048_576
MOST_COLUMNS = 16_384
#: As many characters as a cell of a sheet holds.
MOST_SIGNS = 32_767


class FileLine(list):
    """Cells of one line of a text, with the line; `packed` where only blanks part the cells."""

    def __init__(self, cells: Sequence, line: str, packed: bool = False, lines: int = 1):
        super().__init__(cells)
        self.line, self.packed, self.lines = line.strip(), packed, lines


_PAGES = ("cp1252", "cp1250", "cp1254")
#: A line on which nothing stands.
_EMPTY = FileLine((), "")


def blank(cell: Cell) -> bool:
    """Tell whether nothing stands in a cell."""
    if isinstance(cell, str):
        return not cell.strip()
    unknown = isinstance(cell, float) and cell != cell
    return unknown or cell is None or cell is pd.NA or cell is pd.NaT


def cell_at(row: Sequence, at: int | None) -> Cell:
    """Return a cell of a row; None where the row has ended."""
    return row[at] if at is not None and at < len(row) else None


def letters(column: int) -> str:
    """Return the spreadsheet letters of a column position.

    Examples
    --------
    >>> letters(0), letters(27)
    ('A', 'AB')
    """
    text, column = "", column + 1
    while column:
        column, rest = divmod(column - 1, 26)
        text = chr(65 + rest) + text
    return text


def _mostly_utf8(raw: bytes) -> bool:
    """Tell whether bytes are UTF-8 but for a few that were damaged."""
    text = raw.decode("utf-8", "replace")
    damaged = text.count("\ufffd")
    return sum(not c.isascii() for c in text) - damaged > damaged


def content_of(path: PathLike, what: str, most: int = 10**8) -> bytes:
    """Return the bytes of a file, at most so many, or say in words why there are none."""
    with opened(path, what) as file:
        size = os.stat(file.fileno()).st_size
        if size > most:
            least = f"at most {most / 1e6:g} MB"
            raise InputError(f"{what} '{Path(path).name}'", least, said(f"{size / 1e6:.0f} MB"))
        return file.read()


@contextmanager
def opened(
    path: PathLike, what: str, must_be: str = "an existing file", endings: tuple[str, ...] = ()
) -> Iterator[BinaryIO]:
    """Open a file to read its bytes, or say in words why it cannot be read.

    Parameters
    ----------
    path : path
    what : str
        Name of the file for messages.
    must_be : str
        What is said where no such file is there.
    endings : texts in small letters
        Of the names that could be meant instead; by default that of the path.
    """
    place = Path(path)
    try:
        with place.open("rb") as file:
            yield file
    except (FileNotFoundError, NotADirectoryError):
        here = [p.name for p in place.parent.glob("*")] if place.parent.is_dir() else []
        alike = endings or place.suffix.lower()
        close = nearest(place.name, [name for name in here if name.lower().endswith(alike)])
        raise InputError(what, must_be, os.fspath(path), close) from None
    except InputError:
        raise
    except (OSError, ValueError) as error:  # a NUL in the name is a ValueError
        words = getattr(error, "strerror", None) or str(error)
        raise InputError(f"{what} '{place.name!s:.60}'", "readable", said(words)) from None


_STARTS = {
    b"\x89PNG": "a PNG picture",
    b"\xff\xd8\xff": "a JPEG picture",
    b"GIF8": "a GIF picture",
    b"BM": "a BMP picture",
    b"II*\x00": "a TIFF picture",
    b"%PDF": "a PDF document",
    b"\xd0\xcf\x11\xe0": "an old Office document (save it as .xlsx)",
    b"\x1f\x8b": "a compressed file (unpack it first)",
    b"PAR1": "a Parquet file (pandas.read_parquet reads it; give the table to gk.as_batch)",
    **dict.fromkeys(
        (b"<html", b"<HTML", b"<!DOC", b"<!doc", b"<table", b"<?xml"),
        "a web page or XML, as some programs call .xls (open it in a spreadsheet, save as .xlsx)",
    ),
}


def no_table(head: bytes) -> str | None:
    """Say what a file is by its first bytes, where it is nothing that a table is written in.

    Examples
    --------
    >>> no_table(b"%PDF-1.7"), no_table(b"heat;C;Cr")
    ('a PDF document', None)
    """
    start = head.removeprefix(codecs.BOM_UTF8).lstrip() if head[:1] in b"\xef< \r\n" else head
    return next((words for mark, words in _STARTS.items() if start.startswith(mark)), None)


def looks_utf16(head: bytes) -> str:
    """Return the name of the encoding if the beginning of a file is UTF-16, else ''."""
    if head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return "utf-16"
    # Without its mark it shows by the empty halves of its letters.
    even, odd = head[::2].count(0), head[1::2].count(0)
    if max(even, odd) > 0.15 * len(head) and min(even, odd) == 0:
        return "utf-16-le" if odd else "utf-16-be"
    return ""


def decoded(raw: bytes, source: str, understood: Callable[[str], float] | None = None) -> str:
    """Return the text of bytes in UTF-8, UTF-16 or else cp1252.

    `understood` says how much of a text is; where more is in cp1250 or cp1254, that is taken.

    Examples
    --------
    >>> decoded("Güte".encode("utf-16-le"), "a file"), decoded(b"G\\xfcte", "a file")
    ('Güte', 'Güte')
    """
    utf16 = looks_utf16(raw[:400])
    for encoding in [utf16] if utf16 else ["utf-8-sig", _page_of(raw, understood)]:
        try:
            text = raw.decode(encoding)
        except UnicodeDecodeError as error:
            place = error.start
            if encoding == "utf-8-sig" and _mostly_utf8(raw):
                break
            continue
        if "\0" in text.rstrip("\0"):
            raise InputError(source, "text in UTF-8, UTF-16 or cp1252", said("bytes with zeros"))
        return text.rstrip("\0")
    line = raw[:place].count(b"\n") + 1
    raise InputError(
        f"{source}, row {line}", "text in UTF-8, UTF-16 or cp1252", said(f"byte 0x{raw[place]:02x}")
    )


def _page_of(raw: bytes, understood: Callable[[str], float] | None) -> str:
    """Return the code page in which most is understood; of equals the first."""
    if understood is None or raw.isascii():
        return "cp1252"
    return max(_PAGES, key=lambda page: understood(raw[:20_000].decode(page, "replace")))


def line_ends(text: str) -> list[str]:
    """Return the lines of a text, parted where editors part them and nowhere else.

    Examples
    --------
    >>> line_ends("a\\r\\nb\\rc\\n")
    ['a', 'b', 'c']
    """
    if "\r" in text:
        text = text.replace("\r\n", "\n").replace("\r", "\n")
    lines = text.split("\n")
    return lines if lines[-1] else lines[:-1]


def split_lines(text: str, delimiter: str, source: str, remarks: list[str]) -> list[FileLine]:
    """Return the rows of cells of a text; row 0 is the first line, blank lines are rows too.

    Parameters
    ----------
    text : str
    delimiter : str
        One character, or two blanks for columns set with blanks.
    source : str
        Name of the file for messages.
    remarks : list
        Takes what was decided, in words.

    Raises
    ------
    InputError
        More cells or columns than anybody could mean, or a cell longer than a sheet can hold.
    """
    if (ends := text.count("\n") + text.count("\r")) > 2 * MOST_ROWS or (
        len(lines := line_ends(text)) > MOST_ROWS
    ):
        raise InputError(source, f"at most {MOST_ROWS:,} rows", said(f"about {ends:,}"))
    packed = delimiter in ("  ", " ")
    marks = len(lines) if packed else len(lines) + text.count(delimiter)
    if marks > MOST_CELLS:
        raise InputError(source, f"at most {MOST_CELLS:,} cells", said(f"about {marks:,}"))
    if packed:
        part = re.compile(r"\t|\s{2,}" if delimiter == "  " else r"\s+")
        rows = [
            FileLine(part.split(s), s, True) if (s := line.strip()) else _EMPTY for line in lines
        ]
    else:
        rows = _quoted(lines, delimiter, source, remarks)
    for number, row in enumerate(rows):
        if len(row) > MOST_COLUMNS:
            where = f"{source}, row {number + 1}"
            raise InputError(where, f"at most {MOST_COLUMNS} cells", said(f"{len(row)} cells"))
        if len(row.line) > MOST_SIGNS and max(map(len, row)) > MOST_SIGNS:
            where = f"{source}, row {number + 1}, column {letters(row.index(max(row, key=len)))}"
            longest = f"{max(map(len, row))} characters"
            raise InputError(where, f"at most {MOST_SIGNS} characters in a cell", said(longest))
    return rows


def _quoted(lines: list[str], delimiter: str, source: str, remarks: list[str]) -> list[FileLine]:
    plain = [line.split(delimiter) if '"' not in line else None for line in lines]
    taken = [cells if cells is not None else _cells(line, delimiter)[0]
             for line, cells in zip(lines, plain, strict=True)]  # fmt: skip
    counts = Counter(map(len, taken))
    width = max(counts, key=lambda n: (counts[n] if n > 1 else 0, n), default=1)
    rows: list[FileLine] = []
    literal: list[int] = []
    at = 0
    while at < len(lines):
        if not lines[at]:
            rows.append(_EMPTY)
            at += 1
            continue
        cells, count = taken[at], 1
        if plain[at] is None:
            joined = None
            if not _cells(lines[at], delimiter)[1]:
                joined = _over_lines(lines, at, delimiter, width, taken)
                if joined is None:
                    literal.append(len(rows) + 1)
            elif len(cells) != width and len(as_is := lines[at].split(delimiter)) == width:
                # Two ditto marks, and what lies between them is no cell.
                cells = as_is
                literal.append(len(rows) + 1)
            if joined:
                cells, count = joined
        if "'" in lines[at]:
            cells = [*map(original_text, cells)]
        rows.append(FileLine(cells, lines[at], lines=count))
        at += count
    if literal:
        where = ", ".join(map(str, literal[:5])) + (" …" if literal[5:] else "")
        remarks.append(
            f"{source}, row {where}: a quotation mark that opens and closes no cell is taken as a "
            "character"
        )
    return rows


@cache
def _closing(delimiter: str) -> re.Pattern:
    return re.compile(r'"((?:[^"]|"")*)"[ \t]*(?=' + re.escape(delimiter) + "|$)")


def _cells(line: str, delimiter: str) -> tuple[list[str], bool]:
    """Return the cells of one line, and whether each mark in it opens or closes a cell."""
    cells, at, whole = [], 0, True
    closing = _closing(delimiter)
    while True:
        start = at
        while delimiter != "\t" and line[start : start + 1] == " ":
            start += 1
        quoted = closing.match(line, start) if line[start : start + 1] == '"' else None
        if quoted:
            cells.append(quoted[1].replace('""', '"'))
            end = quoted.end()
        else:
            end = line.find(delimiter, at)
            end = len(line) if end < 0 else end
            cells.append(line[at:end])
            whole = whole and line[start : start + 1] != '"'
        if end >= len(line):
            return cells, whole
        at = end + 1


def _over_lines(
    lines: list[str], at: int, delimiter: str, width: int, taken: list[list[str]]
) -> tuple[list[str], int] | None:
    """Return the cells of a row that goes on in the next lines, and how many lines it takes."""
    full = len(taken[at]) >= width
    joined = lines[at]
    for count in range(2, 12):
        if at + count > len(lines):
            return None
        line = lines[at + count - 1]
        joined = f"{joined}\n{line}"
        cells, whole = _cells(joined, delimiter)
        if whole and len(cells) == width:
            # A mark that stands at the beginning of a cell opens one, and closes nothing.
            opens = re.match(rf'(?:[^"]*{re.escape(delimiter)})?[ \t]*"', line)
            wide = full and len(taken[at + count - 1]) > 1
            return None if opens or wide else (cells, count)
        # Below a row with all its cells only a line that parts nothing can be its end.
        if whole or len(taken[at + count - 1]) >= (2 if full else width):
            return None
    return None
