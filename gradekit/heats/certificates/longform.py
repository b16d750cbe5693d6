"""Tables with one element a row: heat, element, value and unit, as databases give them out."""

from __future__ import annotations

import re
from collections.abc import Sequence

from gradekit.core.aliases import Label
from gradekit.core.errors import InputError
from gradekit.core.reader import letters
from gradekit.heats.certificates.cells import FAMILIAR, number_in, parse_cell, plain_text
from gradekit.heats.certificates.headers import column_element
from gradekit.heats.certificates.names import is_name_column
from gradekit.heats.certificates.units import is_unit_column
from gradekit.heats.notes import Journal

_ELEMENT = re.compile(
    r"elements?|elemente?|élément|elemento|pierwiastek|grundämne|analyte|analyt|parameter|component"
    r"|bestandteil|species|test|merkmal|bepaling|alkuaine|prvek|eleman|characteristic",
    re.I,
)
_VALUE = re.compile(
    r"(?:value|content|result|concentration|wert|gehalt|ergebnis|valeur|teneur|valore|valor|halt"
    r"|wartość|resultat|résultat|amount|resultaat|waarde|tulos|arvo|hodnota|výsledek|sonuç|değer"
    r"|measured|messwert)(?P<unit>\s*[\[(].*[\])]|\s+\S+)?",
    re.I,
)
_BOUND = re.compile(r"[<>≤≥=]=?")
_LOOK = 60


class SpokenRows(list):
    """A line such as 'H1: C 0,021 Si 0,45': its cells, and their header."""

    def __init__(self, header: list[str], cells: list):
        super().__init__(cells)
        self.header = header


#: A row whose content stands in that of its heat.
TAKEN = SpokenRows([], [])


def spoken_rows(rows: Sequence[Sequence], journal: Journal) -> Sequence[Sequence]:
    """Return rows with a table in long form laid out one heat a row; other rows as they are."""
    for at, row in enumerate(rows[:_LOOK]):
        texts = [c.strip() if isinstance(c, str) else "" for c in row]
        element = next((i for i, c in enumerate(texts) if _ELEMENT.fullmatch(c)), None)
        value = next((i for i, c in enumerate(texts) if _VALUE.fullmatch(c)), None)
        if element is None or value is None or any(map(column_element, texts)):
            continue
        if any(map(column_element, _texts(rows[at + 1 : at + 40], element))):
            return _laid_out(rows, at, element, value, journal)
    return rows


def _texts(rows: Sequence[Sequence], column: int) -> list[str]:
    cells = (row[column] if column < len(row) else None for row in rows)
    return [cell.strip() for cell in cells if isinstance(cell, str)]


def _bounds(texts: list[str]) -> bool:
    """Tell whether a column holds the signs of bounds and nothing else."""
    marks = [text for text in texts if text]
    return bool(marks) and all(map(_BOUND.fullmatch, marks))


def _laid_out(
    rows: Sequence[Sequence], at: int, element: int, value: int, journal: Journal
) -> list[Sequence]:
    titles = [c.strip() if isinstance(c, str) else "" for c in rows[at]]
    name = next((i for i, title in enumerate(titles) if is_name_column(title)), None)
    if name is None:
        name = 0 if min(element, value) > 0 else None
    unit = next((i for i, title in enumerate(titles) if is_unit_column(title)), None)
    stated = _VALUE.fullmatch(titles[value])
    common = (stated["unit"] or "").strip(" []()") if stated else ""
    others = [
        i for i, title in enumerate(titles) if title and i not in (name, element, value, unit)
    ]
    bound = next((i for i in others if _bounds(_texts(rows[at + 1 :], i))), None)
    others = [i for i in others if i != bound]
    journal.row(at, "    ".join(titles), "header", "one element a row")
    laid: list[Sequence] = [*rows[:at], TAKEN]
    heats: dict[Label, SpokenRows] = {}
    known: dict[Label, dict[str, int]] = {}
    last: Label = None
    for number in range(at + 1, len(rows)):
        laid.append([])
        row = [*rows[number], *[None] * (len(titles) - len(rows[number]))]
        symbol = plain_text(row[element])
        here = plain_text(row[name]) if name is not None else None
        last = here if here is not None else last
        if symbol is None or plain_text(row[value]) is None:
            if any(plain_text(c) is not None for c in row):
                journal.row(number, here or symbol, "left out", "no element or no value", True)
                laid[-1] = TAKEN
            continue
        where = f"{journal.source}, row {number + 1}"
        beside = isinstance(symbol, str) and column_element(symbol) is None
        if not isinstance(symbol, str) or (
            beside and re.fullmatch("[A-Za-z]{1,2}", symbol) and symbol.lower() not in FAMILIAR
        ):
            raise InputError(f"{where}, column {letters(element)}", "an element", symbol)
        cell = row[value]
        if bound is not None and plain_text(row[bound]) not in (None, "="):
            cell = f"{row[bound]}{cell}"
        suffix = plain_text(row[unit]) if unit is not None else common
        title = f"{symbol} [{suffix}]" if suffix else symbol
        header = column_element(title)
        if header is None and not beside:
            column = letters(unit if unit is not None else value)
            what = f"{where}, column {column}, unit of {symbol}"
            raise InputError(what, "a unit of a content by weight", suffix)
        if header and isinstance(cell, str) and not number_in(cell):
            try:
                parse_cell(cell, header.factor)
            except ValueError:
                what = f"{where}, column {letters(value)}, {symbol}"
                must_be = "a number, a bound such as '<0.005', or 'n.d.'"
                raise InputError(what, must_be, cell) from None
        spoken = heats.get(last)
        if spoken is None:
            told = {titles[i]: row[i] for i in others}
            spoken = SpokenRows(["heat", *told], [last, *told.values()])
            heats[last], known[last] = spoken, {}
            laid[-1] = spoken
        what = header.element if header else title
        if what in known[last]:
            before = known[last][what] + 1
            must_be = f"there once; it stands in row {before} too"
            raise InputError(f"{where}, heat '{last}', {what}", must_be, cell)
        known[last][what] = number
        spoken.header.append(title)
        spoken.append(cell)
        if laid[-1] is not spoken:
            became = "content of a heat above" if header else "kept aside"
            journal.row(number, symbol, became)
            laid[-1] = TAKEN
    return laid
