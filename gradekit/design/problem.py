"""A brief as numbers: one row a constraint, kept apart from what solves it.

Every constraint reads value <= bound (or >=), and is kept with a guard band of z sqrt(a'Sa + s^2):
a is the slope of the value in the contents, S the covariance of heats and their analysis, s the
published error of the relation.
Linear constraints and ratios of sums become rows A x <= b; the rest is left to the smooth solver.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np

from gradekit.core.elements import is_element
from gradekit.core.errors import NOTHING, InputError
from gradekit.core.linear import Sum
from gradekit.core.programme import BrokenLine, Optimum, as_bounds, minimise
from gradekit.design.brief import Brief
from gradekit.design.constraints import Constraint, constraints_of
from gradekit.design.prices import COST, FOOTPRINT, TOTAL, Prices
from gradekit.design.quantities import Quantity
from gradekit.heats.scatter import Scatter
from gradekit.works.melt.making import MakingCost

# Sums below this are no denominators.
_TINY = 1e-6
# Central differences: this part of the content, at which their error (its square times the third
# slope) and the rounding of doubles (1e-16 over it) are both below 1e-7 of the value.
_STEP = 1e-4


@dataclass(eq=False)
class Problem:
    """The numbers behind a brief.

    Attributes
    ----------
    constraints : list of Constraint
    variables : tuple of element symbols, in the order of all arrays
    rows, ends : arrays, shape (constraints, variables) and (constraints,)
        rows @ x <= ends without guard bands; a curved constraint has zeros and no end here.
    sense, bound, errors, guarded : arrays, shape (constraints,)
        As in `Constraint`.
    curved : list of int
        Which constraints need the smooth solver.
    below : mapping of constraint to (row, constant)
        The sums that ratios divide by.
    hard_rows, hard_ends : arrays
        What holds whatever is asked: iron is left, and what a ratio divides by is positive.
    covariance : array, shape (variables, variables)
        From heat to heat, with the analysis in it.
    laboratory : array, shape (variables,)
        Standard deviation of one analysis.
    z : float
        Standard deviations of guard; 0 without.
    reach : float
        Half-width in standard deviations of the window that has to fit around the aim.
    widen : float
        By how much the scatter counts more than once, so that all limits are kept together.
    rounding : array or float
        Room that every constraint leaves for rounding, wt% per variable: half a unit of the last
        digit that will be written.
    making : list of MakingCost
        What contents cost in the making, where prices tell; part of the aim where that is cost.
    unpriced : list of str
        What of it is not known.
    low, high : arrays
        What no constraint may leave: 0 and 100 wt%, or a fixed content.
    """

    brief: Brief
    constraints: list[Constraint]
    aim: Quantity
    covariance: np.ndarray
    laboratory: np.ndarray
    z: float
    notes: list[str] = field(default_factory=list)
    reach: float = 0.0
    widen: float = 1.0
    rounding: np.ndarray | float = 0.0
    making: list[MakingCost] = field(default_factory=list)
    unpriced: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.variables, self.conditions = self.brief.variables, self.brief.conditions
        self.index = {e: i for i, e in enumerate(self.variables)}
        ends = [self.brief.bounds.get(e, (None, None)) for e in self.variables]
        fixed = [low if low == high else None for low, high in ends]
        self.low = np.array([0.0 if end is None else end for end in fixed])
        self.high = np.array([100.0 if end is None else end for end in fixed])
        self.sense = np.array([float(c.sense) for c in self.constraints])
        self.bound = np.array([c.bound for c in self.constraints])
        self.errors = np.array([c.error for c in self.constraints])
        self.guarded = np.array([float(c.guarded) for c in self.constraints])
        self.sd = np.sqrt(np.diag(self.covariance))
        lines = [constraint.line for constraint in self.constraints]
        self.rows = np.array([row for row, *_ in lines]).reshape(-1, len(self.variables))
        self.ends = np.array([end for _, end, _ in lines])
        self.below = {i: below for i, (*_, below) in enumerate(lines) if below is not None}
        self.curved = [i for i, c in enumerate(self.constraints) if c.form is None]
        # Several constraints on one quantity (both ends, a range) need its formula once.
        curves = [self.constraints[i].quantity for i in self.curved]
        once = {quantity.key: quantity for quantity in curves}
        self._formulas = list(once.values())
        self._which = [list(once).index(quantity.key) for quantity in curves]
        hard = [(np.ones(len(self.variables)), 100.0)]
        for row, constant in self.below.values():
            if constant + np.minimum(row * self.low, row * self.high).sum() < _TINY:
                hard.append((-row, constant - _TINY))
        self.hard_rows = np.array([row for row, _ in hard])
        self.hard_ends = np.array([end for _, end in hard])

    def only(self, members: Iterable[int]) -> Problem:
        """Return the problem with some of its constraints."""
        return replace(self, constraints=[self.constraints[i] for i in members])

    def also(self, quantity: Quantity, sense: int, bound: float, origin: str) -> Problem:
        """Return the problem with one limit more, which has no guard band."""
        form = quantity.form(self.conditions)
        limit = Constraint(quantity, sense, bound, "limit", origin, form, self.index, guarded=False)
        return replace(self, constraints=[*self.constraints, limit])

    def moved(self, bound: float) -> Problem:
        """Return the problem with another bound of its last limit; nothing else is built anew."""
        problem = copy(self)
        limit = replace(self.constraints[-1], bound=bound)
        problem.constraints = [*self.constraints[:-1], limit]
        row, end, _ = limit.line  # the row too: that of a ratio turns with its bound
        problem.rows, problem.ends = (
            np.vstack([self.rows[:-1], row]),
            np.append(self.ends[:-1], end),
        )
        problem.bound = np.append(self.bound[:-1], bound)
        return problem

    @cached_property
    def aim_row(self) -> tuple[np.ndarray, float] | None:
        """Coefficients and constant of the objective, its broken lines left out; None if no sum."""
        form = replace(self.aim, making=()).form(self.conditions)
        return form.row(self.index) if isinstance(form, Sum) else None

    @cached_property
    def lines(self) -> list[tuple[int, BrokenLine]]:
        """What comes to the sum of the objective, each with the place of its variable."""
        return [(self.index[part.element], part.line) for part in self.aim.making]

    def still(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Between which contents no broken line of the objective changes its slope."""
        low, high = self.low.copy(), self.high.copy()
        for at, line in self.lines:
            first, last = line.piece(x[at])
            low[at], high[at] = max(low[at], first), min(high[at], last)
        return low, high

    def optimum(self, near: np.ndarray | None = None) -> Optimum:
        """The optimum of the linear constraints alone, guarded as near a composition."""
        assert self.aim_row is not None  # callers look first whether the objective is a sum
        row, constant = self.aim_row
        best = minimise(row, *self.straight(near), self.low, self.high, self.lines)
        return replace(best, value=best.value + constant)

    def heat_sd(self, rows: np.ndarray) -> np.ndarray:
        """Standard deviation from heat to heat of values with these slopes."""
        return np.sqrt(np.maximum(((rows @ self.covariance) * rows).sum(axis=1), 0.0))

    def bands(self, rows: np.ndarray, error: np.ndarray) -> np.ndarray:
        """Guard bands of values with these slopes and published errors."""
        both = self.z * np.hypot(self.widen * self.heat_sd(rows), error)
        if not self.reach:
            return both
        return np.maximum(both, self.reach * (np.abs(rows) @ self.sd) + self.reserve(rows, error))

    def reserve(self, rows: np.ndarray, error: np.ndarray) -> np.ndarray:
        """The part of the guard bands that a window may not use.

        What the published error asks for beyond the scatter of heats, and at least what one
        analysis may hide.
        """
        heat, lab = self.heat_sd(rows), np.linalg.norm(rows * self.laboratory, axis=1)
        own = np.sqrt(np.maximum(heat**2 - lab**2, 0.0))
        return self.z * np.maximum(np.hypot(heat, error) - own, lab)

    def box(self) -> tuple[np.ndarray, np.ndarray]:
        """What the constraints on single elements leave, their guard bands left out."""
        *_, low, high = as_bounds(self.rows, self.ends, self.low, self.high)
        return low, np.maximum(low, high)

    def denominators(self, x: np.ndarray | None) -> np.ndarray:
        """What one unit of the quantity is in units of its row: 1, or the sum below a ratio.

        Without a composition the sum below is taken in the middle of what the elements may be.
        """
        scale = np.ones(len(self.constraints))
        if self.below:
            at = np.mean(self.box(), axis=0) if x is None else x
            for i, (row, constant) in self.below.items():
                scale[i] = max(row @ at + constant, _TINY)
        return scale

    def guards(self, x: np.ndarray | None = None, rows: np.ndarray | None = None) -> np.ndarray:
        """Return the guard band of each row, in units of the row, with the room for rounding."""
        rows = self.rows if rows is None else rows
        unit = self.denominators(x) if self.moving_guards else 1.0
        bands = self.bands(rows, self.errors * unit)
        return self.guarded * bands + (np.abs(rows) * self.rounding).sum(axis=1)

    @property
    def moving_guards(self) -> bool:
        """True where a guard band depends on the composition: a ratio with an error."""
        return bool(self.z) and any(self.errors[i] for i in self.below)

    # --- as rows -----------------------------------------------------------------------------

    def straight(self, x: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray]:
        """Rows and guarded ends of the linear constraints, then of what holds anyway."""
        ends = self.ends - self.guards(x)
        return np.vstack([self.rows, self.hard_rows]), np.append(ends, self.hard_ends)

    def flat(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Each constraint as a row, curved ones laid flat at x; slack without guard; guard band."""
        rows, slack = self.rows.copy(), self.ends - self.rows @ x
        if self.curved:
            slack[self.curved], rows[self.curved] = self.curves(x)
        return rows, slack, self.guards(x, rows)

    def laid(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Rows and guarded ends with the curves laid flat at x, then of what holds anyway."""
        rows, slack, guard = self.flat(x)
        ends = slack - guard + rows @ x
        return np.vstack([rows, self.hard_rows]), np.append(ends, self.hard_ends)

    def curves(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Slack of each curved constraint at x, and its slope as a row."""
        values, slope = self.slopes(self._formulas, x)
        sense = self.sense[self.curved]
        return self._left(values), sense[:, None] * np.nan_to_num(slope)[self._which]

    def slack(self, x: np.ndarray) -> np.ndarray:
        """Slack of each curved constraint at x."""
        return self._left(self.raw(self._formulas, x[None])[:, 0])

    def _left(self, values: np.ndarray) -> np.ndarray:
        return self.sense[self.curved] * (self.bound[self.curved] - values[self._which])

    # --- values ------------------------------------------------------------------------------

    def space(self, quantities: Iterable[Quantity], x: np.ndarray) -> dict[str, np.ndarray | float]:
        """Return contents by name for points of shape (points, variables), as quantities ask."""
        columns = np.ascontiguousarray(x.T)
        space: dict = nothing_of(quantities) | dict(zip(self.variables, columns, strict=True))
        space["Fe"] = 100.0 - columns.sum(axis=0)
        return space | {c: np.float64(v) for c, v in self.conditions.items()}

    def raw(
        self, quantities: Iterable[Quantity], x: np.ndarray, read: Sequence[dict | None] = ()
    ) -> np.ndarray:
        """Return values of the bare formulas, shape (quantities, points).

        Of quantities for which `read` holds what is read of their relations, the values from that.
        """
        asked = list(quantities)
        each = zip(asked, read or [None] * len(asked), strict=True)
        space = self.space(asked, x)
        with np.errstate(all="ignore"):
            rows = [np.broadcast_to(quantity.value(space, own), len(x)) for quantity, own in each]
        return np.array(rows).reshape(len(rows), len(x))

    def value_at(self, quantity: Quantity, x: np.ndarray) -> float:
        """Return the value of a bare formula at one point."""
        return float(self.raw([quantity], x[None])[0, 0])

    def slopes(
        self, quantities: Iterable[Quantity], x: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """Return values and slopes of bare formulas at one point, by central differences.

        Returns
        -------
        values, shape (quantities,); slopes, shape (quantities, variables), per wt%
        """
        step = _STEP * np.maximum(np.abs(x), 0.01)
        up = x + np.diag(step)
        down = np.maximum(x - np.diag(step), 0.0)
        values = self.raw(quantities, np.vstack([x[None], up, down]))
        size = len(x)
        width = up.diagonal() - down.diagonal()
        return values[:, 0], (values[:, 1 : size + 1] - values[:, size + 1 :]) / width

    def full(self, x: np.ndarray) -> np.ndarray:
        """Return what the relations say of each constraint, shape (constraints, points)."""
        from gradekit.relations.plan import plan_for

        read = (d.quantity for d in self.constraints if not d.bare)
        relations = {r.name: r for quantity in read for r in quantity.named.values()}
        values: dict[str, np.ndarray] = {}
        if relations:
            conditions = {c: np.asarray(v) for c, v in self.conditions.items()}
            results, _ = plan_for(tuple(relations.values())).run(x, self.index, conditions, {})
            values = dict(zip(relations, results, strict=True))
        own = [None if d.bare else values for d in self.constraints]
        return self.raw((d.quantity for d in self.constraints), x, own)


def nothing_of(quantities: Iterable[Quantity]) -> dict[str, float]:
    """Return 0 for each element that quantities ask for: what a brief does not use is not there."""
    names = {name for quantity in quantities for name in quantity.inputs if is_element(name)}
    return dict.fromkeys(names, np.float64(0.0))


def build(
    brief: Brief,
    prices: Prices | None = None,
    scatter: Scatter | None = None,
    z: float = 0.0,
    relation_error: bool = True,
    reach: float = 0.0,
) -> Problem:
    """Turn a brief into numbers.

    Parameters
    ----------
    brief : Brief
    prices : Prices, optional
        Needed where cost or footprint is limited or minimised.
    scatter : Scatter, optional
    z : float
        Standard deviations of guard.
    relation_error : bool
        Whether the published errors are part of the guard.
    reach : float
        Half-width of the window that has to fit, in standard deviations.
    """
    priced = prices.relations if prices is not None else {}
    constraints, notes = constraints_of(brief, priced, z > 0 and relation_error, z > 0)
    aim, *_ = brief.priced_objectives(priced)
    making, unpriced = prices.making(_middle(brief)) if prices is not None else ([], [])
    making = [part for part in making if part.element in brief.variables]
    if prices is not None and aim.key == COST and making:
        aim = Quantity(TOTAL, {COST: prices.cost}, making=making)
    _need_prices([aim, *(d.quantity for d in constraints)], prices, brief.variables)
    size = len(brief.variables)
    covariance = scatter.total(list(brief.variables)) if scatter else np.zeros((size, size))
    laboratory = np.zeros(size)
    if scatter:
        laboratory = scatter.analysis.reindex(list(brief.variables)).fillna(0.0).to_numpy()
        known = set(scatter.elements)  # each look at them makes them anew
        blank = [e for e in brief.variables if e not in known]
        if blank:
            notes.append(f"no scatter is known for {', '.join(blank)}: taken as hit exactly")
    return Problem(
        brief,
        constraints,
        aim,
        covariance,
        laboratory,
        z,
        notes,
        reach if scatter else 0.0,
        making=making,
        unpriced=unpriced,
    )


def _middle(brief: Brief) -> dict[str, float]:
    """The middle of what the brief leaves each element; its lower end where the other is open."""
    return {e: low if high == 100.0 else 0.5 * (low + high) for e, (low, high) in brief.box.items()}


def _need_prices(
    quantities: list[Quantity], prices: Prices | None, variables: tuple[str, ...]
) -> None:
    asked = {n for q in quantities for n in (*q.awaited, *q.named)} & {COST, FOOTPRINT}
    if not asked:
        return
    if prices is None:
        raise InputError(
            "prices",
            f"given, because the brief speaks of {', '.join(sorted(asked))}",
            NOTHING,
            "prices='data/element_prices.csv'",
        )
    if COST in asked:
        unpriced = [e for e in variables if e not in prices.table.index]
        if unpriced:
            raise InputError(
                "price list",
                f"one that has {', '.join(unpriced)}, which the brief uses",
                list(prices.table.index),
            )
