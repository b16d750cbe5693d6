"""Where a works stands inside the limits of its own grades, and what it leaves unused of them."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, HeatsLike
from gradekit.heats.batch import as_batch
from gradekit.heats.scatter import Scatter, ScatterLike, estimate_scatter, practices
from gradekit.standards.certificate import Certificate
from gradekit.standards.guard import internal_window

_FEWEST = 8  # heats that tell their own scatter
_NUMBERS = "min max internal_min internal_max lowest mean highest outside in_guard unused saving"
_COLUMNS = f"practice designations heats element {_NUMBERS} state guard_from"


def room_left(
    heats: HeatsLike,
    scatter: ScatterLike | None = None,
    z: float = 2.0,
    cost: Mapping[str, float] | None = None,
    groups: Given = None,
) -> pd.DataFrame:
    """Return the heats of each practice beside the limits it claims, less a guard at each end.

    Parameters
    ----------
    heats : anything `as_batch` takes
        With a column of the designations claimed ('grade', 'Werkstoff', ...).
    scatter, z
        As for `internal_window`. By default the scatter of the very heats that stand in the row,
        where there are at least eight, else that of laboratories.
    cost : mapping of element to money per tonne of steel and wt%, optional
        Such as `read_prices(path).cost.terms`, iron included.
    groups : Series, list, or name of a column that came with the heats, optional
        The practice of each heat; see `practices`.

    Returns
    -------
    DataFrame, one row a practice, set of claims and element
        `practice`, `designations` (those that these heats claim together; their common window),
        `heats`, `element`, `min`, `max`, `internal_min`, `internal_max`, `lowest`, `mean`,
        `highest` (wt%), `outside` (heats beyond a limit) and `in_guard` (inside it, but nearer than
        the guard), `unused` (mean less the internal minimum where there is a minimum, wt%;
        negative where the mean lies in the guard), `saving` (`unused` with iron in its place, money
        per tonne; NaN without a price), `state` ('open', 'closed', 'not guarded'), `guard_from`.
        A saving says what the standard would allow, element by element: structure, corrosion
        resistance, strength and the customer may well not allow it.
        Practices that claim nothing known are left out.

    Raises
    ------
    InputError
        Heats, groups or a scatter that cannot be read.

    Examples
    --------
    >>> steel = {"grade": "1.4301", "C": 0.03, "Cr": 18.1, "Ni": 8.4, "N": 0.05}
    >>> left = room_left([steel], {"Ni": 0.08}, cost={"Ni": 210, "Fe": 4}).set_index("element")
    >>> print(left.loc["Ni", "unused"].round(3), left.loc["Ni", "saving"].round(1))
    0.235 48.4
    """
    batch = as_batch(heats)
    labels = practices(batch, groups)
    claims = Certificate(batch).claims
    known = claims[claims["tested_by"].ne("")]
    titles = (
        known.groupby("heat", sort=False)["tested_by"]
        .agg("; ".join)
        .reindex(batch.index, fill_value="")
    )
    named = titles.map(_designations)
    rows = []
    # as arrays: of as many keys as heats pandas would ask whether each is a column
    keys = [labels.to_numpy(), named.to_numpy()]
    for (name, together), mine in batch.groupby(keys, sort=False):
        if not together:
            continue
        own = _own_scatter(mine) if scatter is None else scatter
        limits = internal_window(together.split(", "), own, z)
        limits = limits[limits["rule"].eq("") & limits["element"].isin(mine.columns)]
        for limit in limits.itertuples():
            values = mine[limit.element].dropna()
            if len(values):
                shown = (name, together, len(values), limit.element)
                rows.append((*shown, *_beside(values, limit, cost), limit.state, limit.note))
    table = pd.DataFrame(rows, columns=_COLUMNS.split())
    return table if rows else table.astype(dict.fromkeys(_NUMBERS.split(), float))


def _designations(titles: str) -> str:
    """Return the designations of windows such as '1.4301 (EN 10088-2:2014)', each once."""
    return ", ".join(dict.fromkeys(t.split(" (")[0] for t in titles.split("; ") if t))


def _own_scatter(mine: pd.DataFrame) -> Scatter | None:
    if len(mine) < _FEWEST or mine.nunique().max() < 2:
        return None
    return estimate_scatter(mine, ["these"] * len(mine), enough=_FEWEST)


def _beside(values: pd.Series, limit, cost: Mapping[str, float] | None) -> tuple:
    """Return ends, contents, heats beyond them, and what is unused of one limit."""
    within = ~((values < limit.min) | (values > limit.max))
    near = within & ((values < limit.internal_min) | (values > limit.internal_max))
    mean = float(values.mean())
    unused = mean - limit.internal_min if limit.min > 0 else np.nan
    saving = np.nan
    if cost is not None and limit.element in cost and unused == unused:
        saving = max(unused, 0.0) * (cost[limit.element] - cost.get("Fe", 0.0))
    ends = (limit.min, limit.max, limit.internal_min, limit.internal_max)
    contents = (float(values.min()), mean, float(values.max()))
    return (*ends, *contents, int((~within).sum()), int(near.sum()), unused, saving)
