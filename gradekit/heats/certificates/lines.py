"""From a text to rows of cells: which character parts them, and lines that speak in pairs."""

from __future__ import annotations

import re

from gradekit.core.errors import InputError
from gradekit.core.numbers import decimal_sign
from gradekit.core.reader import FileLine, line_ends, split_lines
from gradekit.heats.certificates.cells import claims
from gradekit.heats.certificates.headers import column_element
from gradekit.heats.certificates.layout import SpokenRows, header_score
from gradekit.heats.notes import Journal

_DELIMITERS = ("\t", ";", ",", "|", "  ", " ")
_LOOK = 200
_VALUE = (
    r"(?:<\s*=?|≤|LT\.?\s*)?\s*[+-]?(?:\d[\d.,]*\d|\d)(?:[eE]-?\d+)?(?![\d.,]*\d)"
    r"|n\.?\s?[dn]\.?|k\.A\.|tr\.?|traces?|Spuren|-+|bal\.?|balance|rest"
)
_PAIR = re.compile(
    r"\s*[;,|/]?\s*(?P<element>[A-Z][A-Za-z]?(?:\s?\+\s?[A-Z][a-z])?)(?:\s*[:=]\s*|\s+|(?=[<≤]))"
    rf"(?P<value>{_VALUE})\s*(?P<unit>ppm|(?:wt\.?-?)?%|‰)?(?=[\s;,|/.]|$)"
)
_HEAT = r"(?:heat|cast|charge|schmelze|smelt|coulée|colata|colada)(?:\s*(?:no|nr|number)\.?)?[\s:]+"
_PREFIX = re.compile(f"^{_HEAT}", re.I)
_LAST = re.compile(rf".+\b{_HEAT}(\S*\d\S*)", re.I)  # of a sentence, 'the analysis of heat 7'
_TEST = re.compile(
    r"[\s;,|/]*(?P<name>R[mp]\s?(?:[01][.,]\d)?|Re[HL]?|A\s?(?:5|50|80)?|Z|HV\s?\d*|HB\w?|HRC|KV)"
    r"\s*[:=]?\s*(?P<value>\d+(?:[.,]\d+)?)\s*(?P<unit>MPa|N/mm[2²]|J|%)?(?=[\s;,|/.]|$)"
)


def delimiter_of(text: str) -> str:
    """Return what parts the cells: the one that lets most elements stand out in the header.

    Examples
    --------
    >>> delimiter_of("Schmelze;C;Cr\\nH1;0,02;18,1")
    ';'
    """
    sample = "\n".join(line_ends(text[:2_000_000])[:_LOOK])
    best, most = ",", 0.0
    for delimiter in _DELIMITERS:
        named = max(header_score(split_lines(sample, delimiter, "", [])))
        if named > most:
            best, most = delimiter, named
    return best


def rows_of_text(text: str, journal: Journal) -> list[list]:
    """Return the rows of a text; row 0 is the first line, blank lines are rows too.

    A line such as 'H1: C 0,021 Si 0,45 N 512 ppm' comes as `SpokenRows`; the remarks of the journal
    take what was decided about quotation marks.
    """
    rows = split_lines(text, delimiter_of(text), journal.source, journal.remarks)
    return [spoken_line(row, number, journal.source) or row for number, row in enumerate(rows)]


def spoken_line(row: FileLine, number: int, source: str) -> SpokenRows | None:
    """Read a line of at least two pairs of an element and its content."""
    line = row.line
    if not 5 < len(line) < 2000 or line.startswith("#") or not _PAIR.search(line):
        return None
    for start in re.finditer(r"(?:^|(?<=[\s:;,|]))(?=[A-Z])", line):
        end = start.start()
        name = line[:end].strip(" :;,|-")
        last = None if claims(name) else _LAST.fullmatch(name)
        header, cells = ["heat"], [last[1] if last else _PREFIX.sub("", name).strip(" :;,|-")]
        while (pair := _PAIR.match(line, end)) and column_element(pair["element"]):
            unit = f" [{pair['unit']}]" if pair["unit"] else ""
            header.append(re.sub(r"\s", "", pair["element"]) + unit)
            cells.append(pair["value"].strip())
            end = pair.end()
        if len(header) < 3:
            continue
        while test := _TEST.match(line, end):
            header.append(test["name"].strip() + (f" [{test['unit']}]" if test["unit"] else ""))
            cells.append(test["value"])
            end = test.end()
        rest = line[end:].strip(" .;,|")
        if not rest or (len(header) > 4 and not re.search(r"\d|\b[A-Z][a-z]?\b", rest)):
            return SpokenRows(*_with_grade(header, cells))
        if len(header) > 3 or row.packed or decimal_sign(rest.split()[0]):
            raise InputError(
                f"{source}, row {number + 1}, after '{header[-1]} {cells[-1]}'",
                "an element and its content, such as 'Ni 8,1'",
                rest,
            )
    return None


def _with_grade(header: list[str], cells: list[str]) -> tuple[list[str], list[str]]:
    """Part the grade from the name of the heat, where both stand before the first pair."""
    named = claims(cells[0])
    rest = cells[0]
    for claim in named:
        rest = rest.replace(claim, " ")
    rest = re.sub(r"\b(?:grade|werkstoff|heat|schmelze|cast|steel)\b[\s.:]*", " ", rest, flags=re.I)
    rest = " ".join(rest.split()).strip(" /,;:-")
    if not named or not rest:
        return header, cells
    return [header[0], "grade", *header[1:]], [rest, " / ".join(named), *cells[1:]]
