"""The check that decides each step of a route."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pandas as pd

from gradekit.core.verdicts import VERDICTS, worst

__all__ = ["deciding"]


def deciding(rows: pd.DataFrame) -> pd.DataFrame:
    """Return one row a heat and step: the worst check, of equals the one with least room.

    Parameters
    ----------
    rows : DataFrame
        The table of a route.

    Returns
    -------
    DataFrame
        Those rows, with their index, and further `share` (margin beside value and margin),
        `counts` (verdicts of the step in words) and `partly`: true of a step that is ok in what is
        assessed, less than half of it.
    """
    margin = rows["margin"].astype(float)
    share = margin / (rows["value"].abs() + margin.abs())
    share = share.where(np.isfinite(margin), np.sign(margin)).where(margin.notna())
    chosen = {}
    for _, own in rows.assign(share=share).groupby(["step", "heat"], sort=False):
        state = worst(own["verdict"], assessed=True)
        # a share that is not known is no reason to be shown first
        first = own.loc[own["verdict"] == state, "share"].sort_values(kind="stable").index[0]
        counts = Counter(own["verdict"])
        words = ", ".join(f"{counts[v]} {v}" for v in VERDICTS if v in counts)
        chosen[first] = (words, state == "ok" and 2 * counts["not assessed"] > len(own))
    more = pd.DataFrame.from_dict(chosen, orient="index", columns=["counts", "partly"])
    return rows.assign(share=share).loc[list(chosen)].join(more)
