"""Units that people write behind a number: converted where they measure the same, else refused.

Contents of steel in weight have their own table, in `gradekit.heats.certificates.units`.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TypeAlias

_Scale: TypeAlias = tuple[float, float]
#: By kind, what one of a unit is in the first of the kind, as factor and what is added; each unit
#: with its spellings, the usual one first.
_KINDS: tuple[dict[str, _Scale], ...] = (
    {
        "°C C celsius degC gradC": (1.0, 0.0),
        "K °K kelvin": (1.0, -273.15),
        "°F F fahrenheit degF": (5 / 9, -160 / 9),
    },
    {
        "mm": (1.0, 0.0),
        "cm": (10.0, 0.0),
        "m meter metre": (1e3, 0.0),
        "km": (1e6, 0.0),
        "µm um micron microns": (1e-3, 0.0),
        "nm": (1e-6, 0.0),
        'in inch inches zoll "': (25.4, 0.0),
        "mil thou": (0.0254, 0.0),
        "ft feet foot": (304.8, 0.0),
        "mi mile miles": (1_609_344.0, 0.0),
    },
    {  # dissolved in water, of which a litre is a kilogram
        "mg/l ppm mg/dm3 g/m3 mg/kg mgCl/l mgCl-/l": (1.0, 0.0),
        "g/l kg/m3 g/kg": (1e3, 0.0),
        "µg/l ug/l ppb µg/kg": (1e-3, 0.0),
    },
    {
        "h hr hrs hour hours std stunde stunden": (1.0, 0.0),
        "min minute minutes": (1 / 60, 0.0),
        "s sec second seconds": (1 / 3600, 0.0),
        "d day days tage tag": (24.0, 0.0),
        "week weeks woche wochen": (168.0, 0.0),
        "year years yr yrs a jahr jahre": (8766.0, 0.0),
    },
    {
        "atm": (1.0, 0.0),
        "bar": (1 / 1.01325, 0.0),
        "mbar hPa": (1e-3 / 1.01325, 0.0),
        "Pa": (1 / 101_325, 0.0),
        "kPa": (1 / 101.325, 0.0),
        "torr mmHg": (1 / 760, 0.0),
    },
    {
        "MPa N/mm2": (1.0, 0.0),
        "GPa": (1e3, 0.0),
        "kPa": (1e-3, 0.0),
        "ksi": (6.894757, 0.0),
        "psi": (6.894757e-3, 0.0),
        "kgf/mm2 kp/mm2": (9.80665, 0.0),
    },
    {"MN": (1.0, 0.0), "kN": (1e-3, 0.0), "N": (1e-6, 0.0)},
    {"kNm": (1.0, 0.0), "MNm": (1e3, 0.0), "Nm": (1e-3, 0.0)},
    {"m/min mpm": (1.0, 0.0), "m/s": (60.0, 0.0), "mm/s": (0.06, 0.0)},
    {
        "°C/s C/s K/s": (1.0, 0.0),
        "°C/min C/min K/min": (1 / 60, 0.0),
        "°C/h C/h K/h": (1 / 3600, 0.0),
    },
    {"mol/l M": (1.0, 0.0), "mmol/l mM": (1e-3, 0.0)},
    {"t": (1.0, 0.0), "kg": (1e-3, 0.0)},
    {"J/cm2": (1.0, 0.0), "kJ/m2": (0.1, 0.0)},
    {"% pct percent prozent": (1.0, 0.0), "‰": (0.1, 0.0)},
    {"vol% %": (1.0, 0.0)},
)
_NUMBER = re.compile(
    r"\s*(?P<number>[-+−]?[\d.,'’ \u00a0\u2009\u202f]*\d[.,]?(?:e[-+]?\d+)?)", re.I
)
_LIKE = str.maketrans({"μ": "µ", "²": "2", "³": "3", "º": "°", "˚": "°", "·": "", "*": "", "^": ""})


def bare_unit(unit: str) -> str:
    """Return a unit without what only sets it apart.

    Examples
    --------
    >>> bare_unit(" N/mm² "), bare_unit("kN m"), bare_unit("[°C]")
    ('n/mm2', 'knm', '°c')
    """
    return re.sub(r"[\s._()\[\]{}-]", "", unit.translate(_LIKE)).casefold()


def number_and_unit(text: str) -> tuple[str, str]:
    """Part a text into the number that it begins with and what stands behind it.

    Examples
    --------
    >>> number_and_unit("1 050 °C"), number_and_unit("0.3%"), number_and_unit("1e-3 M")
    (('1 050', '°C'), ('0.3', '%'), ('1e-3', 'M'))
    >>> number_and_unit("cold")
    ('', 'cold')
    """
    match = _NUMBER.match(text)
    if match is None:
        return "", text.strip()
    return match["number"].strip(), text[match.end() :].strip()


@cache
def _kind(unit: str) -> tuple[dict[str, _Scale], _Scale]:
    """The kind of a unit, by spelling, with the scale of the unit in it."""
    own = bare_unit(unit)
    for kind in _KINDS:
        spelt = {bare_unit(w): scale for words, scale in kind.items() for w in words.split()}
        if own in spelt:
            return kind, spelt[own]
    return ({own: (1.0, 0.0)} if own not in ("", "1") else {}), (1.0, 0.0)


@cache
def factors(unit: str) -> dict[str, _Scale]:
    """Return what may be written for a unit, each with factor and what is added to reach it.

    Parameters
    ----------
    unit : str
        What the number is kept in; '' or '1' for a number without a unit.

    Examples
    --------
    >>> factors("mg/l")["g/l"], factors("°C")["k"], "%" in factors("mg/l"), factors("FN")
    ((1000.0, 0.0), (1.0, -273.15), False, {'fn': (1.0, 0.0)})
    """
    kind, (size, base) = _kind(unit)
    return {
        bare_unit(word): (factor / size, (add - base) / size)
        for words, (factor, add) in kind.items()
        for word in words.split()
    }


def usual(unit: str) -> str:
    """Return the units that are converted to one, for a message.

    Examples
    --------
    >>> usual("mg/l"), usual("°C"), usual("FN")
    ('mg/l, g/l or µg/l', '°C, K or °F', 'FN')
    """
    kind, _ = _kind(unit)
    own = bare_unit(unit)
    others = [w.split()[0] for w in kind if own not in map(bare_unit, w.split())]
    return f"{', '.join([unit, *others[:-1]])} or {others[-1]}" if others else unit


def converted(value: float, given: str, asked: str) -> float | None:
    """Return a value in another unit, None where that unit measures something else.

    Examples
    --------
    >>> converted(2.0, "m/s", "m/min"), converted(1.0, "mm", "°C")
    (120.0, None)
    """
    scale = factors(asked).get(bare_unit(given))
    return None if scale is None else value * scale[0] + scale[1]
