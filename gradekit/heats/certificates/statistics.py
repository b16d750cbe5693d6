"""Rows of statistics below an analysis: known by their label and by their numbers."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from gradekit.core.aliases import Cell, Label
from gradekit.heats.certificates.cells import parse_cell
from gradekit.heats.certificates.headers import folded

_STATISTICS = {
    "mean": "mean average avg mittel mittelwert mw durchschnitt schnitt xbar x-bar x-quer moyenne "
    "media medel medelvarde srednia mean-value mittelw heikin arithmetic-mean",
    "median": "median mediane mediana medianwert zentralwert",
    "s": "s std std-dev stdev std-abw stddev stabw sd σ sigma standard-deviation stdv "
    "standardabweichung streuung scatter ecart-type deviazione-standard desviacion-estandar "
    "standardavvikelse odchylenie-standardowe desvio-padrao standard-error",
    "rsd": "rsd cv rsd-% %rsd rel-std rel-std-dev relative-standard-deviation vk "
    "variationskoeffizient srel rel-stabw",
    "n": "n anzahl anz count number number-of-analyses nombre numero antal liczba",
    "variance": "varianz variance varianza varians wariancja",
    "range": "range spannweite r etendue campo rango",
}
_STATISTIC = {
    "".join(c for c in folded(word)): kind
    for kind, words in _STATISTICS.items()
    for word in words.split()
}
_SIGNS = {"Ø": "mean", "ø": "mean", "⌀": "mean", "x̄": "mean", "±": "s", "± s": "s", "±s": "s"}


def statistic_word(label: Label) -> str:
    """Return which statistic a label may head, or ''.

    Examples
    --------
    >>> statistic_word("Mittelwert (n=5)"), statistic_word("Std. dev."), statistic_word("H24-001")
    ('mean', 's', '')
    """
    # Almost every name of a heat ends with a digit, and no such word does.
    if not isinstance(label, str) or len(label) > 40 or label[-1:].isdigit():
        return ""
    return _SIGNS.get(label.strip(" .:")) or _STATISTIC.get(_bare(label), "")


def _bare(label: str) -> str:
    text = re.sub(r"\((?:n\s*=\s*\d+|[%\w\s.-]{0,12})\)|n\s*=\s*\d+", "", label)
    return re.sub(r"[\s_.-]+", "-", folded(text.strip(" .:()"))).strip("-")


def statistic_of(
    label: str | None,
    kind: str | None,
    row: Sequence[Cell],
    above: Sequence[Sequence[Cell]],
    below_mean: bool,
    sign: str = "",
) -> tuple[str, bool]:
    """Return which statistic of the rows above a row is, and whether its numbers are such.

    Parameters
    ----------
    label : str
        What heads the row.
    kind : str, optional
        'min' or 'max' where the row is a limit or the end of a column.
    row, above : cells of contents of this row, and of the heats above it
    below_mean : bool
        Whether a row of means stands above.
    sign : {'', '.', ','}
        Decimal sign of the file.

    Returns
    -------
    (str, bool)
        '' for no statistic, and 'heat' where only the label, a letter, says so.
    """
    values, heats = _numbers(row, sign), np.array([_numbers(r, sign) for r in above])
    known = ~np.isnan(values)
    if kind in ("min", "max"):
        if len(heats) < 2 or not known.any():
            return "", True
        ends = np.fmin.reduce(heats) if kind == "min" else np.fmax.reduce(heats)
        same = np.isclose(ends[known], values[known], rtol=0, atol=1e-9)
        return (f"{kind}imum" if same.mean() >= 0.8 else ""), True
    text, word = label or "", statistic_word(label)
    # a letter may name a heat; a word or a sign such as Ø does not
    plain = text.strip().isascii() and text.strip().isalpha()
    sure = len(_bare(text)) > 2 or not plain
    if len(heats) < 2 or not known.any():
        return (word if sure or below_mean else "heat" if known.any() and len(heats) else ""), True
    low, high = np.fmin.reduce(heats)[known], np.fmax.reduce(heats)[known]
    values = values[known]
    # Half of the last place, and what rounding of the rows above may add.
    places = np.array([_places(cell) for cell in row], dtype=float)[known]
    step = 0.5 * 10.0**-places + 0.002 * np.abs(high)
    with np.errstate(invalid="ignore"):
        between = (values >= low - step) & (values <= high + step)
        fits = {
            "mean": between,
            "median": between,
            "s": values <= (high - low) + step,
            "range": np.abs(values - (high - low)) <= 2 * step,
            "n": (values == np.round(values)) & (values <= 1000),
            "rsd": values >= 0,
            "variance": values <= (high - low) ** 2 + step,
        }[word]
    such = bool(fits.mean() >= 0.8)
    return (word, such) if sure or such else ("heat", True)


def _numbers(cells: Sequence[Cell], sign: str) -> np.ndarray:
    return np.array([_number(cell, sign) for cell in cells], dtype=float)


def _number(cell: Cell, sign: str) -> float:
    try:
        return parse_cell(cell, sign=sign, most=np.inf if sign else 100.0)[0]
    except ValueError:
        return np.nan


def _places(cell: Cell) -> int:
    """Return the decimals of a cell; a whole number may have lost its own."""
    parts = re.split("[.,]", str(cell))
    return len(parts[1]) if len(parts) == 2 else 1
