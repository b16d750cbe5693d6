"""Element symbols and atomic masses."""

from __future__ import annotations

from functools import cache

from gradekit.core.aliases import Label
from gradekit.core.errors import InputError, nearest

# Above uranium nothing is ever alloyed; the cut keeps typing slips such as 'No' or 'Es' out.
_HEAVIEST = 92
#: Never in a steel; such a head is a roughness, a pressure, a strain.
_NEVER = frozenset("Rn Po At Fr Ra Ac Pa Pm Tc".split())


@cache
def atomic_masses() -> dict[str, float]:
    """Return the atomic mass of every element up to uranium in g/mol.

    Source: the `periodictable` library (IUPAC standard atomic weights), loaded on first use.

    Examples
    --------
    >>> round(atomic_masses()["Cr"], 2)
    52.0
    """
    import periodictable

    return {e.symbol: float(e.mass) for e in periodictable.elements if 1 <= e.number <= _HEAVIEST}


@cache
def symbols() -> frozenset[str]:
    """Return the accepted element symbols."""
    return frozenset(atomic_masses()) - _NEVER


def is_element(name: Label) -> bool:
    """Tell whether `name` is an element symbol, spelt as chemists do.

    Examples
    --------
    >>> is_element("Cr"), is_element("Xx")
    (True, False)
    """
    return isinstance(name, str) and name in symbols()


def require_element(name: Label, what: str = "element") -> str:
    """Return `name` if it is an element symbol, else raise `InputError` with the nearest one."""
    if is_element(name):
        return str(name)
    raise InputError(what, "a chemical symbol such as Cr", name, _closest(str(name)))


def _closest(name: str) -> str | None:
    """The symbols that a slip comes near to; of a word, that of the element so called."""
    if len(name) <= 2:
        return nearest(name, sorted(symbols()))
    import periodictable

    called = {periodictable.elements.symbol(s).name: s for s in sorted(symbols())}
    close = nearest(name, called, count=1)
    return called[close] if close else None
