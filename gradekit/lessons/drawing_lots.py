"""Steels for exercises, drawn with a seed: plausible, rounded as shown, and never a real heat."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TypeVar

import numpy as np

_Choice = TypeVar("_Choice")
# Decimals of a certificate, so that a student works with what is shown.
DECIMALS = {"C": 3, "N": 3, "Si": 2, "Mn": 2, "Cr": 1, "Ni": 1, "Mo": 2, "Cu": 2, "Nb": 2, "Ti": 2}
# (low, high) of each element in wt%: invented ranges around the five grades of the works.
_FAMILIES: dict[str, dict[str, tuple[float, float]]] = {
    "18Cr-8Ni": {
        "C": (0.023, 0.06), "Si": (0.3, 0.7), "Mn": (1.0, 1.8), "Cr": (18.0, 19.4),
        "Ni": (8.4, 10.4), "Mo": (0.05, 0.4), "N": (0.043, 0.09), "Cu": (0.1, 0.5),
        "Nb": (0.01, 0.03),
    },
    "17Cr-7Ni": {
        "C": (0.05, 0.10), "Si": (0.3, 0.8), "Mn": (0.8, 1.6), "Cr": (16.2, 17.5),
        "Ni": (6.3, 7.5), "Mo": (0.05, 0.4), "N": (0.03, 0.07), "Cu": (0.1, 0.4),
        "Nb": (0.01, 0.03),
    },
    "CrNiMo": {
        "C": (0.012, 0.03), "Si": (0.3, 0.6), "Mn": (1.0, 1.8), "Cr": (16.6, 18.0),
        "Ni": (10.1, 12.8), "Mo": (2.05, 2.7), "N": (0.03, 0.09), "Cu": (0.1, 0.5),
        "Nb": (0.01, 0.03),
    },
    "CrNiMoNb": {
        "C": (0.02, 0.06), "Si": (0.3, 0.6), "Mn": (1.0, 1.8), "Cr": (16.8, 18.4),
        "Ni": (10.6, 12.4), "Mo": (2.05, 2.5), "N": (0.01, 0.04), "Cu": (0.1, 0.4),
        "Nb": (0.25, 0.8),
    },
    "CrNiMoN": {
        "C": (0.015, 0.03), "Si": (0.3, 0.6), "Mn": (1.0, 1.8), "Cr": (17.0, 18.4),
        "Ni": (12.4, 13.2), "Mo": (2.5, 3.0), "N": (0.12, 0.17), "Cu": (0.1, 0.4),
        "Nb": (0.01, 0.03),
    },
    "CrMnNi": {
        "C": (0.03, 0.09), "Si": (0.3, 0.6), "Mn": (5.6, 7.4), "Cr": (16.2, 17.5),
        "Ni": (3.6, 5.2), "Mo": (0.05, 0.3), "N": (0.12, 0.22), "Cu": (0.2, 1.6),
        "Nb": (0.01, 0.03),
    },
    "weld metal": {
        "C": (0.015, 0.04), "Si": (0.4, 0.8), "Mn": (0.9, 1.9), "Cr": (18.6, 21.5),
        "Ni": (9.0, 11.0), "Mo": (0.05, 0.4), "N": (0.03, 0.08), "Cu": (0.05, 0.3),
        "Nb": (0.01, 0.05),
    },
    "24Cr-13Ni wire": {
        "C": (0.01, 0.03), "Si": (0.3, 0.8), "Mn": (1.0, 2.2), "Cr": (23.0, 25.0),
        "Ni": (12.0, 14.0), "Mo": (0.05, 0.3), "N": (0.03, 0.08), "Cu": (0.05, 0.3),
        "Nb": (0.01, 0.03),
    },
    "17Cr ferritic": {
        "C": (0.015, 0.06), "Si": (0.2, 0.7), "Mn": (0.3, 0.8), "Cr": (16.1, 17.9),
        "Ni": (0.1, 0.5), "Mo": (0.02, 1.2), "N": (0.010, 0.040), "Ti": (0.05, 0.45),
    },
    "duplex": {
        "C": (0.012, 0.03), "Si": (0.3, 0.6), "Mn": (1.0, 1.8), "Cr": (21.6, 22.8),
        "Ni": (4.9, 6.2), "Mo": (2.6, 3.0), "N": (0.14, 0.19), "Cu": (0.1, 0.4),
    },
    "25Cr-20Ni": {
        "C": (0.04, 0.10), "Si": (0.3, 0.8), "Mn": (1.0, 1.8), "Cr": (24.2, 25.8),
        "Ni": (19.2, 21.6), "Mo": (0.05, 0.3), "N": (0.03, 0.08), "Nb": (0.01, 0.03),
    },
    "18Cr-2Mo ferritic": {
        "C": (0.006, 0.02), "Si": (0.3, 0.8), "Mn": (0.2, 0.6), "Cr": (17.4, 19.4),
        "Ni": (0.1, 0.4), "Mo": (1.8, 2.3), "N": (0.010, 0.025), "Nb": (0.2, 0.5),
    },
    "13Cr": {
        "C": (0.02, 0.09), "Si": (0.2, 0.6), "Mn": (0.3, 0.8), "Cr": (11.8, 13.6),
        "Ni": (0.1, 0.6), "Mo": (0.02, 0.2), "N": (0.010, 0.040),
    },
    "12Cr martensitic": {
        "C": (0.12, 0.195), "Si": (0.2, 0.5), "Mn": (0.4, 0.9), "Cr": (11.0, 12.2),
        "Ni": (0.3, 0.8), "Mo": (0.05, 0.9), "N": (0.020, 0.050), "Nb": (0.01, 0.05),
    },
    "mixed weld": {
        "C": (0.07, 0.13), "Si": (0.3, 0.6), "Mn": (0.8, 1.5), "Cr": (10.5, 15.0),
        "Ni": (5.5, 8.8), "Mo": (0.05, 0.3), "N": (0.02, 0.05), "Nb": (0.01, 0.03),
    },
}  # fmt: skip
#: Fields of the Schaeffler diagram in which a stainless steel may lie, each with families of which
#: some steels lie in it.
STEELS_OF_FIELD: dict[str, tuple[str, ...]] = {
    "A": ("25Cr-20Ni", "CrNiMo", "18Cr-8Ni"),
    "A+F": ("18Cr-8Ni", "CrNiMo", "weld metal"),
    "A+M": ("mixed weld",),
    "A+M+F": ("17Cr-7Ni", "mixed weld"),
    "F": ("18Cr-2Mo ferritic", "17Cr ferritic"),
    "M": ("12Cr martensitic",),
    "M+F": ("13Cr", "17Cr ferritic"),
}


def steel(rng: np.random.Generator, family: str | Iterable[str]) -> dict[str, float]:
    """Return one invented steel of a family, or of one of several, wt%, rounded as it is shown.

    Examples
    --------
    >>> sorted(steel(np.random.default_rng(1), "CrNiMo"))[:3]
    ['C', 'Cr', 'Cu']
    """
    if not isinstance(family, str):
        family = str(rng.choice([*family]))
    return {
        element: round(float(rng.uniform(low, high)), DECIMALS[element])
        for element, (low, high) in _FAMILIES[family].items()
    }


def shuffled(rng: np.random.Generator, choices: Iterable[_Choice]) -> tuple[_Choice, ...]:
    """Return choices in an order by lot, so that no place is the usual one of the answer."""
    known = [*choices]
    return tuple(known[n] for n in rng.permutation(len(known)))
