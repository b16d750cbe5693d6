"""A guess as it is typed: a number, and behind it the unit that is asked."""

from __future__ import annotations

import math
import re

from gradekit.core.errors import InputError, said
from gradekit.core.numbers import TwoWays, typed

_NUMBER = re.compile(r"([-+]?(?:\d+\.?\d*|\.\d+)(?:e[-+]?\d+)?)\s*([^\d\s.,].*)?", re.IGNORECASE)
_PER_CENT = ("%", "wt%", "mass%", "weight%", "percent")


def read_guess(text: str, unit: str, of: int = 0) -> float:
    """Return the number of a guess.

    Parameters
    ----------
    text : str or float
        As typed; a decimal comma is understood, and the unit that is asked behind the number.
    unit : str
        That is asked, as '% Ni' or 'of 3 diagrams'.
    of : int
        Out of how many is counted; 0 for a quantity that is measured.

    Returns
    -------
    float, in `unit`

    Raises
    ------
    InputError
        No number, another unit, or no possible count.

    Examples
    --------
    >>> read_guess("1,5 % Ni", "% Ni"), read_guess("2 of 3", "of 3 diagrams", 3)
    (1.5, 2.0)
    >>> read_guess("20 ppm", "% N")
    Traceback (most recent call last):
    gradekit.InputError: your guess · must be in % N · got 20 ppm
    """
    given = str(text).strip()
    try:
        plain = typed(re.sub("[\u2212\u2013]", "-", given))
    except TwoWays:
        one_way = "a number that can be read one way only, with a decimal point"
        raise InputError("your guess", one_way, given) from None
    match = _NUMBER.fullmatch(plain)
    if not match or not math.isfinite(float(match[1])):
        raise InputError("your guess", f"a number, in {_named(unit)}", given)
    tail = (match[2] or "").strip()
    if tail and _bare(tail) not in _spelt(unit):
        raise InputError("your guess", f"in {_named(unit)}", said(f"{match[1]} {tail}"))
    guess = float(match[1])
    if of and not (guess.is_integer() and 0 <= guess <= of):
        raise InputError("your guess", f"a whole number from 0 to {of}", said(match[1]))
    return guess


def _bare(text: str) -> str:
    return re.sub(r"[\s.]+", "", text).lower()


def _named(unit: str) -> str:
    return unit.split()[-1] if unit.startswith("of ") else unit


def _spelt(unit: str) -> set[str]:
    """How a unit may be typed, in small letters without blanks and full stops."""
    head, _, what = unit.partition(" ")
    if head == "%":
        return {*_PER_CENT, _bare(what), *(p + _bare(what) for p in _PER_CENT)}
    last = _bare(_named(unit))
    known = {_bare(unit), last, last.removesuffix("s")}
    # of '3 diagrams' the number may stand alone: '2 of 3'
    return known | ({_bare(f"of {what.split()[0]}")} if head == "of" else set())
