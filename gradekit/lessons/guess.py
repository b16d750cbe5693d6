"""A number as a student types it, with the unit that is asked behind it."""

from __future__ import annotations

import math
import re

from gradekit.core.errors import InputError, said
from gradekit.core.numbers import plain_signs

_NUMBER = re.compile(
    r"([-+]?(?:[0-9]+[.,]?[0-9]*|[.,][0-9]+)(?:e[-+]?[0-9]+)?)\s*([^\d\s.,].{0,24})?", re.IGNORECASE
)
_PER_CENT = (
    "%", "wt%", "mass%", "weight%", "percent", "%wt", "%mass", "%weight", "%bymass", "%byweight",
)  # fmt: skip
_DEGREES = {"°c", "c", "ºc", "degc", "deg", "°", "celsius"}


def typed_number(text: str) -> tuple[float | None, str]:
    """Return the number that was typed, None where there is none, and what stands behind it.

    A comma is a decimal sign: '1,050' might be 1050 too, but contents have decimals. Whoever is
    judged by it is told how it was read.

    Examples
    --------
    >>> typed_number("18,4 wt%"), typed_number("\u22120.5"), typed_number("1 2")
    ((18.4, 'wt%'), (-0.5, ''), (None, ''))
    """
    match = _NUMBER.fullmatch(plain_signs(text).strip().replace("\u2013", "-"))
    number = float(match[1].replace(",", ".")) if match else math.inf
    if not match or not math.isfinite(number):
        return None, ""
    return number, (match[2] or "").strip()


def is_unit(typed: str, unit: str) -> bool:
    """Tell whether what stands behind a number is the unit that is asked, however it is spelt.

    Examples
    --------
    >>> is_unit("Wt. %", "wt%"), is_unit("diagram", "of 3 diagrams"), is_unit("wt%", "%")
    (True, True, False)
    """
    return _bare(typed) in _spelt(unit)


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
    given, named = str(text).strip(), _named(unit)
    number, tail = typed_number(given)
    if number is None:
        raise InputError("your guess", f"a number, in {named}", given)
    if tail and not is_unit(tail, unit):
        raise InputError("your guess", f"in {named}", said(given))
    if of and not (number.is_integer() and 0 <= number <= of):
        raise InputError("your guess", f"a whole number from 0 to {of}", said(given))
    return number


def _bare(text: str) -> str:
    return re.sub(r"[\s.]+", "", text).lower()


def _named(unit: str) -> str:
    return unit.split()[-1] if unit.startswith("of ") else unit


def _spelt(unit: str) -> set[str]:
    """How a unit may be typed, in small letters without blanks and full stops."""
    head, _, what = unit.partition(" ")
    if unit == "%":  # of ferrite or dilution: not by weight
        return {"%", "percent"}
    if head in ("%", "wt%"):
        return {*_PER_CENT, *(f"{sign}{_bare(what)}" for sign in ("", *_PER_CENT))}
    if unit == "°C":
        return _DEGREES
    last = _bare(_named(unit))
    known = {_bare(unit), last, last.removesuffix("s")}
    # of '3 diagrams' the number may stand alone: '2 of 3'
    return known | ({_bare(f"of {what.split()[0]}")} if head == "of" else set())
