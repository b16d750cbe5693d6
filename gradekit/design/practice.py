"""The scatter that a design reckons with: the works' own heats of the family, else what is typical.

How far heats lie from their aim goes with the family and with the content: 0.008 % nitrogen is kept
from the air to 0.0015 %, 0.28 % is made by gas and alloys to 0.009 %.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd

from gradekit.core.aliases import TableLike
from gradekit.core.errors import InputError
from gradekit.design.brief import Brief
from gradekit.heats.batch import as_batch
from gradekit.heats.scatter import (
    Deviations,
    Scatter,
    ScatterLike,
    as_scatter,
    estimate_scatter,
    is_heats,
)
from gradekit.relations.steels import families_by_votes
from gradekit.works.tables import process_table

_MARK = "typical of the trade (memory)"


def typical_sd(contents: Mapping[str, float]) -> pd.Series:
    """Return typical standard deviations from heat to heat at these contents, wt% (memory).

    Examples
    --------
    >>> typical_sd({"N": 0.008, "Cr": 17.0}).to_dict(), typical_sd({"N": 0.28}).to_dict()
    ({'N': 0.0015, 'Cr': 0.12}, {'N': 0.009})
    """
    sizes = {e: _class(e, x)[1] for e, x in contents.items()}
    return pd.Series({e: sd for e, sd in sizes.items() if sd > 0}, dtype=float)


def scatter_of(brief: Brief, source: ScatterLike | None, analysis: Deviations = None) -> Scatter:
    """Return the scatter for a brief.

    Parameters
    ----------
    brief : Brief
    source, analysis
        As `as_scatter` takes them. Of a table of heats those of the brief's family count; what they
        cannot tell, and what they hold in another range of content, is typical and says so. None
        stands for what is typical.
    """
    middle = {e: sum(span) / 2.0 for e, span in brief.box.items()}
    usual = typical_sd(middle)

    def typical(why: str) -> Scatter:
        return replace(as_scatter(usual.to_dict(), analysis), basis=f"{_MARK}; {why}")

    if source is None:
        return typical("no heats were given")
    if is_heats(source):
        heats = as_batch(source)
        own = heats[families_by_votes(heats).eq(brief.held)] if brief.held else heats
        try:
            scatter = estimate_scatter(own, analysis=analysis)
        except InputError:
            if not brief.held:
                raise
            few = "too few" if len(own) else "no"
            return typical(f"{few} heats of {brief.held} steel")
    else:
        scatter = as_scatter(source, analysis)
    if scatter.centre is None:
        return scatter
    told = {
        e
        for e in scatter.elements
        if _class(e, middle.get(e, 0.0)) == _class(e, scatter.centre.get(e, 0.0))
    }
    other = [e for e in usual.index if e not in {*told, *scatter.by_hand}]
    if not other:
        return scatter
    words = f"{', '.join(other)}: {_MARK}, the heats hold another content or do not tell"
    changed = scatter.but(**usual[other].to_dict())
    return replace(changed, notes=(*scatter.notes, words))


def family_of_heats(source: TableLike) -> str:
    """Return the family that the heats of a scatter have in common, '' where there is none."""
    if not is_heats(source):
        return ""
    kinds = set(families_by_votes(as_batch(source))) - {""}
    return kinds.pop() if len(kinds) == 1 else ""


def _class(element: str, content: float) -> tuple[float, float]:
    """The class of content and its standard deviation, (nan, 0) where none is known."""
    rows = [row for row in _classes().get(element, ()) if row[0] <= max(content, 0.0)]
    return rows[-1] if rows else (np.nan, 0.0)


@cache
def _classes() -> dict[str, list[tuple[float, float]]]:
    """(above, standard deviation) of each element, lowest class first."""
    classes: dict[str, list[tuple[float, float]]] = {}
    for row in process_table("heat_scatter").itertuples():
        classes.setdefault(row.element, []).append((row.above_wt_pct, row.sd_wt_pct))
    return classes
