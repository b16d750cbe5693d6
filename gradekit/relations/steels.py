"""Which steel each heat of a batch is: the votes of several relations, and what they decide.

No single relation tells the families apart: each was made from some of them. Every vote is heard
where it was made to speak, and where two speak, the one is a doubt of the other. The limits between
the families are a working rule of this library, set on the analyses that standards allow; who
knows better says so (`with_family`), and that wins.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

import numpy as np
import pandas as pd

from gradekit.heats.notes import notes_of, with_notes
from gradekit.relations.groups import FAMILIES, checked
from gradekit.relations.plan import CHUNK
from gradekit.relations.topics import CATALOGUE

__all__ = ["LIMITS", "VOTES", "Votes", "families", "family_codes", "votes_of", "with_family"]

#: The relations that vote, by the short name under which the rule speaks of them.
VOTES: dict[str, str] = {
    "ratio": "cr_ni_ratio_hammar",
    "annealed": "ferrite_duplex_annealed",
    "weld": "ferrite_wrc_1992",
    "manganese": "ferrite_index_fi1_us6056917",
    "austenite": "austenite_max_17cr",
    "ms": "ms_self_1984",
    "md30": "md30_angel_1954",
}
ANNEAL = 1050.0  # °C, at which the ferrite of annealed steel is asked for
#: Where one family ends and the next begins; contents in wt%.
LIMITS: dict[str, float] = {
    "stainless": 10.5,  # Cr
    "nickel": 38.0,  # Ni, from which there is about as much nickel as iron
    "ratio": 2.1,  # above, ferrite stays in the annealed steel; at 7 Ni and more `ratio_rich`
    "ratio_rich": 2.2,
    "annealed": 24.0,  # % ferrite
    "weld": 20.0,  # FN; at 7 Ni and more `weld_rich`: castings and fillers carry ferrite on purpose
    "weld_rich": 30.0,
    "manganese": 15.0,  # %
    "duplex_formers": 6.5,  # Ni + Mn/2 + 30N: less makes no austenite beside chromium over 17
    "ferritic": 60.0,  # % austenite on heating, below which nothing worth the name hardens
    "partly": 75.0,  # % austenite on heating, from which a low-carbon 12Cr steel is half martensite
    "fully": 125.0,  # % austenite on heating, from which low carbon does not keep it ferritic
    "hard_carbon": 0.08,  # C
    "stays": 0.3,  # mean vote of Ms and Md30 above which austenite turns on cooling
}
_TAKEN = {"C": 0.03}  # wt% where it is not reported; nitrogen goes by the kind of steel
_CONTENTS = ("C", "Si", "Mn", "Cr", "Ni", "Mo", "N", "Cu", "Nb", "Ti", "Al", "Zr")
_CODE = {name: np.uint8(code) for code, name in enumerate(("", *FAMILIES))}
_NAMES = np.array(("", *FAMILIES), dtype=object)
_SMALL = 2_000  # heats; the answers for so many are kept by their contents


class Votes(dict):
    """What each relation of `VOTES` says, and each content of use, as arrays over the heats.

    `codes` is the place of each family in ('', *FAMILIES), '' where chromium is not reported.
    """

    def __init__(self, heats: pd.DataFrame) -> None:
        super().__init__(_values(heats))
        self.codes = _decide(self)


def votes_of(heats: pd.DataFrame) -> Votes:
    """Return the votes on each heat of a clean batch."""
    if len(heats) > _SMALL:
        return Votes(heats)
    return _kept(tuple(heats.columns), heats.to_numpy().tobytes())


@lru_cache(maxsize=64)
def _kept(elements: tuple[str, ...], contents: bytes) -> Votes:
    # The steps of a route, and the panels of an explorer, ask for the same few heats.
    values = np.frombuffer(contents).reshape(-1, len(elements))
    return Votes(pd.DataFrame(values, columns=list(elements)))


def family_codes(heats: pd.DataFrame) -> np.ndarray:
    """Return the place of each heat's family in ('', *FAMILIES), what is known of it first."""
    known = notes_of(heats).get("family")
    if len(heats) > CHUNK:
        parts = (heats.iloc[at : at + CHUNK] for at in range(0, len(heats), CHUNK))
        codes = np.concatenate([Votes(part).codes for part in parts])
    else:
        codes = votes_of(heats).codes
    if not known:
        return codes
    told = [_CODE.get(known.get(heat, ""), 0) for heat in heats.index]
    return np.where(told, told, codes)


def families(heats: pd.DataFrame) -> pd.Series:
    """Return the family of each heat, '' where chromium is not reported.

    Examples
    --------
    >>> families(pd.DataFrame({"C": [.05, .02], "Cr": [18.2, 22.3], "N": [.05, .18],
    ...                        "Ni": [8.1, 5.6], "Mo": [.2, 3.1], "Mn": [1.4, 1.5]})).tolist()
    ['austenitic', 'duplex']
    """
    return pd.Series(_NAMES[family_codes(heats)], index=heats.index, name="family", dtype=object)


def with_family(heats: pd.DataFrame, known: object) -> pd.DataFrame:
    """Return the batch with what is known of the family of its heats, which then wins.

    Parameters
    ----------
    heats : clean batch
    known : str, or a Series or mapping with one a heat, '' or nothing where it is not known

    Raises
    ------
    InputError
        A word that is no family.

    Examples
    --------
    >>> heats = pd.DataFrame({"Cr": [18.2], "Ni": [8.1]}, index=["H1"])
    >>> families(with_family(heats, "duplex"))["H1"]
    'duplex'
    """
    if isinstance(known, (pd.Series, Mapping)):
        told = {heat: name for heat, name in dict(known).items() if isinstance(name, str) and name}
    else:
        told = dict.fromkeys(heats.index, known)
    checked(*dict.fromkeys(told.values()))
    notes = notes_of(heats)
    return with_notes(heats.copy(deep=False), {**notes, "family": notes.get("family", {}) | told})


def _values(heats: pd.DataFrame) -> dict[str, np.ndarray]:
    """Return the votes by short name and contents by element, gaps filled as the rule says."""
    contents, at = heats.to_numpy(), {name: i for i, name in enumerate(heats.columns)}
    space: dict[str, np.ndarray] = {"temperature_C": np.float64(ANNEAL)}
    for element in _elements():
        known = contents[:, at[element]] if element in at else np.full(len(heats), np.nan)
        gaps = np.isnan(known)
        if element in ("Cr", "N"):
            space[f"no {element}"] = gaps
        if gaps.any():
            known = np.where(gaps, _TAKEN.get(element, 0.0), known)
        space[element] = known
    if (gaps := space["no N"]).any():
        rich = (space["Mn"] >= 4.0) | ((space["Cr"] >= 20.0) & (space["Ni"] < 9.0))
        usual = np.where(rich, 0.15, np.where(space["Ni"] >= 6.0, 0.05, 0.02))
        space["N"] = np.where(gaps, usual, space["N"])
    with np.errstate(all="ignore"):
        for short, name in VOTES.items():
            space[short] = CATALOGUE[name].value(space)
    return space


@lru_cache(maxsize=1)
def _elements() -> tuple[str, ...]:
    """The elements that the votes and the rule ask for."""
    asked = (e for name in VOTES.values() for e in CATALOGUE[name].elements)
    return tuple(dict.fromkeys((*asked, *_CONTENTS)))


def duplex_votes(v: Mapping[str, np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    """Return how many of the votes on ferrite say 'half of it', and how many there are."""
    rich = v["Ni"] >= 7.0
    votes = (v["ratio"] > np.where(rich, LIMITS["ratio_rich"], LIMITS["ratio"])).astype(np.int8)
    votes += v["annealed"] > LIMITS["annealed"]
    votes += v["weld"] > np.where(rich, LIMITS["weld_rich"], LIMITS["weld"])
    # The only form made for manganese steels of low nickel speaks of those alone.
    speaks = (v["Mn"] >= 4.0) & (v["Ni"] < 4.0)
    votes += speaks & (v["manganese"] > LIMITS["manganese"])
    return votes, 3 + speaks


def retention(v: Mapping[str, np.ndarray]) -> np.ndarray:
    """Return the mean vote of Ms and Md30: above 0.3 austenite turns on cooling, below it stays.

    Ms has no nitrogen term and is right for low-carbon martensitic steel; Md30 has one and is right
    for austenitic steel. Each is measured in steps of about its own error.
    """
    return 0.5 * ((v["ms"] - 25.0) / 50.0 + (v["md30"] - 50.0) / 40.0)


def hardener(v: Mapping[str, np.ndarray]) -> np.ndarray:
    """Return whether a steel carries what precipitation hardens it by."""
    copper = ((v["Cu"] >= 1.0) & (v["Nb"] >= 0.1)) | (v["Cu"] >= 2.3)
    copper &= (v["Ni"] >= 3.0) & (v["Ni"] < 9.5) & (v["Cr"] < 18.0)
    aluminium = (v["Al"] >= 0.6) & (v["Ni"] >= 5.0) & (v["Ni"] < 12.0)
    titanium = (v["Ti"] >= 0.85) & (v["Ni"] >= 5.0) & (v["Ni"] < 12.0)
    rich = (v["Ti"] >= 1.4) & (v["Ni"] >= 20.0)
    # Copper in austenite is there for cold heading, not for hardening.
    copper &= retention(v) > LIMITS["stays"]
    return (copper | aluminium | titanium | rich) & (v["Mn"] < 3.0)


def _decide(v: Mapping[str, np.ndarray]) -> np.ndarray:
    cr, ni, mn, mo, c, n = (v[e] for e in ("Cr", "Ni", "Mn", "Mo", "C", "N"))
    austenite = v["austenite"]
    said, asked = duplex_votes(v)
    duplex = (2 * said > asked) & (cr >= 17.0) & ((ni >= 1.0) | (mn >= 2.0))
    duplex &= ni + 0.5 * mn + 30.0 * n >= LIMITS["duplex_formers"]

    straight = (ni < 2.5) & (mn < 3.0) & (n < 0.3)
    bound = (v["Ti"] >= 0.1) | (v["Nb"] >= 0.15) | (v["Zr"] >= 0.1)
    bound &= (c < LIMITS["hard_carbon"]) & (ni < 1.5)
    ferritic = (austenite < LIMITS["ferritic"]) & (ni < 5.0)
    low = straight & (c < LIMITS["hard_carbon"]) & (austenite < LIMITS["fully"])
    partly = low & (austenite >= LIMITS["partly"]) & ((c <= 0.03) | (ni >= 0.6))
    turns = retention(v) > LIMITS["stays"]
    conditions = [
        (v["no Cr"], ""),
        (cr < LIMITS["stainless"], "not stainless"),
        (ni >= LIMITS["nickel"], "nickel alloy"),
        (duplex, "duplex"),
        (hardener(v), "precipitation-hardening"),
        (ferritic & (cr >= 24.5) & (mo >= 0.75) & (c + n <= 0.06), "superferritic"),
        ((ferritic | straight) & bound, "stabilised ferritic"),
        (ferritic, "ferritic"),
        (partly, "ferritic-martensitic"),
        (low, "ferritic"),
        (straight, "martensitic"),
        (turns & (ni >= 2.5), "nickel martensitic"),
        (turns, "martensitic"),
        ((ni >= 25.0) & (mo < 1.8), "heat-resisting Fe-Ni-Cr"),
        ((ni >= 16.0) & (mo >= 1.8) & (cr >= 18.5), "superaustenitic"),
    ]
    flags = [np.asarray(mask) for mask, _ in conditions]
    return np.select(flags, [_CODE[name] for _, name in conditions], _CODE["austenitic"])
