"""A pasted certificate taken apart: blocks of analyses with the heat, grade and tests told of each.

Nothing is read here: what stands around an analysis is taken out of the text, so that the readers
of tables see the analysis alone.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from gradekit.core.elements import is_element

FIGURE = re.compile(r"[<≤]?\s?\d+(?:[.,]\d+)?%?|n\.?d\.?|-|–")
_LIMITS = ("min", "max", "min.", "max.", "minimum", "maximum")
LEAST_ELEMENTS = 4  # of a head line
_HEAT = re.compile(
    r"(?:heat|charge|cast|melt|schmelze)(?:n?\s*-?\s*(?:no|nr|number|nummer)\.?)?\s*[:=]?\s*(.*)",
    re.I,
)
_GRADE = re.compile(
    r"(?:steel\s+)?(?:grade|material|quality|werkstoff|steel|sorte|güte)\b\s*[:=]?\s*(.*)", re.I
)
_GRADE_WITHIN = re.compile(
    r"\s{2,}(?:grade|material|werkstoff|steel|kwaliteit)\s*[:=]\s*(\S.*?)(?=\s{2,}|$)", re.I
)
_NUMBER = r"(\d+(?:[.,]\d+)?)"
_PROOF = (
    r"(?:Rp\s?0[.,]2|(?:(?:yield|proof)(?:\s+(?:strength|stress))?|streckgrenze|dehngrenze)"
    r"(?:\s*\(?(?:Rp\s?)?0[.,]2\s*%?\)?)?)"
)
_TESTS = {
    name: re.compile(rf"\b{head}\D{{0,14}}?{_NUMBER}{tail}", re.I)
    for name, head, tail in (
        ("Rp0.2", _PROOF, ""),
        ("Rm", r"(?:(?:tensile(?:\s+strength)?|zugfestigkeit)(?:\s*\(?Rm\)?)?|Rm|UTS)", ""),
        ("A", r"(?:(?:elongation|bruchdehnung)(?:\s+A\d*)?|A80|A50|A5|A)\b", r"\s?%"),
        ("HB", r"(?:HBW?|brinell)", ""),
        ("HRB", r"HRBW?", ""),
    )
}
_TEST_HEADS = {
    "Rp0.2": r"Rp\s?0[.,]2", "Rm": "Rm|UTS", "A": "A|A5|A80|A50", "HB": "HBW?", "HRB": "HRBW?",
}  # fmt: skip
_UNIT = re.compile(r"[\[(]?(?:MPa|N/mm[2²]|%|J)[\])]?")
_ASKED = re.compile(r"\b(?:min|max|required?|requirement|soll|spec)", re.I)


@dataclass
class CertificatePart:
    """One block of a certificate: its lines, and what stood around them."""

    lines: list[str] = field(default_factory=list)
    heat: str = ""
    grade: str = ""
    tests: dict[str, str] = field(default_factory=dict)
    #: Of a table of tests: the words before the figures, the line, and the result of each test.
    rows: list[tuple[list[str], str, dict[str, str]]] = field(default_factory=list)

    @property
    def text(self) -> str:
        return "\n".join(self.lines)

    @property
    def remarks(self) -> list[str]:
        """Lines of words, where nothing but blanks keeps columns apart."""
        if any(sign in self.text for sign in ";\t|"):
            return []
        return [
            line.strip() for line in self.lines
            if re.search(r"[A-Za-z]{3}", line) and not re.search(r"\d", line)
            and not elements_of(line) and not line.lstrip().startswith("#")
        ]  # fmt: skip

    @property
    def analysed(self) -> bool:
        """Whether an analysis stands in it already: elements, and figures after them."""
        elements = [k for k, line in enumerate(self.lines) if elements_of(line)]
        return bool(elements) and any(
            FIGURE.search(word) for line in self.lines[elements[0] :] for word in line.split()
        )


def elements_of(line: str) -> list[str]:
    """Return the element symbols among the words of a line."""
    words = (word.rstrip("%:").strip("()[]") for word in line.split())
    return [word for word in words if is_element(word)]


def taken_apart(text: str) -> list[CertificatePart]:
    """Return the blocks of a certificate with heat, grade and tests taken out of their text.

    Parameters
    ----------
    text : str
        As pasted. A heat or a head of elements after an analysis begins the next block; lines of
        tests belong to the block above them.

    Examples
    --------
    >>> lines = ["Heat A 1", "C Si Cr Ni", "0.02 0.4 17 10", "Rm 570 MPa", "Heat A 2", "C Si Cr Ni"]
    >>> [(part.heat, part.tests) for part in taken_apart("\\n".join(lines))]
    [('A 1', {'Rm': '570'}), ('A 2', {})]
    """
    lines = [line.rstrip() for line in text.expandtabs(8).splitlines() if line.strip()]
    parts, heads, k = [CertificatePart()], 0, 0
    while k < len(lines):
        line, here = lines[k].strip(), parts[-1]
        after = lines[k + 1].strip() if k + 1 < len(lines) else ""
        k += 1
        elements = len(elements_of(line))
        if elements >= LEAST_ELEMENTS:
            heads += 1
            if here.analysed and not _goes_on(here.lines, line):
                parts.append(CertificatePart(grade=here.grade))
            parts[-1].lines.append(lines[k - 1])
        elif (named := _HEAT.fullmatch(line)) and _is_name(named[1] or after):
            if not named[1]:
                k += 1
            if here.analysed:
                parts.append(CertificatePart(grade=here.grade))
            parts[-1].heat, grade = _heat_and_grade(named[1] or after)
            parts[-1].grade = grade or parts[-1].grade
        elif named := _GRADE.fullmatch(line):
            here.grade = named[1] or after
            k += not named[1]
        elif named := _GRADE_WITHIN.search(line):
            here.grade = named[1]
            here.lines.append(line[: named.start()] + line[named.end(1) :])
        elif sum(map(bool, columns := _test_columns(line))) > 1:
            k, rows = _test_rows(lines, k, columns)
            here.rows += rows
        elif named_tests := {
            name: m[1] for name, form in _TESTS.items() if (m := form.search(line))
        }:
            here.tests |= named_tests
        else:
            here.lines.append(lines[k - 1])
    return parts


def _goes_on(lines: list[str], line: str) -> bool:
    """Whether lines of pairs, 'H1: C 0.02 Cr 18', follow one another: one reader takes them all."""
    return _is_pairs(line) and any(_is_pairs(other) for other in lines)


def _is_pairs(line: str) -> bool:
    return len(re.findall(r"\b[A-Z][a-z]?\s*[:=]?\s*[<≤]?\d", line)) >= LEAST_ELEMENTS


def _is_name(text: str) -> bool:
    """Whether what stands after 'Heat' is its name, and not figures of an analysis."""
    figures = [word for word in text.split() if re.fullmatch(r"\d+[.,]\d+", word)]
    return bool(text) and len(figures) < 2 and not is_element(text.split()[0])


def _heat_and_grade(text: str) -> tuple[str, str]:
    if inner := re.search(r"\s+((?:steel\s+)?(?:grade|material|werkstoff|steel)\b.*)", text, re.I):
        told = _GRADE.fullmatch(inner[1])
        return text[: inner.start()].strip(), told[1] if told else ""
    heat, _, grade = text.partition("  ")
    return heat.strip(), grade.strip()


def _test_columns(line: str) -> list[str]:
    """The names of tests at the head of a table of them, '' for one that is not known here;
    figures make it a line of results."""
    words = [word for word in line.split() if not _UNIT.fullmatch(word)]
    if any(FIGURE.fullmatch(word) for word in words):
        return []
    names = [test_head(word) for word in words]
    return names[next((k for k, name in enumerate(names) if name), 0) :]


def test_head(word: str) -> str:
    """Return the test that a word names at the head of a column, '' where it is none."""
    return next((name for name, form in _TEST_HEADS.items() if re.fullmatch(form, word)), "")


def _test_rows(
    lines: list[str], k: int, columns: list[str]
) -> tuple[int, list[tuple[list[str], str, dict[str, str]]]]:
    """The rows of results under a head of tests, what is asked for left out."""
    rows = []
    while k < len(lines) and not elements_of(lines[k]):
        words = lines[k].split()
        figures = [word for word in words if FIGURE.fullmatch(word)]
        if len(figures) < len(columns):
            break
        if not _ASKED.search(lines[k]):
            own = zip(columns, figures[-len(columns) :], strict=True)
            label = words[: len(words) - len(columns)]
            rows.append((label, lines[k].strip(), {name: text for name, text in own if name}))
        k += 1
    return k, rows
