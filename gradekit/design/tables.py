"""The tables of an answer: every limit, what each demand costs, how many heats keep it."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.design.answer import Found, Sensitivity
from gradekit.design.costs import holds, last_unit, without
from gradekit.design.problem import Problem
from gradekit.design.proof import Proof
from gradekit.design.window import Box
from gradekit.relations.evaluate import Result

__all__ = ["COSTS", "LIMITS", "SHARES", "certainty_table", "demands_table", "limits_table"]

#: Columns of the table of limits.
LIMITS = [
    "value", "bound", "unit", "heat scatter", "relation error", "guard band", "slack",
    "shadow price", "kind", "origin", "status", "flags",
]  # fmt: skip
#: Columns of the table of what each demand costs.
COSTS = ["shadow price", "holds from", "holds to", "saves", "words"]
_ENDS = ["share", "low", "high"]
#: Columns of the table of certainty.
SHARES = [*_ENDS, *(f"{c} with error" for c in _ENDS)]


def limits_table(problem: Problem, at: Sensitivity, x: np.ndarray, result: Result) -> pd.DataFrame:
    """Return every demand at a composition, one row each."""
    values = problem.full(x[None])[:, 0]
    said = {r.name: result.words("aim", r.name) for r in result.relations}
    rows = []
    for i, demand in enumerate(problem.demands):
        quantity = demand.quantity
        names = list(quantity.named)
        error = quantity.error_at(values[i], problem.conditions)
        words = [said[n] for n in names]
        still = abs(at.slack[i]) <= 1e-6 * max(1.0, abs(demand.bound))
        rows.append(
            {
                "limit": demand.label,
                "value": values[i],
                "bound": demand.bound,
                "unit": quantity.unit,
                "heat scatter": at.heat[i],
                "relation error": error if demand.kind != "range" else 0.0,
                "guard band": at.guard[i],
                "slack": 0.0 if still else at.slack[i],
                "shadow price": at.price[i],
                "kind": demand.kind,
                "origin": demand.origin,
                "status": ", ".join(dict.fromkeys(r.status for r in quantity.named.values())),
                "flags": "; ".join(dict.fromkeys(w for w in words if w)),
            }
        )
    return pd.DataFrame(rows, columns=["limit", *LIMITS]).set_index("limit")


def demands_table(problem: Problem, at: Sensitivity, found: Found) -> pd.DataFrame:
    """Return what each demand that binds costs, the one that would save most first."""
    span = holds(problem, at, found.x)
    dropped = without(problem, at, found.x)
    rows = []
    for i, demand in enumerate(problem.demands):
        if not at.price[i] > 1e-9 * max(1.0, abs(found.value)):
            continue
        rows.append(
            {
                "limit": demand.label,
                "shadow price": at.price[i],
                "holds from": span[i, 0],
                "holds to": span[i, 1],
                "saves": found.value - dropped[i],
                "words": last_unit(demand, at.price[i], problem.aim.unit),
            }
        )
    frame = pd.DataFrame(rows, columns=["limit", *COSTS]).set_index("limit")
    return frame.sort_values("saves", ascending=False, kind="stable")


def certainty_table(problem: Problem, proof: Proof, box: Box) -> pd.DataFrame:
    """Return the share of virtual heats that keep each demand, with its interval."""
    both = np.hstack([proof.each(), proof.each(with_error=True)])
    rows = {"every limit": [*proof.all(), *proof.all(with_error=True)]}
    for demand, row in zip(problem.demands, both, strict=True):
        name = demand.label if demand.kind != "range" else f"{demand.label} (range)"
        rows[name] = row
    inside = proof.inside(box.low, box.high)
    rows["inside the window"] = [*inside, *inside]
    return pd.DataFrame(list(rows.values()), pd.Index(rows, name="limit"), SHARES)
