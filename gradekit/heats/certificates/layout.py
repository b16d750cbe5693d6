"""Where the tables stand in a sheet of cells: titles, headers, units, rows, either way round."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import islice, zip_longest

import pandas as pd

from gradekit.core.aliases import Cell
from gradekit.core.elements import is_element
from gradekit.core.errors import NOTHING, InputError, said
from gradekit.core.numbers import plain_signs
from gradekit.core.reader import MOST_CELLS, FileLine, blank, cell_at, letters
from gradekit.core.workbook import Merged
from gradekit.heats.certificates.cells import FAMILIAR, parse_cell
from gradekit.heats.certificates.headers import column_element, heading, refused_unit
from gradekit.heats.certificates.longform import TAKEN, SpokenRows, spoken_rows
from gradekit.heats.certificates.names import is_name_column
from gradekit.heats.certificates.statistics import LIMIT_ROWS, kind_of
from gradekit.heats.certificates.units import known_units, unit_factor
from gradekit.heats.notes import Journal

# A table says what it is within its first rows.
_LOOK = 200
_DIGIT = re.compile(r"[<≤+-]?\s*[\d.,]*\d\s*%?")
_NO_HEADER = re.compile(r"\s*[\d<]|\w{1,2}\d\d")
_DIGITS = frozenset("0123456789<")
_RULE = re.compile(r"[|:+\s]*(?:-{2,}|={2,})[-=|:+\s]*")
_OTHER_UNIT = re.compile(r"MPa|N/mm[2²]|J|J/cm[2²]|mm|kg|t|°C|HV\d*|HB\w*|HRC|-|%", re.I)
#: Heads of the first column, '' too, that say nothing and stand above the names of the heats.
_NAMELESS = frozenset(
    "|element|elements|%|wt%|wt.%|wt.-%|sample|id|alloy|steel|sample id|sample name|sampleid|lot"
    "|batch|monster|näyte|vzorek|numune|probe|probenname|échantillon|muestra|campione|prov|amostra"
    "|próbka|no.|nr.|bezeichnung|lab no.|labor-nr.|labornummer".split("|")
)
# A table with one of these has test results, so 'Re' is a yield strength and 'Ag' a strain.
_TESTED = re.compile(r"(?:Rm|UTS|Rp\s?[01][.,]\d|ReH|ReL|A\s?(?:5|50|80)|HV|HB|HRC)\b.*", re.I)
_CLASHES = frozenset({"Re", "RE", "At", "AT", "Ag", "AG"})
_GASES = frozenset({"N2", "O2", "H2"})
_PART_WORDS = {
    "ladle": re.compile(r"ladle|heat\b|cast|schmelz|coul[ée]e|colata", re.I),
    "product": re.compile(r"product|check|st(?:ü|ue)ck|produit|prodotto", re.I),
}


@dataclass
class TableBlock:
    """One table: its headers, its rows, and where both stand in the file.

    `labels` are the headers as they stood; `analysis` what the line above them says of all rows.
    Once its rows are sorted they are the heats, with their names as printed and the kind of each
    analysis; `name_at` and `kind_at` are the columns of both.
    """

    source: str
    header: list[str]
    header_row: int
    turned: bool = False
    rows: list[tuple[int, Sequence]] = field(default_factory=list)
    labels: list[str] = field(default_factory=list)
    analysis: str = ""
    name_at: int | None = None
    kind_at: int | None = None
    names: list = field(default_factory=list)
    kinds: list[str] = field(default_factory=list)

    @property
    def numbers(self) -> Sequence[int]:
        """Where its rows stand in the file, counted from 0."""
        return [number for number, _ in self.rows]

    @property
    def elements(self) -> set[str]:
        """The elements that its headers name."""
        return {h.element for h in map(column_element, self.header) if h}

    def cells(self, column: int, most: int | None = None) -> Sequence | pd.Series:
        """Return the cells of a column, of so many rows at most."""
        return [cell_at(row, column) for _, row in self.rows[:most]]

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


def element_of(cell: Cell) -> str | None:
    """Return the element that a header cell names."""
    if not isinstance(cell, str) or len(cell) > 40 or _NO_HEADER.match(cell):
        return None
    named = column_element(cell)
    return named.element if named else None


def numeric(cell: Cell) -> bool:
    """Tell whether a number or a bound stands in a cell."""
    if isinstance(cell, str):
        return bool(_DIGIT.fullmatch(plain_signs(cell).strip()))
    return cell is not None and not isinstance(cell, bool)


def header_score(rows: Sequence[Sequence]) -> tuple[float, float]:
    """Return how many elements the best row and the best column name.

    A row that also says where the names of the heats stand wins over every column.
    """
    look = [row for row in rows[:_LOOK] if not isinstance(row, SpokenRows)]
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


def find_blocks(rows: Sequence[Sequence], journal: Journal) -> list[TableBlock]:
    """Find the tables of a sheet, and the lines of text around them.

    Parameters
    ----------
    rows : sequence of rows of cells
        Row 0 is row 1 of the file; blank rows are there too.
    journal : Journal
        Takes down every row that is no heat, and the lines of text as titles.
    """
    source, titles = journal.source, journal.titles
    rows = spoken_rows(rows, journal)
    across, down = header_score(rows)
    journal.turned = down > across
    if not journal.turned:
        rows = [_without_comment(row, journal, at) for at, row in enumerate(rows)]
    else:
        width = max(map(len, rows), default=0)
        if width * len(rows) > MOST_CELLS:
            most = f"at most {MOST_CELLS:,} cells, empty ones counted"
            raise InputError(source, most, said(f"{len(rows):,} rows and {width:,} columns"))
        own = Journal(source)
        own.titles = titles
        rows = [_without_comment(row, own, at) for at, row in enumerate(rows)]
        # Minima, maxima and analysis beside each other: what stands above them are titles.
        for at in range(_kinds_beside(rows)):
            if not all(map(blank, rows[at])):
                titles.append(_line(rows[at]))
                own.row(at, titles[-1], "title")
                rows[at] = []
        journal.entries += own.entries
        rows = [list(column) for column in zip_longest(*rows)]
    blocks: list[TableBlock] = []
    above: list[tuple[int, Sequence]] = []
    for number, row in enumerate(rows):
        if not row or (blank(row[0]) and all(map(blank, row))):
            if row is not _COMMENT and row is not TAKEN:
                journal.blank(number)
            continue
        if isinstance(row, SpokenRows):
            blocks.append(TableBlock(source, row.header, number, rows=[(number, row)]))
            continue
        if is_header(row, islice(rows, number + 1, None), bool(blocks)):
            blocks += _open(number, row, above, journal)
            _take_titles(above, journal)
            above = []
        elif not blocks or isinstance(rows[blocks[-1].header_row], SpokenRows):
            above.append((number, row))
        elif blocks[-1].rows or not _take_units(blocks[-1], row, number):
            for block in blocks:
                if block.header_row == blocks[-1].header_row:
                    block.rows.append((number, row))
        else:
            journal.row(number, _line(row), "units")
    _take_titles(above, journal)
    if journal.turned:
        titles += _drop_empty(blocks)
    if not any(element_of(h) for block in blocks for h in block.header):
        first = next((_line(r) for r in rows if not all(map(blank, r))), None)
        raise InputError(
            source,
            "a table with a header of element symbols such as C, Cr, Ni",
            NOTHING if first is None else said(f"'{first[:60]}'"),
            next(filter(None, map(_symbols_meant, rows[:20])), None),
        )
    journal.titles = [title for title in titles if title]
    return blocks


def _take_titles(above: Iterable[tuple[int, Sequence]], journal: Journal) -> None:
    for number, row in above:
        journal.titles.append(_line(row))
        figures = sum(map(numeric, row)) > 2
        reason = "figures that stand under no header" if figures else ""
        journal.row(number, journal.titles[-1], "title", reason, figures)
        if figures:
            journal.remarks.append(f"row {number + 1}: {reason}, taken as a title")


def _symbols_meant(row: Sequence) -> str | None:
    """Return the symbols of a header in small letters."""
    cells = [cell.strip() for cell in row if isinstance(cell, str) and cell.strip()]
    meant = [cell.title() for cell in cells if is_element(cell.title())]
    return ", ".join(meant) if len(meant) > 1 and len(cells) <= 2 * len(meant) else None


def _line(row: Sequence) -> str:
    if isinstance(row, FileLine) and row.packed:
        return row.line
    return "    ".join(
        str(cell).strip() for cell in row if not blank(cell) and not isinstance(cell, Merged)
    )


def _kinds_beside(rows: Sequence[Sequence]) -> int:
    """Return the row, above those of elements, that heads columns as minimum, maximum, actual."""
    for at, row in enumerate(rows[:_LOOK]):
        if any(map(element_of, row[:1])):
            break
        kinds = [kind for cell in row[1:] if (kind := kind_of(cell)) is not None]
        if len(kinds) > 1 and LIMIT_ROWS.intersection(kinds):
            return at
    return 0


#: What a comment leaves of its row.
_COMMENT: list = []


def _without_comment(row: Sequence, journal: Journal, at: int) -> Sequence:
    """Return a row, or an empty one if it is a comment, which goes to the titles, or a rule."""
    first = next((cell for cell in row if not blank(cell)), None)
    if (
        not isinstance(first, str)
        or isinstance(row, SpokenRows)
        or first.lstrip()[:1] not in "#-=|:+"
    ):
        return row
    cells = [cell for cell in row if not blank(cell)]
    if all(isinstance(cell, str) and _RULE.fullmatch(cell) for cell in cells):
        journal.row(at, first, "rule")
        return _COMMENT
    if first.startswith("#") and not any(map(_tells, cells[1:])) and _distinct(row) < 2:
        journal.titles.append(getattr(row, "line", _line(row)).lstrip("# "))
        journal.row(at, first, "comment")
        return _COMMENT
    return row


def _tells(cell: Cell) -> bool:
    """Tell whether a cell reports a content, or which analysis its row is, as we write it."""
    if cell in ("ladle", "product"):
        return True
    try:
        return any(parse_cell(cell)[1:]) or numeric(cell)
    except ValueError:
        return False


def is_header(row: Sequence, below: Iterable[Sequence], later: bool) -> bool:
    """Tell whether a row is one of headers; `later` than another such row."""
    # Most rows of a table begin most of their cells with a digit, and are soon done with.
    if later:
        figures = sum(c[:1] in _DIGITS if type(c) is str else c is not None for c in row)
        if 2 * figures > len(row):
            return False
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


def _open(number: int, row: Sequence, above: list, journal: Journal) -> list[TableBlock]:
    """Return the table below a row of headers; two, if two analyses stand beside each other."""
    header = [
        "" if blank(cell) else " ".join(str(cell).split()).lstrip("# ").strip('"') for cell in row
    ]
    while header and not header[-1]:
        header.pop()
    labels = list(header)
    journal.row(number, _line(row), "header")
    if any(_TESTED.fullmatch(h) for h in header):
        header = [f"{h} (test)" if h in _CLASHES else h for h in header]
    elements = {e for e in map(element_of, header) if e}
    if len(elements) > 1:
        # Among other elements 'N2' is the gas and no heat.
        header = [h[0] if h in _GASES and h[0] not in elements else h for h in header]
    groups = [""] * len(header)
    if above and above[-1][0] == number - 1:
        over = ["" if blank(c) else str(c).strip() for c in above[-1][1]]
        over += [""] * (len(header) - len(over))
        if sum(map(bool, over)) > 1 and not any(map(numeric, over)):
            for i, name in enumerate(header):
                # The label of a group stands over the first of its columns.
                groups[i] = over[i] or (groups[i - 1] if i else "")
                both = f"{over[i]} {name}".strip()
                if not element_of(name) and (is_name_column(both) or not name):
                    header[i] = labels[i] = both
    if not any(map(is_name_column, header)):
        first = next((i for i, h in enumerate(header) if element_of(h)), 0)
        # Titles above a turned table look like headers before that of the names.
        before = range(first)[::-1] if journal.turned else range(first)
        nameless = [i for i in before if header[i].lower() in _NAMELESS]
        if nameless:
            header[max(nameless, key=lambda i: bool(header[i]))] = "heat"
    named = [element_of(h) for h in header]
    twice = any(n > 1 for e, n in Counter(named).items() if e)
    kinds = [
        next((kind for kind, words in _PART_WORDS.items() if words.search(group)), "") if e else ""
        for e, group in zip(named, groups, strict=True)
    ]
    if twice and {"ladle", "product"} <= set(kinds):

        def own(kind: str, titles: list[str]) -> list[str]:
            return ["" if k and k != kind else t for k, t in zip(kinds, titles, strict=True)]

        return [
            TableBlock(journal.source, own(kind, header), number, journal.turned,
                       labels=own(kind, labels), analysis=kind)
            for kind in ("ladle", "product")
        ]  # fmt: skip
    block = TableBlock(journal.source, header, number, journal.turned, labels=labels)
    if above and _take_units(block, above[-1][1], above[-1][0]):
        journal.row(above[-1][0], _line(above[-1][1]), "units")
        above.pop()
    return [block]


def _take_units(block: TableBlock, row: Sequence, number: int) -> bool:
    """Read a row of units or multipliers beside the header into it, if it is one."""
    units: dict[int, str] = {}
    if isinstance(row, FileLine) and row.packed and len(row) == len(block.header) - 1:
        if not element_of(block.header[0]):
            row = ["", *row]  # only blanks stand under the head of the names
    for i, cell in enumerate(row):
        if blank(cell) or i >= len(block.header):
            continue
        text = str(cell).strip()
        name = block.header[i]
        if unit_factor(text) and column_element(f"{name} [{text}]"):
            units[i] = text
        elif element_of(name) and refused_unit(text):
            where = f"{block.place(number, i)}unit of {element_of(name)}"
            raise InputError(where, refused_unit(text), text)
        elif not element_of(name) and not numeric(cell):
            if _OTHER_UNIT.fullmatch(text):
                units[i] = text
        elif text != "-":
            if units and element_of(name) and not numeric(cell) and not _tells(cell):
                where = f"{block.place(number, i)}unit of {element_of(name)}"
                raise InputError(where, f"one of {known_units}", text)
            return False
    if not any(column_element(f"{block.header[i]} [{text}]") for i, text in units.items()):
        return False
    for i, text in units.items():
        known, new = column_element(block.header[i]), unit_factor(text)
        if known and new and known.stated and known.factor != 1 and new[0] != known.factor:
            raise InputError(
                f"{block.place(number, i)}unit of {known.element}",
                f"the one of the header '{block.header[i]}'",
                text,
            )
        if text != "-" and not (known and known.stated and new and known.factor == new[0]):
            block.header[i] += f" [{text.strip('[]() ')}]"
    return True


def _drop_empty(blocks: list[TableBlock]) -> list[str]:
    """Take titles out of a turned table, where they look like headers of empty columns."""
    texts = []
    for block in blocks:
        for i, name in enumerate(block.header):
            known = name.lower() in FAMILIAR or is_name_column(name) or heading(name).element
            if name and not known and all(map(blank, block.cells(i))):
                texts.append(name)
                block.header[i] = ""
    return texts
