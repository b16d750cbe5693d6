"""Which family of stainless steel a composition belongs to, so that limits of a family apply.

A working rule of this library, not a published one: contents and two equivalents. Whoever knows
better says so with the condition `family`.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError, nearest
from gradekit.heats.columns import amount
from gradekit.relations.evaluate import evaluate

__all__ = [
    "AUSTENITIC",
    "CONDITION",
    "DUPLEX",
    "FAMILIES",
    "FERRITIC",
    "families",
    "those_of",
    "words_each",
]

AUSTENITIC = (
    "Cr-Ni austenitic",
    "Cr-Mn-N austenitic",
    "Mo austenitic",
    "superaustenitic",
)
DUPLEX = ("duplex", "superduplex")
FERRITIC = ("ferritic", "stabilised ferritic")
FAMILIES = (*AUSTENITIC, *DUPLEX, *FERRITIC, "martensitic")
CONDITION = {"family": f"family of the steel, one of {', '.join(FAMILIES)}; else by composition"}

# A works has a steel called duplex from this Creq/Nieq (DeLong) on; rich in chromium and poor in
# nickel it is duplex from a lower one.
_DUPLEX_RATIO, _RICH_DUPLEX_RATIO = 1.95, 1.55
# Below this Ni + Mn/2 + 30N nothing keeps austenite down to room temperature.
_AUSTENITE_FORMERS = 6.0
# % austenite on heating from which a straight chromium steel hardens.
_HARDENS = 60.0


def families(heats: pd.DataFrame, given: object = None) -> pd.Series:
    """Return the family of each heat.

    Parameters
    ----------
    heats : clean batch
    given : str, or a Series or mapping with one a heat, optional
        What the user knows.

    Returns
    -------
    Series of str
        '' where chromium is not reported.

    Examples
    --------
    >>> heats = pd.DataFrame({"C": [.05, .02, .04], "Cr": [18.2, 22.3, 16.4], "N": [.05, .18, .03],
    ...                       "Ni": [8.1, 5.6, .2], "Mo": [.2, 3.1, 0], "Mn": [1.4, 1.5, .4]})
    >>> families(heats).tolist()
    ['Cr-Ni austenitic', 'duplex', 'ferritic']
    """
    own = _by_composition(heats)
    if given is None:
        return own
    known = words_each(given, heats, "family")
    for name in set(known) - {""}:
        if name not in FAMILIES:
            raise InputError("family", ", ".join(FAMILIES), name, nearest(name, FAMILIES))
    return known.where(known != "", own)


def words_each(value: object, heats: pd.DataFrame, name: str) -> pd.Series:
    """Return a condition that is a word as a Series over the heats, '' where it has none."""
    if isinstance(value, (pd.Series, Mapping)):
        return pd.Series(value, dtype=object).reindex(heats.index).fillna("").astype(str)
    if not isinstance(value, str):
        raise InputError(name, "a word, or a Series with one a heat", value)
    return pd.Series(value, index=heats.index)


def those_of(kinds: pd.Series, *group: str) -> pd.Index:
    """Return the heats whose family is in a group.

    Examples
    --------
    >>> those_of(pd.Series({"H1": "duplex", "H2": "ferritic"}), *DUPLEX).tolist()
    ['H1']
    """
    return kinds.index[np.array([kind in group for kind in kinds], dtype=bool)]


def _by_composition(heats: pd.DataFrame) -> pd.Series:
    # Every step of the route asks for the same few heats; what is known of them is kept.
    named = _told_apart(tuple(heats.columns), heats.to_numpy(dtype=float).tobytes())
    return pd.Series(named, index=heats.index, name="family", dtype=object)


@lru_cache(maxsize=16)
def _told_apart(elements: tuple[str, ...], contents: bytes) -> tuple[str, ...]:
    values = np.frombuffer(contents).reshape(-1, len(elements))
    heats = pd.DataFrame(values, columns=list(elements))

    asked = ["cr_eq_delong_1973", "ni_eq_delong_1973", "austenite_max_17cr", "pren_16n_w"]
    found = evaluate(heats, asked).values.to_numpy()
    if np.isnan(found).any():
        filled = heats.assign(**{e: amount(heats, e) for e in ("C", "N", "Ni", "Mo")})
        found = evaluate(filled, asked).values.to_numpy()
    cr_eq, ni_eq, austenite, pren = found.T
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = cr_eq / ni_eq
    cr, ni, mn, mo = (amount(heats, e) for e in ("Cr", "Ni", "Mn", "Mo"))
    formers = ni + 0.5 * mn + 30.0 * amount(heats, "N")
    # Nickel with so much chromium and molybdenum makes duplex steel, whatever nitrogen is reported.
    low = (formers < _AUSTENITE_FORMERS) & (ni < _AUSTENITE_FORMERS)
    low &= ~((ni > 3) & (cr_eq > 20.5))
    hardens = austenite >= _HARDENS
    bound = (amount(heats, "Ti") >= 0.1) | (amount(heats, "Nb") >= 0.15)
    duplex = (ratio > _DUPLEX_RATIO) & ((cr >= 20) | (ni < 7))
    duplex |= (ratio > _RICH_DUPLEX_RATIO) & (cr >= 21) & (ni < 9)
    named = np.select(
        [
            ~(cr > 0),
            low & hardens & ~bound,
            low & bound,
            low,
            duplex & (pren > 40),
            duplex,
            (mo >= 4) | ((mo >= 2.5) & (ni >= 20)),
            mn >= 4,
            mo >= 1.5,
        ],
        ["", "martensitic", "stabilised ferritic", "ferritic", "superduplex", "duplex",
         "superaustenitic", "Cr-Mn-N austenitic", "Mo austenitic"],
        "Cr-Ni austenitic",
    )  # fmt: skip
    return tuple(named.tolist())
