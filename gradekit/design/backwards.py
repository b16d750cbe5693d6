"""Working backwards: from a brief to an aim and a window that heats keep, and what it costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from gradekit.core.errors import InputError
from gradekit.design.brief import Brief
from gradekit.design.certainty import all_together
from gradekit.design.practice import family_of_heats, scatter_of
from gradekit.design.prices import PricesLike, read_prices
from gradekit.design.problem import Problem, build
from gradekit.design.proof import HEATS
from gradekit.design.result import Design
from gradekit.design.solution import Solution, break_tie, solve
from gradekit.heats.scatter import Deviations, ScatterLike

#: Standard deviations to either side that a window holds at least, so that it can be melted.
MELTED = 1.0


def design_grade(
    brief: Brief,
    prices: PricesLike | None = None,
    scatter: ScatterLike | None = None,
    confidence: float | None = 0.95,
    relation_error: bool = True,
    *,
    analysis: Deviations = None,
    window_sd: float | None = None,
    together: bool = False,
    decimals: dict | None = None,
    heats: int = HEATS,
    near: Design | None = None,
) -> Design:
    """Find the best composition that meets a brief, with the certainty asked for.

    Parameters
    ----------
    brief : Brief
    prices : Prices, path or DataFrame, optional
        What `read_prices` takes; needed where cost or footprint is limited or minimised.
    scatter : dict, covariance, Scatter, path of plant figures, or heats to estimate it from
        Heats count where they are of the brief's family. By default, and for what they do not tell,
        the scatter typical of the trade (memory), at the contents of the brief; {} for none.
    confidence : float or None
        Share of heats that must keep each limit; None for no guard bands.
    relation_error : bool
        Whether the published errors of the relations are part of the guard bands.
    analysis : dict, optional
        Standard deviation of one analysis, wt%, where the scatter does not hold it.
    window_sd : float
        Half-width that the window must have at least, in standard deviations of each element; by
        default 1 where there are guard bands, for a narrower one cannot be melted.
    together : bool
        Ask the confidence of all limits together instead of each.
    decimals : dict, optional
        Decimals written for an element, where they differ from a melt shop's custom.
    heats : int
        Virtual heats drawn for the proof.
    near : Design, optional
        The answer to a similar brief: where limits are no sums it is the first start, and saves
        time.

    Returns
    -------
    Design

    Raises
    ------
    InputError
        Prices missing, a confidence outside (0.5, 1).

    Examples
    --------
    >>> brief = Brief({"Cr": (16, 20), "Mo": (0, 2), "N": (0, 0.1)}, {"pren_16n": (20, None)},
    ...               minimise={"Cr": 1.0, "Mo": 10.0})
    >>> design = design_grade(brief, confidence=None)
    >>> design.aim.round(3).to_dict(), round(design.limits.loc["pren_16n ≥ 20", "shadow price"], 3)
    ({'Cr': 18.4, 'Mo': 0.0, 'N': 0.1}, np.float64(1.0))
    """
    if not isinstance(brief, Brief):
        raise InputError("brief", "a gk.Brief", brief)
    if len(brief.objectives) > 2:
        raise InputError("minimise", "one aim or two (gk.screen takes three)", brief.minimise)
    prices = None if prices is None else read_prices(prices)
    if brief.family is None and not brief.held and (own := family_of_heats(scatter)):
        brief = replace(brief, family=own)
    if isinstance(scatter, Mapping) and not len(scatter):
        scatter = None
    elif scatter is not None or confidence is not None:
        scatter = scatter_of(brief, scatter, analysis)
    z = _deviations(confidence)
    if window_sd is None:
        window_sd = MELTED if confidence is not None else 0.0
    if not np.isfinite(window_sd) or window_sd < 0:
        raise InputError("window_sd", "0 or more standard deviations", window_sd)
    problem = build(brief, prices, scatter, z, relation_error, float(window_sd))
    solution = _from(problem, near) or solve(problem)
    if solution.feasible and len(brief.objectives) == 2:
        _, second = brief.priced_objectives(prices.relations if prices else {})
        solution = break_tie(problem, solution, second)
    if together and solution.feasible and scatter is not None and confidence is not None and z:
        problem, solution = all_together(problem, solution, confidence, heats)
    return Design(brief, problem, solution, prices, scatter, confidence, together, heats, decimals)


def _deviations(confidence: float | None) -> float:
    """How many standard deviations a one-sided confidence is."""
    from scipy.special import ndtri

    if confidence is None:
        return 0.0
    if isinstance(confidence, bool) or not isinstance(confidence, (int, float)):
        raise InputError("confidence", "a number such as 0.95, or None", confidence)
    if not 0.5 <= confidence < 1:
        raise InputError("confidence", "from 0.5 to below 1, as 0.95", confidence)
    return float(ndtri(confidence))


def _from(problem: Problem, near: Design | None) -> Solution | None:
    """Go on from a similar answer; None where that leads nowhere."""
    if near is None or not near.feasible or near.brief.variables != problem.variables:
        return None
    solution = solve(problem, near=near.solution.x, tries=0)
    return solution if solution.feasible else None
