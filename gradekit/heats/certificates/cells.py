"""How certificates write a header, a number, a limit and a designation."""

from __future__ import annotations

import datetime as dt
import re
from decimal import Decimal
from functools import cache
from typing import NamedTuple

import numpy as np
import pandas as pd

from gradekit.core.elements import is_element, symbols

__all__ = [
    "FAMILIAR",
    "Header",
    "claims",
    "column_element",
    "parse_cell",
    "parse_limit",
    "ppm_sized",
    "scaled",
    "unit_factor",
]

#: Columns that certificates carry beside the analysis, lower case.
FAMILIAR = frozenset(
    re.split(
        r"\s+",
        "grade steel note notes date time no nr id row type kind order item coil slab plate lab "
        "mode a a5 a50 a80 rm re rp0.2 rp1.0 z hv hb hrb hrc fn pren thickness width standard "
        "claim claims analysis customer product finish remark remarks quality kg t",
    )
)


class Header(NamedTuple):
    """What the header of a column of contents says.

    Attributes: the element, the factor to wt%, a remark in words, and whether a unit stands there.
    """

    element: str
    factor: float = 1.0
    remark: str = ""
    stated: bool = False


_SUM = "the sum is taken as niobium"
_ALIASES = {"cb": ("Nb", "columbium is niobium"), "cb+ta": ("Nb", _SUM), "nb+ta": ("Nb", _SUM)}
# Without a unit these are as likely the names of heats.
_GASES = {"H2": "H", "N2": "N", "O2": "O"}
_ALIASES |= dict.fromkeys(("al tot", "altot", "al-t", "al-tot", "al total"), ("Al", ""))
_PERCENT = r"(?:wt|mass|m|weight)?\.?\s*-?\s*(?:%|pct|percent)|(?:wt|mass|weight)"
_UNIT = rf"ppm|mg/kg|[µμu]g/g|ppb|{_PERCENT}"
# 'x10^-3', '×10⁻³', '10-3', 'E-3'; then 'x1000', '1/1000', 'x 0.01'.
_POWER = r"[x×*·]?\s*10\s*(?:\^|\*\*)?\s*\(?\s*[-−–]\s*\d\s*\)?|[x×*·]?\s*10\s*⁻[⁰¹²³⁴⁵⁶⁷⁸⁹]|e-0?\d"
_TIMES = r"[x×*·]\s*1[.,]?0+|1\s*/\s*10+|/\s*10+|[x×*·]\s*0[.,]0*1"
_WHOLE_UNIT = re.compile(rf"\s*[\[(]?\s*(?:{_UNIT}|{_POWER}|{_TIMES})\s*[\])]?\s*", re.I)
_TAIL = re.compile(
    rf"(?P<name>.*?)(?:\s*[\[(]\s*|\s+|(?=[%x×*·]))(?P<unit>{_UNIT}|{_POWER}|{_TIMES})\s*[\])]?",
    re.I,
)
_LEAD = re.compile(r"(?:wt\.?\s*-?)?%\s*(?P<name>[A-Za-z][\w+ ]*)")
_SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹⁻−–", "0123456789---")

_NOT_DETECTED = frozenset(
    "n.d. nd n.d tr tr. trace traces - -- --- – — bdl lod <lod <dl <loq nil".split()
)
_EMPTY = frozenset({"", "nan", "none", "n/a", "na", "n.a.", "null", "."})
# The point of 'max.' must not be taken from '.5'.
_UNDER = re.compile(r"(?:<\s*=?|≤|(?:LT|max)(?:\.(?=\s))?(?=[\s\d.,])|less than)\s*(.+)", re.I)
_OVER = re.compile(r"(?:>\s*=?|≥|min(?:\.(?=\s))?(?=[\s\d.,]))\s*(.+)", re.I)
_NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][-+]?\d+)?", re.ASCII)
_ZERO = re.compile(r"[+-]?0*(?:[.,](0+))?", re.ASCII)
# A content above this in wt% can only be a figure in ppm; below it nothing is guessed.
_ONLY_PPM = {"N": 10.0, "O": 1.0, "H": 0.1, "B": 5.0, "S": 1.0, "Pb": 1.0, "Bi": 1.0, "Ca": 1.0}

_CLAIM = re.compile(
    r"(?<![\w.-])(?:"
    r"EN (?:ISO )?\d{4,5}(?:-\d+)?|(?:ASTM )?S?A[- ]?\d{3}|ASME S?A[- ]?\d{3}|NACE MR[ -]?\d+"
    r"|1\.\d{4}|X\d+Cr[A-Za-z]*(?:[\d-]*\d)?|[SN]\d{5}|[2346]\d\d[A-Z][a-zA-Z]{0,2}|[234]\d\d|904L"
    r"|2[0-9]0[1-7])(?![\w.])"
)


def claims(text: object) -> list[str]:
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


@cache
def _names() -> dict[str, str]:
    import periodictable

    return {e.name: e.symbol for e in periodictable.elements if e.symbol in symbols()}


def unit_factor(text: object) -> tuple[float, str] | None:
    """Return (factor to wt%, remark) of a unit or multiplier, or None if it is neither.

    Examples
    --------
    >>> unit_factor("ppm"), unit_factor("x10^-3"), unit_factor("%"), unit_factor("MPa")
    ((0.0001, 'read as ppm'), (0.001, 'multiplied by 0.001'), (1.0, ''), None)
    """
    if not isinstance(text, str) or not _WHOLE_UNIT.fullmatch(text):
        return None
    unit = text.strip().strip("[]() ").lower().translate(_SUPERSCRIPTS).replace(" ", "")
    if unit == "ppb":
        return 1e-7, "read as ppb"
    if unit in ("ppm", "mg/kg") or unit.endswith("g/g"):
        return 1e-4, "read as ppm"
    if re.fullmatch(_PERCENT, unit):
        return 1.0, ""
    if re.search(r"-\d", unit):
        exponent = int(unit.rstrip(")")[-1])
    elif re.search(r"0[.,]0*1$", unit):
        exponent = len(re.split("[.,]", unit)[-1])
    else:  # 'x1000' over the column of carbon: the figure is the content times 1000
        exponent = re.sub(r"^1/", "", unit).count("0")
        if re.search(r"[.,]", unit):
            return None
    factor = float(Decimal(1).scaleb(-exponent))
    return factor, f"multiplied by {Decimal(1).scaleb(-exponent):f}"


def column_element(header: object) -> Header | None:
    """Read the header of a column; None if it names no content.

    Examples
    --------
    >>> column_element("N [ppm]").factor, column_element("CR").element, column_element("grade")
    (0.0001, 'Cr', None)
    """
    if not isinstance(header, str):
        return None
    name = re.sub(r"\s+", " ", header.replace("_", " ")).strip()
    factor, remarks, stated = 1.0, [], False
    while (tail := _TAIL.fullmatch(name)) and (unit := unit_factor(tail["unit"])):
        name, stated = tail["name"].strip(), True
        factor *= unit[0]
        remarks += [unit[1]] if unit[1] else []
    if lead := _LEAD.fullmatch(name):
        name, stated = lead["name"].strip(), True
    remark = "; ".join(reversed(remarks))
    name = re.sub(r"\s*\+\s*", "+", name)
    if name.lower() in _ALIASES:
        element, words = _ALIASES[name.lower()]
        return Header(element, factor, "; ".join(w for w in (words, remark) if w), stated)
    if stated:
        name = _GASES.get(name, name)
    if name.isupper() and is_element(name.title()):
        return Header(name.title(), factor, remark, stated)
    symbol = name if is_element(name) else _names().get(name.lower()) if len(name) > 2 else None
    return Header(symbol, factor, remark, stated) if symbol else None


def scaled(number: float | np.ndarray, factor: float) -> float | np.ndarray:
    """Return number times a power of ten, as near as if it had been printed so."""
    return number if factor == 1 else np.round(number * factor, 13)


def parse_cell(cell: object, factor: float = 1.0) -> tuple[float, str]:
    """Return (wt% or NaN, mark) of one cell.

    The mark is '<x' in wt% for a bound, whose upper end x is the value; 'n.d.', 'tr' and '-' are
    marks themselves, their value is NaN. '0.00' is a bound of one unit in its last place, and so
    is '0' in a column of ppm or with a multiplier. Raises ValueError on anything else.

    Examples
    --------
    >>> parse_cell("18,12"), parse_cell("<0,005"), parse_cell("0.00"), parse_cell("<5", 1e-4)
    ((18.12, ''), (0.005, '<0.005'), (0.01, '<0.01'), (0.0005, '<0.0005'))
    """
    if cell is None or cell is pd.NA or cell is pd.NaT:
        return np.nan, ""
    if isinstance(cell, (int, float, np.number, Decimal)) and not isinstance(cell, bool):
        return float(scaled(float(cell), factor)), ""
    if not isinstance(cell, str):
        raise ValueError(cell)
    text = cell.strip().removeprefix("'").strip()
    if text.lower() in _EMPTY:
        return np.nan, ""
    if text.lower() in _NOT_DETECTED:
        return np.nan, text
    under = _UNDER.fullmatch(text)
    digits = (under[1] if under else text).rstrip("%").strip().replace("−", "-")
    if not _NUMBER.fullmatch(digits):
        raise ValueError(cell)
    digits = digits.replace(",", ".")
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


def parse_limit(cell: object, factor: float = 1.0) -> tuple[float, float]:
    """Return (min, max) in wt% of a printed requirement, NaN where there is none.

    Examples
    --------
    >>> parse_limit("16,5 - 18,0"), parse_limit("max 0.030"), parse_limit("≥ 10")
    ((16.5, 18.0), (nan, 0.03), (10.0, nan))
    """
    if isinstance(cell, str):
        ends = re.fullmatch(r"\s*([\d.,]+)\s*(?:-|–|…|\.\.\.|to)\s*([\d.,]+)\s*%?\s*", cell)
        if ends:
            return parse_cell(ends[1], factor)[0], parse_cell(ends[2], factor)[0]
        over = _OVER.fullmatch(cell.strip())
        if over:
            return parse_cell(over[1], factor)[0], np.nan
    return np.nan, parse_cell(cell, factor)[0]


def ppm_sized(element: str, numbers: np.ndarray) -> np.ndarray:
    """Tell which contents are so large that the figure can only be in ppm."""
    with np.errstate(invalid="ignore"):
        return numbers >= _ONLY_PPM.get(element, np.inf)


def plain_text(cell: object) -> object:
    """Return a cell of a column that is no analysis: dates as ISO text, empty ones as None."""
    if isinstance(cell, dt.datetime) and cell.time() == dt.time():
        cell = cell.date()
    if isinstance(cell, (dt.date, dt.time)):
        return None if pd.isna(cell) else cell.isoformat()
    if isinstance(cell, str):
        return cell.strip() or None
    return None if cell is None or cell is pd.NA or cell != cell else cell
