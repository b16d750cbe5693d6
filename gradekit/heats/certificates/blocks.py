"""From the tables of a certificate to one batch: heats, product analyses, limits, remarks."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from gradekit.core.errors import NOTHING, InputError
from gradekit.core.numbers import column_sign, number_of
from gradekit.core.reader import blank, cell_at, letters
from gradekit.heats.certificates.building import (
    Place,
    TableColumn,
    batch_of_columns,
    checked,
    written_numbers,
)
from gradekit.heats.certificates.cells import heads_grades, is_numbered, plain_text
from gradekit.heats.certificates.headers import column_element, refused_unit
from gradekit.heats.certificates.layout import SpokenRows, TableBlock, find_blocks, numeric
from gradekit.heats.certificates.names import is_name_column, unique_names
from gradekit.heats.certificates.rowkinds import sort_rows
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


def read_rows(rows: Sequence[Sequence], journal: Journal, sheet: str = "") -> pd.DataFrame:
    """Return the batch that a sheet of cells describes.

    Parameters
    ----------
    rows : sequence of rows of cells
        Texts, numbers, dates or None; row 0 is row 1 of the file.
    journal : Journal
        With the name of the file, and what was decided on the way from it to its cells.
    sheet : str
        Name of the sheet: a title like any other.

    Raises
    ------
    InputError
        With file, row and column of the first cell that says nothing known.
    """
    blocks = find_blocks(rows, journal)
    journal.sign = column_sign(
        number
        for block in blocks
        for number in written_numbers((h, block.cells(i, 5000)) for i, h in enumerate(block.header))
    )
    for block in blocks:
        sort_rows(block, journal)
    return batch_of([block for block in blocks if block.rows], journal, sheet)


def batch_of(blocks: list[TableBlock], journal: Journal, sheet: str = "") -> pd.DataFrame:
    """Return the batch of the heats of a sheet, with what stood around them."""
    analysed = [block for block in blocks if block.elements]
    if not analysed:
        raise InputError(journal.source, "at least one heat under the header", NOTHING)
    units = title_units([*journal.titles, sheet])
    _check_units(units, journal.source)
    printed = fields_of(journal.titles)
    _name(analysed, printed, journal.remarks)
    batch = _join([_build(block, units, journal) for block in analysed], journal.source)
    notes = dict(notes_of(batch))
    journal.remarks += _doubts(batch)
    about = notes["about"]
    results = [block for block in blocks if not block.elements]
    _add_results(about, results, set(batch.index), journal)
    for key, value in printed.items():
        if key not in map(str.lower, about):
            about[key] = dict.fromkeys(batch.index, value)
    notes["about"] = {column: _plain_numbers(column, values) for column, values in about.items()}
    notes["messages"] = journal.remarks + notes["messages"]
    notes |= {"titles": journal.titles, "limits": journal.limits, "source": journal.source}
    notes["report"] = journal.report()
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


def _name(blocks: list[TableBlock], printed_fields: dict[str, str], remarks: list[str]) -> None:
    """Give every heat of the file its own name; blocks that go on with the same heats share it."""
    titled = [key for key in printed_fields if is_name_column(key)]
    printed = printed_fields.pop(titled[0]) if titled else None
    groups: list[list[TableBlock]] = []
    for block in blocks:
        block.names = [name if name is not None else printed for name in block.names]
        same = groups and groups[-1][0].names == block.names and groups[-1][0].kinds == block.kinds
        known = set().union(*(other.elements for other in groups[-1])) if groups else set()
        if same and any(block.names) and not block.elements & known:
            groups[-1].append(block)
        else:
            groups.append([block])
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
        return f"{first.where(first.numbers[row])}: "

    names = unique_names(raw, place, remarks)
    for group in groups:
        count = len(group[0].names)
        for block in group:
            block.names = names[:count]
        names = names[count:]


def _build(
    block: TableBlock, units: dict[str, str], journal: Journal
) -> tuple[pd.DataFrame, Place]:
    """Return the heats of a block, and what says where a row and a column of it stand."""
    header, labels = list(block.header), list(block.labels)
    unit_at = next((i for i, h in enumerate(header) if is_unit_column(h)), None)
    if unit_at is not None and not any(
        unit_factor(plain_text(cell_at(row, unit_at))) for _, row in block.rows
    ):
        unit_at = None
    columns: dict[int, Sequence] = {
        i: block.cells(i) for i in range(len(header)) if i not in (block.name_at, unit_at)
    }
    if unit_at is not None:
        _give_units(block, unit_at, header, columns)
        journal.column(unit_at, header[unit_at], "units")
    kind_at = block.kind_at
    if kind_at is None and block.analysis:
        kind_at = len(header)
        header.append("")
    if kind_at is not None:
        header[kind_at] = "analysis"
        columns[kind_at] = [kind or None for kind in block.kinds]
    spoken = bool(block.rows) and isinstance(block.rows[0][1], SpokenRows)
    numbers = block.numbers

    def place(row: int | None, column: int | None) -> str:
        return block.place(None if row is None else numbers[row], None if spoken else column)

    def enter(column: TableColumn, taken_as: str, **more) -> None:
        if not spoken and column.at < len(block.header):
            journal.column(column.at, column.label or str(column.title), taken_as, **more)

    titled, seen = [], {header[block.name_at] if block.name_at is not None else ""}
    for i, cells in columns.items():
        if header[i] or any(not blank(cell) for cell in cells):
            title = header[i] or f"column {letters(i)}"
            if title in seen and not column_element(title):
                title = f"{title} ({letters(i)})"
            seen.add(title)
            label = labels[i] if i < len(labels) else ""
            titled.append(TableColumn(i, title, label, cells))
    batch = batch_of_columns(titled, block.names, place, enter, [], journal.sign, units)
    if block.name_at is not None and not spoken:
        journal.column(block.name_at, labels[block.name_at], "heat name")
    if not block.rows:
        journal.heats = (numbers, block.names)
    for (number, _), name, kind in zip(block.rows, block.names, block.kinds, strict=False):
        journal.row(number, name, "product analysis" if kind == "product" else "heat")
    return batch, place


def _give_units(
    block: TableBlock, unit_at: int, header: list[str], columns: Mapping[int, Any]
) -> None:
    """Write the unit of each row behind its figures, where their column has none."""
    for row, (number, cells) in enumerate(block.rows):
        unit = plain_text(cell_at(cells, unit_at))
        if unit is None:
            continue
        if unit_factor(unit) is None:
            where = block.where(number, unit_at)
            must_be = refused_unit(str(unit)) or f"one of {known_units}"
            raise InputError(f"{where}, unit", must_be, unit)
        for i, column in columns.items():
            named = column_element(header[i])
            if named and not named.stated and numeric(column[row]):
                column[row] = f"{column[row]} {unit}"


def _join(built: list[tuple[pd.DataFrame, Place]], source: str) -> pd.DataFrame:
    """Put the heats of several tables into one batch."""
    batches = [batch for batch, _ in built]
    if len(batches) == 1:
        return batches[0]
    # Blocks that go on with the same heats hold other elements of them.
    numbers = [pd.DataFrame(b.to_numpy(), b.index, b.columns) for b in batches]
    whole = pd.concat(numbers).groupby(level="heat", sort=False).first()
    rows = {h: place(row, None) for batch, place in built for row, h in enumerate(batch.index)}
    checked(whole, lambda row, _: rows[whole.index[row]] if row is not None else f"{source}, ")
    return with_notes(whole, joined_notes(map(notes_of, batches)))


def _add_results(about: dict, results: Sequence[TableBlock], heats: set, journal: Journal) -> None:
    """Lay tables of test results alone beside the heats of the same name."""
    for block in results:
        count: Counter = Counter()
        for (number, row), name in zip(block.rows, block.names, strict=True):
            if name not in heats:
                remark = f"test results of '{name}', of which there is no analysis: left out"
                journal.remarks.append(f"{block.where(number)}: {remark}")
                journal.row(number, name, "left out", "no analysis of this heat", True)
                continue
            journal.row(number, name, "test results")
            count[name] += 1
            again = f" ({count[name]})" if count[name] > 1 else ""
            for i, header in enumerate(block.header):
                value = plain_text(cell_at(row, i))
                if i != block.name_at and header and value is not None:
                    about.setdefault(header + again, {})[name] = value


def _plain_numbers(column: str, values: dict | pd.Series) -> dict | pd.Series:
    """Return a column of remarks with numbers in place of texts, if all its entries are numbers."""
    entries = list(values.values()) if isinstance(values, dict) else values.tolist()
    texts = {value for value in entries if value is not None}
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
    numbers = [known.get(value) for value in entries]
    if isinstance(values, pd.Series):
        return pd.Series(numbers, index=values.index, dtype=object)
    return dict(zip(values, numbers, strict=True))
