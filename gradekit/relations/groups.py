"""The families of stainless steel by name, and the groups in which relations speak of them."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.core.errors import one_of

AUSTENITIC = ("austenitic", "superaustenitic", "heat-resisting Fe-Ni-Cr")
DUPLEX = ("duplex",)
AUSTENITIC_DUPLEX = (*AUSTENITIC, *DUPLEX)
FERRITIC = ("ferritic", "stabilised ferritic", "superferritic")
MARTENSITIC = ("martensitic", "nickel martensitic")
#: What hardens on cooling, in part or in whole.
HARDENABLE = (*MARTENSITIC, "ferritic-martensitic", "precipitation-hardening")
#: Kinds of precipitation-hardening steel that are austenite after the solution anneal, as meant.
STAYS_AUSTENITE = (
    "precipitation-hardening, semi-austenitic",
    "precipitation-hardening, austenitic",
)
#: Kinds and families that turn to martensite, in part or in whole, when cooled from the anneal.
TURNS = (*MARTENSITIC, "ferritic-martensitic", "precipitation-hardening, martensitic")
NOT_STAINLESS = ("not stainless", "nickel alloy")
FAMILIES = (*AUSTENITIC_DUPLEX, *FERRITIC, *HARDENABLE, *NOT_STAINLESS)


def known_families(*names: object) -> tuple[str, ...]:
    """Return names of families, each known.

    Raises
    ------
    InputError
        A name that is no family.

    Examples
    --------
    >>> known_families("duplex", "ferritic")
    ('duplex', 'ferritic')
    """
    for name in names:
        one_of("family", name, FAMILIES)
    return tuple(map(str, names))


def families_in_words(families: tuple[str, ...]) -> str:
    """Return families in words, the groups by their name.

    Examples
    --------
    >>> families_in_words(AUSTENITIC_DUPLEX)
    'austenitic and duplex'
    """
    names = list(families)
    for group in (AUSTENITIC, FERRITIC, MARTENSITIC):
        if {*group} <= {*names}:
            names = [name for name in names if name == group[0] or name not in group]
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def is_of(kind: str, *group: str) -> bool:
    """Tell whether a kind of steel, 'duplex, super', or its family is in a group.

    Examples
    --------
    >>> is_of("duplex, super", *DUPLEX), is_of("duplex, super", "duplex, lean")
    (True, False)
    """
    return kind in group or kind.partition(", ")[0] in group


def those_of(kinds: pd.Series, *group: str) -> pd.Index:
    """Return the heats whose kind of steel, or its family, is in a group.

    Examples
    --------
    >>> those_of(pd.Series({"H1": "duplex, super", "H2": "ferritic"}), *DUPLEX).tolist()
    ['H1']
    """
    return kinds.index[np.array([is_of(kind, *group) for kind in kinds], dtype=bool)]
