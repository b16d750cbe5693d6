"""The answer to a brief: an aim with its window, certainty and prices, or why there is none."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd

from gradekit.core.errors import NOTHING, InputError
from gradekit.core.markup import panel
from gradekit.design.answer import Found, Sensitivity, find, sensitivity
from gradekit.design.brief import Brief, objective
from gradekit.design.conflict import least_change
from gradekit.design.front import Front, front
from gradekit.design.joint import most_room
from gradekit.design.prices import COST, Prices
from gradekit.design.problem import Problem
from gradekit.design.proof import HEATS, Proof, prove
from gradekit.design.routes import Routes, find_routes
from gradekit.design.sheet import export, sheet_table
from gradekit.design.show import lines, pages, text
from gradekit.design.tables import (
    COSTS,
    LIMITS,
    SHARES,
    certainty_table,
    demands_table,
    limits_table,
)
from gradekit.design.verdict import Conflict, conflict_of
from gradekit.design.window import Box, decimals_of, widest, written
from gradekit.design.words import headline, way_out
from gradekit.heats.scatter import Scatter
from gradekit.relations.evaluate import Result, evaluate

__all__ = ["Design"]


@dataclass(frozen=True, eq=False)
class Design:
    """An aim that meets a brief, or why there is none.

    Attributes
    ----------
    brief : Brief
    problem : the brief as numbers
    found : the answer and the route taken
    confidence : float or None
        Demanded of each limit (of all together if `together`).
    """

    brief: Brief
    problem: Problem
    found: Found
    prices: Prices | None
    scatter: Scatter | None
    confidence: float | None
    together: bool = False
    heats: int = HEATS
    decimals: dict | None = None

    # --- the answer -------------------------------------------------------------------------

    @property
    def feasible(self) -> bool:
        """True if a composition was found that meets the brief."""
        return self.found.feasible

    @property
    def proven(self) -> bool:
        """True if nothing better exists (or, without an answer, if none can exist)."""
        return self.found.proven

    @property
    def route(self) -> str:
        """How the answer was found, and whether it is proven or local."""
        return self.found.route

    @cached_property
    def aim(self) -> pd.Series:
        """The optimum, wt%; `window` holds it as it is written."""
        return pd.Series(self.found.x, index=pd.Index(self.brief.variables, name="element"))

    @cached_property
    def cost(self) -> float:
        """Alloy cost at the aim, money per tonne; without prices the value of the objective."""
        if not self.feasible:
            return float("nan")
        if self.prices is None or self.problem.aim.key == COST:
            return self.found.value
        x = pd.DataFrame([self.found.x], columns=list(self.brief.variables))
        return float(evaluate(x, self.prices.cost).values.iloc[0, 0])

    @property
    def unit(self) -> str:
        """Unit of the objective."""
        return self.problem.aim.unit

    @cached_property
    def _at(self) -> Sensitivity:
        return sensitivity(self.problem, self.found.x)

    @cached_property
    def result(self) -> Result:
        """Every relation of the brief at the aim, with values, errors and flags."""
        quantities = [self.problem.aim, *(d.quantity for d in self.problem.demands)]
        used = {r.name: r for q in quantities for r in q.named.values()}
        heat = pd.DataFrame([self.found.x], index=["aim"], columns=list(self.brief.variables))
        return evaluate(heat, list(used.values()), **self.brief.conditions)

    @cached_property
    def limits(self) -> pd.DataFrame:
        """Every demand at the aim, one row each.

        Columns in the unit of the demand: `value`, `bound`, `heat scatter` (one standard
        deviation), `relation error` (published standard error, NaN where none is known), `guard
        band`, `slack` beyond it, `shadow price` (objective per unit of the bound), `kind`,
        `origin`, `status` (evidence of the relation), `flags` in words.
        """
        if not self.feasible:
            return pd.DataFrame(columns=LIMITS)
        return limits_table(self.problem, self._at, self.found.x, self.result)

    @cached_property
    def flags(self) -> list[str]:
        """What is to be said of the brief and of the values at the aim, in words."""
        if not self.feasible:
            return list(self.problem.notes)
        told = [(r.name, self.result.words("aim", r.name)) for r in self.result.relations]
        return [*self.problem.notes, *(f"{name}: {words}" for name, words in told if words)]

    # --- the window -------------------------------------------------------------------------

    @cached_property
    def _decimals(self) -> np.ndarray:
        return decimals_of(self.brief.variables, self.decimals)

    @cached_property
    def written(self) -> pd.Series:
        """The aim in the decimals of the melt shop, chosen so that rounding breaks no limit."""
        free = self.problem.high > self.problem.low
        half = np.where(free, 0.5 * 10.0**-self._decimals, 0.0)
        found = find(self.problem, rounding=half, near=self.found.x, only_near=True)
        x = found.x if found.feasible else self.found.x
        rounded = np.where(free, written(x, self._decimals), x)
        return pd.Series(rounded, index=self.aim.index)

    @cached_property
    def _box(self) -> Box:
        aim = self.written.to_numpy()
        at = sensitivity(self.problem, aim)
        return widest(self.problem, at, aim, self.problem.sd, self._decimals)

    @cached_property
    def window(self) -> pd.DataFrame:
        """The widest window around the written aim in which every heat keeps every limit.

        Columns `min`, `aim`, `max`, wt%; NaN as a maximum where nothing limits the element.
        """
        if not self.feasible:
            return pd.DataFrame(columns=["min", "aim", "max"])
        box = self._box
        high = np.where(np.isfinite(box.high), box.high, np.nan)
        return pd.DataFrame({"min": box.low, "aim": box.aim, "max": high}, index=self.aim.index)

    @cached_property
    def sheet(self) -> pd.DataFrame:
        """The window as the melt shop reads it, beside the grade and the product tolerances."""
        return sheet_table(self.window, self.problem.sd, self.brief.windows, self._decimals)

    @cached_property
    def room(self) -> float:
        """The widest window that could be asked for as `window_sd`, in standard deviations."""
        if not self.feasible or self.scatter is None:
            return float("nan")
        return most_room(self.problem, self.found.x)

    # --- how sure ---------------------------------------------------------------------------

    @cached_property
    def proof(self) -> Proof | None:
        """Virtual heats around the written aim, held against every limit; None without scatter."""
        if not self.feasible or self.scatter is None:
            return None
        return prove(self.problem, self.written.to_numpy(), self.heats)

    @cached_property
    def certainty(self) -> pd.DataFrame:
        """Share of virtual heats that keep each limit, with a 95 % confidence interval.

        Columns `share`, `low`, `high` if the relations are right, and `share with error`, `low
        with error`, `high with error` with the published errors drawn too. First row: all limits.
        """
        if self.proof is None:
            return pd.DataFrame(columns=SHARES)
        return certainty_table(self.problem, self.proof, self._box)

    @cached_property
    def headline(self) -> str:
        """Whether the wish is met and how surely, in one line."""
        if not self.feasible:
            return f"The wish cannot be met. {self.conflict.summary}"
        if self.proof is None:
            return headline(None, None, 0, guarded=False)
        proof = self.proof
        guarded = self.confidence is not None
        return headline(proof.all(), proof.all(with_error=True), proof.drawn, guarded)

    # --- what it costs ----------------------------------------------------------------------

    @cached_property
    def demands(self) -> pd.DataFrame:
        """What each demand that binds costs, dearest first.

        Columns `shadow price` (objective per unit), `holds from`, `holds to` (bounds between
        which the price stays), `saves` (objective gained if the demand is dropped altogether),
        `words`.
        """
        if not self.feasible:
            return pd.DataFrame(columns=COSTS)
        return demands_table(self.problem, self._at, self.found)

    @cached_property
    def conflict(self) -> Conflict | None:
        """Why the brief cannot be met; None where it can."""
        if self.feasible:
            return None
        return conflict_of(self.problem)

    @cached_property
    def way_out(self) -> str:
        """The least change that frees a brief that cannot be met, without the whole explanation."""
        if self.feasible:
            return ""
        return way_out(self.problem, least_change(self.problem))

    # --- other ways -------------------------------------------------------------------------

    def front(self, other: object = None, points: int = 50) -> Front:
        """Return the curve of the objective against another one.

        Parameters
        ----------
        other : as `Brief.minimise`, optional
            By default the second aim of the brief.
        points : int
        """
        self._must_be_met("front")
        if other is None:
            if len(self.brief.objectives) < 2:
                raise InputError(
                    "other aim", "given, or the brief must minimise two", self.brief.minimise,
                    "design.front('co2')",
                )  # fmt: skip
            other = self.brief.minimise[1]
        priced = self.prices.relations if self.prices else {}
        quantity = objective(other, priced)
        if quantity.awaited:
            raise InputError("prices", f"given, because {other} needs them", NOTHING)
        return front(self.problem, quantity, points, self._warning)

    def alternatives(
        self, allowed: float = 0.05, elements: tuple[str, ...] = ("N", "Cu", "Mn", "Ni")
    ) -> Routes:
        """Return ways that differ in kind and cost at most `allowed` (a fraction) more."""
        self._must_be_met("alternatives")
        routes = find_routes(
            self.problem, self.found, self.scatter, allowed, tuple(elements), self.unit
        )
        return replace(routes, warning=self._warning)

    def _must_be_met(self, what: str) -> None:
        if not self.feasible:
            raise InputError(what, "asked of a brief that can be met", self.conflict.words)

    # --- showing ----------------------------------------------------------------------------

    @property
    def _warning(self) -> str:
        return self.prices.warning if self.prices else ""

    def _repr_html_(self) -> str:
        return panel(*pages(self), lead=self.headline)

    def __repr__(self) -> str:
        return text(self)

    def export(self, path: object) -> Path:
        """Write the melt-shop sheet: .xlsx for a workbook, .html for a page to print.

        Returns
        -------
        Path
        """
        self._must_be_met("sheet")
        notes = pd.DataFrame({"note": [*lines(self), *self.flags]})
        notes.index = pd.RangeIndex(1, len(notes) + 1, name="no.")
        tables = {
            "aim and window": self.sheet,
            "limits": self.limits,
            "certainty": self.certainty,
            "cost of demands": self.demands,
            "notes": notes,
        }
        title = f"Melt-shop sheet {self.brief.name}".strip()
        return export(path, title, self.headline, pages(self), tables)
