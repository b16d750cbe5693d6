"""Which of several published forms leads for which steel, where one form does not hold for all."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.heats.columns import amount
from gradekit.relations.topics import CATALOGUE

#: Forms of Ac1, the one that is shown first: of nickel martensitic steel, and of the others.
AC1_NICKEL = ("ac1_gooch_soft",)
AC1 = ("ac1_tricot_1966_quadratic", "ac1_tricot_1966_linear")
#: wt% Ni above which a martensitic steel is a nickel martensitic one.
NICKEL_MARTENSITIC = CATALOGUE[AC1[0]].ranges["Ni"][1]


def ms_form(heats: pd.DataFrame) -> pd.Series:
    """Return which published form of Ms holds for each heat of a martensitic steel.

    Finkler-Schirra for 8 to 14 Cr with up to 0.3 C; else Self for steel poor in nitrogen (up to
    0.05 wt%, which it does not count), Pickering for the rest.

    Examples
    --------
    >>> ms_form(pd.DataFrame({"Cr": [12.8, 15.5], "Ni": [4.0, 4.5], "N": [0.03, 0.02]})).tolist()
    ['ms_finkler_1996', 'ms_self_1984']
    """
    own = CATALOGUE["ms_finkler_1996"].ranges
    low, high = own["Cr"]
    chromium, nitrogen, carbon = (amount(heats, e) for e in ("Cr", "N", "C"))
    named = np.select(
        [(chromium >= low) & (chromium <= high) & (carbon <= own["C"][1]), nitrogen <= 0.05],
        ["ms_finkler_1996", "ms_self_1984"],
        "ms_pickering_1978",
    )
    return pd.Series(named, heats.index, dtype=object)
