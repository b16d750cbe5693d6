"""Internal limits: what the works keeps, so that what it ships is inside the standard.

The heat analysis has no tolerance: the product tolerance is the buyer's allowance and is never
melted into. The internal limit is the standard's limit less a guard, which is z standard deviations
of what moves the reported figure, and half a last digit, because rounding may hide as much.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from functools import cache
from numbers import Real

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError
from gradekit.heats.scatter import ScatterLike, as_scatter
from gradekit.standards.tables import rows_of
from gradekit.standards.windows import joint_rules, window

_COLUMNS = "element min max guard internal_min internal_max rule state from note".split()


def internal_window(
    names: str | Iterable[str],
    scatter: ScatterLike | None = None,
    z: float = 2.0,
    standard: str | None = None,
    *,
    safest: bool = True,
) -> pd.DataFrame:
    """Return internal limits: the window of one or several designations less a guard at each end.

    Parameters
    ----------
    names, standard
        As for `window`; where dual certification is promised, name all the designations, so that
        the guard comes off their common window.
    scatter : optional
        Standard deviations per element (wt%), a covariance, a `Scatter`, heats, or a table of
        plant figures. By default the reproducibility of laboratories (`laboratory_sd`), which is
        an order of magnitude from trade memory.
    z : float
        Standard deviations in the guard.
    safest : bool
        Where publications disagree, keep what satisfies all.

    Returns
    -------
    DataFrame
        One row an element (`rule` empty), then one row a joint rule: `min`, `max` of the standards,
        `guard` (wt%), `internal_min`, `internal_max`, `state` ('open', 'closed' where the guards
        leave nothing, 'not guarded' where no scatter is known), `from`, `note`. For a rule `guard`
        is what the expression must keep beyond its limit: Ti - [a + b(C+N)] >= z s with s from the
        scatter of all its elements.

    Raises
    ------
    InputError
        A name that is no grade, a standard that does not list it, a `z` below 0, or a scatter
        that cannot be read.

    Examples
    --------
    >>> inside = internal_window("1.4301", {"Cr": 0.06}).set_index("element").loc["Cr"]
    >>> print(inside["guard"], inside["internal_min"], inside["internal_max"])
    0.125 17.625 19.375
    """
    if not isinstance(z, Real) or not 0 <= z < np.inf:
        raise InputError("z", "a number of standard deviations, 0 or more", z)
    known = None if scatter is None else as_scatter(scatter)
    digits = {r["element"]: float(r["last_digit"]) for r in rows_of("laboratory_sd")}
    rows = []
    for row in window(names, standard, safest=safest).itertuples():
        s, note = _sd(known, {row.element: 1.0}, {row.element: row.max})
        guard = round(z * s + digits.get(row.element, 0.0) / 2, 6)
        low, high = round(row.min + guard, 6), round(row.max - guard, 6)
        state = "open" if s == s else "not guarded"
        if low > high or high < 0:
            state = "closed"
        where = "; ".join(dict.fromkeys(p for p in (row.min_from, row.max_from) if p))
        rows.append((row.element, row.min, row.max, guard, low, high, "", state, where, note))
    for rule, line, where, _ in joint_rules(names, standard, safest=safest):
        s, note = _sd(known, {e: float(k) for e, k in line.slopes.items()}, {})
        nan, state = np.nan, "open" if s == s else "not guarded"
        rows.append(("", nan, nan, round(z * s, 6), nan, nan, rule, state, where, note))
    return pd.DataFrame(rows, columns=_COLUMNS)


def laboratory_sd() -> pd.DataFrame:
    """Return typical standard deviations of one analysis between laboratories.

    Returns
    -------
    DataFrame
        `element`, `low`, `high` (wt%), `above_wt_pct` (for contents above this), `last_digit`
        usually reported, `status`: an order of magnitude from trade memory, to be replaced by the
        figures of the laboratory.

    Examples
    --------
    >>> laboratory_sd().set_index("element").loc["Cr", ["low", "high"]].astype(float).tolist()
    [0.04, 0.08]
    """
    return pd.DataFrame(rows_of("laboratory_sd")).astype(
        {"low": float, "high": float, "above_wt_pct": float, "last_digit": float}
    )


@cache
def _laboratory() -> tuple[tuple[str, float, float], ...]:
    """(element, above, the middle of the typical range), the higher class first."""
    steps = [
        (r["element"], float(r["above_wt_pct"]), float(Decimal(r["low"]) + Decimal(r["high"])) / 2)
        for r in rows_of("laboratory_sd")
    ]
    return tuple(sorted(steps, key=lambda f: -f[1]))


def _sd(known, line: dict[str, float], at: dict[str, float]) -> tuple[float, str]:
    """Return the standard deviation of a linear expression, wt%, and what is to be said of it."""
    elements = list(line)
    slopes = np.array(list(line.values()))
    if known is None:
        sd: dict[str, float] = {}
        for element, above, size in _laboratory():
            if element in line and at.get(element, 0.0) >= above:
                sd.setdefault(element, size)
        absent = [e for e in elements if e not in sd]
        variance = float(np.sum((slopes * np.array([sd.get(e, 0.0) for e in elements])) ** 2))
        note = "typical laboratories, from trade memory"
    else:
        absent = [e for e in elements if e not in known.elements]
        variance = float(slopes @ known.total(elements) @ slopes)
        note = known.basis
    if absent:
        return np.nan, f"no guard: scatter of {', '.join(absent)} not known"
    return float(np.sqrt(max(variance, 0.0))), note
