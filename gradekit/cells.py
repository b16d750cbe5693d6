"""How certificates write a header and a number."""

from __future__ import annotations

import re

import numpy as np

from gradekit.elements import is_element

__all__ = ["FAMILIAR", "column_element", "parse_cell", "ppm_sized"]

#: Columns that certificates carry beside the analysis, lower case.
FAMILIAR = frozenset(
    re.split(
        r"\s+",
        "grade steel note notes date time no id row type kind order item coil slab plate lab mode "
        "a a5 a50 a80 rm re rp0.2 rp1.0 z hv hb hrb hrc fn pren thickness width standard claim "
        "claims analysis customer product finish remark remarks quality kg t",
    )
)
_ALIASES = {"Cb": "Nb", "Cb+Ta": "Nb", "Nb+Ta": "Nb", "Al tot": "Al", "Altot": "Al", "Al-T": "Al"}
_SAID = {
    "Cb": "columbium is niobium",
    "Nb+Ta": "the sum is taken as niobium",
    "Cb+Ta": "the sum is taken as niobium",
}
_UNIT = re.compile(r"\s*[\[(]?\s*(ppm|wt\.?\s*-?%|mass\s*-?%|m\s*-?%|weight\s*%|%)\s*[\])]?$", re.I)
_NOT_DETECTED = frozenset(
    {"n.d.", "nd", "n.d", "tr", "tr.", "trace", "traces", "-", "–", "—", "bdl"}
)
_EMPTY = frozenset({"", "nan", "none", "n/a", "na", "null", "."})
_BOUND = re.compile(r"(?:<=?|≤|LT\.?|less than|max\.?)\s*(.+)", re.I)
_NUMBER = re.compile(r"\+?\d*(?:[.,]\d*)?(?:[eE][-+]?\d+)?")
# A content above this in wt% can only be a figure in ppm; between the two nothing is guessed.
_ONLY_PPM = {"N": 10.0, "O": 1.0, "H": 0.1, "B": 5.0, "S": 1.0, "Pb": 1.0, "Bi": 1.0, "Ca": 1.0}


def column_element(header: object) -> tuple[str, float, str] | None:
    """Return (element, factor to wt%, remark) of a column header, or None.

    Examples
    --------
    >>> column_element("N [ppm]"), column_element("CR"), column_element("grade")
    (('N', 0.0001, 'read as ppm'), ('Cr', 1.0, ''), None)
    """
    if not isinstance(header, str):
        return None
    name = header.strip().replace("_", " ")
    factor, remark = 1.0, ""
    unit = _UNIT.search(name)
    if unit:
        name = name[: unit.start()].strip()
        if unit.group(1).lower() == "ppm":
            factor, remark = 1e-4, "read as ppm"
    name = re.sub(r"\s*\+\s*", "+", name)
    if name in _ALIASES or name.title() in _ALIASES:
        key = name if name in _ALIASES else name.title()
        return _ALIASES[key], factor, "; ".join(r for r in (_SAID.get(key, ""), remark) if r)
    if is_element(name):
        return name, factor, remark
    if name.isupper() and is_element(name.title()):
        return name.title(), factor, remark
    return None


def parse_cell(cell: object) -> tuple[float, str]:
    """Return (wt% or NaN, mark) of one cell; the mark is the text of a bound.

    A bound '<x' gives its upper end x; '0.00' is a bound of one unit in its last place; 'n.d.',
    'tr' and '-' give NaN. Raises ValueError on anything that is no number.

    Examples
    --------
    >>> parse_cell("18,12"), parse_cell("<0.005"), parse_cell("0.00")
    ((18.12, ''), (0.005, '<0.005'), (0.01, '0.00'))
    """
    if cell is None:
        return np.nan, ""
    if isinstance(cell, (int, float, np.number)) and not isinstance(cell, bool):
        return float(cell), ""
    if not isinstance(cell, str):
        raise ValueError(cell)
    text = cell.strip().removeprefix("'").strip()
    if text.lower() in _EMPTY:
        return np.nan, ""
    if text.lower() in _NOT_DETECTED:
        return np.nan, text
    bound = _BOUND.fullmatch(text)
    if bound:
        return _number(bound.group(1)), text
    value = _number(text.rstrip("%").strip())
    decimals = re.fullmatch(r"0*[.,](0+)", text)
    if value == 0 and decimals:
        return 10.0 ** -len(decimals.group(1)), text
    return value, ""


def _number(text: str) -> float:
    text = text.strip().replace("\u00a0", "").replace("\u2212", "-")
    if text.startswith("-"):
        return -_number(text[1:])
    if not _NUMBER.fullmatch(text) or not any(c.isdigit() for c in text):
        raise ValueError(text)
    return float(text.replace(",", "."))


def ppm_sized(element: str, numbers: np.ndarray) -> np.ndarray:
    """Tell which contents are so large that the column can only be in ppm."""
    limit = _ONLY_PPM.get(element)
    if limit is None:
        return np.zeros(len(numbers), dtype=bool)
    with np.errstate(invalid="ignore"):
        return numbers >= limit
