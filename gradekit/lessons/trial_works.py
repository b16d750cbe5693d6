"""An invented works whose truth is known to it alone: trial heats melted, tested, and judged.

Published relations read wrong there by an offset and a slope in each element, drawn with a seed
from what a standard error leaves open. The library is shown the tests and never the truth, so that
what it learns from them can be held against it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.errors import one_of
from gradekit.design.backwards import design_grade
from gradekit.design.brief import Brief
from gradekit.design.result import Design
from gradekit.design.trials import BIAS_SHARE, SLOPE_SHARE, next_trials
from gradekit.properties.calibrate.correct import calibrate
from gradekit.relations.evaluate import evaluate
from gradekit.relations.topics import CATALOGUE

_REACH = 4.0  # standard deviations of the works' heats about the aim, as for `next_trials`
_HEATS = 400
_ASKED = 0.95


class TrialWorks:
    """A works with a truth of its own about some relations.

    Parameters
    ----------
    design : Design
        The aim from which slopes count.
    seed : int
        Of the truth and of everything that is measured.

    Examples
    --------
    >>> brief = Brief({"Cr": (16, 20), "Ni": (6, 12), "N": (.02, .1), "C": (.02, .06), "Mn": (1, 2),
    ...                "Si": .5}, {"md30_nohara_1977": (None, 0)}, minimise="nickel",
    ...               conditions={"grain_size_astm": 8}, family="austenitic")
    >>> works = TrialWorks(design_grade(brief), seed=1)
    >>> sorted(works.bias)
    ['md30_nohara_1977']
    """

    def __init__(self, design: Design, seed: int):
        self._rng = np.random.default_rng(seed)
        self.brief, self.aim, self.scatter = design.brief, design.aim, _scatter(design)
        spans = {e: high - low for e, (low, high) in self.brief.box.items()}
        self._span = pd.Series({e: spans.get(e) or 1.0 for e in self.aim.index})
        self._limits = {
            n: ends for n, ends in self.brief.limits.items()
            if isinstance(n, str) and n in CATALOGUE
        }  # fmt: skip
        self._error: dict[str, float] = {}
        for name in self._limits:
            at = design.limits["value"][design.limits.index.str.startswith(name)].iloc[0]
            error = float(CATALOGUE[name].error_at(np.asarray(float(at))))
            if np.isfinite(error):
                self._error[name] = error
        errors, size = self._error.items(), (BIAS_SHARE * SLOPE_SHARE) ** 0.5
        #: What each relation reads low by at the aim.
        self.bias = {n: float(self._rng.normal(0, e * BIAS_SHARE**0.5)) for n, e in errors}
        self._slope = {n: self._rng.normal(0, e * size, len(self.aim)) for n, e in errors}

    @property
    def targets(self) -> dict[str, str]:
        """The column in which each relation is measured."""
        return {name: name for name in self._error}

    def true(self, heats: pd.DataFrame, name: str) -> np.ndarray:
        """Return the true value of each heat, unit of the relation."""
        value = evaluate(heats, name, **self.brief.conditions).values[name].to_numpy()
        if name not in self._error:
            return value
        apart = (heats[self.aim.index] - self.aim) / self._span
        return value + self.bias[name] + apart.to_numpy() @ self._slope[name]

    def measured(self, heats: pd.DataFrame) -> pd.DataFrame:
        """Melt and test heats: contents, `heat`, and a measured column a relation."""
        contents = heats[self.aim.index].reset_index(drop=True)
        table = contents.assign(heat=[f"T{k}" for k in range(1, len(heats) + 1)])
        for name, error in self._error.items():
            noise = self._rng.normal(0, error * (1 - BIAS_SHARE) ** 0.5, len(heats))
            read, scale = self.true(contents, name) + noise, CATALOGUE[name]
            table[name] = pd.Series(read).clip(scale.floor, scale.ceiling)  # as an instrument ends
        return table

    def share_inside(self, aim: pd.Series) -> float:
        """Return how many of 100 heats melted to an aim truly keep all limits on relations."""
        drawn = self._rng.normal(aim, self.scatter.reindex(aim.index).fillna(0), (_HEATS, len(aim)))
        heats = pd.DataFrame(drawn, columns=aim.index).clip(lower=0)
        kept = np.ones(len(heats), dtype=bool)
        for name, (low, high) in self._limits.items():
            value = self.true(heats, name)
            kept &= True if low is None else value >= low
            kept &= True if high is None else value <= high
        return float(kept.mean())


def _scatter(design: Design) -> pd.Series:
    """The standard deviation of each element among the heats of a works, wt%."""
    return pd.Series(np.sqrt(np.diag(design.problem.covariance)), index=design.aim.index)


def learnt(brief: Brief, tests: pd.DataFrame, targets: Mapping[str, str]) -> Brief:
    """Return the brief with the relations that tests have corrected.

    Parameters
    ----------
    brief : Brief
    tests : DataFrame
        Contents, `heat`, and a measured column a relation.
    targets : mapping of relation to column

    Returns
    -------
    Brief
        Its limits ask the corrected relations, within their published ranges.

    Raises
    ------
    InputError
        A target that the brief does not limit, or tests that cannot be read.

    Examples
    --------
    >>> brief = Brief(
    ...     {"C": (0.03, 0.07), "Cr": (17, 19), "Ni": (4, 8), "N": (0, 0.2)},
    ...     limits={"md30_nohara_1977": (None, 20)}, minimise="nickel",
    ...     conditions={"grain_size_astm": 8},
    ... )
    >>> tests = pd.DataFrame({"heat": ["T1", "T2", "T3"], "Cr": [17.8, 18, 18.3], "C": 0.05,
    ...     "Ni": [6.2, 6, 6.5], "N": 0.15, "Mn": 1.5, "Si": 0.4, "Md30_C": [-9, 2, -25]})
    >>> [own.name for own in learnt(brief, tests, {"md30_nohara_1977": "Md30_C"}).limits]
    ['md30_nohara_1977']
    """
    limits: dict = dict(brief.limits)
    for name, column in targets.items():
        one_of("target", name, limits, "a relation that the brief limits")
        asked = CATALOGUE[name].conditions
        given: dict[str, Any] = {c: v for c, v in brief.conditions.items() if c in asked}
        own = calibrate(name, tests, column, groups="heat", name=name, **given)
        # Three heats span hardly anything: the published range stays the one that binds.
        limits[own.variant(name, ranges=CATALOGUE[name].ranges)] = limits.pop(name)
    return replace(brief, limits=limits)


def plans(design: Design, n: int = 3, seed: int = 0) -> dict[str, pd.DataFrame]:
    """Return ways to melt `n` trial heats: chosen, at the aim, at random, and a factorial plan."""
    aim, box, reach = design.aim, design.brief.box, _REACH * _scatter(design)
    chosen = next_trials(design.brief, n=n, seed=seed).table[list(aim.index)]
    ends = pd.DataFrame({e: box.get(e, (0.0, 100.0)) for e in aim.index})
    low, high = ends.loc[0], ends.loc[1]
    rng = np.random.default_rng(seed)
    widest = (reach / (high - low).replace(0, np.inf)).sort_values(ascending=False).index[:2]
    signs = [(a, b) for a in (1, -1) for b in (1, -1)]
    factors = [
        pd.Series(dict(zip(widest, signs[k % 4], strict=False))).reindex(aim.index).fillna(0)
        for k in range(n)
    ]

    def inside(rows: list) -> pd.DataFrame:
        return pd.DataFrame(rows, columns=aim.index).clip(low, high, axis=1)

    return {
        "next_trials": chosen.reset_index(drop=True),
        "all at the aim": inside([aim] * n),
        "at random": inside([aim + reach * rng.uniform(-1, 1, len(aim)) for _ in range(n)]),
        "factorial": inside([aim + reach * factor for factor in factors]),
    }


def compare_plans(brief: Brief, truths: int, n: int = 3, seed: int = 0) -> pd.DataFrame:
    """Melt each plan in many invented works, and judge the aims that follow by their truth.

    Parameters
    ----------
    brief : Brief
    truths : int
    n : int
        Trial heats of each plan.
    seed : int

    Returns
    -------
    DataFrame, a row a plan
        `met` (share of works in which an aim was found), `inside` (share in which 95 of 100 heats
        truly keep the limits), `kept` (mean share of such heats), `cost` (mean objective) and
        `cost sd`.

    Raises
    ------
    InputError
        A brief that `next_trials` refuses.

    Examples
    --------
    >>> brief = Brief({"Cr": (16, 20), "Ni": (6, 12), "N": (.02, .1), "C": (.02, .06), "Mn": (1, 2),
    ...                "Si": .5}, {"md30_nohara_1977": (None, 0)}, minimise="nickel",
    ...               conditions={"grain_size_astm": 8}, family="austenitic")
    >>> compare_plans(brief, 1).index.tolist()
    ['no trial', 'next_trials', 'all at the aim', 'at random', 'factorial']
    """
    before = design_grade(brief)
    ways = plans(before, n, seed)
    rows = []
    for truth in range(truths):
        works = TrialWorks(before, seed * 100_003 + truth)
        rows.append(("no trial", True, works.share_inside(before.aim), before.cost))
        for plan, heats in ways.items():
            asked = learnt(brief, works.measured(heats), works.targets)
            design = design_grade(asked, heats=500)
            share = works.share_inside(design.aim) if design.feasible else np.nan
            rows.append((plan, design.feasible, share, design.cost))
    table = pd.DataFrame(rows, columns=["plan", "met", "kept", "cost"])
    table["inside"] = (table["kept"] >= _ASKED).where(table["met"])
    return (
        table.groupby("plan", sort=False)
        .agg(met=("met", "mean"), inside=("inside", "mean"), kept=("kept", "mean"),
             cost=("cost", "mean"), spread=("cost", "std"))
        .rename(columns={"spread": "cost sd"})
        .astype(float)
    )  # fmt: skip
