"""Reading heats from files as works, laboratories and spreadsheets write them."""

from __future__ import annotations

import io
import os
import re
from collections.abc import Mapping
from pathlib import Path
from typing import IO, Any, BinaryIO

import pandas as pd

from gradekit.core.aliases import PathLike
from gradekit.core.errors import NOTHING, InputError, nearest, said
from gradekit.core.json_text import parse_json
from gradekit.core.reader import (
    MOST_CELLS,
    MOST_COLUMNS,
    decoded,
    line_ends,
    looks_utf16,
    no_table,
    opened,
    split_lines,
)
from gradekit.heats.certificates.blocks import read_rows
from gradekit.heats.certificates.building import build_batch
from gradekit.heats.certificates.cells import with_clean_keys
from gradekit.heats.certificates.large import NotPlain, read_plain
from gradekit.heats.certificates.layout import header_score
from gradekit.heats.certificates.lines import delimiter_of, rows_of_text
from gradekit.heats.notes import Journal, notes_of, with_notes
from gradekit.heats.report import show_in_notebooks

#: Beyond these sizes a file is refused in words: a workbook, a text that has to be read cell by
#: cell, and a plain table.
MOST_BYTES = {"workbook": 5e6, "cells": 6e7, "table": 1e9}
#: Smaller texts are read cell by cell at once.
LARGE = 2e6
_IN_PARTS = "pandas.read_csv in parts, each given to gk.as_batch"
_EXPECTED = "a CSV, TXT, XLSX or JSON file"
_SUFFIXES = (".csv", ".tsv", ".tab", ".txt", ".dat", ".asc", ".xlsx", ".xlsm", ".json", ".jsonl")


def read_heats(path: PathLike | bytes | IO[bytes], sheet: str | None = None) -> pd.DataFrame:
    """Read heats from a CSV, XLSX or JSON file, with everything that certificates do.

    Parameters
    ----------
    path : path, file-like object, or bytes
        CSV parted by comma, semicolon, tab or bar, in UTF-8, UTF-16, cp1252, cp1250 or cp1254;
        XLSX; JSON as `write_heats` writes it, or one object a line. Tables may stand either way
        round or have one element a row, under titles, with units, multipliers, limits, statistics,
        heat and product analyses; elements by symbol or by name in thirteen languages. A text with
        line breaks is read as
        `read_heats_text` does.
    sheet : str, optional
        Sheet of a workbook; by default the first one that holds an analysis.

    Returns
    -------
    DataFrame, shape (heats, elements), wt%, float64
        As `as_batch` makes it. `about` has the other columns, with `analysis` telling ladle from
        product analyses; `bounds` the bounds; `messages` what was understood;
        `printed_limits` the minima and maxima beside the heats. `reading_report` has what became
        of each row and column; a notebook shows it below the batch.

    Raises
    ------
    InputError
        With file, row and column of the first cell that says nothing known, or that can be read
        two ways ('1.700') where its column and file do not decide; counted as a spreadsheet does.

    Examples
    --------
    >>> read_heats(b"Heat;C;Cr;N ppm\\nH1;0,021;18,12;548").loc["H1"].to_dict()
    {'C': 0.021, 'Cr': 18.12, 'N': 0.0548}
    """
    return show_in_notebooks(_read_any(path, sheet))


def _read_any(path: PathLike | bytes | IO[bytes], sheet: str | None) -> pd.DataFrame:
    if isinstance(path, str) and ("\n" in path or "\r" in path):
        return read_heats_text(path)
    if isinstance(path, (bytes, bytearray, memoryview)):
        return _read(io.BytesIO(bytes(path)), "the file", sheet)
    if hasattr(path, "read"):
        name = getattr(path, "name", None)
        source = Path(name).name if isinstance(name, str) else "the file"
        content = path.read()
        raw = content.encode() if isinstance(content, str) else content
        return _read(io.BytesIO(raw), source, sheet)
    if not isinstance(path, (str, os.PathLike)):
        raise InputError("heats", f"{_EXPECTED}, as path, bytes or open file", path)
    name = Path(path).name
    if os.path.isdir(path or "."):  # an empty path is the folder itself
        raise InputError(f"file '{name}'", _EXPECTED, said("a folder"))
    with opened(path, "file", "one that is there", _SUFFIXES) as file:
        return _read(file, name, sheet)


def read_heats_text(text: str) -> pd.DataFrame:
    """Read heats from pasted text: cells from a spreadsheet, or lines of an e-mail.

    Parameters
    ----------
    text : str
        A table parted by tabs, semicolons, commas or blanks, or lines such as
        'H1: C 0,021 Si 0,45 N 512 ppm'.

    Returns
    -------
    DataFrame, shape (heats, elements), wt%, float64

    Raises
    ------
    InputError
        No text, no header of elements, or a cell that cannot be read, with its place.

    Examples
    --------
    >>> read_heats_text("H1: C 0,021 Cr 18,1 N 512 ppm").loc["H1"].to_dict()
    {'C': 0.021, 'Cr': 18.1, 'N': 0.0512}
    """
    if not isinstance(text, str):
        raise InputError("pasted text", "text", text)
    source = "pasted text"
    # Half a character, as a broken clipboard gives it, fits into no table.
    text = text.encode("utf-8", "replace").decode()
    if not text.strip("\ufeff\0 \t\r\n"):
        raise InputError(source, "a table with a header of element symbols", NOTHING)
    journal = Journal(source)
    rows = rows_of_text(text.lstrip("\ufeff"), journal)
    return show_in_notebooks(read_rows(rows, journal))


def _read(file: BinaryIO, source: str, sheet: str | None) -> pd.DataFrame:
    head = file.read(4096)
    file.seek(0, os.SEEK_END)
    size = file.tell()
    file.seek(0)
    if not head.strip():
        raise InputError(
            f"file '{source}'", "a table with a header of element symbols", said("an empty file")
        )
    wrong_kind = no_table(head)
    if wrong_kind is None and head.startswith(b"PK\x03\x04"):
        _refuse_large(source, size, "workbook")
        return _read_workbook(file, source, sheet)
    suffix = Path(source).suffix.lower()
    if wrong_kind is None and suffix not in ("", *_SUFFIXES):
        wrong_kind = f"a file '{suffix}'"
    if wrong_kind is None and b"\0" in head and not looks_utf16(head):
        wrong_kind = "bytes that are no text"
    if wrong_kind is not None:
        raise InputError(f"file '{source}'", _EXPECTED, said(wrong_kind))
    if sheet is not None:
        raise InputError("sheet", "left out, as a text file has no sheets", sheet)
    _refuse_large(source, size, "table")
    if size > LARGE and suffix not in (".json", ".jsonl"):
        try:
            return read_plain(file, source)
        except NotPlain as reason:
            if size > MOST_BYTES["cells"]:
                most = "one row of headers and one heat a row, as it is so large"
                raise InputError(f"file '{source}'", most, said(str(reason)), _IN_PARTS) from None
            file.seek(0)
    text = decoded(file.read(), source, _headed)
    if suffix in (".json", ".jsonl") or text.lstrip()[:1] in ("{", "["):
        return _read_json(text, source)
    journal = Journal(source)
    return read_rows(rows_of_text(text, journal), journal)


def _headed(text: str) -> float:
    """Return how much of the beginning of a text is understood as a header."""
    sample = text[:20_000]
    return max(header_score(split_lines(sample, delimiter_of(sample), "", [])))


def _refuse_large(source: str, size: int, kind: str) -> None:
    if size > MOST_BYTES[kind]:
        raise InputError(
            f"file '{source}' is a {kind}",
            f"at most {MOST_BYTES[kind] / 1e6:g} MB",
            said(f"{size / 1e6:.1f} MB"),
            _IN_PARTS if kind == "table" else "a CSV file, which may be larger",
        )


def _read_json(text: str, source: str) -> pd.DataFrame:
    if re.match(r"\s*\{.*\}\s*\n\s*\{", text):  # one object a line
        lines = [(n, line) for n, line in enumerate(line_ends(text), start=1) if line.strip()]
        content: Any = [
            parse_json(line, f"file '{source}', row {n}", "one JSON object a line")
            for n, line in lines
        ]
    else:
        content = parse_json(text, f"file '{source}'", "complete JSON")
    limits: Any = {}
    if isinstance(content, Mapping) and "heats" in content:
        limits = content.get("limits") or {}
        content = content["heats"]
    if not isinstance(limits, Mapping) or not all(isinstance(v, Mapping) for v in limits.values()):
        must_be = "an object of label: {element: wt%}"
        raise InputError(f"file '{source}', limits", must_be, said(f"{limits!r:.80}"))
    records = [content] if isinstance(content, Mapping) else content
    if not isinstance(records, list) or not all(isinstance(r, Mapping) for r in records):
        must_be = "a list of heats, each {element: wt%}"
        raise InputError(f"file '{source}'", must_be, said(f"{content!r:.80}"))
    if not records:
        raise InputError(f"file '{source}'", "at least one heat", NOTHING)
    keys = len(set().union(*records))
    if keys * len(records) > MOST_CELLS or keys > MOST_COLUMNS:
        most = f"at most {MOST_COLUMNS:,} names and {MOST_CELLS:,} cells in all"
        raise InputError(
            f"file '{source}'", most, said(f"{len(records):,} heats of {keys:,} names")
        )
    table = pd.DataFrame([with_clean_keys(r) for r in records], dtype=object)
    batch = build_batch(
        table,
        lambda row, column: (
            f"{source}, " if row is None else f"{source}, heat {row + 1} of the list, "
        ),
        {"source": source},
    )
    return with_notes(batch, notes_of(batch) | ({"limits": dict(limits)} if limits else {}))


def _read_workbook(file: BinaryIO, source: str, sheet: str | None) -> pd.DataFrame:
    from gradekit.core.workbook import sheets_of

    sheets = sheets_of(file, source)
    if sheet is not None and sheet not in sheets:
        raise InputError(f"sheet of '{source}'", ", ".join(sheets), sheet, nearest(sheet, sheets))
    if sheet is None:
        sheet = next(
            (name for name, rows in sheets.items() if max(header_score(rows())) >= 2), None
        )
        sheet = sheet or next(iter(sheets))
    where = source if len(sheets) == 1 else f"{source}, sheet '{sheet}'"
    batch = read_rows(sheets[sheet](), Journal(where), sheet)
    others = [name for name in sheets if name != sheet]
    if others:
        notes = notes_of(batch)
        words = f"{source}: sheet '{sheet}' is read, {', '.join(others)} not"
        notes["messages"] = [words, *notes.get("messages", [])]
    return batch
