"""How certificates write a header, a number, a limit and a designation."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from decimal import Decimal
from typing import TypeVar

import numpy as np
import pandas as pd

from gradekit.core.aliases import Cell, Label
from gradekit.core.numbers import digits_of, plain_signs
from gradekit.core.reader import blank
from gradekit.heats.certificates.units import unit_factor

#: Columns that certificates carry beside the analysis, lower case.
FAMILIAR = frozenset(
    re.split(
        r"\s+",
        "grade steel note notes date time no nr id row type kind order item coil slab plate lab "
        "mode a a5 a50 a80 rm re rp0.2 rp1.0 z hv hb hrb hrc fn pren thickness width standard "
        "ra rz rt ry "
        "claim claims analysis customer product finish remark remarks quality kg t",
    )
)


# Below what the laboratory can detect, in its language; a mark of its own.
_NOT_DETECTED = frozenset(
    "n.d. nd n.d tr tr. trace traces - -- --- – — bdl b.d.l. lod u.n.g. nil n/d "
    "n.n. nn nn. n.n spuren spur sp. spår traço traços vestigios trazas tracce traccia ślady slady "
    "nq n.q. undetected jäämiä iz stopy sporen ― _ u.b. u.nwg".split()
) | {"not detected", "not det.", "nicht nachweisbar", "non détecté", "no detectado",
     "n. d.", "n. n.", "non rilevato", "ej påvisad", "nie wykryto",
     "não detectado", "unter nwg", "ei havaittu", "tespit edilemedi", "nedetekováno",
     "niet aantoonbaar"}  # fmt: skip
_BELOW = re.compile(r"<\s?[a-z]{2,5}")  # the limit by its name, such as '<LOD'
# Nobody looked, or said nothing.
_NOT_SAID = frozenset("k.a. k.a ka n.b. n.b nb. / n.s. k.w. not.det yok nestanoveno ?".split()) | {
    "k. a.", "n. b.", "keine angabe", "nicht bestimmt", "not determined", "not analysed",
    "not analyzed", "not reported", "non dosé", "non déterminé",
    "no determinado", "non determinato",
    "ej bestämd", "nie oznaczono", "não determinado", "nicht analysiert", "s.d.", "s/d",
    "ei määritetty", "niet bepaald", "nicht best.", "neurčeno", "analiz edilmedi",
    "#n/a", "#nv", "#div/0!",  # what a spreadsheet shows where a formula found nothing
}  # fmt: skip
_EMPTY = frozenset({"", "nan", "none", "n/a", "na", "n.a.", "n. a.", "null", "."})
# The point of 'max.' must not be taken from '.5'.
_UNDER = re.compile(r"(?:<\s*=?|≤|(?:LT|max)(?:\.(?=\s))?(?=[\s\d.,])|less than)\s*(.+)", re.I)
_OVER = re.compile(r"(?:>\s*=?|≥|min(?:\.(?=\s))?(?=[\s\d.,]))\s*(.+)", re.I)
_WITH_UNIT = re.compile(
    r"(?P<digits>[^%‰a-zA-Zµμ]*[\d.,](?:[eE][-+]?\d+)?)\s*(?P<unit>(?![eE][-+]?\d)[%‰a-zA-Zµμ].*)"
)
_LONGEST = 80
Amount = TypeVar("Amount", float, np.ndarray)
_MULTIPLIED = frozenset({0.01, 0.001, 1e-5, 1e-6})
_ZERO = re.compile(r"[+-]?0*(?:[.](0+))?", re.ASCII)
#: A content above this in wt% can only be a figure in ppm; below it nothing is guessed.
ONLY_PPM = {"C": 10.0, "N": 10.0, "O": 1.0, "H": 0.1, "B": 5.0} | dict.fromkeys(
    "S Pb Bi Ca Mg Sn As Sb Zn Ce La Te".split(), 1.0
)

_CLAIM = re.compile(
    r"(?<![\w.-])(?:"
    r"EN (?:ISO )?\d{4,5}(?:-\d+)?|(?:ASTM )?S?A[- ]?\d{3}|ASME S?A[- ]?\d{3}|NACE MR[ -]?\d+"
    r"|1\.\d{4}|X\d+Cr[A-Za-z]*(?:[\d-]*\d)?|[SN]\d{5}|[2346]\d\d[A-Z][a-zA-Z]{0,2}|[234]\d\d|904L"
    r"|2[0-9]0[1-7])(?![\w.])"
)


def claims(text: str) -> list[str]:
    """Return every designation and standard that a dual grade line claims, each to be tested.

    Parameters
    ----------
    text : str
        As in the column `grade` of a certificate; anything else claims nothing.

    Returns
    -------
    list of str
        In the order of the line, each once.

    Examples
    --------
    >>> claims("TW-188 1.4301/1.4307 - 304/304L to EN 10088-2 / ASTM A240")
    ['1.4301', '1.4307', '304', '304L', 'EN 10088-2', 'ASTM A240']
    """
    return list(dict.fromkeys(_CLAIM.findall(text))) if isinstance(text, str) else []


#: What a column of grades is called in the languages of laboratories.
_GRADE_HEAD = re.compile(
    r"(?:steel )?grades?|steel|alloy|quality|materials?|(?:stahl)?(?:güte|guete|sorte)|stahl"
    r"|werkstoff(?:[- ]?(?:nr|nummer)\.?)?|nuance|acier|acciaio|qualità|grado|acero|calidad"
    r"|stål(?:sort)?|gatunek|aço|kosh?u|kwaliteit|staalsoort|materiaal|laatu|teräslaji|jakost|ocel"
    r"|kalite|çelik|malzeme",
    re.I,
)
_NUMBERED = re.compile(r"(?<![\w.])(?:1\.[34]\d{3}|X\d+Cr[A-Z]\w*)(?![\w.])")


def is_numbered(text: str) -> bool:
    """Tell whether a text names a steel by its European number or name."""
    return _NUMBERED.search(text) is not None


def heads_grades(header: Label) -> bool:
    """Tell whether a column is headed as one of grades."""
    return isinstance(header, str) and bool(_GRADE_HEAD.fullmatch(header.strip()))


def grade_columns(told: pd.DataFrame) -> list[str]:
    """Return the columns of grades: those headed so, then those that hold numbers of steels.

    Examples
    --------
    >>> told = {"x": ["A 1.4301", "B 1.4016"], "Quality": ["A", "B"], "y": [1, 2]}
    >>> grade_columns(pd.DataFrame(told))
    ['Quality', 'x']
    """

    def numbered(column: str) -> bool:
        texts = [c for c in told[column] if isinstance(c, str)]
        return 2 * sum(map(is_numbered, texts)) > len(told)

    headed = [c for c in told if heads_grades(c)]
    return [*headed, *(c for c in told if c not in headed and numbered(c))]


def grade_text(cell: Cell) -> Cell:
    """Return a grade as text where a spreadsheet made a number of it.

    Examples
    --------
    >>> grade_text(1.451), grade_text(304), grade_text("A 1.4301")
    ('1.4510', '304', 'A 1.4301')
    """
    if isinstance(cell, bool) or not isinstance(cell, (int, float)) or cell != cell:
        return cell
    return f"{cell:.4f}" if 1 < cell < 3 else f"{cell:.12g}"


def scaled(number: Amount, factor: float) -> Amount:
    """Return number times a power of ten, as near as if it had been printed so."""
    with np.errstate(over="ignore", invalid="ignore"):  # beyond 100 % it is refused anyway
        return number if factor == 1 else np.round(number * factor, 13)


def parse_cell(
    cell: Cell, factor: float = 1.0, sign: str = "", most: float = 100.0
) -> tuple[float, str]:
    """Return (wt% or NaN, mark) of one cell.

    The mark is '<x' in wt% for a bound, whose upper end x is the value; 'n.d.', 'tr', 'k.A.' and
    '-' are marks themselves, their value is NaN. '0.00' is a bound of one unit in its last place,
    and so is '0' in a column of ppm or with a multiplier. A unit in the cell counts before that
    of the column.

    Parameters
    ----------
    cell : text, number or None
    factor : float
        From the unit of the column to wt%.
    sign : {'', '.', ','}
        Decimal sign of the column, for a number that can be read two ways.
    most : float
        wt% that no reading can pass.

    Raises
    ------
    TwoWays
        A number such as '1.700' of which two readings remain.
    ValueError
        Anything else that is no content.

    Examples
    --------
    >>> parse_cell("18,12"), parse_cell("<0,005"), parse_cell("0.00"), parse_cell("<5", 1e-4)
    ((18.12, ''), (0.005, '<0.005'), (0.01, '<0.01'), (0.0005, '<0.0005'))
    >>> parse_cell("480 ppm"), parse_cell("0,17 %", 1e-4)
    ((0.048, ''), (0.17, ''))
    """
    if cell is None or cell is pd.NA or cell is pd.NaT:
        return np.nan, ""
    if isinstance(cell, (int, float, np.number, Decimal)) and not isinstance(cell, bool):
        try:
            return float(scaled(float(cell), factor)), ""
        except OverflowError:
            raise ValueError(f"{cell!s:.40}") from None
    if not isinstance(cell, str):
        raise ValueError(cell)
    text = plain_signs(cell).strip().removeprefix("'").strip()
    if len(text) > _LONGEST:
        raise ValueError(text[:_LONGEST])
    words = " ".join(text.lower().split())
    if words in _EMPTY:
        return np.nan, ""
    if words in _NOT_DETECTED or words in _NOT_SAID or _BELOW.fullmatch(words):
        return np.nan, text
    under = _UNDER.fullmatch(text)
    digits = (under[1] if under else text).strip()
    if with_unit := _WITH_UNIT.fullmatch(digits):
        unit = unit_factor(with_unit["unit"])
        # A figure that is multiplied as well could be meant either way.
        twice = factor in _MULTIPLIED and unit and factor != unit[0]
        if unit is None or unit[1].startswith("multiplied") or twice:
            raise ValueError(cell)
        digits, factor = with_unit["digits"], unit[0]
    digits = digits_of(digits, sign, most / factor)
    zero = _ZERO.fullmatch(digits)
    if under:
        if float(digits) <= 0:
            raise ValueError(cell)
    elif zero and (zero[1] or factor != 1.0):
        digits = f"{Decimal(1).scaleb(-len(zero[1] or '')):f}"
    else:
        return float(scaled(float(digits), factor)), ""
    value = float(scaled(float(digits), factor))
    return value, f"<{digits}" if factor == 1.0 else f"<{Decimal(repr(value)):f}"


def parse_limit(cell: Cell, factor: float = 1.0, sign: str = "") -> tuple[float, float]:
    """Return (min, max) in wt% of a printed requirement, NaN where there is none.

    Examples
    --------
    >>> parse_limit("16,5 - 18,0"), parse_limit("max 0.030"), parse_limit("≥ 10")
    ((16.5, 18.0), (nan, 0.03), (10.0, nan))
    """
    if isinstance(cell, str):
        ends = re.fullmatch(r"\s*([\d.,]+)\s*(?:-|–|…|\.\.\.|to|bis|÷)\s*([\d.,]+)\s*%?\s*", cell)
        if ends:
            return parse_cell(ends[1], factor, sign)[0], parse_cell(ends[2], factor, sign)[0]
        over = _OVER.fullmatch(cell.strip())
        if over:
            return parse_cell(over[1], factor, sign)[0], np.nan
    return np.nan, parse_cell(cell, factor, sign)[0]


def number_in(text: str) -> str:
    """Return the digits of a cell without the signs of a bound and without its unit.

    Examples
    --------
    >>> number_in("< 0,005"), number_in("1.700 ppm"), number_in("x")
    ('0,005', '1.700', '')
    """
    digits = re.fullmatch(
        r"\s*(?:[<≤>≥]\s*=?|max\.?|min\.?|LT)?\s*([+-]?[\d.,]+)\s*(?:\D.{0,10})?", plain_signs(text)
    )
    return digits[1] if digits else ""


def ppm_sized(element: str, numbers: Amount) -> Amount:
    """Tell which contents are so large that the figure can only be in ppm."""
    with np.errstate(invalid="ignore"):
        return numbers >= ONLY_PPM.get(element, np.inf)


_CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\ud800-\udfff]")


def is_clean(text: str) -> bool:
    """Tell whether a text stands on one line, of characters that every file can hold."""
    return text.isprintable() or _CONTROL.search(text) is None


def clean_text(text: str) -> str:
    """Return a text on one line, of characters that every file can hold.

    Examples
    --------
    >>> clean_text("a\\nb\\x00"), clean_text("Güte")
    ('a b\ufffd', 'Güte')
    """
    if is_clean(text):
        return text.strip()
    return _CONTROL.sub(lambda m: " " if m[0].isspace() else "\ufffd", text).strip()


def one_line(text: str) -> str:
    """Return a text as it is where every file can hold it, else as `clean_text` does."""
    return text if is_clean(text) else clean_text(text)


def with_clean_keys(record: Mapping) -> dict:
    """Return a record whose names stand on one line, of characters that every table can hold."""
    return {one_line(k) if isinstance(k, str) else k: v for k, v in record.items()}


def plain_text(cell: Cell) -> str | float | None:
    """Return a cell of a column that is no analysis: dates as ISO text, empty ones as None."""
    if isinstance(cell, str):
        return clean_text(cell) or None
    if blank(cell):
        return None
    if isinstance(cell, dt.datetime) and cell.time() == dt.time():
        cell = cell.date()
    if isinstance(cell, (dt.date, dt.time)):
        return cell.isoformat()
    if isinstance(cell, (bool, np.bool_)):
        return "yes" if cell else "no"
    if isinstance(cell, (int, float, np.number)):
        return None if cell != cell else cell
    # What JSON nests is shown as it stood.
    return clean_text(str(cell))[:200]
