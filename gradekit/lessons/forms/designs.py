"""A design in small: three elements to move, a few targets, and as little as possible of one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from gradekit.lessons.drawing_lots import steel
from gradekit.lessons.exercise import Exercise, Slider, SumTarget
from gradekit.lessons.slips import linear
from gradekit.lessons.template import form

#: A relation, and the ends between which each limit is drawn; None where there is none.
Goal = tuple[str, tuple[float, float] | None, tuple[float, float] | None]


@form("design")
def design(
    rng: np.random.Generator, family: str, goals: Sequence[Goal],
    sliders: Mapping[str, tuple[float, float, float]], least: str = "Ni",
) -> Exercise | None:  # fmt: skip
    """Ask for a composition with as little as possible of an element.

    Parameters
    ----------
    family : of which the steel is drawn that the design begins with
    goals : (name of a linear relation, ends of its lower limit, ends of its upper limit)
    sliders : mapping of element to (low, high, step), wt%
    least : the element that is to be saved
    """
    heat, (lowest, _, step) = steel(rng, family), sliders[least]
    moving = tuple(
        Slider(e, low, high, step, _stop(heat[e], low, high, step))
        for e, (low, high, step) in sliders.items()
    )
    targets = tuple(
        sum_of(relation, heat, sliders, *(_limit(rng, ends) for ends in limits))
        for relation, *limits in goals
    )
    saved = SumTarget(least, f"% {least}", 0.0, {least: 1.0})
    optimum = best_design(moving, targets, saved)
    start = {s.element: s.start for s in moving}
    # A start that serves, or a corner of the box, would be nothing to find.
    if not optimum or optimum[1] <= lowest + 2 * step or all(t.met(start) for t in targets):
        return None
    levels, best = optimum
    relations = tuple(relation for relation, *_ in goals)
    others = ", ".join(e for e in sliders if e != least)
    return Exercise(
        f"Move {', '.join(sliders)} until every target is met, with as little {least} as "
        f"possible; {2 * step:g} % more than the least is right. All else stays as it is.",
        {"the rest of the steel": {e: x for e, x in heat.items() if e not in sliders}}, best,
        f"% {least}", 2 * step,
        solution=(
            *(f"{t.words}: {t.at(levels):.4g} {t.unit}".rstrip() for t in targets),
            "; ".join(f"{e} {x:g}" for e, x in levels.items()),
        ),
        relations=relations, sliders=moving, targets=targets, least=saved,
        elsewhere=f"Use {others} to their limits first: what they do need not be paid in {least}.",
    )  # fmt: skip


def _stop(content: float, low: float, high: float, step: float) -> float:
    """Return the stop of a slider that is nearest to a content."""
    return round(low + step * round((min(max(content, low), high) - low) / step), 4)


def _limit(rng: np.random.Generator, ends: tuple[float, float] | None) -> float | None:
    return None if ends is None else round(float(rng.uniform(*ends)), 0 if ends[1] > 5 else 1)


def sum_of(
    name: str, heat: Mapping[str, float], moving: Mapping, low: float | None, high: float | None
) -> SumTarget:
    """Return a linear relation as a sum of what moves; all else of the steel is in its constant.

    Examples
    --------
    >>> made = sum_of("pren_16n", {"Cr": 18.0, "Mo": 2.0, "N": 0.1}, {"Mo": ()}, 24.0, None)
    >>> round(made.constant, 6), dict(made.terms)
    (19.6, {'Mo': 3.3})
    """
    relation = linear(name)
    fixed = sum(k * heat.get(e, 0.0) for e, k in relation.terms.items() if e not in moving)
    terms = {e: relation.terms.get(e, 0.0) for e in moving}
    return SumTarget(
        relation.title, relation.unit_shown, relation.intercept + fixed, terms, low, high
    )


def best_design(
    sliders: Sequence[Slider], targets: Sequence[SumTarget], least: SumTarget
) -> tuple[dict[str, float], float] | None:
    """Return the stops of the sliders that meet every target with the least, and how much that is.

    Parameters
    ----------
    sliders : sequence of Slider
    targets : sequence of Sum
    least : Sum

    Returns
    -------
    (levels, least) or None
        None where no stop of the sliders meets the targets.
    """
    stops = [np.arange(s.low, s.high + s.step / 2, s.step).round(6) for s in sliders]
    grid = dict(zip((s.element for s in sliders), np.meshgrid(*stops, indexing="ij"), strict=True))
    ok = np.all([t.met(grid) for t in targets], axis=0)
    if not ok.any():
        return None
    spent = least.at(grid)
    best = int(np.argmin(np.where(ok, spent, np.inf)))
    return {e: float(at.flat[best]) for e, at in grid.items()}, float(spent.flat[best])
