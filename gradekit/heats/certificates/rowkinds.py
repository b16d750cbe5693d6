"""What each row of a table is: a heat, a product analysis, a printed limit or a line of text."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from gradekit.core.errors import InputError, said
from gradekit.heats.certificates.building import is_name_column
from gradekit.heats.certificates.cells import (
    column_element,
    parse_limit,
    plain_text,
    ppm_sized,
    scaled,
)
from gradekit.heats.certificates.layout import Block, Line, blank, numeric

__all__ = ["LIMITS", "Part", "cell_at", "is_line", "kind_column", "kind_of", "sort_rows"]

_KIND_COLUMNS = frozenset("analysis analyse kind type row sample test specimen art l/p h/p".split())
_KINDS = {
    "min": "min minimum mini min-spec spec-min lsl",
    "max": "max maximum maxi max-spec spec-max usl",
    "aim": "aim target ziel",
    "spec": "spec specification specified limits limit required requirement requirements soll",
    "ladle": "heat ladle cast l h heat-analysis ladle-analysis cast-analysis schmelze "
    "schmelzanalyse schmelzenanalyse",
    "product": "product check p k product-analysis check-analysis stück stückanalyse stueckanalyse",
}
_KIND = {word: kind for kind, words in _KINDS.items() for word in words.split()}
#: Kinds of rows that are no heats.
LIMITS = frozenset({"min", "max", "aim", "spec"})


@dataclass
class Part:
    """The heats of one block: rows of the file, names as printed, kinds of analysis."""

    block: Block
    name_at: int | None
    kind_at: int | None
    rows: list[tuple[int, Sequence]]
    names: list
    kinds: list[str]

    @property
    def elements(self) -> set[str]:
        return {h.element for h in map(column_element, self.block.header) if h}


def sort_rows(block: Block, limits: dict, titles: list, said_so: list[str]) -> Part:
    """Part the rows of a block into heats, limits and lines of text."""
    names = [i for i, h in enumerate(block.header) if is_name_column(h)]
    name_at = names[0] if names else None
    kind_at = kind_column(block)
    part = Part(block, name_at, kind_at, [], [], [])
    analysed = [i for i, h in enumerate(block.header) if column_element(h)]
    short = 0
    for number, row in block.rows:
        _refuse_beyond(block, number, row)
        name = plain_text(cell_at(row, name_at))
        kind = kind_of(cell_at(row, kind_at))
        if kind is None and kind_of(name) in LIMITS:
            kind, name = kind_of(name), None
        if kind in LIMITS:
            _add_limits(block, limits, number, row, kind, name)
            continue
        filled = [cell for cell in row if not blank(cell)]
        if analysed and len(filled) == 1 and is_line(filled[0]):
            titles.append(str(filled[0]).strip())
            said_so.append(f"{block.where(number)}: no analysis, left out: '{str(filled[0])[:60]}'")
            continue
        if kind == "product" and name is None and part.names:
            name = part.names[-1]
        if isinstance(row, Line) and len(row) < len(block.header):
            if row.packed:
                raise InputError(
                    block.where(number),
                    f"{len(block.header)} entries, as many as the header has",
                    said(f"{len(row)} entries"),
                    "with only blanks between, what is not reported must be written as n.d. or -",
                )
            short += 1
        part.rows.append((number, row))
        part.names.append(str(name) if name is not None else None)
        part.kinds.append(kind or "")
    if short:
        rows = "1 row ends" if short == 1 else f"{short} rows end"
        said_so.append(f"{block.source}: {rows} early; what is missing stays unknown")
    return part


def cell_at(row: Sequence, at: int | None) -> object:
    """Return a cell of a row; None where the row has ended."""
    return row[at] if at is not None and at < len(row) else None


def kind_of(cell: object) -> str | None:
    """Return what a word such as 'max', 'L' or 'check analysis' makes of a row."""
    if not isinstance(cell, str):
        return None
    return _KIND.get(re.sub(r"[\s_-]+", "-", cell.strip(" .:()").lower()))


def kind_column(block: Block) -> int | None:
    """Return the column that says of every row what it is."""
    for i, header in enumerate(block.header):
        if header.lower() in _KIND_COLUMNS or not header:
            cells = [c for c in (cell_at(row, i) for _, row in block.rows) if not blank(c)]
            if cells and all(kind_of(c) for c in cells):
                return i
    return None


def is_line(cell: object) -> bool:
    """Tell whether a lone cell is a sentence and not the name of a heat."""
    return isinstance(cell, str) and len(cell.split()) > 2


def _refuse_beyond(block: Block, number: int, row: Sequence) -> None:
    for i in range(len(block.header), len(row)):
        if not blank(row[i]):
            raise InputError(
                block.where(number, i),
                f"at most {len(block.header)} cells, as many as the header has",
                row[i],
                "a decimal comma in a file with commas between cells must stand in quotes"
                if isinstance(row[i], str) and numeric(row[i])
                else None,
            )


def _add_limits(block: Block, limits: dict, number: int, row: Sequence, kind: str, name) -> None:
    found: dict[str, dict] = {}
    for i, title in enumerate(block.header):
        cell = cell_at(row, i)
        header = column_element(title)
        if blank(cell) or is_name_column(title) or kind_of(cell) is not None:
            continue
        try:
            ends = parse_limit(cell, header.factor if header else 1.0)
        except ValueError:
            if header is None:
                continue
            where = f"{block.place(number, i)}{kind} of {header.element}"
            raise InputError(where, "a number or a bound", cell) from None
        if header and not header.stated:
            ends = [scaled(e, 1e-4) if ppm_sized(header.element, e) else e for e in ends]
        low, high = ends
        if kind in ("min", "aim") and np.isnan(low):
            low, high = high, np.nan
        for label, value in ((kind if kind == "aim" else "min", low), ("max", high)):
            if not np.isnan(value):
                found.setdefault(label, {})[header.element if header else title] = float(value)
    for label, values in found.items():
        label = f"{name} {label}" if name else label
        if limits.get(label, values) != values and not limits[label].keys().isdisjoint(values):
            label = f"{label} (row {number + 1})"
        limits.setdefault(label, {}).update(values)
