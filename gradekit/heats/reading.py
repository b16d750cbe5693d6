"""Reading heats from files as works, laboratories and spreadsheets write them."""

from __future__ import annotations

import codecs
import io
import json
import os
from collections.abc import Mapping
from pathlib import Path
from typing import BinaryIO

import pandas as pd

from gradekit.core.errors import NOTHING, InputError, nearest, said
from gradekit.heats.certificates.blocks import read_rows
from gradekit.heats.certificates.building import build_batch
from gradekit.heats.certificates.layout import score
from gradekit.heats.certificates.lines import rows_of_text
from gradekit.heats.notes import notes_of, with_notes

__all__ = ["MOST_BYTES", "read_heats", "read_heats_text"]

#: Beyond these sizes a file is refused in words; each is about a minute of reading at most.
MOST_BYTES = {"certificate": 10e6, "workbook": 5e6, "json": 50e6, "table": 1e9}
# From here on a text file is first tried as a plain table, in chunks.
_STREAM_FROM = 1_000_000
_EXPECTED = "a CSV, TXT, XLSX or JSON file"
_SUFFIXES = (".csv", ".tsv", ".tab", ".txt", ".dat", ".asc", ".xlsx", ".xlsm", ".json")
_STARTS = {
    b"\x89PNG": "a PNG picture",
    b"\xff\xd8\xff": "a JPEG picture",
    b"GIF8": "a GIF picture",
    b"BM": "a BMP picture",
    b"II*\x00": "a TIFF picture",
    b"%PDF": "a PDF document",
    b"\xd0\xcf\x11\xe0": "an old Office document (save it as .xlsx)",
    b"\x1f\x8b": "a compressed file (unpack it first)",
}


def read_heats(path: object, sheet: str | None = None) -> pd.DataFrame:
    """Read heats from a CSV, XLSX or JSON file, with everything that certificates do.

    Parameters
    ----------
    path : path, file-like object, or bytes
        CSV parted by comma, semicolon or tab, in UTF-8 or cp1252; XLSX; JSON as `write_heats`
        writes it. Tables may stand either way round, under titles, with rows of units,
        multipliers, minima and maxima, heat and product analyses. A text with line breaks is read
        as `read_heats_text` does.
    sheet : str, optional
        Sheet of a workbook; by default the first one that holds an analysis.

    Returns
    -------
    DataFrame, shape (heats, elements), wt%, float64
        As `as_batch` makes it. `about` has the other columns, with `analysis` telling ladle from
        product analyses; `bounds` the bounds; `messages` what was understood;
        `printed_limits` the minima and maxima beside the heats.

    Raises
    ------
    InputError
        With file, row and column of the first cell that says nothing known, counted as a
        spreadsheet counts them.

    Examples
    --------
    >>> read_heats(b"Heat;C;Cr;N ppm\\nH1;0,021;18,12;548").loc["H1"].to_dict()
    {'C': 0.021, 'Cr': 18.12, 'N': 0.0548}
    """
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
    place = Path(path)
    try:
        if place.is_dir():
            raise InputError(f"file '{place.name}'", _EXPECTED, said("a folder"))
        with place.open("rb") as file:
            return _read(file, place.name, sheet)
    except FileNotFoundError:
        here = [p.name for p in place.parent.glob("*")] if place.parent.is_dir() else []
        close = nearest(place.name, [n for n in here if n.lower().endswith(_SUFFIXES)])
        raise InputError("file", "one that is there", str(path), close) from None
    except OSError as error:
        raise InputError(
            f"file '{place.name}'", "readable", said(error.strerror or str(error))
        ) from None


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
    if not text.strip("\ufeff\0 \t\r\n"):
        raise InputError(source, "a table with a header of element symbols", NOTHING)
    return read_rows(rows_of_text(text.lstrip("\ufeff"), source), source)


def _read(file: BinaryIO, source: str, sheet: str | None) -> pd.DataFrame:
    head = file.read(4096)
    file.seek(0, os.SEEK_END)
    size = file.tell()
    file.seek(0)
    if not head.strip():
        raise InputError(
            f"file '{source}'", "a table with a header of element symbols", said("an empty file")
        )
    found = next((words for start, words in _STARTS.items() if head.startswith(start)), None)
    if found is None and head.startswith(b"PK\x03\x04"):
        _refuse_large(source, size, "workbook")
        return _read_workbook(file, source, sheet)
    suffix = Path(source).suffix.lower()
    if found is None and suffix not in ("", *_SUFFIXES):
        found = f"a file '{suffix}'"
    utf16 = head.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE))
    if found is None and b"\0" in head and not utf16:
        found = "bytes that are no text"
    if found is not None:
        raise InputError(f"file '{source}'", _EXPECTED, said(found))
    if sheet is not None:
        raise InputError("sheet", "left out, as a text file has no sheets", sheet)
    if suffix == ".json" or head.lstrip()[:1] in (b"{", b"["):
        _refuse_large(source, size, "json")
        return _read_json(file.read(), source)
    if size > _STREAM_FROM and not utf16:
        from gradekit.heats.certificates.streaming import read_plain

        _refuse_large(source, size, "table")
        batch = read_plain(file, source, size)
        if batch is not None:
            return batch
        file.seek(0)
    _refuse_large(source, size, "certificate")
    text = decoded(file.read(), source)
    return read_rows(rows_of_text(text, source), source)


def _refuse_large(source: str, size: int, kind: str) -> None:
    if size > MOST_BYTES[kind]:
        what = {
            "certificate": "no plain table under one header, so it",
            "workbook": "a workbook",
            "json": "JSON",
            "table": "a table",
        }[kind]
        plain = "saved as a plain CSV of heats and elements, a larger file can be read"
        raise InputError(
            f"file '{source}' is {what}",
            f"at most {MOST_BYTES[kind] / 1e6:g} MB",
            said(f"{size / 1e6:.1f} MB"),
            plain if kind != "table" else "read it in parts",
        )


def decoded(raw: bytes, source: str) -> str:
    """Return the text of bytes in UTF-8, UTF-16 with its mark, or else cp1252."""
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encodings = ["utf-16"]
    else:
        encodings = ["utf-8-sig", "cp1252"]
    for encoding in encodings:
        try:
            return raw.decode(encoding)
        except UnicodeDecodeError as error:
            place = error.start
    line = raw[:place].count(b"\n") + 1
    raise InputError(
        f"{source}, row {line}", "text in UTF-8 or cp1252", said(f"byte 0x{raw[place]:02x}")
    )


def _read_json(raw: bytes, source: str) -> pd.DataFrame:
    try:
        found = json.loads(raw.decode("utf-8-sig"))
    except (UnicodeDecodeError, ValueError, RecursionError) as error:
        raise InputError(f"file '{source}'", "complete JSON", said(str(error)[:100])) from None
    limits: dict = {}
    if isinstance(found, Mapping) and "heats" in found:
        limits = found.get("limits") or {}
        found = found["heats"]
    records = [found] if isinstance(found, Mapping) else found
    if not isinstance(records, list) or not all(isinstance(r, Mapping) for r in records):
        raise InputError(f"file '{source}'", "a list of heats, each {element: wt%}", found)
    if not records:
        raise InputError(f"file '{source}'", "at least one heat", NOTHING)
    table = pd.DataFrame([dict(r) for r in records], dtype=object)
    batch = build_batch(
        table,
        lambda row, column: (
            f"{source}, " if row is None else f"{source}, heat {row + 1} of the list, "
        ),
        {"source": source},
    )
    return with_notes(batch, notes_of(batch) | ({"limits": limits} if limits else {}))


def _read_workbook(file: BinaryIO, source: str, sheet: str | None) -> pd.DataFrame:
    from gradekit.core.workbook import sheets_of

    sheets = sheets_of(file, source)
    if sheet is not None and sheet not in sheets:
        raise InputError(f"sheet of '{source}'", ", ".join(sheets), sheet, nearest(sheet, sheets))
    if sheet is None:
        sheet = next((name for name, rows in sheets.items() if max(score(rows())) >= 2), None)
        sheet = sheet or next(iter(sheets))
    where = source if len(sheets) == 1 else f"{source}, sheet '{sheet}'"
    batch = read_rows(sheets[sheet](), where)
    others = [name for name in sheets if name != sheet]
    if others:
        notes = notes_of(batch)
        words = f"{source}: sheet '{sheet}' is read, {', '.join(others)} not"
        notes["messages"] = [words, *notes.get("messages", [])]
    return batch
