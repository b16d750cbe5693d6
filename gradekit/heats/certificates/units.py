"""Units of contents as laboratories write them, and what a title says of the unit of a table."""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal
from functools import lru_cache

from gradekit.core.aliases import Label

#: What a unit that cannot be read is told.
known_units = "wt%, ppm, ppb, ‰, mg/kg, g/t, mass fraction, or a multiplier such as x10^-3"
# Without blanks, points, hyphens and brackets, in small letters.
_PERCENT = frozenset(
    "% pct percent prozent pourcent procent porcentaje wt wt% %wt w% %w m% %m mass mass% %mass "
    "masse% %masse massen% massa% %massa gew% %gew gewichts% ma% weight weight% %weight wtpct "
    "masspct weightpct wtpercent masspercent weightpercent percentbyweight percentbymass %byweight "
    "%bymass %m/m %w/w m/m% w/w% gewichtsprozent massenprozent masseprozent gewprozent %enmasse "
    "%enpeso %peso peso% %inpeso %inmassa %p/p vikt% viktsprocent viktprocent %wag wag% "
    "procentwagowy massenanteil% massenanteilin% massfraction% percentwt percentweight".split()
)
_FACTORS: dict[str, tuple[float, str]] = {
    **dict.fromkeys(_PERCENT, (1.0, "")),
    **dict.fromkeys(
        "ppm ppmw wppm wtppm ppmwt ppmm ppmm/m ppmw/w ppmbyweight ppmbymass massppm ppmmass "
        "weightppm ppmweight mppm mg/kg µg/g μg/g ug/g g/t".split(),
        (1e-4, "read as ppm"),
    ),
    **dict.fromkeys("ppb ppbw wtppb µg/kg μg/kg ug/kg mg/t".split(), (1e-7, "read as ppb")),
    **dict.fromkeys(
        "‰ promille permille permil g/kg kg/t mg/g".split(), (0.1, "read as parts in a thousand")
    ),
    **dict.fromkeys(
        "massfraction massenanteil fractionmassique frazionedimassa weightfraction wtfraction "
        "kg/kg".split(),
        (100.0, "read as mass fraction"),
    ),
}
_ATOMS = "wt%; contents in at% become wt% by gk.heats.to_weight_percent"
#: Units that are understood and are none of a content by weight, with what must stand there.
REFUSED = dict.fromkeys(
    "at% %at atom% atoms% atomic% atompercent atomicpercent atomprozent a% atpct mol% mole% "
    "molpercent molefraction molenbruch ppma atppm".split(),
    _ATOMS,
) | dict.fromkeys("vol% %vol v% volpercent ppmv".split(), known_units)
# 'x10^-3', '×10⁻³', '10-3', 'E-3'; then 'x1000', '1/1000', 'x 0.01'.
_POWER = re.compile(
    r"[x×*·]?\s*10\s*(?:\^|\*\*)?\s*\(?\s*[-−–]\s*(\d)\s*\)?|[x×*·]?\s*10\s*⁻([⁰¹²³⁴⁵⁶⁷⁸⁹])|e-0?(\d)",
    re.I,
)
_TIMES = re.compile(r"[x×*·]\s*1[.,]?(0+)|1\s*/\s*1(0+)|/\s*1(0+)|[x×*·]\s*0[.,](0*1)", re.I)
_LONGEST = 40
_SUPERSCRIPTS = str.maketrans("⁰¹²³⁴⁵⁶⁷⁸⁹", "0123456789")


def bare(text: str) -> str:
    """Return a unit without what only sets it apart.

    Examples
    --------
    >>> bare("[Gew.-%]"), bare("% (m/m)")
    ('gew%', '%m/m')
    """
    return re.sub(r"[\s._()\[\]{}-]", "", text.casefold())


_UNIT_COLUMN = re.compile(
    r"units?|einheit|unité|unità|unidade?|enhet|jednostka|eenheid|yksikkö|jednotka|birim", re.I
)


def is_unit_column(header: Label) -> bool:
    """Tell whether a column may hold the units of its rows."""
    return isinstance(header, str) and bool(_UNIT_COLUMN.fullmatch(header.strip()))


@lru_cache(1)
def content_units() -> dict[str, float]:
    """Return the units of contents by weight, bare, with what one of them is in wt%."""
    return {word: factor for word, (factor, _) in _FACTORS.items()}


@lru_cache(4096)
def unit_factor(text: str) -> tuple[float, str] | None:
    """Return (factor to wt%, remark) of a unit or multiplier, or None if it is neither.

    Examples
    --------
    >>> unit_factor("ppm"), unit_factor("x10^-3"), unit_factor("Gew.-%"), unit_factor("MPa")
    ((0.0001, 'read as ppm'), (0.001, 'multiplied by 0.001'), (1.0, ''), None)
    """
    if not isinstance(text, str) or len(text) > _LONGEST:
        return None
    if known := _FACTORS.get(bare(text)):
        return known
    plain = text.strip().strip("[]() ")
    power, times = _POWER.fullmatch(plain.rstrip("% ")), _TIMES.fullmatch(plain)
    if power:
        exponent = int(next(filter(None, power.groups())).translate(_SUPERSCRIPTS))
    elif times and not re.search(r"1[.,]", plain):
        # 'x1000' over the column of carbon: the figure is the content times 1000.
        exponent = len(next(filter(None, times.groups())))
    else:
        return None
    return float(Decimal(1).scaleb(-exponent)), f"multiplied by {Decimal(1).scaleb(-exponent):f}"


_UNIT_IN_TITLE = re.compile(
    r"(?:\b(?:in|as|en|i|w|im)\b|[:=(\[])\s*"
    r"(?P<unit>(?:at|atom|atomic|mol)[.\s-]*(?:%|percent)|(?:wt|gew|mass|masse|massen|weight|w|m)?[.\s-]*"
    r"(?:%|ppm|ppb|percent|prozent|‰)(?:\s*\(?[mw]/[mw]\)?)?|mg/kg|g/t|[µμu]g/g|g/kg|kg/t"
    r"|mass fractions?|massenanteile?n?|fractions? massiques?)(?![\w%])",
    re.I,
)
_SYMBOLS = re.compile(r"((?:\b[A-Z][a-z]?\b(?:\s*(?:,|;|/|\band\b|\bund\b|\bet\b|&|\+)\s*)?)+)\s*$")
_GASES = re.compile(r"\b(?:gas(?:es|e)?|gaz)\b", re.I)
_CONTENTS = re.compile(
    r"\b(?:all|alle|contents?|values?|results?|analys[ei]s|composition|chemi\w+|gehalte?n?|angaben"
    r"|werte|inhalte?|teneurs?|composizione|composición|others?|rest|elements?|elemente|figures)\b",
    re.I,
)


def title_units(titles: Iterable[str]) -> dict[str, str]:
    """Return the units that the lines around a table state, by element; '' for all others.

    Examples
    --------
    >>> title_units(["All contents in ppm"]), title_units(["O, N in ppm; all others in wt%"])
    ({'': 'ppm'}, {'O': 'ppm', 'N': 'ppm', '': 'wt%'})
    """
    stated: dict[str, str] = {}
    for line in titles:
        if len(line) > 300:
            continue
        if unit_factor(line) or bare(line) in REFUSED:
            stated.setdefault("", line.strip())
            continue
        start = 0
        for match in _UNIT_IN_TITLE.finditer(line):
            before, unit = line[start : match.start()], match["unit"].strip()
            unit = re.sub(r"s$", "", unit) if "fraction" in unit.lower() else unit
            start = match.end()
            unit = "massenanteil" if unit.lower().startswith("massenanteil") else unit
            symbols = _SYMBOLS.search(before)
            if symbols and not _CONTENTS.search(symbols[1]):
                for symbol in re.findall(r"[A-Z][a-z]?", symbols[1]):
                    stated.setdefault(symbol, unit)
            elif _GASES.search(before):
                for symbol in "HNO":
                    stated.setdefault(symbol, unit)
            elif _CONTENTS.search(before) or not re.search(r"\w", before):
                stated.setdefault("", unit)
    return stated
