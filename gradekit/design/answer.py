"""What is known of the answer to a brief: aim, limits, window, certainty, prices, or conflict."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd

from gradekit.core.verdicts import Verdict
from gradekit.design.brief import Brief
from gradekit.design.certainty import most_room
from gradekit.design.conflict import Conflict, conflict_of, least_change, way_out
from gradekit.design.limits import LIMITS, PRICES, limits_table, prices_table, savings
from gradekit.design.prices import PART_COLUMNS, Prices
from gradekit.design.problem import Problem
from gradekit.design.proof import HEATS, SHARES, Proof, certainty_table, prove
from gradekit.design.rivals import RIVALS, broken_words, rivals_table
from gradekit.design.sheet import sheet_table
from gradekit.design.solution import Sensitivity, Solution, sensitivity, solve
from gradekit.design.window import decimals_of, widest, written
from gradekit.families.table import family_told
from gradekit.heats.scatter import Scatter
from gradekit.relations.evaluate import Result, evaluate


@dataclass(frozen=True, eq=False)
class DesignAnswer:
    """An aim that meets a brief, or why there is none: all that is computed of it, each once.

    Attributes
    ----------
    brief : Brief
    problem : the brief as numbers
    solution : the optimum and the route taken
    confidence : float or None
        Demanded of each limit (of all together if `together`).
    """

    brief: Brief
    problem: Problem
    solution: Solution
    prices: Prices | None
    scatter: Scatter | None
    confidence: float | None
    together: bool = False
    heats: int = HEATS
    decimals: dict | None = None

    # --- the answer -------------------------------------------------------------------------

    @property
    def feasible(self) -> bool:
        """True if a composition meets the brief."""
        return self.solution.feasible

    @property
    def proven(self) -> bool:
        """True if nothing better exists (or, without an answer, if none can exist)."""
        return self.solution.proven

    @property
    def route(self) -> str:
        """How the answer was reached, and whether it is proven or local."""
        return self.solution.route

    @cached_property
    def aim(self) -> pd.Series:
        """The optimum, wt%; `window` holds it as it is written."""
        return pd.Series(self.solution.x, index=pd.Index(self.brief.variables, name="element"))

    @cached_property
    def cost(self) -> float:
        """Cost at the aim, money per tonne: of the alloys, and of the making as far as prices tell.

        Without prices it is the value of the objective.
        """
        if self.prices is None or not self.feasible:
            return self.solution.value
        return float(self.cost_parts["money"].sum())

    @property
    def making_cost(self) -> float:
        """What of the cost is making, as far as prices tell, money per tonne."""
        made = [float(p.line.value(self.aim[p.element])) for p in self.problem.making]
        return sum(made) if made else float("nan")

    @cached_property
    def cost_parts(self) -> pd.DataFrame:
        """The cost at the aim in parts, which add up to it.

        Columns `money` a tonne of steel (NaN where it is not known), `counted`, `source`,
        `evidence`; one row a metal, then a row a part of the making.
        """
        if self.prices is None or not self.feasible:
            return pd.DataFrame(columns=PART_COLUMNS)
        return self.prices.parts(self.aim, self.problem.making, self.problem.unpriced)

    @property
    def unit(self) -> str:
        """Unit of the objective."""
        return self.problem.aim.unit

    @cached_property
    def sensitivity(self) -> Sensitivity:
        return sensitivity(self.problem, self.solution.x)

    @cached_property
    def result(self) -> Result:
        """Every relation of the brief at the aim, with values, errors and flags."""
        asked = (d.quantity for d in self.problem.constraints if d.kind != "family")
        quantities = [self.problem.aim, *asked]
        used = {r.name: r for q in quantities for r in q.named.values()}
        heat = pd.DataFrame([self.solution.x], index=["aim"], columns=list(self.brief.variables))
        return evaluate(heat, list(used.values()), **self.brief.conditions)

    @cached_property
    def limits(self) -> pd.DataFrame:
        """Every constraint at the aim, one row each.

        Columns in its unit: `value`, `bound`, `heat scatter` (one standard
        deviation), `relation error` (published standard error, NaN where none is known), `guard
        band`, `slack` beyond it, `shadow price` (objective per unit of the bound), `kind`,
        `origin`, `status` (evidence of the relation), `flags` in words.
        """
        if not self.feasible:
            return pd.DataFrame(columns=LIMITS)
        return limits_table(self.problem, self.sensitivity, self.solution.x, self.result)

    @cached_property
    def flags(self) -> list[str]:
        """What is to be said of the brief and of the values at the aim, in words."""
        if not self.feasible:
            return list(self.problem.notes)
        told = [(r.name, self.result.words("aim", r.name)) for r in self.result.relations]
        return [*self.problem.notes, *(f"{name}: {words}" for name, words in told if words)]

    @cached_property
    def rivals(self) -> pd.DataFrame:
        """What the other relations of each limited quantity say at the aim, disagreement first.

        Columns `limit`, `value`, `unit`, `holds` (for this steel), `inside` the limit, `why not` it
        holds, `status`, `asked`: the search was held to it.
        """
        if not self.feasible:
            return pd.DataFrame(columns=RIVALS)
        return rivals_table(self.brief, self.solution.x)

    @cached_property
    def steel(self) -> pd.Series:
        """What steel the aim is by the votes: `family`, `structure`, `sub`, `doubt` and more."""
        aim = pd.DataFrame([self.solution.x], ["aim"], list(self.brief.variables))
        return family_told(aim).loc["aim"]

    @cached_property
    def cautions(self) -> list[str]:
        """What speaks against the aim, in words: rivals that break a limit, another family."""
        if not self.feasible:
            return []
        own, asked = self.steel["family"], self.brief.held
        words = broken_words(self.rivals)
        if own and asked and own != asked:
            words.insert(0, f"{own} by its composition, not {asked}")
        elif self.steel["doubt"]:
            words.append(f"{own}, in doubt: {self.steel['doubt']}")
        return words

    @property
    def verdict(self) -> Verdict:
        """'stop' without an answer, 'caution' where something speaks against it, else 'ok'."""
        if not self.feasible:
            return "stop"
        return "caution" if self.cautions else "ok"

    # --- the window -------------------------------------------------------------------------

    @cached_property
    def _decimals(self) -> np.ndarray:
        return decimals_of(self.brief.variables, self.decimals)

    @cached_property
    def written(self) -> pd.Series:
        """The aim in the decimals of the melt shop, chosen so that rounding breaks no limit."""
        free = self.problem.high > self.problem.low
        half = np.where(free, 0.5 * 10.0**-self._decimals, 0.0)
        rounded = replace(self.problem, rounding=half)
        room = solve(rounded, near=self.solution.x, only_near=True)
        x = room.x if room.feasible else self.solution.x
        return pd.Series(np.where(free, written(x, self._decimals), x), index=self.aim.index)

    @cached_property
    def _ends(self) -> tuple[np.ndarray, np.ndarray]:
        aim = self.written.to_numpy()
        at = sensitivity(self.problem, aim)
        return widest(self.problem, at, aim, self._decimals)

    @cached_property
    def window(self) -> pd.DataFrame:
        """The widest window around the written aim in which every heat keeps every limit.

        Columns `min`, `aim`, `max`, wt%; NaN as a maximum where nothing limits the element.
        """
        if not self.feasible:
            return pd.DataFrame(columns=["min", "aim", "max"])
        low, high = self._ends
        high = np.where(np.isfinite(high), high, np.nan)
        return pd.DataFrame({"min": low, "aim": self.written, "max": high})

    @cached_property
    def sheet(self) -> pd.DataFrame:
        """The window as the melt shop reads it, beside the grade and the product tolerances."""
        return sheet_table(self.window, self.problem.sd, self.brief.windows, self._decimals)

    @cached_property
    def room(self) -> float:
        """The widest window that could be asked for as `window_sd`, in standard deviations."""
        if not self.feasible or self.scatter is None:
            return float("nan")
        return most_room(self.problem, self.solution.x)

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
        return certainty_table(self.problem, self.proof, *self._ends)

    # --- what it costs ----------------------------------------------------------------------

    @cached_property
    def shadow_prices(self) -> pd.DataFrame:
        """What each constraint that binds costs.

        Columns `shadow price` (objective per unit), `holds from`, `holds to` (bounds between
        which the price stays), `words`.
        """
        if not self.feasible:
            return pd.DataFrame(columns=PRICES)
        return prices_table(self.problem, self.sensitivity, self.solution)

    @cached_property
    def savings(self) -> pd.Series:
        """By how much the objective falls if a constraint that binds is dropped altogether."""
        if not self.feasible:
            return pd.Series(dtype=float)
        return savings(self.problem, self.sensitivity, self.solution)

    @cached_property
    def conflict(self) -> Conflict | None:
        """Why the brief cannot be met; None where it can."""
        return None if self.feasible else self.why_not

    @cached_property
    def why_not(self) -> Conflict:
        """The explanation of a brief without an answer."""
        return conflict_of(self.problem)

    @cached_property
    def way_out(self) -> str:
        """The least change that frees a brief that cannot be met, without the whole explanation."""
        if self.feasible:
            return ""
        return way_out(self.problem, least_change(self.problem))

    @property
    def warning(self) -> str:
        """What has to be said wherever a price of this answer is shown."""
        return self.prices.warning if self.prices else ""
