"""The family of each heat with its sub-family, by composition or as the user knows it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given
from gradekit.core.errors import InputError
from gradekit.heats.columns import amount
from gradekit.relations.groups import FAMILIES
from gradekit.relations.steels import families_by_votes as by_composition
from gradekit.relations.steels import votes_of, with_family
from gradekit.relations.topics import CATALOGUE

#: Kinds of austenitic steel that manganese and nitrogen keep austenitic.
MANGANESE = ("austenitic, Cr-Mn-N", "austenitic, low-nickel")

CONDITION = {"family": f"family of the steel, one of {', '.join(FAMILIES)}; else by composition"}

#: Elements that make a family, or a property of it, where those of every steel do not tell it.
MAKERS: dict[str, tuple[str, ...]] = {
    "stabilised ferritic": ("Ti", "Nb"),
    "superferritic": ("Ti", "Nb"),
    "ferritic": ("Ti", "Nb"),
    "precipitation-hardening": ("Nb", "Ti", "Al"),
    "heat-resisting Fe-Ni-Cr": ("Ti", "Al"),
    "duplex": ("W",),
    "superaustenitic": ("W",),
}


def families(heats: pd.DataFrame, given: Given = None) -> pd.Series:
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

    Raises
    ------
    InputError
        A word that is no family.

    Examples
    --------
    >>> heats = pd.DataFrame({"C": [.05, .02, .04], "Cr": [18.2, 22.3, 16.4], "N": [.05, .18, .03],
    ...                       "Ni": [8.1, 5.6, .2], "Mo": [.2, 3.1, 0], "Mn": [1.4, 1.5, .4]})
    >>> families(heats).tolist()
    ['austenitic', 'duplex', 'ferritic']
    """
    if given is not None:
        heats = with_family(heats, words_each(given, heats, "family"))
    return by_composition(heats)


def kinds_of(heats: pd.DataFrame, given: Given = None) -> pd.Series:
    """Return the kind of steel of each heat, 'duplex, super': its family and what kind of it.

    Parameters
    ----------
    heats, given : as for `families`

    Examples
    --------
    >>> kinds_of(pd.DataFrame({"C": [.02], "Cr": [25.1], "Ni": [6.9], "Mo": [3.9], "N": [.27]}))[0]
    'duplex, super'
    """
    family = families(heats, given)
    sub = subs(heats, family)
    return family.where(sub == "", family + ", " + sub)


def words_each(value: Given, heats: pd.DataFrame, name: str) -> pd.Series:
    """Return a condition that is a word as a Series over the heats, '' where it has none."""
    if isinstance(value, (pd.Series, Mapping)):
        return pd.Series(value, dtype=object).reindex(heats.index).fillna("").astype(str)
    if not isinstance(value, str):
        raise InputError(name, "a word, or a Series with one a heat", value)
    return pd.Series(value, index=heats.index)


def subs(heats: pd.DataFrame, kinds: pd.Series) -> pd.Series:
    """Return what kind of its family each heat is, '' where the family has no kinds.

    Parameters
    ----------
    heats : clean batch
    kinds : Series
        Family of each heat.

    Examples
    --------
    >>> heats = pd.DataFrame({"C": [.05, .02], "Cr": [17.2, 25.1], "N": [.18, .27],
    ...                       "Ni": [4.4, 6.9], "Mo": [.2, 3.9], "Mn": [7.5, .8]})
    >>> subs(heats, families(heats)).tolist()
    ['Cr-Mn-N', 'super']
    """
    v, of = votes_of(heats), Members(kinds)
    cr, ni, mn, mo, si = (v[e] for e in ("Cr", "Ni", "Mn", "Mo", "Si"))
    pren = CATALOGUE["pren_16n_w"]
    index = pren.value({e: amount(heats, e) for e in pren.elements})
    austenitic, duplex, hardening = map(of, ("austenitic", "duplex", "precipitation-hardening"))
    ferritic, martensitic = of("ferritic", "stabilised ferritic"), of("martensitic")
    hot = (cr >= 18.5) & ((ni >= 17.0) | (si >= 1.4) | ((cr >= 21.5) & (ni >= 11.5) & (mo < 1.0)))
    lean = (mo < 2.0) & (cr < 24.6)
    aluminium = (v["Al"] >= 0.6) & (v["md30"] < 75.0)
    choices = {
        "low-nickel": austenitic & (mn >= 4.0) & (ni < 2.5),
        "Cr-Mn-N": austenitic & (mn >= 4.0),
        "heat-resisting": (austenitic & hot)
        | (ferritic & ((v["Al"] >= 0.6) | ((cr >= 23.0) & (v["C"] >= 0.08)))),
        "Mo": (austenitic & (mo >= 1.5)) | (ferritic & (mo >= 0.8)),
        "Cr-Ni": austenitic | (martensitic & (v["C"] < 0.4) & (ni >= 1.25)),
        "6Mo": of("superaustenitic") & (mo >= 5.8),
        "hyper": duplex & (index >= 48.0),
        "super": duplex & (index >= 39.9),
        "lean": duplex & lean,
        "standard": duplex,
        "high-carbon": martensitic & (v["C"] >= 0.4),
        "austenitic": hardening & (ni >= 20.0),
        "semi-austenitic": hardening & aluminium,
        "martensitic": hardening,
    }
    return pd.Series(first_true(choices), index=heats.index, name="sub", dtype=object)


class Members:
    """Which heats are of a group, for a column of few different words."""

    def __init__(self, words: pd.Series) -> None:
        self.codes, self.names = pd.factorize(words)

    def __call__(self, *group: str) -> np.ndarray:
        return np.isin(self.names, group)[self.codes]


def first_true(choices: Mapping[str, np.ndarray]) -> np.ndarray:
    """Return for each heat the first words whose mask is true, '' where none is."""
    words = np.array(["", *choices], dtype=object)
    return words[np.select([*choices.values()], range(1, len(words)), 0)]
