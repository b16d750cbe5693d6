"""An answer in sentences: met or not and how surely, what clashes, what each demand costs."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

from gradekit.core.markup import number
from gradekit.design.conflict import Clash
from gradekit.design.constraints import Demand
from gradekit.design.problem import Problem

__all__ = ["clash_words", "headline", "move_words", "percent", "way_out"]


def percent(share: float) -> str:
    """Return a share in per cent, never rounded up to 100.

    Examples
    --------
    >>> percent(0.99996), percent(1.0), percent(0.9512)
    ('99.99 %', '100 %', '95.1 %')
    """
    if 0.999 < share < 1.0:
        return f"{int(share * 1e4) / 100:.2f} %"
    return f"{100 * share:.1f} %" if share < 1.0 else "100 %"


def headline(
    sure: tuple[float, float, float] | None,
    with_error: tuple[float, float, float] | None,
    drawn: int,
    guarded: bool,
) -> str:
    """Say in one line whether the wish is met and how surely.

    Parameters
    ----------
    sure, with_error : (share, low, high) or None
        Virtual heats that keep every limit if the relations are right, and with their errors.
    drawn : int
    guarded : bool
        Whether guard bands were asked for.
    """
    if sure is None:
        return (
            "The wish is met on average only: no scatter of heats was given, so how many heats "
            "keep it is not known"
        )
    share, low, high = sure
    line = (
        f"The wish is met{'' if guarded else ' on average only'}: {percent(share)} of heats keep "
        f"every limit ({percent(low)} to {percent(high)}, {drawn:,} virtual heats) if the "
        "relations are right"
    )
    if with_error:
        line += f"; {percent(with_error[0])} with their published errors counted"
    return line


def move_words(demand: Demand, to: float) -> str:
    """Say how a demand would have to be moved."""
    if demand.quantity.unit == "wt%" and to < 0:
        return f"'{demand.words}' would have to go altogether"
    step = abs(to - demand.bound)
    unit = f" {demand.quantity.unit}".rstrip()
    return f"'{demand.words}' moved by {number(step, 3)}{unit} to {number(to)}"


def way_out(problem: Problem, together: Mapping[int, float]) -> str:
    """Say what the least change is that frees a brief."""
    moves = [move_words(problem.demands[i], to) for i, to in together.items()]
    return f"The least change in all: {'; and '.join(moves)}."


def clash_words(
    problem: Problem, clash: Clash, certain: float | None, errors_decide: bool = False
) -> str:
    """Explain why a wish cannot be met.

    Parameters
    ----------
    problem : Problem
    clash : Clash
    certain : float or None
        The most confidence that each limit could be kept with.
    errors_decide : bool
        Whether it could be met with the published errors left out.
    """
    names = [f"{problem.demands[i].words} ({problem.demands[i].origin})" for i in clash.members]
    start = "These cannot be kept together" if len(names) > 1 else "This cannot be kept"
    sure = "" if clash.proven else " as far as the smooth solver can tell"
    text = f"{start}{sure}: {'; '.join(names)}."
    text += "".join(f" {line}" for line in _eaten(problem, clash))
    alone = [move_words(problem.demands[i], to) for i, to in clash.alone.items() if to is not None]
    if alone:
        start = "This alone frees the brief" if len(alone) == 1 else "Any one of these frees it"
        text += f" {start}: {'; or '.join(alone)}."
    if clash.together:
        text += f" {way_out(problem, clash.together)}"
    if certain is not None:
        text += (
            " Without guard bands it could be met: it is the certainty that is out of reach; "
            f"the most that can be had is {percent(certain)} a limit."
        )
    if errors_decide:
        text += (
            " With the published errors left out of the guard bands (relation_error=False) it "
            "could be met, for the scatter of heats alone: the errors are those of the relations, "
            "and a trial heat tells how far they are off for this steel."
        )
    return text


def _eaten(problem: Problem, clash: Clash) -> list[str]:
    """Say where the guard bands from both ends of a quantity leave nothing between its limits."""
    guards = dict(zip(problem.linear, problem.guards(), strict=True))
    told = []
    ends = [i for i in clash.members if i in guards and i not in clash.ratios]
    for i, j in combinations(ends, 2):
        low, high = sorted((i, j), key=lambda k: problem.demands[k].sense)
        least, most = problem.demands[low], problem.demands[high]
        if least.quantity.key != most.quantity.key or least.sense == most.sense:
            continue
        apart, needed = most.bound - least.bound, guards[low] + guards[high]
        if not 0 <= apart < needed:
            continue
        unit = f" {least.quantity.unit}".rstrip()
        line = (
            f"Of the {number(apart, 3)}{unit} between the limits of {least.quantity.key} the guard "
            f"bands leave nothing: they take {number(guards[low], 3)}{unit} at the lower and "
            f"{number(guards[high], 3)}{unit} at the upper end"
        )
        if least.error or most.error:
            errors = problem.z * (least.error + most.error)
            line += f", {number(errors, 3)}{unit} in all for its published error alone"
        told.append(f"{line}. Limits {number(needed, 3)}{unit} apart would leave a single value.")
    return told
