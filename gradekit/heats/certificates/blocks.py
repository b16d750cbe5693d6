"""From the tables of a certificate to one batch: heats, product analyses, limits, remarks."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from functools import partial

import numpy as np
import pandas as pd

from gradekit.core.errors import NOTHING, InputError
from gradekit.heats.certificates.building import build_batch, checked, is_name_column, unique_names
from gradekit.heats.certificates.cells import column_element, plain_text
from gradekit.heats.certificates.layout import Block, Spoken, blank, find_blocks, letters
from gradekit.heats.certificates.rowkinds import Part, cell_at, sort_rows
from gradekit.heats.notes import joined_notes, notes_of, with_notes

__all__ = ["fields", "numbers_where_plain", "read_rows"]

_FIELD = re.compile(
    r"(?P<key>heat(?: no\.?| number)?|cast(?: no\.?)?|schmelze|grade|steel grade|material|quality"
    r"|werkstoff|güte|standard|customer|order|product|date|finish|certificate(?: no\.?)?)"
    r"(?:\s*[:=]\s*(?P<value>.*)|)",
    re.I,
)
#: Columns whose entries are names, even where they look like numbers.
_TEXTS = frozenset(
    "grade steel standard claim claims no nr id order item coil slab plate date time note notes "
    "remark remarks customer product finish quality lab mode kind analysis row heat sample "
    "material werkstoff güte certificate".split()
)
_PLAIN = re.compile(r"-?(?:0|[1-9]\d*)(?:[.,]\d+)?", re.ASCII)


def read_rows(rows: Sequence[Sequence], source: str) -> pd.DataFrame:
    """Return the batch that a sheet of cells describes.

    Parameters
    ----------
    rows : sequence of rows of cells
        Texts, numbers, dates or None; row 0 is row 1 of the file.
    source : str
        Name of the file for messages.

    Raises
    ------
    InputError
        With file, row and column of the first cell that says nothing known.
    """
    blocks, titles = find_blocks(rows, source)
    said_so: list[str] = []
    limits: dict[str, dict] = {}
    parts, results = [], []
    for block in blocks:
        part = sort_rows(block, limits, titles, said_so)
        if not part.rows:
            continue
        (parts if part.elements else results).append(part)
    if not parts:
        raise InputError(source, "at least one heat under the header", NOTHING)
    printed = fields(titles)
    _name(parts, printed, said_so)
    batch = _join([_build(part, source) for part in parts], source)
    notes = dict(notes_of(batch))
    about = notes.get("about", {})
    _add_results(about, results, set(batch.index), said_so)
    for key, value in printed.items():
        if key not in map(str.lower, about):
            about[key] = dict.fromkeys(batch.index, value)
    notes["about"] = {
        column: dict(zip(values, numbers_where_plain(column, values.values()), strict=True))
        for column, values in about.items()
        if any(value is not None for value in values.values())
    }
    notes["messages"] = said_so + notes.get("messages", [])
    notes |= {"titles": titles, "limits": limits, "source": source}
    return with_notes(batch, {key: value for key, value in notes.items() if value})


def fields(titles: list[str]) -> dict[str, str]:
    """Read 'Grade: 1.4404 / 316L' and the like in the lines around a table."""
    found_so: dict[str, str] = {}
    for line in titles:
        key = None
        for piece in re.split(r"\s{3,}|\t", line):
            found = _FIELD.fullmatch(piece.strip())
            if found and (found["value"] is not None or key is None):
                key = found["key"].lower()
                if found["value"]:
                    found_so.setdefault(key, found["value"].strip())
            elif key:
                found_so[key] = f"{found_so.get(key, '')} {piece.strip()}".strip()
    return found_so


def _name(parts: list[Part], printed_fields: dict[str, str], said_so: list[str]) -> None:
    """Give every heat of the file its own name; blocks that go on with the same heats share it."""
    titled = [key for key in printed_fields if is_name_column(key)]
    printed = printed_fields.pop(titled[0]) if titled else None
    groups: list[list[Part]] = []
    for part in parts:
        part.names = [name if name is not None else printed for name in part.names]
        same = groups and groups[-1][0].names == part.names and groups[-1][0].kinds == part.kinds
        known = set().union(*(p.elements for p in groups[-1])) if groups else set()
        if same and any(part.names) and not part.elements & known:
            groups[-1].append(part)
        else:
            groups.append([part])
    ladle = Counter(
        n for (p, *_) in groups for n, k in zip(p.names, p.kinds, strict=True) if k != "product"
    )
    raw, places = [], []
    for first, *_ in groups:
        nameless = first.name_at is None and not any(first.names)
        for i, (name, kind) in enumerate(zip(first.names, first.kinds, strict=True)):
            if nameless:
                name = f"heat {len(raw) + 1}"
            elif kind == "product" and ladle[name]:
                name = f"{name} (product)"
            raw.append(name)
            places.append(partial(_row_place, first.block, first.rows[i][0]))
    names = unique_names(raw, lambda row: places[row](), said_so)
    for group in groups:
        count = len(group[0].names)
        for part in group:
            part.names = names[:count]
        names = names[count:]


def _row_place(block: Block, number: int) -> str:
    return f"{block.where(number)}: "


def _build(part: Part, source: str) -> pd.DataFrame:
    block = part.block
    header = list(block.header)
    kept = [i for i in range(len(header)) if i != part.name_at]
    columns: dict[int, list] = {i: [cell_at(row, i) for _, row in part.rows] for i in kept}
    if part.kind_at is not None:
        header[part.kind_at] = "analysis"
        columns[part.kind_at] = [kind or None for kind in part.kinds]
    kept = [i for i in kept if header[i] or any(not blank(c) for c in columns[i])]
    names, seen = [], {header[part.name_at] if part.name_at is not None else ""}
    for i in kept:
        name = header[i] or f"column {letters(i)}"
        name = f"{name} ({letters(i)})" if name in seen and not column_element(name) else name
        seen.add(name)
        names.append(name)
    table = pd.DataFrame(dict(enumerate(columns[i] for i in kept)), dtype=object)
    table.columns = names
    table.insert(0, "heat", part.names)
    kept.insert(0, part.name_at)

    def place(row: int | None, position: int | None) -> str:
        number = None if row is None else part.rows[row][0]
        spoken = isinstance(part.rows[0][1], Spoken)
        column = None if position is None or spoken else kept[position]
        return block.place(number, column)

    batch = build_batch(table, place)
    return with_notes(batch, notes_of(batch) | {"place": place})


def _join(batches: list[pd.DataFrame], source: str) -> pd.DataFrame:
    """Put the heats of several tables into one batch."""
    notes = [dict(notes_of(batch)) for batch in batches]
    places = [note.pop("place") for note in notes]
    if len(batches) == 1:
        return with_notes(batches[0], notes[0])
    columns = list(dict.fromkeys(c for batch in batches for c in batch.columns))
    heats = list(dict.fromkeys(h for batch in batches for h in batch.index))
    whole = pd.DataFrame(np.nan, index=pd.Index(heats, name="heat"), columns=columns)
    rows: dict[object, str] = {}
    for batch, place in zip(batches, places, strict=True):
        whole.loc[batch.index, batch.columns] = batch.to_numpy()
        rows |= {heat: place(row, None) for row, heat in enumerate(batch.index)}
    checked(whole, lambda row, _: rows[heats[row]] if row is not None else f"{source}, ")
    return with_notes(whole, joined_notes(notes))


def _add_results(about: dict, results: list[Part], heats: set, said_so: list[str]) -> None:
    """Lay tables of test results alone beside the heats of the same name."""
    for part in results:
        count: Counter = Counter()
        for (number, row), name in zip(part.rows, part.names, strict=True):
            if name not in heats:
                said_so.append(
                    f"{part.block.where(number)}: test results of '{name}', "
                    "of which there is no analysis: left out"
                )
                continue
            count[name] += 1
            again = f" ({count[name]})" if count[name] > 1 else ""
            for i, header in enumerate(part.block.header):
                value = plain_text(cell_at(row, i))
                if i != part.name_at and header and value is not None:
                    about.setdefault(header + again, {})[name] = value


def numbers_where_plain(column: str, values: Iterable) -> list:
    """Return a column of remarks with numbers in place of texts, if all its entries are numbers."""
    values = list(values)
    texts = {value for value in values if value is not None}
    if column.lower() in _TEXTS or not all(
        isinstance(t, str) and _PLAIN.fullmatch(t) for t in texts
    ):
        return values
    known: dict = {t: float(t.replace(",", ".")) if re.search("[.,]", t) else int(t) for t in texts}
    return [known.get(value) for value in values]
