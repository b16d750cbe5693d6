"""What each row of a table is: a heat, a product analysis, a limit, a statistic or a text."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from gradekit.core.aliases import Cell, Label
from gradekit.core.errors import InputError, said
from gradekit.core.reader import FileLine, blank, cell_at
from gradekit.heats.certificates.cells import FAMILIAR, parse_limit, plain_text, ppm_sized, scaled
from gradekit.heats.certificates.headers import column_element, heading
from gradekit.heats.certificates.layout import TableBlock, numeric
from gradekit.heats.certificates.names import is_name_column
from gradekit.heats.certificates.statistics import (
    LIMIT_ROWS,
    kind_of,
    statistic_of,
    statistic_word,
)
from gradekit.heats.notes import Journal

_KIND_COLUMNS = frozenset(
    "analysis analyse kind type row sample test specimen art l/p h/p element elements %".split()
)
_TOTAL = re.compile(r"(?:total|summe|sum|totaal|yhteensä|celkem|toplam)\b.{0,20}", re.I)
_FOOT = re.compile(
    r"(?:page|seite|blatt|pagina|página|sida|strona|sheet)\s*\d.*"
    r"|total|summe|sum|ende?(?: of .*)?"
    r"|\*+.*|(?:checked|approved|geprüft|signature|unterschrift|remarks?|bemerkung|note)\b.*",
    re.I,
)


def sort_rows(block: TableBlock, journal: Journal) -> None:
    """Part the rows of a block: the heats stay; limits, statistics and lines of text go."""
    names = [i for i, h in enumerate(block.header) if is_name_column(h)]
    analysed = [i for i, h in enumerate(block.header) if column_element(h)]
    block.kind_at = kind_column(block)
    block.name_at = names[0] if names else name_like(block, analysed, block.kind_at)
    if block.name_at is not None and not names:
        why = "the heats are called by it, as its entries are all there and differ"
        journal.remarks.append(f"{block.source}, column '{block.header[block.name_at]}': {why}")
    short = 0
    means: list[tuple[int, Sequence]] = []
    rows, block.rows = block.rows, []
    for number, row in rows:
        _refuse_beyond(block, number, row)
        name = plain_text(cell_at(row, block.name_at))
        kind = kind_of(cell_at(row, block.kind_at))
        if kind is None and isinstance(name, str) and kind_of(name) in LIMIT_ROWS:
            kind, name = kind_of(name), None
        elif kind is None and journal.limits and kind_of(name) == "":
            name = None  # 'actual' below minimum and maximum
        label = name if isinstance(name, str) else None
        if label is None:
            label = next((c for c in row if isinstance(c, str) and c.strip()), None)
        said_heat = kind in ("ladle", "product") and block.kind_at is not None
        statistic = ""
        odd = not said_heat and unlike(label, block.names)
        if analysed and not said_heat and (kind in ("min", "max") or statistic_word(label) or odd):
            above = [[cell_at(r, i) for i in analysed] for _, r in block.rows[-500:]]
            figures = [cell_at(row, i) for i in analysed]
            statistic, fits = statistic_of(label, kind, figures, above, bool(means), journal.sign)
        if statistic == "heat":
            why = "its numbers are no such figures of the rows above"
            why = f"'{label}' could head a statistic, but {why}" if not odd else (
                f"'{label}' has no digit, as the names above have")  # fmt: skip
            journal.remarks.append(f"{block.where(number)}: {why}: taken as a heat")
            if odd:
                journal.row(number, label, "heat", "no digit, as the names above have", True)
        elif statistic:
            words = f"{statistic} of the rows above, kept apart"
            if not fits:
                words = f"headed as {statistic} of the rows above, whose figures it is not"
                journal.remarks.append(f"{block.where(number)}: '{label}' is {words}: left out")
            journal.row(number, label, "statistic", words, surprise=not fits)
            means += [(number, row)] if statistic == "mean" else []
            continue
        if kind in LIMIT_ROWS:
            _add_limits(block, journal, number, row, kind, name)
            journal.row(number, label or kind, "limit", f"printed {kind}")
            continue
        sparse = row.count("") + row.count(None) + 3 > len(row)
        filled = [cell for cell in row if not blank(cell)] if sparse else []
        if analysed and not said_heat and filled and (
            (len(filled) == 1 and _is_text(filled[0], row, block))
            or (isinstance(label, str) and _TOTAL.fullmatch(label.strip())
                and all(blank(cell_at(row, i)) for i in analysed))
        ):  # fmt: skip
            journal.titles.append(str(filled[0]).strip())
            remark = f"no analysis, left out: '{str(filled[0])[:60]}'"
            journal.remarks.append(f"{block.where(number)}: {remark}")
            journal.row(number, filled[0], "left out", "a line of text", surprise=True)
            continue
        if kind == "product" and name is None and block.names:
            name = block.names[-1]
        if isinstance(row, FileLine) and len(row) < len(block.header):
            if row.packed:
                raise InputError(
                    block.where(number),
                    f"{len(block.header)} entries, as many as the header has",
                    said(f"{len(row)} entries"),
                    "with only blanks between, what is not reported must be written as n.d. or -",
                )
            short += any(block.header[len(row) :])
        block.rows.append((number, row))
        block.names.append(str(name) if name is not None else None)
        block.kinds.append(kind or block.analysis)
    if not block.rows and means:
        # A sheet with the figures of one heat alone: its mean is the analysis.
        number, row = means[-1]
        block.rows, block.names, block.kinds = [(number, row)], [None], [block.analysis]
        journal.forget(number)
        journal.remarks.append(f"{block.where(number)}: the mean is taken as the analysis")
    _refuse_misaligned(block, short, analysed)
    if short:
        ends = "1 row ends" if short == 1 else f"{short} rows end"
        journal.remarks.append(f"{block.source}: {ends} early; what is missing stays unknown")


def means_no_heat(name: Label) -> bool:
    """Tell whether the name of a heat, at the head of a row, would be taken for something else."""
    return isinstance(name, str) and (kind_of(name) in LIMIT_ROWS or bool(statistic_word(name)))


def name_like(block: TableBlock, analysed: list[int], kind_at: int | None) -> int | None:
    """Return the column before the analysis that names every row apart, where no header says so."""
    for i, header in enumerate(block.header[: analysed[0]] if analysed else ()):
        known = header.lower() in FAMILIAR or heading(header).element or i == kind_at
        cells = [*map(plain_text, block.cells(i))]
        if header and not known and len(cells) > 1 and len({*cells, None}) == len(cells) + 1:
            if sum(any(map(str.isdigit, str(c))) for c in cells) > 0.5 * len(cells):
                return i
    return None


def unlike(label: str | None, names: list) -> bool:
    """Tell whether a name has no digit where the names above have one."""
    if label is None or len(names) < 2 or any(map(str.isdigit, label)):
        return False
    above = [any(map(str.isdigit, name)) for name in names[-500:] if name]
    return len(above) > 1 and sum(above) >= 0.8 * len(above)


def kind_column(block: TableBlock) -> int | None:
    """Return the column that says of every row what it is."""
    for i, header in enumerate(block.header):
        if header.lower() in _KIND_COLUMNS or (not header and not block.analysis):
            kinds = {kind_of(cell) for cell in {*block.cells(i)} if not blank(cell)}
            if any(kinds) and None not in kinds:
                return i
    return None


def _is_text(cell: Cell, row: Sequence, block: TableBlock) -> bool:
    """Tell whether a lone cell is a line of text and not the name of a heat."""
    if not isinstance(cell, str):
        return False
    sentence = len(cell.split()) > 2 or bool(_FOOT.fullmatch(cell.strip()))
    alone = isinstance(row, FileLine) and len(row) == 1 and len(block.header) > 2
    return sentence or (alone and not numeric(cell))


def _refuse_misaligned(block: TableBlock, short: int, analysed: list[int]) -> None:
    """Refuse a text whose rows end before the last content: nobody can tell which cell is whose."""
    if not short or 2 * short < len(block.rows):
        return
    last = analysed[-1] if analysed else -1
    if all(map(blank, block.cells(last))):
        number, row = next((n, r) for n, r in block.rows if len(r) < len(block.header))
        raise InputError(
            block.where(number),
            f"{len(block.header)} cells, as many as the header has",
            said(f"{len(row)} cells, as in most rows"),
        )


def _refuse_beyond(block: TableBlock, number: int, row: Sequence) -> None:
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


def _add_limits(
    block: TableBlock, journal: Journal, number: int, row: Sequence, kind: str, name: Label
) -> None:
    stated: dict[str, dict] = {}
    for i, title in enumerate(block.header):
        cell = cell_at(row, i)
        header = column_element(title)
        if blank(cell) or is_name_column(title) or kind_of(cell) is not None:
            continue
        try:
            ends = parse_limit(cell, header.factor if header else 1.0, journal.sign)
        except ValueError:
            if header is None:
                continue
            where = f"{block.place(number, i)}{kind} of {header.element}"
            raise InputError(where, "a number or a bound", cell) from None
        low, high = (
            scaled(e, 1e-4) if header and not header.stated and ppm_sized(header.element, e) else e
            for e in ends
        )
        if kind in ("min", "aim", "tolerance") and np.isnan(low):
            low, high = high, np.nan
        first = kind if kind in ("aim", "tolerance") else "min"
        for label, value in ((first, low), ("max", high)):
            if not np.isnan(value):
                stated.setdefault(label, {})[header.element if header else title] = float(value)
    for label, values in stated.items():
        label = f"{name} {label}" if name else label
        known = journal.limits.get(label, values)
        if known != values and not known.keys().isdisjoint(values):
            label = f"{label} (row {number + 1})"
        journal.limits.setdefault(label, {}).update(values)
