"""Where the tables stand in a sheet of cells: titles, headers, units, rows, either way round."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import islice, zip_longest

from gradekit.core.elements import is_element
from gradekit.core.errors import NOTHING, InputError, said
from gradekit.heats.certificates.building import is_name_column
from gradekit.heats.certificates.cells import (
    FAMILIAR,
    Header,
    column_element,
    parse_cell,
    unit_factor,
)

__all__ = ["Block", "Line", "Spoken", "find_blocks", "score", "without_comment"]

# A table says what it is within its first rows.
_LOOK = 200
_DIGIT = re.compile(r"[<≤+-]?\s*[\d.,]*\d\s*%?")
_NO_HEADER = re.compile(r"\s*[\d<]|\w{1,2}\d\d")
_RULE = re.compile(r"[|:+\s]*(?:-{2,}|={2,})[-=|:+\s]*")
_OTHER_UNIT = re.compile(r"MPa|N/mm[2²]|J|J/cm[2²]|mm|kg|t|°C|HV\d*|HB\w*|HRC|-|%", re.I)
_NAMELESS = frozenset(
    {"", "element", "elements", "%", "wt%", "wt.%", "wt.-%", "sample", "id", "alloy", "steel"}
)
# A table with one of these has test results, so 'Re' is a yield strength and 'Ag' a strain.
_TESTED = re.compile(r"(?:Rm|UTS|Rp\s?[01][.,]\d|ReH|ReL|A\s?(?:5|50|80)|HV|HB|HRC)\b.*", re.I)
_CLASHES = frozenset({"Re", "RE", "At", "AT", "Ag", "AG"})


@dataclass
class Block:
    """One table: its headers, its rows, and where both stand in the file."""

    source: str
    header: list[str]
    header_row: int
    turned: bool = False
    rows: list[tuple[int, Sequence]] = field(default_factory=list)

    def where(self, row: int | None = None, column: int | None = None) -> str:
        """Say where a cell stands, as a person counts in a spreadsheet."""
        row = self.header_row if row is None else row
        if self.turned:
            row, column = column, row
        parts = [self.source]
        if row is not None:
            parts.append(f"row {row + 1}")
        if column is not None:
            parts.append(f"column {letters(column)}")
        return ", ".join(parts)

    def place(self, row: int | None, column: int | None) -> str:
        """Say the same as the beginning of a message."""
        return self.where(row, column) + ", "


class Line(list):
    """Cells of one line of a text, with the line; `packed` where only blanks part the cells."""

    def __init__(self, cells: list[str], line: str, packed: bool = False):
        super().__init__(cells)
        self.line, self.packed = line.strip(), packed


class Spoken(list):
    """A line such as 'H1: C 0,021 Si 0,45': its cells, and their header."""

    def __init__(self, header: list[str], cells: list[str]):
        super().__init__(cells)
        self.header = header


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


@lru_cache(4096)
def _element(text: str) -> Header | None:
    return None if len(text) > 40 or _NO_HEADER.match(text) else column_element(text)


def element_of(cell: object) -> str | None:
    """Return the element that a header cell names."""
    found = _element(cell) if isinstance(cell, str) else None
    return found.element if found else None


def blank(cell: object) -> bool:
    """Tell whether nothing stands in a cell."""
    return cell is None or (isinstance(cell, str) and not cell.strip())


def numeric(cell: object) -> bool:
    """Tell whether a number or a bound stands in a cell."""
    if isinstance(cell, str):
        return bool(_DIGIT.fullmatch(cell.strip()))
    return cell is not None and not isinstance(cell, bool)


def score(rows: Sequence[Sequence]) -> tuple[float, float]:
    """Return how many elements the best row and the best column name.

    A row that also says where the names of the heats stand wins over every column.
    """
    look = [row for row in rows[:_LOOK] if not isinstance(row, Spoken)]
    across, named = 0.0, False
    for row in look:
        count = _distinct(row)
        if count and count >= sum(map(numeric, row)):
            names = any(map(is_name_column, row))
            across, named = max(across, count + 0.5 * names), named or names
    down = max((_distinct(c) for c in zip_longest(*[row[:40] for row in look])), default=0)
    return across, 0.0 if named else float(down)


def _distinct(cells: Sequence) -> int:
    return len({e for e in map(element_of, cells) if e})


def find_blocks(rows: Sequence[Sequence], source: str) -> tuple[list[Block], list[str]]:
    """Find the tables of a sheet, and the lines of text around them.

    Parameters
    ----------
    rows : sequence of rows of cells
        Row 0 is row 1 of the file; blank rows are there too.
    source : str
        Name of the file, and of the sheet.

    Returns
    -------
    list of Block, list of texts
    """
    titles: list[str] = []
    rows = [without_comment(row, titles) for row in rows]
    across, down = score(rows)
    turned = down > across
    if turned:
        rows = [list(column) for column in zip_longest(*rows)]
    blocks: list[Block] = []
    above: list[tuple[int, Sequence]] = []
    for number, row in enumerate(rows):
        if all(map(blank, row)):
            continue
        if isinstance(row, Spoken):
            blocks.append(Block(source, row.header, number, rows=[(number, row)]))
            continue
        if _is_header(row, islice(rows, number + 1, None), bool(blocks)):
            blocks.append(_open(source, number, row, above, turned))
            titles += [_line(r) for _, r in above]
            above = []
        elif not blocks or isinstance(rows[blocks[-1].header_row], Spoken):
            above.append((number, row))
        elif blocks[-1].rows or not _take_units(blocks[-1], row, number):
            blocks[-1].rows.append((number, row))
    titles += [_line(r) for _, r in above]
    if turned:
        titles += _drop_empty(blocks)
    if not any(element_of(h) for block in blocks for h in block.header):
        first = next((_line(r) for r in rows if not all(map(blank, r))), None)
        raise InputError(
            source,
            "a table with a header of element symbols such as C, Cr, Ni",
            NOTHING if first is None else said(f"'{first[:60]}'"),
            next(filter(None, map(_symbols_meant, rows[:20])), None),
        )
    return blocks, [t for t in titles if t]


def _symbols_meant(row: Sequence) -> str | None:
    """Return the symbols of a header in small letters."""
    cells = [cell.strip() for cell in row if isinstance(cell, str) and cell.strip()]
    meant = [cell.title() for cell in cells if is_element(cell.title())]
    return ", ".join(meant) if len(meant) > 1 and len(cells) <= 2 * len(meant) else None


def _line(row: Sequence) -> str:
    if getattr(row, "packed", False):
        return row.line
    return "    ".join(str(cell).strip() for cell in row if not blank(cell))


def without_comment(row: Sequence, titles: list[str]) -> Sequence:
    """Return a row, or an empty one if it is a comment, which goes to the titles, or a rule."""
    cells = [cell for cell in row if not blank(cell)]
    if not cells or isinstance(row, Spoken) or not isinstance(cells[0], str):
        return row
    if all(isinstance(cell, str) and _RULE.fullmatch(cell) for cell in cells):
        return []
    if cells[0].startswith("#") and not any(map(_tells, cells[1:])) and _distinct(row) < 2:
        titles.append(getattr(row, "line", _line(row)).lstrip("# "))
        return []
    return row


def _tells(cell: object) -> bool:
    """Tell whether a cell reports a content."""
    try:
        return any(parse_cell(cell)[1:]) or numeric(cell)
    except ValueError:
        return False


def _is_header(row: Sequence, below: Iterable[Sequence], later: bool) -> bool:
    elements = sum(element_of(cell) is not None for cell in row)
    if elements == 0 and not later:
        return False
    texts = [cell for cell in row if isinstance(cell, str) and cell[:1].isalpha()]
    if elements < 2 and later and len(texts) < 2:
        return False
    numbers = sum(map(numeric, row))
    if elements >= 2:
        return numbers < elements
    if numbers:
        return False
    named = any(map(is_name_column, texts))
    if later or named:
        return named and (elements > 0 or any(_TESTED.fullmatch(t.strip()) for t in texts))
    at = next(i for i, cell in enumerate(row) if element_of(cell))
    under = next((r[at] for r in below if len(r) > at and not blank(r[at])), None)
    return _tells(under) or unit_factor(under) is not None


def _open(source: str, number: int, row: Sequence, above: list, turned: bool) -> Block:
    header = ["" if blank(cell) else str(cell).strip().lstrip("# ") for cell in row]
    while header and not header[-1]:
        header.pop()
    if any(_TESTED.fullmatch(h) for h in header):
        header = [f"{h} (test)" if h in _CLASHES else h for h in header]
    if not any(map(is_name_column, header)):
        first = next((i for i, h in enumerate(header) if element_of(h)), 0)
        # Titles above a turned table look like headers before that of the names.
        before = range(first)[::-1] if turned else range(first)
        nameless = [i for i in before if header[i].lower() in _NAMELESS]
        if nameless:
            header[max(nameless, key=lambda i: bool(header[i]))] = "heat"
    block = Block(source, header, number, turned)
    if above and _take_units(block, above[-1][1], above[-1][0]):
        above.pop()
    return block


def _take_units(block: Block, row: Sequence, number: int) -> bool:
    """Read a row of units or multipliers beside the header into it, if it is one."""
    units = {}
    for i, cell in enumerate(row):
        if blank(cell) or i >= len(block.header):
            continue
        text = str(cell).strip()
        if element_of(block.header[i]) and unit_factor(text):
            units[i] = text
        elif not element_of(block.header[i]) and not numeric(cell):
            if _OTHER_UNIT.fullmatch(text):
                units[i] = text
        elif text != "-":
            return False
    if not any(element_of(block.header[i]) for i in units):
        return False
    for i, text in units.items():
        known, new = column_element(block.header[i]), unit_factor(text)
        if known and new and known.stated and known.factor != 1 and new[0] != known.factor:
            raise InputError(
                f"{block.place(number, i)}unit of {known.element}",
                f"the one of the header '{block.header[i]}'",
                text,
            )
        if text != "-" and not (known and known.stated and known.factor == new[0]):
            block.header[i] += f" [{text.strip('[]() ')}]"
    return True


def _drop_empty(blocks: list[Block]) -> list[str]:
    """Take titles out of a turned table, where they look like headers of empty columns."""
    texts = []
    for block in blocks:
        for i, name in enumerate(block.header):
            empty = all(i >= len(row) or blank(row[i]) for _, row in block.rows)
            if name and empty and not element_of(name) and name.lower() not in FAMILIAR:
                if not is_name_column(name):
                    texts.append(name)
                    block.header[i] = ""
    return texts
