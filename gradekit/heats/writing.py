"""Writing heats and tables: whole or not at all, and as text where a spreadsheet might run it."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import os
import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

import numpy as np
import pandas as pd

from gradekit.core.aliases import Cell, HeatsLike, Label
from gradekit.core.errors import InputError, one_of, said
from gradekit.core.files import as_path, inert_text, workbook_bytes, write_whole
from gradekit.core.numbers import one_way
from gradekit.core.waiting import Waiting
from gradekit.heats.batch import as_batch
from gradekit.heats.certificates.cells import one_line, ppm_sized
from gradekit.heats.certificates.rowkinds import means_no_heat, unlike
from gradekit.heats.certificates.statistics import statistic_of
from gradekit.heats.certificates.units import is_unit_column
from gradekit.heats.notes import about, bounds, printed_limits
from gradekit.heats.report import reading_report

_FORMATS = (".csv", ".xlsx", ".json")
_MOST_ROWS = 1_048_575
#: A number as a works writes it, with the decimals that it has.
_WRITTEN = re.compile(r"\d+(?P<decimals>(?:\.\d+)?)")


def write_heats(heats: HeatsLike, path: str | os.PathLike) -> Path:
    """Write heats so that `read_heats` gives the same batch again.

    Parameters
    ----------
    heats : anything `as_batch` takes, or an object with `.heats` and `.tables()` such as `Result`
        A bound is written as '<0.005', the columns of `about` behind the elements. Of a result,
        its tables come as further sheets; in a CSV its values stand behind the elements, with
        evidence and flags in words. Printed limits and the reading report of a file come as further
        sheets or entries; a CSV has no place for them.
    path : path
        `.csv` (comma, decimal point, UTF-8), `.xlsx` or `.json`.

    Returns
    -------
    Path
        Of the written file. An old file stays as it was if anything fails.

    Raises
    ------
    InputError
        Another kind of file, or a folder that is not there.

    Examples
    --------
    >>> import tempfile
    >>> from gradekit import read_heats
    >>> folder = tempfile.mkdtemp()
    >>> file = write_heats({"Cr": 18.1, "Nb": "<0.005"}, f"{folder}/heats.csv")
    >>> file.read_text()
    'heat,Cr,Nb\\nheat 1,18.1,<0.005\\n'
    """
    kind = _format(path)
    tables = _tables_of(heats)
    if kind == ".json":
        frame = tables.pop("heats")
        content: dict[str, list | dict | str] = {
            "format": "gradekit heats 1",
            "unit": "wt%",
            "heats": _records(frame),
        }
        if "limits" in tables:
            limits = tables.pop("limits")
            content["limits"] = {
                label: {c: v for c, v in row.items() if v == v}
                for label, row in limits.to_dict("index").items()
            }
        content |= {name: _records(table) for name, table in tables.items()}
        return write_whole(path, _json(content))
    if kind == ".csv":
        heats_alone = tables["heats"]
        if "values" in tables:
            names = {n: f"{n} (value)" for n in tables["values"] if n in heats_alone}
            status = tables["relations"]["status"]
            worth = tables["flags"].apply(lambda words: f"{status[words.name]}; " + words)
            worth = worth.apply(lambda words: words.str.removesuffix("; "))
            heats_alone = heats_alone.join(tables["values"].rename(columns=names))
            heats_alone = heats_alone.join(worth.add_suffix(" (evidence)"))
        tables = {"heats": heats_alone}
    return write_whole(path, to_bytes(tables, kind))


def write_tables(tables: Mapping[str, pd.DataFrame], path: str | os.PathLike) -> Path:
    """Write tables into one file: the sheets of an XLSX, the entries of a JSON, or one CSV.

    Parameters
    ----------
    tables : mapping of name to DataFrame
        Numbers stay numbers; everything else becomes text that no spreadsheet runs. The index is
        written unless it only counts the rows.
    path : path
        `.xlsx`, `.json`, or `.csv` for one table.

    Returns
    -------
    Path

    Raises
    ------
    InputError
        Another ending, no table or what is none, several tables for one CSV, a folder that is
        not there.

    Examples
    --------
    >>> import tempfile
    >>> frame = pd.DataFrame({"value": [1.5]}, index=pd.Index(["=1+1"], name="heat"))
    >>> write_tables({"result": frame}, f"{tempfile.mkdtemp()}/t.csv").read_text()
    "heat,value\\n'=1+1,1.5\\n"
    """
    return write_whole(path, to_bytes(tables, _format(path)))


def to_bytes(tables: Mapping[str, pd.DataFrame], kind: str = ".xlsx", lead: str = "") -> bytes:
    """Return the content of a file with these tables, as for a download.

    Parameters
    ----------
    tables : mapping of name to DataFrame
    kind : {'.xlsx', '.csv', '.json'}
    lead : str, optional
        What stands above each table of a workbook, which is then laid out to be printed; texts
        such as '0.030' become numbers with these decimals.

    Examples
    --------
    >>> to_bytes({"t": pd.DataFrame({"Cr": [18.1]})})[:2]
    b'PK'
    """
    known = isinstance(tables, Mapping) and len(tables) > 0
    if not known or not all(isinstance(table, pd.DataFrame) for table in tables.values()):
        raise InputError("tables", "a mapping of name to DataFrame", tables)
    if kind == ".xlsx":
        return _workbook(tables, lead)
    if kind == ".json":
        return _json({name: _records(table) for name, table in tables.items()})
    if len(tables) > 1:
        raise InputError("a CSV file", "for one table", list(tables), "an .xlsx file")
    return _csv(next(iter(tables.values())))


def _format(path: str | os.PathLike) -> str:
    path = as_path(path)
    kind = path.suffix.lower()
    one_of(f"file '{path.name}'", kind, _FORMATS, f"one of {', '.join(_FORMATS)}")
    return kind


def contents_as_written(batch: pd.DataFrame) -> pd.DataFrame:
    """Return the contents of a batch as cells that are read back as they are, bounds as bounds."""
    marks = bounds(batch)
    cells = batch.astype(object).where(batch.notna(), None)
    cells = cells.mask(marks != "", marks)
    # Read again, so large a figure would be taken for ppm unless its unit stands there.
    large = [e for e in batch if ppm_sized(e, batch[e].to_numpy()).any()]
    return cells.rename(columns={e: f"{e} [wt%]" for e in large})


def _tables_of(heats: HeatsLike) -> dict[str, pd.DataFrame]:
    """Return the heats as a table of cells under the key 'heats', and what belongs to them."""
    result = heats if hasattr(heats, "tables") and hasattr(heats, "heats") else None
    batch = as_batch(result.heats if result is not None else heats)
    taken = {c: f"{c} (2)" for c in about(batch) if c == "heat" or is_unit_column(c)}
    others = about(batch).rename(columns=taken)
    if "analysis" not in others and _needs_kind(batch):
        others["analysis"] = "ladle"
    cells = pd.concat([contents_as_written(batch), others], axis=1)
    cells.index.name = "heat"
    tables = {"heats": cells}
    limits = printed_limits(batch)
    if not limits.empty:
        tables["limits"] = limits
    if result is not None:
        tables |= {name: table for name, table in result.tables().items() if name != "heats"}
    report = reading_report(batch)
    if report["kind"].eq("row").any():
        tables["reading report"] = report
    return tables


def _needs_kind(batch: pd.DataFrame) -> bool:
    """Tell whether the name of a heat, or its empty row, could be taken for something else."""
    names = [str(name) for name in batch.index]
    taken = any(map(means_no_heat, batch.index))
    if np.mean([any(map(str.isdigit, name)) for name in names]) >= 0.5:
        for k in range(2, len(names)):
            above = slice(max(0, k - 500), k)
            if not taken and unlike(names[k], names[above]):
                cells = batch.iloc[k].tolist(), batch.iloc[above].to_numpy().tolist()
                taken = statistic_of(names[k], None, *cells, False)[0] not in ("", "heat")
    return taken or bool(batch.isna().all(axis=1).any())


def _grid(table: pd.DataFrame) -> Iterator[list]:
    """Yield the header and the rows of a table as plain numbers, texts and None."""
    counts = isinstance(table.index, pd.RangeIndex) and table.index.name is None
    names = [] if counts else ["" if name is None else name for name in table.index.names]
    yield [one_line(str(name)) for name in [*names, *table.columns]]
    for label, row in zip(table.index, table.itertuples(index=False), strict=True):
        labels = () if counts else label if isinstance(label, tuple) else (label,)
        yield [_text_or_number(cell) for cell in (*labels, *row)]


def _text_or_number(cell: Cell) -> str | float | None:
    if isinstance(cell, str):
        return one_line(cell)
    if isinstance(cell, (bool, np.bool_)):
        return "yes" if cell else "no"
    if isinstance(cell, (int, np.integer)):
        return int(cell)
    if isinstance(cell, (float, np.floating)):
        number = float(cell)
        if number == 0:
            return 0  # '0.0' would be read as a bound
        return number if np.isfinite(number) else None if number != number else str(number)
    if cell is None or cell is pd.NA or cell is pd.NaT:
        return None
    return _text_or_number(cell.isoformat() if isinstance(cell, dt.date) else str(cell))


def _csv(table: pd.DataFrame) -> bytes:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerows([_one_way(inert_text(cell)) for cell in row] for row in _grid(table))
    text = out.getvalue()
    # With the mark a spreadsheet does not take UTF-8 for its own code page.
    return text.encode("utf-8" if text.isascii() else "utf-8-sig")


def _one_way(cell: Cell) -> Cell:
    return one_way(repr(cell)) if isinstance(cell, float) else cell


def _records(table: pd.DataFrame) -> list[dict]:
    header, *rows = _grid(table)
    return [dict(zip(header, row, strict=True)) for row in rows]


def _json(content: Mapping[str, list | dict | str]) -> bytes:
    return (json.dumps(content, ensure_ascii=False, indent=1) + "\n").encode()


def _workbook(tables: Mapping[str, pd.DataFrame], lead: str) -> bytes:
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    book = Workbook(write_only=True)
    bold, waiting = Font(bold=True), Waiting("The workbook is written")
    above: list[list] = [[one_line(lead)], []] if lead else []
    whole, done = sum(len(table) for table in tables.values()) + 1, 0
    for name, table in tables.items():
        waiting(str(name), done / whole)
        done += len(table)
        if len(table) > _MOST_ROWS:
            most = f"at most {_MOST_ROWS} rows, as many as a sheet has"
            raise InputError(f"table '{name}'", most, said(f"{len(table)} rows"), "a .csv file")
        sheet = book.create_sheet(_sheet_name(name, book.sheetnames))
        sheet.freeze_panes = f"B{len(above) + 2}"
        if lead:
            sheet.page_setup.orientation, sheet.page_setup.fitToHeight = "landscape", 0
            sheet.sheet_properties.pageSetUpPr.fitToPage = True
        rows = list(_grid(table))
        for at, header in enumerate(rows[0], start=1):
            texts = [str(header), *(str(row[at - 1]) for row in rows[1:30])]
            sheet.column_dimensions[get_column_letter(at)].width = min(max(map(len, texts)) + 2, 60)
        for number, row in enumerate([*above, *rows], start=-len(above)):
            cells: list = []
            for value in row:
                text = isinstance(value, str)
                runs = text and inert_text(value) != value
                long = isinstance(value, float) and float(f"{value:.16g}") != value
                written = _WRITTEN.fullmatch(value) if text and lead and number > 0 else None
                if number > 0 and not (runs or long or written or (text and value[:1] == "#")):
                    cells.append(value)  # as it stands: a cell of its own costs three times as much
                    continue
                shown = float(value) if written else repr(value) if long else value
                cells.append(cell := WriteOnlyCell(sheet, shown))
                if written:
                    cell.number_format = re.sub(r"\d", "0", f"0{written['decimals']}")
                elif long:  # the package would write sixteen digits, and this number has seventeen
                    cell.data_type = "n"
                elif text:  # it is one still when somebody edits the cell
                    cell.data_type, cell.quotePrefix = "s", runs
                if number <= 0:
                    cell.font = bold
            sheet.append(cells)
    content = workbook_bytes(book)
    waiting("done", 1.0)
    return content


def _sheet_name(name: Label, taken: Iterable[str]) -> str:
    """Return a name that a workbook takes: short, without signs, not there yet."""
    name = re.sub(r"[\[\]:*?/\\\x00-\x1f]", " ", str(name)).strip(" '")[:31] or "sheet"
    base, number, known = name, 1, {t.lower() for t in taken}
    while name.lower() in known:
        number += 1
        name = f"{base[: 31 - len(str(number)) - 1]} {number}"
    return name
