"""Other ways: the curve of two aims, and compositions of another kind that cost nearly the same."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError
from gradekit.core.linear import Sum
from gradekit.core.markup import details, number, panel, small, table
from gradekit.design.problem import Problem
from gradekit.design.quantities import Quantity, read_quantity
from gradekit.design.sketches import curve
from gradekit.design.solution import Solution, break_tie, sensitivity, solve
from gradekit.heats.scatter import Scatter

# Names of the elements, and what the trade knows against more of each: (name, text, evidence).
_KNOWN_OF = {
    "N": ("nitrogen", "above the castable limit it makes blow holes and boiling in the mould",
          "verified"),
    "Cu": ("copper", "no melting step removes it: returned scrap carries it into every grade",
           "memory"),
    "Mn": ("manganese", "above 5 % a further 3-8 % of it is lost, and its fume harms the nerves",
           "memory"),
    "Ni": ("nickel", "its price and its footprint", "memory"),
    "C": ("carbon", "welds corrode between grains where it is not bound", "memory"),
    "Mo": ("molybdenum", "its price", "memory"),
    "Cr": ("chromium", "ferrite, and sigma phase on slow cooling", "verified"),
    "Si": ("silicon", "above 1 % it pickles slowly", "memory"),
}  # fmt: skip


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

    def __repr__(self) -> str:
        return f"{len(self.table)} ways within {self.allowed:.0%} of the best"

    def _repr_html_(self) -> str:
        shown = self.table.drop(columns=["weak point"]).astype(float).T.rename_axis("wt%")
        weak = self.table[["weak point"]]
        return panel(
            table(shown, f"Aims in wt%; objective, and how much more, in {self.unit}"),
            details("Each way's weak point", table(weak, "", wide=["weak point"])),
            small("; ".join(filter(None, [*self.left_out, self.warning]))),
            lead=repr(self),
        )


def other_ways(
    problem: Problem,
    best: Solution,
    scatter: Scatter | None,
    allowed: float = 0.05,
    elements: tuple[str, ...] = ("N", "Cu", "Mn", "Ni"),
    warning: str = "",
) -> Routes:
    """Push one element after the other as far as a little more money allows.

    A route counts where its element ends more than two of its standard deviations (or 10 %)
    above the best answer; among the compositions that go that far, the cheapest is shown.
    """
    left = []
    binding = _binding(problem, best.x)

    def row(way: Solution, *weak: str) -> dict[str, float | str]:
        words = "; ".join(filter(None, [*weak, _experience(problem, way.x, scatter)]))
        contents = dict(zip(problem.variables, way.x, strict=True))
        cost = {"objective": way.value, "more": way.value - best.value}
        return {**cost, **contents, "weak point": words or _tightest(problem, way.x)}

    rows = {"the best": row(best)}
    ceiling = best.value + allowed * abs(best.value)
    capped = problem.also(problem.aim, 1, ceiling, "money for a way of its own")
    for element in filter(problem.index.__contains__, elements):
        at = problem.index[element]
        word, text, evidence = _KNOWN_OF.get(element, (element, "", ""))
        name = f"{word} route"
        most = replace(capped, aim=read_quantity(f"-1*{element}", {}))
        pushed = solve(most, near=best.x, only_near=True)
        sd = max(2.0 * problem.sd[at], 0.1 * best.x[at], 1e-6)
        if not pushed.feasible or pushed.x[at] < best.x[at] + sd:
            left.append(f"no {name}: more {element} does not pay or is not allowed")
            continue
        held = problem.also(Quantity(element, {}), -1, pushed.x[at] - 1e-6, name)
        answer = solve(held, near=pushed.x, only_near=True)
        if not answer.feasible:
            answer = replace(pushed, value=problem.value_at(problem.aim, pushed.x))
        new = [problem.constraints[i].label for i in _binding(problem, answer.x) - binding]
        caution = f"{text} ({evidence})" if text else ""
        limit = f"now at its limit: {', '.join(new[:3])}" if new else ""
        rows[name] = row(answer, caution, limit)
    frame = pd.DataFrame.from_dict(rows, orient="index").rename_axis("way")
    return Routes(frame, allowed, problem.aim.unit, left, warning)


def _binding(problem: Problem, x: np.ndarray) -> set[int]:
    room = 1e-6 * np.maximum(1.0, np.abs(problem.bound))
    binding = np.flatnonzero(sensitivity(problem, x).slack <= room).tolist()
    return {i for i in binding if problem.constraints[i].kind not in ("range", "melt")}


def _tightest(problem: Problem, x: np.ndarray) -> str:
    at = sensitivity(problem, x)
    if not at.price.any():
        return "no limit binds"
    dear = int(np.argmax(at.price * np.maximum(at.guard, 1e-12)))
    return f"rests most on {problem.constraints[dear].label}"


def _experience(problem: Problem, x: np.ndarray, scatter: Scatter | None) -> str:
    """Say which contents no heat of the works has had."""
    if scatter is None or scatter.experience is None:
        return ""
    known = scatter.experience
    beyond = [
        f"{e} {number(v, 3)} (heats so far: {number(low, 3)} to {number(high, 3)})"
        for e, v in zip(problem.variables, x, strict=True)
        if e in known.index
        for low, high in [known.loc[e, ["min", "max"]]]
        if v < low or v > high
    ]
    return f"beyond the works' experience: {', '.join(beyond)}" if beyond else ""


@dataclass(eq=False)
class Front:
    """Compositions between the best for one aim and the best for the other.

    Attributes
    ----------
    table : DataFrame, one row a point
        Both aims, then the contents in wt%.
    names, units : of the two aims
    exact : bool
        True where every point is a proven optimum of its linear programme.
    warning : str
        What has to be said of the prices used.
    """

    table: pd.DataFrame
    names: tuple[str, str]
    units: tuple[str, str]
    exact: bool
    warning: str = ""

    @property
    def words(self) -> str:
        """The curve in one sentence."""
        first, last = self.table.iloc[0], self.table.iloc[-1]
        (a, b), (unit_a, unit_b) = self.names, self.units
        how = "exact" if self.exact else "local optima"
        return (
            f"{len(self.table)} points ({how}): from {first[a]:.5g} {unit_a} with "
            f"{first[b]:.4g} {unit_b} to {last[a]:.5g} {unit_a} with {last[b]:.4g} {unit_b}"
        )

    def __repr__(self) -> str:
        return self.words

    def _repr_html_(self) -> str:
        a, b = self.names
        picture = curve(
            self.table[a].to_numpy(),
            self.table[b].to_numpy(),
            f"{a}, {self.units[0]}",
            f"{b}, {self.units[1]}",
            self.words,
        )
        every = max(1, len(self.table) // 10)
        return panel(
            picture,
            table(self.table.iloc[::every], "Points of the curve, contents in wt%"),
            small(self.warning),
            lead=self.words,
        )


def front(problem: Problem, other: Quantity, points: int, warning: str = "") -> Front:
    """Return the curve of the problem's aim against another one.

    The other aim is capped step by step (epsilon constraint), from what it is at the optimum of
    the first down to its own least value. Both ends are efficient: ties are broken by the other.
    """
    if points < 2:
        raise InputError("points of the curve", "at least 2", points)
    names = problem.aim.key, other.key
    form = other.form(problem.conditions)
    exact = problem.aim_row is not None and isinstance(form, Sum)
    exact = exact and not problem.curved and not problem.lines
    first = break_tie(problem, solve(problem), other)
    last = solve(replace(problem, aim=other))
    answers: list[Solution] = []
    if first.feasible and last.feasible:
        most, least = (problem.value_at(other, end.x) for end in (first, last))
        held = problem.also(other, 1, most, "the curve")
        for cap in np.linspace(most, least, points):
            near = answers[-1] if answers else first
            # what the linear programme, or the smooth solver, may miss a row by
            room = (1e-9 if exact else 1e-6) * max(1.0, abs(cap))
            answer = solve(held.moved(cap + room), near=near.x, only_near=True)
            if answer.feasible and np.isfinite(answer.value):
                answers.append(answer)
    x = np.array([answer.x for answer in answers]).reshape(-1, len(problem.variables))
    columns = {names[0]: [answer.value for answer in answers], names[1]: problem.raw([other], x)[0]}
    columns |= dict(zip(problem.variables, x.T, strict=True))
    frame = pd.DataFrame(columns, pd.RangeIndex(1, len(answers) + 1, name="point"))
    return Front(frame, names, (problem.aim.unit, other.unit), exact, warning)
