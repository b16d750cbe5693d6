"""The check that decides each step of a route."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pandas as pd

from gradekit.core.aliases import Label
from gradekit.core.verdicts import VERDICTS, worst


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
    margin = rows["margin"].to_numpy(dtype=float)
    with np.errstate(invalid="ignore"):
        share = margin / (np.abs(rows["value"].to_numpy(dtype=float)) + np.abs(margin))
    share = np.where(np.isfinite(margin), share, np.sign(margin))
    verdicts = rows["verdict"].tolist()
    groups: dict[str, dict[Label, list[int]]] = {}
    for k, (step, heat) in enumerate(
        zip(rows["step"].tolist(), rows["heat"].tolist(), strict=True)
    ):
        groups.setdefault(step, {}).setdefault(heat, []).append(k)
    chosen, counts, partly = [], [], []
    for own in (own for heats in groups.values() for own in heats.values()):
        many = Counter(verdicts[k] for k in own)
        state = worst(many, assessed=True)
        # a share that is not known is no reason to be shown first
        chosen.append(
            min(
                (k for k in own if verdicts[k] == state),
                key=lambda k: (share[k] != share[k], share[k]),
            )
        )
        counts.append(", ".join(f"{many[v]} {v}" for v in VERDICTS if v in many))
        partly.append(state == "ok" and 2 * many["not assessed"] > len(own))
    return rows.iloc[chosen].assign(share=share[chosen], counts=counts, partly=partly)
