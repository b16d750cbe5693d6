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

from gradekit.core.aliases import Given
from gradekit.core.formula import Formula
from gradekit.heats.notes import notes_of, with_notes
from gradekit.relations.groups import FAMILIES, known_families
from gradekit.relations.plan import CHUNK
from gradekit.relations.topics import CATALOGUE

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
FAMILY_LIMITS: dict[str, float] = {
    "stainless": 10.5,  # Cr
    "nickel": 38.0,  # Ni, from which there is about as much nickel as iron
    "ratio": 2.1,  # above, ferrite stays in the annealed steel; at 7 Ni `ratio_rich`
    "ratio_rich": 2.2,
    "annealed": 24.0,  # % ferrite
    "weld": 20.0,  # FN; at 7 Ni and more `weld_rich`: castings and fillers carry ferrite on purpose
    "weld_rich": 30.0,
    "manganese": 15.0,  # %
    "formers": 6.5,  # Ni + Mn/2 + 30N: less makes no austenite beside chromium over 17, unless
    "formers_poor": 5.0,  # 30 % austenite is to be expected on heating
    "ferritic": 60.0,  # % austenite on heating, below which nothing worth the name hardens
    "partly": 75.0,  # % austenite on heating, from which a low-carbon 12Cr steel is half martensite
    "fully": 125.0,  # % austenite on heating, from which low carbon does not keep it ferritic
    "hard_carbon": 0.08,  # C
    "stays": 0.3,  # `retention` above which austenite turns on cooling
}
#: What is taken where a content is not reported; any other counts as 0.
GAPS: dict[str, str] = {
    "C": "0.03",
    "N": "0.15 if Mn >= 4 or Cr >= 20 and Ni < 9 else 0.05 if Ni >= 6 else 0.02",
}
#: What the rule asks, in the algebra of `gradekit.core.formula`, of the votes and the contents.
PARTS: dict[str, str] = {
    # the only form made for manganese steels of low nickel speaks of those alone
    "speaks": "Mn >= 4 and Ni < 4",
    # how many of the votes on ferrite say that about half stays ferrite, and how many there are
    "said": (
        "rich = Ni >= 7 and Cr < 22.5; where(ratio > ({ratio_rich} if rich else {ratio}), 1, 0)"
        " + where(annealed > {annealed}, 1, 0) + where(weld > ({weld_rich} if rich else {weld}), 1,"
        " 0) + where(speaks and manganese > {manganese}, 1, 0)"
    ),
    "asked": "where(speaks, 4, 3)",
    # The mean vote of Ms and Md30, each in steps of about its own error: above 0.3 austenite turns
    # on cooling. Ms has no nitrogen term and is right for low-carbon martensitic steel; Md30 has
    # one and is right for austenitic steel.
    "retention": "0.5*((ms - 25)/50 + (md30 - 50)/40)",
    "turns": "retention > {stays}",
    # What precipitation hardens it by. Copper in austenite is there for cold heading.
    "hardens": (
        "copper = (Cu >= 1 and Nb >= 0.1 or Cu >= 2.3) and Ni >= 3 and Ni < 9.5 and Cr < 18;"
        " other = (Al >= 0.6 or Ti >= 0.85) and Ni >= 5 and Ni < 12;"
        " (copper and turns or other or Ti >= 1.4 and Ni >= 20) and Mn < 3"
    ),
    "duplex": (
        "2*said > asked and Cr >= 17 and (Ni >= 1 or Mn >= 2)"
        " and Ni + 0.5*Mn + 30*N >= ({formers_poor} if austenite >= 30 else {formers})"
    ),
    # a chromium steel without enough nickel, manganese or nitrogen to keep any austenite
    "straight": "Ni < 2.5 and Mn < 3 and N < 0.3",
    "bound": "(Ti >= 0.1 or Nb >= 0.15 or Zr >= 0.1) and C < {hard_carbon} and Ni < 1.5",
    "ferritic": "austenite < {ferritic} and Ni < 5 or straight and Cr >= 22",
    "low": "straight and C < {hard_carbon} and austenite < {fully}",
    "partly": "low and austenite >= {partly} and (C <= 0.03 or Ni >= 0.6)",
}
PARTS = {name: text.format(**FAMILY_LIMITS) for name, text in PARTS.items()}
# In the order in which they are asked; the first that is true.
_ORDER: tuple[tuple[str, str], ...] = (
    (f"Cr < {FAMILY_LIMITS['stainless']}", "not stainless"),
    (f"Ni >= {FAMILY_LIMITS['nickel']}", "nickel alloy"),
    ("duplex", "duplex"),
    ("hardens", "precipitation-hardening"),
    ("ferritic and Cr >= 24.5 and Mo >= 0.75 and C + N <= 0.06", "superferritic"),
    ("(ferritic or straight) and bound", "stabilised ferritic"),
    ("ferritic", "ferritic"),
    ("partly", "ferritic-martensitic"),
    ("low", "ferritic"),
    ("straight", "martensitic"),
    ("turns and Ni >= 2.5", "nickel martensitic"),
    ("turns", "martensitic"),
    ("Ni >= 25 and Mo < 1.8", "heat-resisting Fe-Ni-Cr"),
    ("Ni >= 16 and Mo >= 1.8 and Cr >= 18.5", "superaustenitic"),
)
#: The rule: the place of the family in ('', *FAMILIES), of contents in wt% and of the votes by
#: short name. Without chromium it is 0, which the rule is not asked.
RULE = Formula(
    "".join(f"{1 + FAMILIES.index(name)} if {test} else " for test, name in _ORDER)
    + str(1 + FAMILIES.index("austenitic")),
    PARTS,
)
_CODE = {name: np.uint8(code) for code, name in enumerate(("", *FAMILIES))}
_NAMES = np.array(("", *FAMILIES), dtype=object)
_SMALL = 2_000  # heats; the answers for so many are kept by their contents


class Votes(dict):
    """What each relation of `VOTES` says, and each content of use, as arrays over the heats.

    `codes` is the place of each family in ('', *FAMILIES), '' where chromium is not reported.
    """

    def __init__(self, heats: pd.DataFrame) -> None:
        super().__init__(_values(heats))
        codes = np.where(self["no Cr"], 0, RULE.on(self))
        self.codes: np.ndarray = codes.astype(np.uint8)

    def part(self, name: str) -> np.ndarray:
        """Return one of `PARTS`."""
        return _part(name).on(self)


@lru_cache(maxsize=len(PARTS))
def _part(name: str) -> Formula:
    return Formula(PARTS[name], PARTS)


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
    told = np.array([_CODE.get(known.get(heat, ""), 0) for heat in heats.index])
    return np.where(told > 0, told, codes)


def families_by_votes(heats: pd.DataFrame) -> pd.Series:
    """Return the family of each heat, '' where chromium is not reported.

    Examples
    --------
    >>> families_by_votes(pd.DataFrame({"C": [.05, .02], "Cr": [18.2, 22.3], "N": [.05, .18],
    ...                        "Ni": [8.1, 5.6], "Mo": [.2, 3.1], "Mn": [1.4, 1.5]})).tolist()
    ['austenitic', 'duplex']
    """
    return pd.Series(_NAMES[family_codes(heats)], index=heats.index, name="family", dtype=object)


def with_family(heats: pd.DataFrame, known: Given) -> pd.DataFrame:
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
    >>> families_by_votes(with_family(heats, "duplex"))["H1"]
    'duplex'
    """
    if isinstance(known, (pd.Series, Mapping)):
        told = {heat: name for heat, name in dict(known).items() if isinstance(name, str) and name}
    else:
        told = dict.fromkeys(heats.index, str(known))
    known_families(*dict.fromkeys(told.values()))
    notes = notes_of(heats)
    return with_notes(heats.copy(deep=False), {**notes, "family": notes.get("family", {}) | told})


def _values(heats: pd.DataFrame) -> dict[str, np.ndarray]:
    """Return the votes by short name and contents by element, gaps filled as the rule says."""
    contents, at = heats.to_numpy(), {name: i for i, name in enumerate(heats.columns)}
    space: dict[str, np.ndarray] = {"temperature_C": np.asarray(ANNEAL)}
    for element in _elements():
        known = contents[:, at[element]] if element in at else np.full(len(heats), np.nan)
        gaps = np.isnan(known)
        if element in (*GAPS, "Cr", "Ni"):
            space[f"no {element}"] = gaps
        space[element] = np.where(gaps, 0.0, known) if gaps.any() else known
    for element, usual in GAPS.items():
        if (gaps := space[f"no {element}"]).any():
            space[element] = np.where(gaps, Formula(usual).on(space), space[element])
    with np.errstate(all="ignore"):
        for short, name in VOTES.items():
            space[short] = CATALOGUE[name].value(space)
    return space


@lru_cache(maxsize=1)
def _elements() -> tuple[str, ...]:
    """The elements that the votes and the rule ask for."""
    asked = [e for name in VOTES.values() for e in CATALOGUE[name].elements]
    return tuple(dict.fromkeys((*asked, *(n for n in RULE.names if n not in VOTES))))
