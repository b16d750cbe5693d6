"""From a text to rows of cells: which character parts them, and lines that speak in pairs."""

from __future__ import annotations

import csv
import io
import re

from gradekit.core.errors import InputError
from gradekit.core.files import original_text
from gradekit.heats.certificates.cells import column_element
from gradekit.heats.certificates.layout import Line, Spoken, score

__all__ = ["delimiter_of", "rows_of_text"]

_DELIMITERS = ("\t", ";", ",", "|", "  ", " ")
_VALUE = (
    r"(?:<\s*=?|≤|LT\.?\s*)?\s*[+-]?(?:\d[\d.,]*\d|\d)(?:[eE]-?\d+)?(?![\d.,]*\d)"
    r"|n\.?\s?d\.?|tr\.?|traces?|-+|bal\.?|balance|rest"
)
_PAIR = re.compile(
    r"\s*[;,|/]?\s*(?P<element>[A-Z][A-Za-z]?(?:\s?\+\s?[A-Z][a-z])?)(?:\s*[:=]\s*|\s+|(?=[<≤]))"
    rf"(?P<value>{_VALUE})\s*(?P<unit>ppm|(?:wt\.?-?)?%)?(?=[\s;,|/.]|$)"
)
_PREFIX = re.compile(r"^(?:heat|cast|charge|schmelze)(?:\s*(?:no|nr|number)\.?)?[\s:]+", re.I)


def delimiter_of(text: str) -> str:
    """Return what parts the cells: the one that lets most elements stand out in the header.

    Examples
    --------
    >>> delimiter_of("Schmelze;C;Cr\\nH1;0,02;18,1")
    ';'
    """
    sample = "\n".join(text.splitlines()[:200])
    best, most = ",", 0
    for delimiter in _DELIMITERS:
        found = max(score(_split(sample, delimiter)))
        if found > most:
            best, most = delimiter, found
    return best


def rows_of_text(text: str, source: str) -> list[list]:
    """Return the rows of a text; row 0 is the first line, blank lines are rows too.

    A line such as 'H1: C 0,021 Si 0,45 N 512 ppm' comes as `Spoken`.
    """
    rows = _split(text, delimiter_of(text))
    return [_spoken(row, number, source) or row for number, row in enumerate(rows)]


def _split(text: str, delimiter: str) -> list[Line]:
    if delimiter in ("  ", " "):
        part = re.compile(r"\t|\s{2,}" if delimiter == "  " else r"\s+")
        lines = text.splitlines()
        return [
            Line(part.split(line.strip()) if line.strip() else [], line, True) for line in lines
        ]
    csv.field_size_limit(max(csv.field_size_limit(), 10_000_000))
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    return [
        Line([original_text(c) if c[:1] == "'" else c for c in row], delimiter.join(row))
        for row in reader
    ]


def _spoken(row: Line, number: int, source: str) -> Spoken | None:
    """Read a line of at least two pairs of an element and its content."""
    line = row.line
    if not 5 < len(line) < 2000 or line.startswith("#"):
        return None
    for start in re.finditer(r"(?:^|(?<=[\s:;,|]))(?=[A-Z])", line):
        header, cells, end = ["heat"], [_PREFIX.sub("", line[: start.start()]).strip(" :;,|-")], 0
        end = start.start()
        while (pair := _PAIR.match(line, end)) and column_element(pair["element"]):
            unit = f" [{pair['unit']}]" if pair["unit"] else ""
            header.append(re.sub(r"\s", "", pair["element"]) + unit)
            cells.append(pair["value"].strip())
            end = pair.end()
        rest = line[end:].strip(" .;,|")
        if len(header) > 2 and not rest:
            return Spoken(header, cells)
        if len(header) > 3 and row.packed:
            raise InputError(
                f"{source}, row {number + 1}, after '{header[-1]} {cells[-1]}'",
                "an element and its content, such as 'Ni 8,1'",
                rest,
            )
    return None
