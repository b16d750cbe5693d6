"""What the label of a row says, and rows of statistics: known by their label and their numbers."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np

from gradekit.core.aliases import Cell, Label
from gradekit.heats.certificates.cells import parse_cell
from gradekit.heats.certificates.headers import folded

_KINDS = {
    "min": "min minimum mini min-spec spec-min lsl untergrenze minimo minimal minimi "
    "minimaal en-dusuk",
    "max": "max maximum maxi max-spec spec-max usl obergrenze maximo massimo maximal maksimi "
    "maximaal maksimum en-yuksek",
    "aim": "aim target ziel zielwert sollwert objetivo obiettivo objectif mal cel aim-value",
    "spec": "spec specification specified limits limit required requirement requirements soll "
    "vorgabe grenzwerte grenzwert norm exigence requisito",
    "tolerance": "tolerance toleranz tolerances tol tolleranza tolerancia tolerans",
    "ladle": "heat ladle cast l h heat-analysis ladle-analysis cast-analysis schmelze "
    "schmelzanalyse schmelzenanalyse smelt smeltanalyse coulee colada colata sulatus "
    "sulatusanalyysi dokum tavba tavbova",
    "product": "product check p k product-analysis check-analysis stuck stuckanalyse stueckanalyse "
    "stuk stukanalyse produit producto prodotto tuote tuoteanalyysi urun kontrolni",
    "": "ist istwert actual found measured result value gemeten werkelijk analyse analysis wert "
    "mitattu olculen skutecnost",
}
_KIND = {word: kind for kind, words in _KINDS.items() for word in words.split()}
#: Kinds of rows that are no heats.
LIMIT_ROWS = frozenset({"min", "max", "aim", "spec", "tolerance"})

_STATISTICS = {
    "mean": "mean average avg mittel mittelwert mw durchschnitt schnitt xbar x-bar x-quer moyenne "
    "media medel medelvarde srednia mittelw heikin arithmetic-mean gemiddelde gem keskiarvo "
    "ortalama prumer",
    "total": "total totals summe sum totaal yhteensa celkem toplam",
    "median": "median mediane mediana medianwert zentralwert mediaani medyan",
    "s": "s std std-dev stdev std-abw stddev stabw sd σ sigma standard-deviation stdv "
    "standardabweichung streuung scatter ecart-type deviazione-standard desviacion-estandar "
    "standardavvikelse odchylenie-standardowe desvio-padrao standard-error standaardafwijking "
    "keskihajonta standart-sapma std-sapma smerodatna-odchylka",
    "rsd": "rsd cv cov rel-std rel-std-dev relative-standard-deviation vk variationskoeffizient "
    "srel rel-stabw variatiecoefficient cp cpk",
    "n": "n anzahl anz count number number-of-analyses nombre numero antal liczba aantal "
    "lukumaara adet pocet",
    "variance": "varianz variance varianza varians wariancja",
    "range": "range spannweite r etendue campo rango",
}
_STATISTIC = {folded(word): kind for kind, words in _STATISTICS.items() for word in words.split()}
#: They change nothing of what a label means.
_FILLERS = re.compile(
    r"(?<![^-])(?:grand|overall|general|values?|of|the|all|heats?|rows?|%|±)(?![^-])"
)
_SIGNS = {"Ø": "mean", "ø": "mean", "⌀": "mean", "x̄": "mean", "±": "s", "± s": "s", "±s": "s"}


def kind_of(cell: Cell) -> str | None:
    """Return what a word such as 'max', 'L' or 'check analysis' makes of a row; '' for a heat."""
    # Almost every name of a heat ends with a digit, and no such word does.
    if not isinstance(cell, str) or len(cell) > 40 or cell[-1:].isdigit():
        return None
    return _KIND.get(re.sub(r"[\s_-]+", "-", folded(cell.strip(" .:()"))))


def statistic_word(label: Label) -> str:
    """Return which statistic a label may head, or ''.

    Examples
    --------
    >>> statistic_word("Mittelwert (n=5)"), statistic_word("Std. dev."), statistic_word("H24-001")
    ('mean', 's', '')
    >>> statistic_word("Total average"), statistic_word("± 2s"), statistic_word("3 sigma")
    ('mean', 's', 's')
    """
    # Almost every name of a heat ends with a digit, and no such word does.
    if not isinstance(label, str) or len(label) > 40 or label[-1:].isdigit():
        return ""
    bare = _bare(label)
    return (
        _SIGNS.get(label.strip(" .:"))
        or _STATISTIC.get(bare)
        or _STATISTIC.get(bare.removeprefix("total-"), "")
    )


def _bare(label: str) -> str:
    text = re.sub(r"\((?:n\s*=\s*\d+|[%\w\s.-]{0,12})\)|n\s*=\s*\d+|^\s*[±+]?\s*[1-6]\s*(?=s)",
                  "", label.casefold())  # fmt: skip
    text = re.sub(r"[\s_.-]+|(?<=\w)(?=%)|(?<=%)(?=\w)", "-", folded(text.strip(" .:()")))
    return re.sub("-+", "-", _FILLERS.sub("", text)).strip("-")


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
        '' for no statistic, and 'heat' where the label may say so but the numbers do not.
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
    places = np.array([_places(cell) for cell in row], dtype=float)
    if not word:
        return (_by_numbers(values, heats, places) or "heat" if known.any() else ""), True
    # a letter may name a heat; a word or a sign such as Ø does not
    plain = text.strip().isascii() and text.strip().isalpha()
    sure = len(_bare(text)) > 2 or not plain
    if len(heats) < 2 or not known.any():
        return (word if sure or below_mean else "heat" if known.any() and len(heats) else ""), True
    low, high = np.fmin.reduce(heats)[known], np.fmax.reduce(heats)[known]
    values = values[known]
    # Half of the last place, and what rounding of the rows above may add.
    step = 0.5 * 10.0 ** -places[known] + 0.002 * np.abs(high)
    with np.errstate(invalid="ignore"):
        between = (values >= low - step) & (values <= high + step)
        fits = {
            "mean": between,
            "total": between,
            "median": between,
            "s": values <= (high - low) + step,
            "range": np.abs(values - (high - low)) <= 2 * step,
            "n": (values == np.round(values)) & (values <= 1000),
            "rsd": values >= 0,
            "variance": values <= (high - low) ** 2 + step,
        }[word]
    such = bool(fits.mean() >= 0.8)
    return (word, such) if sure or such else ("heat", True)


def _by_numbers(values: np.ndarray, heats: np.ndarray, places: np.ndarray) -> str:
    """Return which statistic of the heats above these values are to the last digit, or ''."""
    known = ~np.isnan(values) & (np.sum(~np.isnan(heats), axis=0) > 1)
    if known.sum() < 3 or len(np.unique(values[known])) < 3:
        return ""
    values, heats = values[known], heats[:, known]
    step = 0.5001 * 10.0 ** -places[known]
    made = {
        "mean": [np.nanmean(heats, axis=0)],
        "s": [np.nanstd(heats, axis=0, ddof=d) for d in (1, 0)],
    }
    for word, figures in made.items():
        if any(np.mean(np.abs(values - f) <= step) >= 0.8 for f in figures):
            return word
    return ""


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
