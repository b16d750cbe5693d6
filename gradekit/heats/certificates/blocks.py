"""From the tables of a certificate to one batch: heats, product analyses, limits, remarks."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.aliases import Label
from gradekit.core.errors import NOTHING, InputError
from gradekit.core.numbers import column_sign, number_of
from gradekit.core.reader import letters
from gradekit.heats.certificates.building import build_batch, checked, is_name_column, unique_names
from gradekit.heats.certificates.cells import (
    heads_grades,
    is_numbered,
    number_in,
    plain_text,
)
from gradekit.heats.certificates.headers import column_element, refused_unit
from gradekit.heats.certificates.layout import SpokenRows, TableBlock, blank, find_blocks, numeric
from gradekit.heats.certificates.rowkinds import BlockPart, cell_at, sort_rows
from gradekit.heats.certificates.units import (
    is_unit_column,
    known_units,
    title_units,
    unit_factor,
)
from gradekit.heats.notes import Journal, joined_notes, notes_of, with_notes

_KEYS = (
    r"heat(?: no\.?| number)?|cast(?: no\.?)?|schmelze(?:\s*nr\.?)?|charge(?:\s*nr\.?)?|coul[ée]e"
    r"|colata|colada|grade|steel grade|material|quality|werkstoff|güte|nuance|standard|customer"
    r"|order|product|date|datum|finish|certificate(?: no\.?)?"
)
_FIELD = re.compile(rf"(?P<key>{_KEYS})(?:\s*[:=]\s*(?P<value>.*)|)", re.I)
#: Columns whose entries are names, even where they look like numbers.
_TEXTS = frozenset(
    "standard claim claims no nr id order item coil slab plate date time note notes "
    "remark remarks customer product finish quality lab mode kind analysis row heat sample "
    "certificate".split()
)
_PLAIN = re.compile(r"-?(?:0|[1-9]\d*)(?:[.,]\d+)?", re.ASCII)


def read_rows(
    rows: Sequence[Sequence], source: str, remarks: Sequence[str] = (), sheet: str = ""
) -> pd.DataFrame:
    """Return the batch that a sheet of cells describes.

    Parameters
    ----------
    rows : sequence of rows of cells
        Texts, numbers, dates or None; row 0 is row 1 of the file.
    source : str
        Name of the file for messages.
    remarks : sequence of str
        What was decided on the way from the file to its cells.
    sheet : str
        Name of the sheet: a title like any other.

    Raises
    ------
    InputError
        With file, row and column of the first cell that says nothing known.
    """
    journal = Journal()
    journal.remarks += remarks
    blocks, titles = find_blocks(rows, source, journal)
    sign = _sign(blocks)
    limits: dict[str, dict] = {}
    parts: list[BlockPart] = []
    results: list[BlockPart] = []
    for block in blocks:
        part = sort_rows(block, limits, titles, journal, sign)
        if not part.rows:
            continue
        (parts if part.elements else results).append(part)
    if not parts:
        raise InputError(source, "at least one heat under the header", NOTHING)
    return batch_of(parts, sign, titles, limits, journal, source, results, sheet)


def batch_of(
    parts: list[BlockPart],
    sign: str,
    titles: list[str],
    limits: dict,
    journal: Journal,
    source: str,
    results: Sequence[BlockPart] = (),
    sheet: str = "",
) -> pd.DataFrame:
    """Return the batch of these parts of a sheet, with what stood around them."""
    units = title_units([*titles, sheet])
    _check_units(units, source)
    printed = fields_of(titles)
    _name(parts, printed, journal.remarks)
    batch = _join([_build(part, sign, units, journal) for part in parts], source)
    notes = dict(notes_of(batch))
    journal.remarks += _doubts(batch)
    about = notes.get("about", {})
    _add_results(about, results, set(batch.index), journal)
    for key, value in printed.items():
        if key not in map(str.lower, about):
            about[key] = dict.fromkeys(batch.index, value)
    notes["about"] = {
        column: _plain_numbers(column, values)
        for column, values in about.items()
        if any(value is not None for _, value in values.items())
    }
    notes["messages"] = journal.remarks + notes.get("messages", [])
    notes |= {"titles": titles, "limits": limits, "source": source, "report": journal.report()}
    return with_notes(batch, {key: value for key, value in notes.items() if value})


def _doubts(batch: pd.DataFrame) -> list[str]:
    """Say what a laboratory may have meant otherwise: zeros, and shares that sum up to 1."""
    lines = []
    none = [e for e in ("C", "Si", "Mn", "P", "S", "N") if e in batch and (batch[e] == 0).any()]
    if none:
        lines.append(
            f"{', '.join(none)}: 0 in {int((batch[none] == 0).any(axis=1).sum())} of {len(batch)} "
            "heats, of which no steel is free: if it means 'not measured', leave the cell blank"
        )
    most = float(batch.sum(axis=1).max())
    if "Cr" in batch and batch.shape[1] > 2 and 0 < most < 1.0:
        lines.append(
            f"no heat has more than {most:.3g} wt% of all elements together: if these are mass "
            "fractions, say so above the table"
        )
    return lines


def _sign(blocks: list[TableBlock]) -> str:
    """Return the decimal sign that the clear numbers of all contents share."""
    texts = (
        number_in(cell)
        for block in blocks
        for i, title in enumerate(block.header)
        if column_element(title)
        for _, row in block.rows[:5000]
        if isinstance(cell := cell_at(row, i), str)
    )
    return column_sign(texts)


def _check_units(units: dict[str, str], source: str) -> None:
    for unit in units.values():
        if unit_factor(unit) is None:
            must_be = refused_unit(unit) or f"one of {known_units}"
            raise InputError(f"{source}, unit in the title", must_be, unit)


def fields_of(titles: list[str]) -> dict[str, str]:
    """Read 'Grade: 1.4404 / 316L' and the like in the lines around a table."""
    printed: dict[str, str] = {}
    for line in titles:
        key = None
        for piece in re.split(
            r"\s{3,}|\t|[,;|]?\s+(?=(?:" + _KEYS + r")\s*[:=])", line, flags=re.I
        ):
            named = _FIELD.fullmatch(piece.strip())
            if named and (named["value"] is not None or key is None):
                key = named["key"].lower()
                if named["value"]:
                    printed.setdefault(key, named["value"].strip(" ,;"))
            elif key:
                printed[key] = f"{printed.get(key, '')} {piece.strip()}".strip()
    return printed


def _name(parts: list[BlockPart], printed_fields: dict[str, str], said_so: list[str]) -> None:
    """Give every heat of the file its own name; blocks that go on with the same heats share it."""
    titled = [key for key in printed_fields if is_name_column(key)]
    printed = printed_fields.pop(titled[0]) if titled else None
    groups: list[list[BlockPart]] = []
    for part in parts:
        part.names = [name if name is not None else printed for name in part.names]
        same = groups and groups[-1][0].names == part.names and groups[-1][0].kinds == part.kinds
        known = set().union(*(p.elements for p in groups[-1])) if groups else set()
        if same and any(part.names) and not part.elements & known:
            groups[-1].append(part)
        else:
            groups.append([part])
    ladle = Counter(
        n
        for (p, *_) in groups
        if any("product" in p.kinds for p, *_ in groups)
        for n, k in zip(p.names, p.kinds, strict=True)
        if k != "product"
    )
    raw: list = []
    for first, *_ in groups:
        nameless = first.name_at is None and not any(first.names)
        for name, kind in zip(first.names, first.kinds, strict=True):
            if nameless:
                name = f"heat {len(raw) + 1}"
            elif kind == "product" and ladle[name]:
                name = f"{name} (product)"
            raw.append(name)

    def place(row: int) -> str:
        for first, *_ in groups:
            if row < len(first.names):
                break
            row -= len(first.names)
        return f"{first.block.where(first.numbers[row])}: "

    names = unique_names(raw, place, said_so)
    for group in groups:
        count = len(group[0].names)
        for part in group:
            part.names = names[:count]
        names = names[count:]


def _build(part: BlockPart, sign: str, units: dict[str, str], journal: Journal) -> pd.DataFrame:
    block = part.block
    header = list(block.header)
    unit_at = next((i for i, h in enumerate(header) if is_unit_column(h)), None)
    if unit_at is not None and not any(
        unit_factor(plain_text(cell_at(row, unit_at))) for _, row in part.rows
    ):
        unit_at = None
    kept: list[int] = [i for i in range(len(header)) if i not in (part.name_at, unit_at)]
    columns: dict[int, Sequence] = {i: part.cells(i) for i in kept}
    if unit_at is not None:
        _give_units(part, unit_at, header, columns)
        journal.column(unit_at, header[unit_at], "units")
    if part.kind_at is not None and part.kind_at in columns:
        header[part.kind_at] = "analysis"
    if part.kind_at is not None or block.analysis:
        at = part.kind_at if part.kind_at is not None else len(header)
        if at == len(header):
            header.append("analysis")
            kept.append(at)
        columns[at] = [kind or None for kind in part.kinds]
    kept = [i for i in kept if header[i] or any(not blank(c) for c in columns[i])]
    names, seen = [], {header[part.name_at] if part.name_at is not None else ""}
    for i in kept:
        name = header[i] or f"column {letters(i)}"
        name = f"{name} ({letters(i)})" if name in seen and not column_element(name) else name
        seen.add(name)
        names.append(name)
    table = pd.DataFrame(
        dict(enumerate(columns[i] for i in kept)), dtype=object if part.rows else None
    )
    table.columns = names
    table.insert(0, "heat", pd.Series(part.names, dtype=object))
    at_of: list[int | None] = [part.name_at, *kept]
    spoken = bool(part.rows) and isinstance(part.rows[0][1], SpokenRows)
    numbers = part.numbers

    def place(row: int | None, position: int | None) -> str:
        number = None if row is None else numbers[row]
        return block.place(number, None if position is None or spoken else at_of[position])

    batch = build_batch(table, place, sign=sign, units=units)
    if not spoken:
        labels = dict(enumerate(block.labels))
        for entry in notes_of(batch).get("report", []):
            column = at_of[int(entry.where)]
            if column is not None and column < len(block.header):
                told = dict(reason=entry.reason, surprise=entry.surprise)
                content = dict(element=entry.element, unit=entry.unit, factor=entry.factor)
                label = labels.get(column) or entry.label
                journal.column(column, label, entry.taken_as, **content, **told)
        if part.name_at is not None:
            journal.column(part.name_at, labels.get(part.name_at, ""), "heat name")
    if not part.rows:
        journal.heats = (numbers, part.names)
    for (number, _), name, kind in zip(part.rows, part.names, part.kinds, strict=False):
        journal.row(number, name, "product analysis" if kind == "product" else "heat")
    label_of = {name: block.labels[i] for name, i in zip(names, kept, strict=True)
                if i < len(block.labels)}  # fmt: skip
    unread = {e: label_of.get(c) or c for e, c in notes_of(batch).get("unread", {}).items()}
    own = {"place": place, "report": [], "unread": unread}
    return with_notes(batch, notes_of(batch) | own)


def _give_units(
    part: BlockPart, unit_at: int, header: list[str], columns: Mapping[int, Any]
) -> None:
    """Write the unit of each row behind its figures, where their column has none."""
    for row, (number, cells) in enumerate(part.rows):
        unit = plain_text(cell_at(cells, unit_at))
        if unit is None:
            continue
        if unit_factor(unit) is None:
            where = part.block.where(number, unit_at)
            must_be = refused_unit(str(unit)) or f"one of {known_units}"
            raise InputError(f"{where}, unit", must_be, unit)
        for i, column in columns.items():
            named = column_element(header[i])
            if named and not named.stated and numeric(column[row]):
                column[row] = f"{column[row]} {unit}"


def _join(batches: list[pd.DataFrame], source: str) -> pd.DataFrame:
    """Put the heats of several tables into one batch."""
    notes = [dict(notes_of(batch)) for batch in batches]
    places = [note.pop("place") for note in notes]
    if len(batches) == 1:
        return with_notes(batches[0], notes[0])
    columns = list(dict.fromkeys(c for batch in batches for c in batch.columns))
    heats = list(dict.fromkeys(h for batch in batches for h in batch.index))
    whole = pd.DataFrame(np.nan, index=pd.Index(heats, name="heat"), columns=columns)
    rows: dict[Label, str] = {}
    for batch, place in zip(batches, places, strict=True):
        whole.loc[batch.index, batch.columns] = batch.to_numpy()
        rows |= {heat: place(row, None) for row, heat in enumerate(batch.index)}
    checked(whole, lambda row, _: rows[heats[row]] if row is not None else f"{source}, ")
    return with_notes(whole, joined_notes(notes))


def _add_results(about: dict, results: Sequence[BlockPart], heats: set, journal: Journal) -> None:
    """Lay tables of test results alone beside the heats of the same name."""
    for part in results:
        count: Counter = Counter()
        for (number, row), name in zip(part.rows, part.names, strict=True):
            if name not in heats:
                remark = f"test results of '{name}', of which there is no analysis: left out"
                journal.remarks.append(f"{part.block.where(number)}: {remark}")
                journal.row(number, name, "left out", "no analysis of this heat", True)
                continue
            journal.row(number, name, "test results")
            count[name] += 1
            again = f" ({count[name]})" if count[name] > 1 else ""
            for i, header in enumerate(part.block.header):
                value = plain_text(cell_at(row, i))
                if i != part.name_at and header and value is not None:
                    about.setdefault(header + again, {})[name] = value


def _plain_numbers(column: str, values: dict | pd.Series) -> dict | pd.Series:
    if isinstance(values, pd.Series):
        numbers = numbers_where_plain(column, values.tolist())
        return pd.Series(numbers, index=values.index, dtype=object)
    return dict(zip(values, numbers_where_plain(column, values.values()), strict=True))


def numbers_where_plain(column: str, values: Iterable) -> list:
    """Return a column of remarks with numbers in place of texts, if all its entries are numbers."""
    values = list(values)
    texts = {value for value in values if value is not None}
    if (
        column.lower() in _TEXTS
        or heads_grades(column)
        or not all(isinstance(t, str) and _PLAIN.fullmatch(t) and not is_numbered(t) for t in texts)
    ):
        return values
    sign = column_sign(texts)
    try:
        known: dict = {t: int(t) if t.lstrip("-").isdigit() else number_of(t, sign) for t in texts}
    except ValueError:  # two readings, or too many digits: the text stays
        return values
    return [known.get(value) for value in values]
