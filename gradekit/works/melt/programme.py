"""A linear programme with named limits: its optimum, what each limit costs, why none exists."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

__all__ = ["Limit", "Optimum", "Programme"]

# kg/t by which limits may miss each other and still count as kept together.
_NOTHING = 1e-7
_OPTIONS = {"primal_feasibility_tolerance": 1e-10, "dual_feasibility_tolerance": 1e-10}


@dataclass(frozen=True, eq=False)
class Limit:
    """low <= row · x <= high, with the words that a reader knows it by.

    `scale` turns a distance of the row into `unit`; a limit that is no choice is not `movable`.
    """

    words: str
    row: np.ndarray
    low: float = -np.inf
    high: float = np.inf
    unit: str = "kg/t"
    scale: float = 1.0
    movable: bool = True


@dataclass(frozen=True)
class Optimum:
    """The best x and what moving each limit by one unit would change in the objective.

    `price_low`, `price_high`: one entry a limit. `reduced` and `at_most`: one entry a variable,
    for its lower end (0) and its upper end.
    """

    x: np.ndarray
    value: float
    price_low: np.ndarray
    price_high: np.ndarray
    reduced: np.ndarray
    at_most: np.ndarray

    def spread(self, chosen: np.ndarray) -> Optimum:
        """Return the optimum over all variables, of which only the chosen ones took part."""
        wide = {}
        for name in ("x", "reduced", "at_most"):
            wide[name] = np.zeros(len(chosen))
            wide[name][chosen] = getattr(self, name)
        return replace(self, **wide)


class Programme:
    """Variables from `least` to `most`, and limits.

    Parameters
    ----------
    limits : list of Limit
    least, most : arrays, one entry a variable
    names : list of str
        Of the variables, for the words of a conflict.
    """

    def __init__(
        self, limits: list[Limit], least: np.ndarray, most: np.ndarray, names: list[str], unit: str
    ):
        self.limits, self.least, self.most = limits, least, most
        self.names, self.unit = names, unit

    def best(self, weights: np.ndarray) -> Optimum | None:
        """Return the x of least weights · x, None where no x keeps all limits."""
        from scipy.optimize import linprog

        rows = np.array([limit.row for limit in self.limits])
        low, high = np.array([[k.low, k.high] for k in self.limits]).T
        same = low == high
        above, below = np.isfinite(high) & ~same, np.isfinite(low) & ~same
        result = linprog(
            weights,
            A_ub=np.vstack([rows[above], -rows[below]]),
            b_ub=np.concatenate([high[above], -low[below]]),
            A_eq=rows[same],
            b_eq=low[same],
            bounds=np.column_stack([self.least, self.most]),
            method="highs",
            options=_OPTIONS,
        )
        if not result.success:
            return None
        price_low, price_high = np.zeros(len(rows)), np.zeros(len(rows))
        at_ub = np.split(result.ineqlin.marginals, [int(above.sum())])
        price_high[above], price_low[below] = at_ub[0], -at_ub[1]
        price_low[same] = price_high[same] = result.eqlin.marginals
        return Optimum(
            result.x, float(result.fun), price_low, price_high,
            np.asarray(result.lower.marginals), np.asarray(result.upper.marginals),
        )  # fmt: skip

    @cached_property
    def clash(self) -> list[Limit]:
        """Limits that cannot be kept together, none of which can be spared; [] if there are none.

        Both the limits and the upper ends of the variables take part.
        """
        every = self.limits + [
            Limit(f"stock of {n} at most {m:g} {self.unit}", np.eye(len(self.names))[i], high=m)
            for i, (n, m) in enumerate(zip(self.names, self.most, strict=True))
            if np.isfinite(m)
        ]
        kept = self._suspects(every)
        for limit in kept:
            rest = [k for k in kept if k is not limit]
            if self._suspects(rest):
                kept = rest
        return kept

    def relief(self, limit: Limit) -> float:
        """Return how far this limit alone must give way, in its unit; NaN where that is no way."""
        from scipy.optimize import linprog

        if not limit.movable:
            return float("nan")

        every = [k for k in self.limits if k is not limit]
        most = np.array(self.most, copy=True)
        if len(every) == len(self.limits):  # the upper end of a variable
            most[int(np.argmax(limit.row))] = np.inf
        rows, ends = _as_upper([*every, limit])
        slack = np.zeros((len(rows), 1))
        own = sum(np.isfinite([limit.low, limit.high]))
        slack[len(rows) - own :] = -1.0
        result = linprog(
            np.r_[np.zeros(len(most)), 1.0],
            A_ub=np.hstack([rows, slack]),
            b_ub=ends,
            bounds=[*zip(self.least, most, strict=True), (0.0, None)],
            method="highs",
        )
        return float(result.fun) * limit.scale if result.success else float("nan")

    def _suspects(self, limits: list[Limit]) -> list[Limit]:
        """Return limits that cannot be kept together, [] where all can.

        All limits give way alike and as little as possible; those that bear on this least way
        (their multipliers are not zero) already exclude each other.
        """
        from scipy.optimize import linprog

        if not limits:
            return []
        rows, ends, owner = [], [], []
        for limit in limits:
            own, at = _as_upper([limit])
            size = np.abs(own).max() or 1.0
            rows.append(own / size)
            ends.append(at / size)
            owner += [limit] * len(own)
        result = linprog(
            np.r_[np.zeros(len(self.names)), 1.0],
            A_ub=np.hstack([np.vstack(rows), -np.ones((len(owner), 1))]),
            b_ub=np.concatenate(ends),
            bounds=[*((low, None) for low in self.least), (0.0, None)],
            method="highs",
            options=_OPTIONS,
        )
        if result.x[-1] <= _NOTHING:
            return []
        bears = {id(k) for k, y in zip(owner, result.ineqlin.marginals, strict=True) if y < 0}
        return [k for k in limits if id(k) in bears]


def _as_upper(limits: list[Limit]) -> tuple[np.ndarray, np.ndarray]:
    rows, ends = [], []
    for limit in limits:
        if np.isfinite(limit.high):
            rows.append(limit.row)
            ends.append(limit.high)
        if np.isfinite(limit.low):
            rows.append(-limit.row)
            ends.append(-limit.low)
    return np.array(rows), np.array(ends)
