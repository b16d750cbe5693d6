"""Ways that differ in kind and cost nearly the same: more nitrogen, more copper, more manganese."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from gradekit.core.markup import number, panel, small, table
from gradekit.design.answer import Found, find, sensitivity
from gradekit.design.constraints import Demand
from gradekit.design.costs import with_demand
from gradekit.design.problem import Problem
from gradekit.design.quantities import Quantity, read_quantity
from gradekit.heats.scatter import Scatter

__all__ = ["CAUTIONS", "Routes", "find_routes"]

NAMES = {
    "N": "nitrogen", "Cu": "copper", "Mn": "manganese", "Ni": "nickel", "C": "carbon",
    "Cr": "chromium", "Mo": "molybdenum", "Si": "silicon",
}  # fmt: skip

#: What the trade knows against more of an element: (text, evidence).
CAUTIONS = {
    "N": ("above the castable limit it makes blow holes and boiling in the mould", "verified"),
    "Cu": ("no melting step removes it: returned scrap carries it into every grade", "memory"),
    "Mn": ("above 5 % a further 3-8 % of it is lost, and its fume harms the nerves", "memory"),
    "Ni": ("its price and its footprint", "memory"),
    "C": ("welds corrode between grains where it is not bound", "memory"),
    "Mo": ("its price", "memory"),
    "Cr": ("ferrite, and sigma phase on slow cooling", "verified"),
    "Si": ("above 1 % it pickles slowly", "memory"),
}


@dataclass(eq=False)
class Routes:
    """Near-optimal ways that differ in kind.

    Attributes
    ----------
    table : DataFrame, one row a route
        Extra cost, contents in wt%, `weak point`.
    allowed : float
        By how much a route may cost more, as a fraction.
    unit : str
        Unit of the objective.
    left_out : list of str
    """

    table: pd.DataFrame
    allowed: float
    unit: str
    left_out: list[str]
    warning: str = ""

    def _repr_html_(self) -> str:
        shown = self.table.drop(columns=["weak point"]).astype(float).T.rename_axis("wt%")
        weak = self.table[["weak point"]]
        return panel(
            table(shown, f"Aims in wt%; objective, and how much more, in {self.unit}"),
            table(weak, "Each way's weak point", wide=["weak point"]),
            small("; ".join(filter(None, [*self.left_out, self.warning]))),
            lead=f"{len(self.table)} ways within {self.allowed:.0%} of the best",
        )


def find_routes(
    problem: Problem,
    best: Found,
    scatter: Scatter | None,
    allowed: float = 0.05,
    elements: tuple[str, ...] = ("N", "Cu", "Mn", "Ni"),
    unit: str = "",
) -> Routes:
    """Push one element after the other as far as a little more money allows.

    A route counts where its element ends more than two of its standard deviations (or 10 %)
    above the best answer; among the compositions that go that far, the cheapest is shown.
    """
    rows, left = {}, []
    binding = _binding(problem, best.x)
    ceiling = best.value + allowed * abs(best.value)
    cap = Demand(
        problem.aim, 1, ceiling, "limit", "money for a way of its own",
        problem.aim.form(problem.conditions), guarded=False,
    )  # fmt: skip
    rows["the best"] = (best, "", _experience(problem, best.x, scatter))
    for element in elements:
        if element not in problem.index:
            continue
        at = problem.index[element]
        name = f"{NAMES.get(element, element)} route"
        pushed = find(
            replace(with_demand(problem, cap), aim=read_quantity(f"-1*{element}", {})),
            near=best.x,
            only_near=True,
        )
        sd = max(2.0 * problem.sd[at], 0.1 * best.x[at], 1e-6)
        if not pushed.feasible or pushed.x[at] < best.x[at] + sd:
            left.append(f"no {name}: more {element} does not pay or is not allowed")
            continue
        hold = Demand(
            Quantity(element, {}), -1, pushed.x[at] - 1e-6, "limit", name,
            Quantity(element, {}).form({}), guarded=False,
        )  # fmt: skip
        answer = find(with_demand(problem, hold), near=pushed.x, only_near=True)
        if not answer.feasible:
            answer = Found(pushed.x, float(problem.raw([problem.aim], pushed.x[None])[0, 0]),
                           True, False, pushed.route)  # fmt: skip
        new = [problem.demands[i].label for i in _binding(problem, answer.x) - binding]
        text, evidence = CAUTIONS.get(element, ("", ""))
        caution = f"{text} ({evidence})" if text else ""
        limit = f"now at its limit: {', '.join(new[:3])}" if new else ""
        far = _experience(problem, answer.x, scatter)
        rows[name] = (answer, "; ".join(t for t in (caution, limit) if t), far)
    frame = pd.DataFrame(
        {
            name: {"objective": found.value, "more": found.value - best.value}
            | dict(zip(problem.variables, found.x, strict=True))
            for name, (found, _, _) in rows.items()
        }
    ).T
    frame["weak point"] = [
        "; ".join(t for t in (weak, far) if t) or _tightest(problem, found.x)
        for found, weak, far in rows.values()
    ]
    frame.index.name = "way"
    return Routes(frame, allowed, unit, left)


def _binding(problem: Problem, x: np.ndarray) -> set[int]:
    at = sensitivity(problem, x)
    room = np.maximum(1e-6 * np.maximum(1.0, [abs(d.bound) for d in problem.demands]), 0)
    return {i for i in np.flatnonzero(at.slack <= room) if problem.demands[i].kind != "range"}


def _tightest(problem: Problem, x: np.ndarray) -> str:
    at = sensitivity(problem, x)
    if not at.price.any():
        return "no limit binds"
    dear = int(np.argmax(at.price * np.maximum(at.guard, 1e-12)))
    return f"rests most on {problem.demands[dear].label}"


def _experience(problem: Problem, x: np.ndarray, scatter: Scatter | None) -> str:
    """Say which contents no heat of the works has had."""
    if scatter is None or scatter.experience is None:
        return ""
    known = scatter.experience
    beyond = [
        f"{e} {number(v, 3)} (heats so far: {number(known.at[e, 'min'], 3)} to "
        f"{number(known.at[e, 'max'], 3)})"
        for e, v in zip(problem.variables, x, strict=True)
        if e in known.index and (v > known.at[e, "max"] or v < known.at[e, "min"])
    ]
    return f"beyond the works' experience: {', '.join(beyond)}" if beyond else ""
