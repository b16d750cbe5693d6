"""An answer in sentences: met or not and how surely, what clashes, what each demand costs."""

from __future__ import annotations

from collections.abc import Mapping

from gradekit.designing.conflict import Clash
from gradekit.designing.demands import Demand
from gradekit.designing.problem import Problem
from gradekit.html import number

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


def clash_words(problem: Problem, clash: Clash, certain: float | None) -> str:
    """Explain why a wish cannot be met."""
    names = [f"{problem.demands[i].words} ({problem.demands[i].origin})" for i in clash.members]
    start = "These cannot be kept together" if len(names) > 1 else "This cannot be kept"
    sure = "" if clash.proven else " as far as the smooth solver can tell"
    text = f"{start}{sure}: {'; '.join(names)}."
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
    return text
