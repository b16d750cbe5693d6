"""A certificate as it is pasted from a page: columns held apart by blanks, or one token a line.

The text is laid out anew as a table with semicolons, which the one reader of tables then reads;
what finds no place in it is handed back, to be shown beside the text.
"""

from __future__ import annotations

import re
from typing import NamedTuple, TypeAlias

from gradekit.core.elements import is_element
from gradekit.heats.certificates.parts import FIGURE, LEAST_ELEMENTS, elements_of, test_head

#: A word of a line, and where its middle stands.
_Placed: TypeAlias = tuple[str, float]
_TIMES = re.compile(r"[x×*]\s?10{1,4}|[x×*]10\^?-?\d")


class Pasted(NamedTuple):
    """The table made of a pasted text, and the lines that found no place in it."""

    table: str
    left: tuple[str, ...]


def laid_out(text: str) -> Pasted | None:
    """Return a pasted certificate as a table, None where no head of elements is in it.

    Parameters
    ----------
    text : str
        Columns by blanks, in place or in order; or one token a line. Rows 'min' and 'max' may have
        gaps; a heat number may have blanks in it; heads may say 'x1000', beside or beneath them.

    Examples
    --------
    >>> print(laid_out("C\\n0.021\\nSi\\n0.4\\nCr\\n17.1\\nNi\\n10.2").table)
    Heat;C;Si;Cr;Ni
    1;0.021;0.4;17.1;10.2
    """
    lines = [line.rstrip() for line in text.expandtabs(8).splitlines() if line.strip()]
    lines = _token_a_line(lines) or lines
    head = next(
        (k for k, line in enumerate(lines) if len(elements_of(line)) >= LEAST_ELEMENTS), None
    )
    if head is None:
        return None
    columns = _columns(lines[head])
    rows, left = [], []
    for k, line in enumerate(lines):
        if k == head:
            continue
        times = [word for word in line.split() if _TIMES.fullmatch(word)]
        if k == head + 1 and len(times) == len(columns):
            columns = [
                (f"{name} {t}", place) for (name, place), t in zip(columns, times, strict=True)
            ]
        elif k > head and (row := _row(line, len(columns))):
            rows.append(row)
        else:
            left.append(line.strip())
    if not rows:
        return None
    table = [["Heat", *(name for name, _ in columns)]]
    for n, (row, cells) in enumerate(zip(rows, _filled(rows, columns), strict=True), start=1):
        table.append([row.label or str(n), *cells])
    return Pasted("\n".join(";".join(cells) for cells in table), tuple(left))


def _placed(line: str) -> list[_Placed]:
    return [(word[0], (word.start() + word.end()) / 2) for word in re.finditer(r"\S+", line)]


def _columns(line: str) -> list[_Placed]:
    """Elements and tests of a head line with their factor, and where in the line they stand."""
    columns: list[_Placed] = []
    for word, place in _placed(line):
        plain = word.rstrip("%").strip("()[]")
        if is_element(plain):
            columns.append((plain, place))
        elif columns and (test := test_head(word)):
            columns.append((test, place))
        elif columns and _TIMES.fullmatch(word):
            columns[-1] = (f"{columns[-1][0]} {word}", columns[-1][1])
    return columns


class _Line(NamedTuple):
    """A row of figures: its label, and figures with the places in the line where they stand."""

    label: str
    figures: list[_Placed]


def _row(line: str, columns: int) -> _Line | None:
    words = _placed(line)
    figures = [word for word in words if FIGURE.fullmatch(word[0])]
    label = [w for w in words if w not in figures and (not figures or w[1] < figures[0][1])]
    extra = max(0, len(figures) - columns)  # of a heat number with blanks in it
    label, figures = [*label, *figures[:extra]], figures[extra:]
    if not figures:
        return None
    named = " ".join(text for text, _ in label)
    return _Line("" if named.casefold() in ("heat", "ladle", "cast", "product") else named, figures)


def _filled(rows: list[_Line], columns: list[_Placed]) -> list[list[str]]:
    """The cells of rows: in order where all are there; a row with gaps goes by places and sizes."""
    whole = [r for r in rows if len(r.figures) == len(columns)]
    places = [place for _, place in (whole[0].figures if whole else columns)]
    usual = [text for text, _ in whole[-1].figures] if whole else [""] * len(columns)
    sizes = [*map(_size, usual)]
    return [
        [text for text, _ in r.figures] if r in whole else _by_place(r.figures, places, sizes)
        for r in rows
    ]


def _by_place(figures: list[_Placed], places: list[float], sizes: list[float | None]) -> list[str]:
    """The order-keeping way to fill the columns that moves figures least; a figure many times the
    content of a column does not belong to it."""

    def cost(figure: _Placed, k: int) -> float:
        text, place = figure
        size, usual = _size(text), sizes[k]
        strange = size and usual and not 0.2 <= size / usual <= 10
        return abs(place - places[k]) + (1000.0 if strange else 0.0)

    best: list[tuple[float, list[int]]] = [(0.0, [])] * (len(places) + 1)
    for figure in figures:
        after: list[tuple[float, list[int]]] = [(float("inf"), [])]
        for k in range(len(places)):
            put = (best[k][0] + cost(figure, k), [*best[k][1], k])
            after.append(min(after[-1], put))
        best = after
    cells = [""] * len(places)
    for (text, _), k in zip(figures, best[-1][1], strict=True):
        cells[k] = text
    return cells


def _size(text: str) -> float | None:
    digits = re.sub(r"[^0-9.,]", "", text).replace(",", ".")
    return float(digits) if re.fullmatch(r"\d+(\.\d+)?", digits) else None


def _token_a_line(lines: list[str]) -> list[str] | None:
    """The lines of a text with one token a line as a head and a row, None where it is none: each
    element before its figure, or all elements before all figures."""
    words = [line.strip().rstrip("%") for line in lines]
    pairs, others, k = [], [], 0
    while k < len(words):
        after = words[k + 1] if k + 1 < len(words) else ""
        if is_element(words[k]) and FIGURE.fullmatch(after):
            pairs.append((words[k], after))
            k += 2
            continue
        many = k
        while many < len(words) and is_element(words[many]):
            many += 1
        count = many - k
        if count >= LEAST_ELEMENTS and all(map(FIGURE.fullmatch, words[many : many + count])):
            pairs += zip(words[k:many], words[many : many + count], strict=False)
            k = many + count
        else:
            others.append(lines[k].strip())
            k += 1
    if len(pairs) < LEAST_ELEMENTS:
        return None
    return [*others, " ".join(e for e, _ in pairs), " ".join(v for _, v in pairs)]
