"""From one table of cells to a checked batch: names, numbers, bounds, and what is refused."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from typing import NamedTuple

import numpy as np
import pandas as pd

from gradekit.core.aliases import Cell, Label
from gradekit.core.elements import require_element
from gradekit.core.errors import NOTHING, InputError, said
from gradekit.core.numbers import TwoWays, column_sign, decided
from gradekit.heats.certificates.cells import (
    FAMILIAR,
    ONLY_PPM,
    clean_text,
    grade_text,
    heads_grades,
    number_in,
    parse_cell,
    plain_text,
    ppm_sized,
    scaled,
)
from gradekit.heats.certificates.headers import (
    Header,
    column_element,
    heading,
    is_oxide,
    refused_unit,
)
from gradekit.heats.certificates.names import heat_names, is_name_column
from gradekit.heats.certificates.units import known_units, unit_factor
from gradekit.heats.notes import Became, first_remarks, joined_notes, notes_of, with_notes

_BALANCE = re.compile(
    r"|bal\.?|balance|balans|rem\.?|remainder|base?|basis|rest[eo]?\.?|solde|loput|kalan|zbytek"
    r"|reszta",
    re.I,
)
# What stands behind a symbol where no content is meant: equivalents, sums, ratios, limits.
_NO_CONTENT = re.compile(
    r"(?:\(test\)|[+*/×-].*|x\s?(?:\d|(?-i:[A-Z])).*|[-\s]?(?:eq|equiv|equivalent|äquivalent|equ)\b.*"
    r"|(?:max|min|aim|ziel|soll|spec|target).*|[-\s]?r?(?:sd|std|stdev|stabw|sigma|srel)\b.*"
    r"|(?-i:[A-Z][a-z]?)(?:[+/-].*)?)",
    re.I,
)
_LIKE_A_UNIT = re.compile(r"[%‰\[(]|pp|g/|/\s*[kt]?g|\bat\b|wt|[x×*]\s*10|\d[eE]-?\d")
_UNITS = {1.0: "wt%", 1e-4: "ppm", 1e-7: "ppb", 0.1: "‰", 100.0: "mass fraction"}
#: wt% of iron that small elements, which nobody reported, and rounding may be.
_IRON_OFF = 0.5
# Analyses carry rounding, so a sum may pass 100 by a little.
_MOST = 100.2
#: wt% that no stainless steel passes, though an alloy may.
_SELDOM = {"Al": 8.0, "Ti": 4.0, "Nb": 6.0, "V": 4.0, "P": 1.0, "C": 4.0}
_BARE_GAS = re.compile(r"([NOH])2")
_ANY = np.dtype(object)
#: So many rows are looked at together.
_AT_ONCE = 100_000
#: Says where a row and a column of a table are found, such as 'x.csv, row 5, column F, '.
Place = Callable[[int | None, int | None], str]


class TableColumn(NamedTuple):
    """One column of a table.

    Attributes: its place in the file; its title with all that is known of its unit; what stood at
    its head; its cells, which may be anything a certificate holds.
    """

    at: int
    title: Label
    label: str
    cells: Sequence | pd.Series


def build_batch(
    table: pd.DataFrame,
    place: Place | None = None,
    notes: Mapping | None = None,
    strict: bool = False,
) -> pd.DataFrame:
    """Build a batch from a table whose cells may be anything a certificate holds.

    Parameters
    ----------
    table : DataFrame
        One row a heat; elements among the columns.
    place : callable, optional
        Says where a row of the table is found.
    notes : mapping, optional
        What is already known (source, messages, bounds of the same heats).
    strict : bool
        Refuse every number whose name is no element, as fits a dict typed by hand.
    """
    place = place or (lambda row, column: "")
    if isinstance(table.columns, pd.MultiIndex) or isinstance(table.index, pd.MultiIndex):
        what = f"{place(None, None)}columns and rows of the table"
        raise InputError(what, "one name each", said("a MultiIndex"), "table.reset_index()")
    remarks: list[str] = []
    report: list[Became] = []
    name_at = next((at for at, title in enumerate(table.columns) if is_name_column(title)), None)
    heats = heat_names(table, name_at, lambda row: place(row, None) or f"row {row + 1}: ", remarks)
    columns = [
        TableColumn(at, title, str(title), cells)
        for at, (title, cells) in enumerate(table.items())
        if at != name_at
    ]

    def enter(column: TableColumn, taken_as: str, **more) -> None:
        report.append(Became("column", str(column.at), column.label, taken_as, **more))

    batch = batch_of_columns(columns, heats, place, enter, remarks, strict=strict)
    known = dict(notes or {})
    known |= joined_notes([known, notes_of(batch) | {"report": report}])
    return with_notes(batch, {key: value for key, value in known.items() if value})


def batch_of_columns(
    columns: Sequence[TableColumn],
    heats: list,
    place: Place,
    enter: Callable[..., None],
    remarks: list[str],
    sign: str | None = None,
    units: Mapping[str, str] | None = None,
    strict: bool = False,
) -> pd.DataFrame:
    """Build a batch from columns, whose notes hold `bounds`, `about`, `unread` and `messages`.

    Parameters
    ----------
    columns : sequence of TableColumn
    heats : list
        The name of each row, none twice.
    place : callable
    enter : callable
        Takes down of a column what it was taken as, with the fields of `Became` that say more.
    remarks : list
        Takes what was understood, in words.
    sign : {'', '.', ','}, optional
        Decimal sign of the file; by default that of the clear numbers of the columns.
    units : mapping of element to unit, optional
        What the title says of the units; '' for all elements that have no entry.
    strict : bool
        As for `build_batch`.
    """
    contents: dict[str, np.ndarray] = {}
    positions: dict[str | None, int] = {}
    marks: dict[str, dict] = {}
    about: dict[str, dict | pd.Series] = {}
    unread: dict[str, str] = {}
    iron: np.ndarray | None = None
    headers = [column_element(column.title) for column in columns]

    def file_sign() -> str:
        clear = written_numbers((column.title, column.cells) for column in columns)
        return column_sign(clear) if sign is None else sign

    whole = {h.element for h in headers if h and not h.part}
    for column, header in zip(columns, headers, strict=True):
        name, cells = column.title, column.cells
        if header is None or (header.part and header.element in whole):
            rest = ""
            if header is not None:
                reason = f"the total of {header.element} stands beside it"
            elif rest := _refuse_near_element(name, cells, place(None, column.at), strict):
                unread.setdefault(rest, column.label or str(name))
                reason = f"begins with {rest}, but was not understood"
                remarks.append(f"column '{name}' {reason}: kept aside")
            else:
                reason = ""
            enter(column, "kept aside", reason=reason, surprise=bool(rest))
            told = _told(name, cells, heats)
            if any(value is not None for _, value in told.items()):
                about[clean_text(str(name))] = told
            continue
        if units and not header.stated and (unit := units.get(header.element, units.get(""))):
            factor, remark = unit_factor(unit) or (1.0, "")
            remark = f"{remark}, as the title says" if remark else ""
            remark = "; ".join(filter(None, [header.remark, remark]))
            header = header._replace(factor=factor, stated=True, remark=remark)
        if header.remark and (words := f"column '{name}': {header.remark}") not in remarks:
            remarks.append(words)
        at = partial(_at, place, column.at, heats, header.element)
        unit = "" if not header.stated else _UNITS.get(header.factor, f"{header.factor:g} wt%")
        content = dict(element=header.element, unit=unit, factor=header.factor)
        if header.element == "Fe":
            iron = _balance(cells, header.factor, at)
            enter(column, "balance", reason="computed, not read", **content)
            continue
        if header.element in contents:
            what = f"{place(None, column.at)}column of {header.element}"
            raise InputError(what, "there once", str(name))
        before = len(remarks)
        numbers, bound = parse_column(cells, header, at, remarks, file_sign)
        contents[header.element], positions[header.element] = numbers, column.at
        if bound:
            marks[header.element] = {heats[row]: text for row, text in bound.items()}
        reasons = [header.remark, *(m.split(": ", 1)[-1] for m in remarks[before:])]
        reason = "; ".join(filter(None, reasons))
        enter(column, "content", reason=reason, surprise=len(remarks) > before, **content)
    if not contents:
        titles = [str(column.title) for column in columns]
        what = f"{place(None, None)}header"
        raise InputError(what, "element symbols such as C, Cr, Ni", titles[:8] or NOTHING)
    # The columns as they are: a large table would stand in memory twice.
    batch = pd.DataFrame(contents, index=pd.Index(heats, name="heat"), dtype=float, copy=False)
    unread = {e: c for e, c in unread.items() if e not in contents}
    del contents
    if iron is not None:
        remarks += _contradictions(batch, iron, lambda row: place(row, None))
    checked(batch, lambda row, element: place(row, positions.get(element)))
    told = {"bounds": marks, "about": about, "unread": unread, "messages": remarks}
    return with_notes(batch, told)


def _told(title: Label, cells: Sequence | pd.Series, heats: list) -> dict | pd.Series:
    """Return what a column that is no analysis tells of each heat."""
    if isinstance(cells, pd.Series) and isinstance(cells.dtype, pd.CategoricalDtype):
        # One object a text, however often it stands there.
        known = np.array([*map(plain_text, cells.cat.categories)], dtype=object)
        return pd.Series(known[cells.cat.codes], index=heats, dtype=object)
    texts = map(plain_text, cells)
    return dict(zip(heats, map(grade_text, texts) if heads_grades(title) else texts, strict=True))


def written_numbers(columns: Iterable[tuple[Label, Sequence | pd.Series]]) -> Iterator[str]:
    """Yield the numbers of all contents as they are written, of columns by their title."""
    for title, cells in columns:
        if column_element(title) and getattr(cells, "dtype", _ANY).kind == "O":
            yield from (number_in(cell) for cell in cells if isinstance(cell, str))


def parse_column(
    cells: Sequence | pd.Series,
    header: Header,
    at: Callable[[int], str],
    remarks: list[str],
    sign: Callable[[], str],
) -> tuple[np.ndarray, dict[int, str]]:
    """Return the contents of one column in wt%, and the marks of its bounds by row.

    `sign` tells the decimal sign of the file. It decides what can be read two ways only where the
    column itself has no clear number and the doubtful sign is the other one.
    """
    marks: dict[int, str] = {}
    numbers: np.ndarray
    if isinstance(cells, pd.Series) and cells.dtype in (np.float64, np.int64):
        numbers = scaled(cells.to_numpy(dtype=float), header.factor)
    elif isinstance(cells, pd.Series) and isinstance(cells.dtype, pd.CategoricalDtype):
        codes, used = pd.factorize(cells.cat.codes.to_numpy())
        values, words = _parsed(
            cells.cat.categories[used],
            header,
            lambda text: at(int(np.argmax(codes == text))),
            remarks,
            sign,
        )
        numbers = values[codes]
        marked = np.flatnonzero(np.isin(codes, list(words))).tolist()
        marks = {row: words[codes[row]] for row in marked}
    else:
        numbers, marks = _parsed(cells, header, at, remarks, sign)
    count, told = 0, ""
    if not header.stated:
        by_size = np.flatnonzero(ppm_sized(header.element, numbers))
        if len(by_size):
            # Nor is a small whole figure beside them in per cent.
            whole = (numbers >= 1.0) & (numbers == np.round(numbers))
            by_size = np.flatnonzero(ppm_sized(header.element, numbers) | whole)
            numbers = numbers.copy()
            numbers[by_size] = scaled(numbers[by_size], 1e-4)
            for row in map(int, by_size):
                if row in marks:
                    marks[row] = parse_cell(marks[row], 1e-4, ".")[1]
            count, told = len(by_size), "of a size that only ppm can have, read as ppm"
        elif header.element in _SELDOM:
            count = int(np.sum(numbers > _SELDOM[header.element]))
            told = (
                f"above {_SELDOM[header.element]:g} wt%, more than a stainless steel holds; if ppm "
                f"is meant, head the column '{header.element} ppm'"
            )
    elif header.factor == 1e-4 and header.element in ("C", "N", "S"):
        count = int(np.sum((numbers > 0) & (numbers < 1e-4)))
        lie = "lies" if count == 1 else "lie"
        told = f"{lie} below 1 ppm in a column of ppm; if per cent is meant, correct the file"
    if count:
        plural = "value" if count == 1 else "values"
        remarks.append(f"{header.element}: {count} {plural} {told}")
    return numbers, marks


def _parsed(
    cells: Sequence | pd.Series,
    header: Header,
    at: Callable[[int], str],
    remarks: list[str],
    sign: Callable[[], str],
) -> tuple[np.ndarray, dict[int, str]]:
    """Return the contents of texts or numbers, before their size is judged, and their marks."""
    marks: dict[int, str] = {}
    numbers = np.empty(len(cells))
    most = 1e6 if not header.stated and header.element in ONLY_PPM else 100.0
    own: str | None = None
    known: dict[str, tuple[float, str]] = {}
    for row, cell in enumerate(cells):
        content = known.get(cell) if isinstance(cell, str) else None
        if content is None:
            try:
                try:
                    content = parse_cell(cell, header.factor, own or "", most)
                except TwoWays:
                    if own is None:
                        own = _decided(cells, cell, header.element, sign(), remarks)
                    content = parse_cell(cell, header.factor, own, most)
            except TwoWays as two:
                expected = "a number that can be read one way only"
                raise InputError(at(row), expected, cell, two.readings) from None
            except ValueError:
                expected = "a number, a bound such as '<0.005', or 'n.d.'"
                raise InputError(at(row), expected, cell, _hint(cell)) from None
            if isinstance(cell, str):
                known[cell] = content
        numbers[row] = content[0]
        if content[1]:
            marks[row] = content[1]
    return numbers, marks


def _decided(cells: Iterable, cell: str, element: str, sign: str, remarks: list[str]) -> str:
    """Return the decimal sign that decides a column with numbers that can be read two ways."""
    own = column_sign(number_in(c) for c in cells if isinstance(c, str))
    if own and own != sign:  # other columns have the other sign, as after a number was cut off
        return ""
    decision, words = decided(number_in(cell), own, sign, "the file")
    if decision:
        remarks.append(f"{element}: '{cell.strip()}' is read as {words}")
    return decision


def _hint(cell: Cell) -> str | None:
    if isinstance(cell, dt.date):
        return "a spreadsheet has made a date of the number: format the cell as text"
    if isinstance(cell, str) and cell.startswith("="):
        return "a formula that was never computed: open and save the file in a spreadsheet"
    return None


def checked(
    batch: pd.DataFrame, place: Callable[[int | None, str | None], str] | None = None
) -> pd.DataFrame:
    """Refuse negative contents and sums over 100 %; every border ends here."""
    place = place or (lambda row, element: "")
    if batch.empty:
        raise InputError(f"{place(None, None)}heats", "at least one heat and one element", NOTHING)
    known = False
    for first in range(0, len(batch), _AT_ONCE):  # a copy of a works' whole history is large
        values = batch.iloc[first : first + _AT_ONCE].to_numpy()
        known |= bool(np.isfinite(values).any())
        wrong = (values < 0) | (values > 100)
        if wrong.any():
            row, column = np.argwhere(wrong)[0]
            element, at = batch.columns[column], first + int(row)
            raise InputError(
                f"{place(at, element)}heat '{batch.index[at]}', {element}",
                "between 0 and 100 wt%",
                float(values[row, column]),
                f"for a figure in ppm, '{element} ppm'" if values[row, column] > 100 else None,
            )
        total = np.nansum(values, axis=1)
        if total.max() > _MOST:
            at = first + int(np.argmax(total))
            what = f"{place(at, None)}heat '{batch.index[at]}', sum of the contents"
            raise InputError(what, "at most 100 wt%", said(f"{total.max():.2f} wt%"))
    if not known:
        raise InputError(f"{place(None, None)}heats", "at least one content reported", NOTHING)
    return batch


def _at(place: Place, position: int, heats: list, element: str, row: int) -> str:
    return f"{place(row, position)}heat '{heats[row]}', {element}"


def _balance(cells: Iterable, factor: float, at: Callable[[int], str]) -> np.ndarray:
    """Iron is computed and never read; but what stands there must be iron or 'balance'."""
    stated = np.full(len(list(cells)), np.nan)
    for row, cell in enumerate(cells):
        if isinstance(cell, str) and _BALANCE.fullmatch(cell.strip()):
            continue
        try:
            stated[row] = parse_cell(cell, factor)[0]
        except ValueError:
            raise InputError(at(row), "a number or 'balance'", cell) from None
    return stated


def _contradictions(batch: pd.DataFrame, iron: np.ndarray, at: Callable[[int], str]) -> list[str]:
    """Say where a stated iron is not what the other contents leave."""
    balance = 100.0 - np.nansum(batch.to_numpy(), axis=1)
    off = np.flatnonzero(np.abs(iron - balance) > _IRON_OFF)

    def say(row: int) -> str:
        stated = f"{at(row)}heat '{batch.index[row]}': iron is stated as {iron[row]:.4g} wt%"
        return f"{stated}, the other contents leave {balance[row]:.4g}"

    return first_remarks(off.tolist(), say)


def _refuse_near_element(
    header: Label, cells: Sequence | pd.Series, where: str, strict: bool
) -> str:
    """Return the element of a header that begins with one and was not understood, or ''.

    A header that looks like a symbol, but is none, is a slip and must not vanish; nor may figures
    in a unit that nobody understood, or those of a slag.
    """
    name = str(header).strip()
    if name.lower() in FAMILIAR or not name:
        return ""
    if isinstance(cells, pd.Series) and isinstance(cells.dtype, pd.CategoricalDtype):
        cells = cells.cat.categories
    numeric = any(isinstance(c, (int, float, np.number)) and c == c for c in cells)
    if re.fullmatch(r"[A-Za-z]{1,2}", name) or (strict and numeric):
        require_element(name, f"{where}element")
    if gas := _BARE_GAS.fullmatch(name):
        return gas[1]
    if not (numeric or any(isinstance(c, str) and number_in(c) for c in cells)):
        return ""
    if is_oxide(name):
        must_be = "the content of an element; an analysis of slag or of a raw material is none"
        raise InputError(f"{where}column '{name}'", must_be, said("an oxide"))
    named = heading(name)
    element, rest = named.element, " ".join(p for p in named.rest.split() if not unit_factor(p))
    if not element or _NO_CONTENT.fullmatch(rest.strip()):
        return ""
    if refused_unit(rest) or _LIKE_A_UNIT.search(rest):
        must_be = refused_unit(rest) or f"one of {known_units}"
        raise InputError(f"{where}unit of {element}", must_be, rest.strip("[]()"))
    return element
