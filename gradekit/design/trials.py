"""Which trial heats would decide most: where measuring saves most of what doubt costs.

What a published relation reads wrong is taken as an offset and a slope in each element, normal
before any trial. A trial heat measures published value + what it reads wrong + scatter. How sure
one is afterwards does not depend on what comes out, so trials can be chosen before any is melted:
those that leave least doubt where the next aims would lie. K. Chaloner and I. Verdinelli, Bayesian
experimental design: a review, Statistical Science 10 (1995) 273-304.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, TableLike
from gradekit.core.errors import InputError, said
from gradekit.core.markup import details, number, panel, table
from gradekit.design.backwards import design_grade
from gradekit.design.brief import Brief
from gradekit.design.prices import PricesLike
from gradekit.design.result import Design
from gradekit.heats.scatter import ScatterLike
from gradekit.properties.calibrate.correct import calibrate
from gradekit.properties.calibrate.published import Calibration
from gradekit.relations.declaration import Relation
from gradekit.relations.evaluate import evaluate
from gradekit.relations.topics import CATALOGUE
from gradekit.works.plant import PlantLike
from gradekit.works.walk import assess_route

# Working rules of this library, for relations that no test of the works has corrected yet. A
# published standard error is part bias, the same in every heat of one works, and part scatter; the
# bias may differ across the space, by this share of its variance over the whole span of an element.
BIAS_SHARE = 0.7
SLOPE_SHARE = 0.3
# Aims that may come out, drawn from what is believed, and trial heats to choose from.
_FUTURES = 8
_POOL = 64
# Half-width of the space of trials, in standard deviations of the works' heats about the aim.
_REACH = 4.0
_HEAT_T = 60.0


@dataclass(frozen=True, eq=False)
class _Belief:
    """What is believed of the error of one relation: normal, linear about a centre.

    Attributes
    ----------
    relation : Relation
    price : float
        What a unit of its bound costs at the aim.
    heat : float
        Standard deviation of its value from heat to heat.
    noise : float
        Scatter of one trial about the relation once its bias is known.
    covariance : ndarray, shape (1 + elements, 1 + elements)
        Of the offset and of the slopes over a whole span.
    """

    relation: Relation
    price: float
    heat: float
    noise: float
    covariance: np.ndarray

    def after(self, row: np.ndarray) -> _Belief:
        """Return the belief once a heat with this row (1, distances) has been measured."""
        pull = self.covariance @ row
        left = self.covariance - np.outer(pull, pull) / (row @ pull + self.noise**2)
        return replace(self, covariance=left)

    def error(self, row: np.ndarray) -> float:
        """Standard error of the corrected relation at a place."""
        return float(np.sqrt(row @ self.covariance @ row + self.noise**2))

    def guard(self, rows: np.ndarray, z: float) -> float:
        """Mean cost of the guard band over places."""
        doubt = np.einsum("ki,ij,kj->k", rows, self.covariance, rows)
        return float(self.price * z * np.sqrt(self.heat**2 + self.noise**2 + doubt).mean())


@dataclass(frozen=True, eq=False, repr=False)
class Trials:
    """Trial heats and what each would decide; made by `next_trials`.

    Attributes
    ----------
    now : Design
        The aim as sure as one is today.
    after : Design
        The aim if every trial confirms the relations.
    table : DataFrame
        A row a trial: contents in wt%, `melting cost` of the heat where there are prices, and
        `doubt left`: what the guard bands still cost after it, per tonne.
    errors : DataFrame
        A row a relation: standard error at the aim `now` and `after` all trials.
    outcomes : DataFrame
        A row a trial and outcome one standard deviation low or high: `expected`, `outcome`, and
        what the next aim would be.
    notes : tuple of str
    """

    now: Design
    after: Design
    table: pd.DataFrame
    errors: pd.DataFrame
    outcomes: pd.DataFrame
    notes: tuple[str, ...]

    @cached_property
    def saving(self) -> float:
        """What the objective falls by if the trials confirm the relations, per tonne."""
        if not (self.now.feasible and self.after.feasible):
            return float("nan")
        return float(self.now.cost - self.after.cost)

    @property
    def sentence(self) -> str:
        """What the trials are worth, in a sentence."""
        count = len(self.table)
        heats = "one trial heat" if count == 1 else f"{count} trial heats"
        if not self.now.feasible:
            text = "can be met" if self.after.feasible else "can still not be met"
            return f"As unsure as one is, no aim keeps the brief; after {heats} it {text}."
        less = number(self.saving, 3)
        falls = f"the objective falls by {less}"
        if self.now.prices is not None:
            falls = f"the aim costs {less} {self.now.unit} less"
        text = f"If {heats} confirm the relations, {falls}"
        if "melting cost" in self.table and self.saving > 0:
            tonnes = self.table["melting cost"].sum() / self.saving
            text += f"; melting them pays back after {number(tonnes, 3)} t"
        return f"{text}."

    @property
    def decides(self) -> list[str]:
        """What each outcome would decide, in sentences."""
        return self.outcomes["decides"].tolist()

    def __repr__(self) -> str:
        return self.sentence

    def _repr_html_(self) -> str:
        shown = self.outcomes.drop(columns="decides")
        return panel(
            table(self.table, "Trial heats, wt%"),
            *self.decides,
            details("What would follow from each outcome", table(shown, "Outcomes")),
            details(
                "How much doubt the trials take",
                table(self.errors, "Standard error of each relation at the aim"),
            ),
            *self.notes,
            lead=self.sentence,
        )


def next_trials(
    brief: Brief,
    tests: TableLike | None = None,
    n: int = 3,
    budget: float | None = None,
    *,
    targets: Mapping[str, str] | None = None,
    groups: Given = None,
    prices: PricesLike | None = None,
    scatter: ScatterLike | None = None,
    confidence: float = 0.95,
    plant: PlantLike | None = None,
    heat_t: float = _HEAT_T,
    terms: tuple[str, ...] | list[str] = (),
    seed: int = 0,
) -> Trials:
    """Choose the trial heats that would take most of the doubt between a brief and its aim.

    Parameters
    ----------
    brief : Brief
    tests : DataFrame, optional
        What was measured already: contents and measured columns, named by `targets`; each such
        relation is calibrated first.
    n : int
        Trial heats.
    budget : float, optional
        Most that melting them may cost, in the money of `prices`.
    targets : mapping of relation name to column of `tests`
    groups : as for `gk.calibrate`
    prices, scatter, confidence : as for `gk.design_grade`
    plant : as for `gk.assess_route`
        A trial that the works cannot make ('stop') is not proposed.
    heat_t : float
        Mass of a trial heat, t.
    terms : elements or products, optional
        Instead of the brief's doubt, choose the heats from which a regression with these terms
        would come out best determined (D-optimal).
    seed : int

    Returns
    -------
    Trials
        `.table`, `.errors`, `.decides`, `.saving`, `.now` and `.after` (designs).

    Raises
    ------
    InputError
        A brief in which no relation with a known error binds, or that cannot be met even without
        guard bands; tests without `targets`.

    Notes
    -----
    Trials are chosen one after the other, each the best beside those before it.

    Examples
    --------
    >>> brief = Brief({"C": (.02, .08), "Si": .5, "Mn": (1, 2), "Cr": (17, 19), "Ni": (6, 12),
    ...                "N": (.02, .1), "Mo": (.02, .5), "Cu": (.05, 1), "Nb": 0.0},
    ...               {"md30_nohara_1977": (None, 0)}, minimise="nickel",
    ...               conditions={"grain_size_astm": 8})
    >>> trials = next_trials(brief, n=1, seed=1)
    >>> trials.errors.loc["md30_nohara_1977", "now"], bool(trials.saving > 0)
    (np.float64(18.0), True)
    """
    own, notes = _corrected(brief, tests, targets, groups)
    asked: dict[str, Any] = {"prices": prices, "scatter": scatter}
    now = design_grade(own, confidence=confidence, **asked)
    start = now if now.feasible else design_grade(own, confidence=None, **asked)
    if not start.feasible:
        raise InputError("brief", "one that can be met without guard bands", said(start.headline))
    aim = start.aim
    beliefs, z = _beliefs(own, start, now)
    spans = _spans(own)
    pool = _pool(own, start, plant, seed)
    rows = _rows(pool, aim, spans)
    futures = _rows(_futures(own, beliefs, start, asked, seed), aim, spans)
    costs = _melting(pool, start, heat_t)
    chosen = choose(beliefs, rows, futures, z, n, budget, costs, _information(pool, terms))
    if not chosen:
        raise InputError("budget", f"at least {number(float(costs.min()), 4)}, one heat", budget)
    steps = [list(beliefs.values())]
    for at in chosen:
        steps.append([b.after(rows[at]) for b in steps[-1]])
    here = np.zeros(rows.shape[1])
    here[0] = 1.0
    final = {b.relation.name: b.error(here) for b in steps[-1]}
    after = _redesigned(own, {n: (0.0, e) for n, e in final.items()}, confidence, asked)
    frame = pool.iloc[chosen].set_axis([f"trial {k}" for k in range(1, len(chosen) + 1)])
    if np.isfinite(costs).all():
        frame = frame.assign(**{"melting cost": costs[chosen]})
    frame = frame.assign(**{"doubt left": [sum(b.guard(futures, z) for b in s) for s in steps[1:]]})
    errors = pd.DataFrame(
        {
            "now": {b.relation.name: b.error(here) for b in steps[0]},
            "after": final,
            "unit": {b.relation.name: b.relation.unit for b in steps[0]},
        }
    ).rename_axis("relation")
    outcomes = _outcomes(own, beliefs, rows, chosen, pool, start, confidence, asked, final)
    return Trials(now, after, frame, errors, outcomes, tuple(notes))


def _corrected(
    brief: Brief, tests: TableLike | None, targets: Mapping[str, str] | None, groups: Given
) -> tuple[Brief, list[str]]:
    """Return the brief with each tested relation in its calibrated form, under its own name."""
    if tests is None:
        return brief, []
    if not targets:
        raise InputError("targets", "given with tests, as {'md30_nohara_1977': 'Md30_C'}", targets)
    limits, notes = dict(brief.limits), []
    for name, column in targets.items():
        given: dict[str, Any] = {
            c: v for c, v in brief.conditions.items() if c in CATALOGUE[name].conditions
        }
        own = calibrate(name, tests, column, groups, name=name, **given)
        assert isinstance(own, Calibration)
        notes.append(own.sentence)
        if name in limits:
            limits[own] = limits.pop(name)
    return replace(brief, limits=limits), notes


def _beliefs(brief: Brief, start: Design, now: Design) -> tuple[dict[str, _Belief], float]:
    """Return what is believed of each relation whose limit doubt makes dearer."""
    size = 1 + len(brief.variables)
    beliefs: dict[str, _Belief] = {}
    for constraint in start.problem.constraints:
        relation = constraint.quantity.relation
        if constraint.kind != "limit" or relation is None:
            continue
        row = start.limits.loc[constraint.label]
        error = float(relation.error_at(np.asarray(row["value"])))
        price = float(row["shadow price"]) if now.feasible else 1.0
        if not np.isfinite(error) or error <= 0 or not price > 0:
            continue
        if isinstance(relation, Calibration):
            noise, doubt = relation.correction.scatter, float(relation.covariance.iloc[0, 0])
        else:
            noise, doubt = error * np.sqrt(1 - BIAS_SHARE), error**2 * BIAS_SHARE
        covariance = np.diag([doubt, *[SLOPE_SHARE * doubt] * (size - 1)])
        belief = _Belief(relation, price, float(row["heat scatter"]), noise, covariance)
        known = beliefs.get(relation.name)
        if known is None or known.price < price:
            beliefs[relation.name] = belief
    if not beliefs:
        raise InputError("brief", "one in which a limit on a relation with a known error binds",
                         said("none that a trial could make cheaper"))  # fmt: skip
    return beliefs, (now.problem.z or 1.0)


def _spans(brief: Brief) -> pd.Series:
    spans = {e: (high or 0.0) - (low or 0.0) for e, (low, high) in brief.box.items()}
    return pd.Series({e: spans.get(e) or 1.0 for e in brief.variables})


def _rows(heats: pd.DataFrame, aim: pd.Series, spans: pd.Series) -> np.ndarray:
    """Return (1, distance from the aim in spans of each element) of heats."""
    apart = (heats[aim.index] - aim) / spans[aim.index]
    return np.column_stack([np.ones(len(heats)), apart.to_numpy()])


def _pool(brief: Brief, start: Design, plant: PlantLike | None, seed: int) -> pd.DataFrame:
    """Return heats that the works could melt as trials: the aim first, others around it."""
    from scipy.stats import qmc

    aim = start.aim
    reach = _REACH * np.sqrt(np.diag(start.problem.covariance))
    reach = np.where(reach > 0, reach, 0.05 * _spans(brief).to_numpy())
    low, high = start.problem.box()
    share = qmc.Sobol(len(aim), rng=np.random.default_rng(seed)).random(_POOL)
    heats = np.vstack([aim.to_numpy(), aim.to_numpy() + (2 * share - 1) * reach])
    pool = pd.DataFrame(np.clip(heats, low, high), columns=aim.index)
    pool.index = pd.Index([f"candidate {k}" for k in range(len(pool))], name="heat")
    route = assess_route(pool, plant)
    stopped = set(route.loc[route["verdict"] == "stop", "heat"])
    kept = [h for h in pool.index if h not in stopped or h == pool.index[0]]
    return pool.loc[kept]


def _futures(
    brief: Brief, beliefs: dict[str, _Belief], start: Design, asked: dict, seed: int
) -> pd.DataFrame:
    """Return aims that may come out once the relations are known, drawn from what is believed."""
    rng = np.random.default_rng(seed)
    aims = [start.aim]
    for _ in range(_FUTURES):
        moved = {
            n: (float(rng.normal(0.0, np.sqrt(b.covariance[0, 0]))), b.noise)
            for n, b in beliefs.items()
        }
        design = _redesigned(brief, moved, 0.95, asked)
        if design.feasible:
            aims.append(design.aim)
    return pd.DataFrame(aims)


def _redesigned(
    brief: Brief,
    moved: dict[str, tuple[float, float]],
    confidence: float,
    asked: dict,
) -> Design:
    """Design anew with relations that read higher by an offset and have another error."""
    limits: dict[str | Relation, Any] = {}
    for key, span in brief.limits.items():
        name = key.name if isinstance(key, Relation) else key
        if name in moved:
            offset, error = moved[str(name)]
            base = key if isinstance(key, Relation) else CATALOGUE[str(name)]
            changes = base.moved(offset) | {"error": error}
            limits[base.variant(base.name, **changes)] = span
        else:
            limits[key] = span
    return design_grade(replace(brief, limits=limits), confidence=confidence, heats=500, **asked)


def _melting(pool: pd.DataFrame, start: Design, heat_t: float) -> np.ndarray:
    if start.prices is None:
        return np.full(len(pool), np.nan)
    cost = start.prices.relations["alloy_cost"]
    return evaluate(pool, cost).values.iloc[:, 0].to_numpy() * heat_t


def _information(pool: pd.DataFrame, terms: Iterable[str] | None) -> np.ndarray | None:
    """Return the standardised columns of a regression, for a D-optimal choice."""
    names = list(terms) if terms else []
    if not names:
        return None
    from gradekit.properties.fit.table import probe

    amounts = probe(names).term_values({e: pool[e].to_numpy() for e in pool})
    x = np.column_stack([amounts[t] for t in names])
    spread = x.std(axis=0)
    if (spread == 0).any():
        dull = ", ".join(t for t, s in zip(names, spread, strict=True) if s == 0)
        raise InputError("terms", "different among the heats that can be tried", dull)
    return np.column_stack([np.ones(len(x)), (x - x.mean(axis=0)) / spread])


def choose(
    beliefs: dict[str, _Belief],
    rows: np.ndarray,
    futures: np.ndarray,
    z: float,
    n: int,
    budget: float | None,
    costs: np.ndarray,
    regression: np.ndarray | None,
) -> list[int]:
    """Return the places of the trial heats in the pool, one after the other, each the best."""
    if isinstance(n, bool) or not isinstance(n, int) or n < 1:
        raise InputError("n", "how many trial heats, 1 or more", n)
    if budget is not None and np.isnan(costs).any():
        raise InputError("prices", "given with a budget", None)
    state, chosen = list(beliefs.values()), []
    spent = 0.0
    moments = None if regression is None else 0.01 * np.eye(regression.shape[1])
    for _ in range(n):
        best, least = -1, np.inf
        for at in range(len(rows)):
            if budget is not None and spent + costs[at] > budget:
                continue
            if moments is not None and regression is not None:
                more = moments + np.outer(regression[at], regression[at])
                value = -float(np.linalg.slogdet(more)[1])
            else:
                value = sum(b.after(rows[at]).guard(futures, z) for b in state)
            if value < least - 1e-12:
                best, least = at, value
        if best < 0:
            break
        chosen.append(best)
        spent += float(np.nan_to_num(costs[best]))
        state = [b.after(rows[best]) for b in state]
        if moments is not None and regression is not None:
            moments = moments + np.outer(regression[best], regression[best])
    return chosen


def _outcomes(
    brief: Brief,
    beliefs: dict[str, _Belief],
    rows: np.ndarray,
    chosen: list[int],
    pool: pd.DataFrame,
    start: Design,
    confidence: float,
    asked: dict,
    final: dict[str, float],
) -> pd.DataFrame:
    """Return what would follow if one relation came out a standard deviation low or high."""
    first = max(beliefs.values(), key=lambda b: b.price * b.covariance[0, 0])
    name, relation = first.relation.name, first.relation
    given = {c: v for c, v in brief.conditions.items() if c in relation.conditions}
    outcomes = []
    for k, at in enumerate(chosen, 1):
        row = rows[at]
        expected = float(evaluate(pool.iloc[[at]], relation, **given).values.iat[0, 0])
        spread = float(np.sqrt(row @ first.covariance @ row + first.noise**2))
        gain = float(first.covariance[0] @ row) / spread**2
        for side, word in ((-1, "low"), (1, "high")):
            shift = gain * side * spread
            moved = {n: (shift if n == name else 0.0, e) for n, e in final.items()}
            design = _redesigned(brief, moved, confidence, asked)
            outcome = expected + side * spread
            outcomes.append(
                {
                    "trial": f"trial {k}",
                    "relation": name,
                    "expected": expected,
                    "outcome": outcome,
                    "Ni of the next aim": design.aim.get("Ni") if design.feasible else np.nan,
                    "objective": design.cost if design.feasible else np.nan,
                    "decides": _decides(k, relation, outcome, word, design, start),
                }
            )
    return pd.DataFrame(outcomes)


def _decides(
    k: int, relation: Relation, outcome: float, word: str, design: Design, start: Design
) -> str:
    head = (
        f"If {relation.quantity} of trial {k} comes out at {number(outcome, 3)} {relation.unit} "
        f"({word} by one standard deviation)"
    )
    if not design.feasible:
        return f"{head}, no aim keeps the brief."
    apart = (design.aim - start.aim).drop(labels=["Fe"], errors="ignore")
    most = apart.abs().sort_values(ascending=False).head(2).index
    moves = " and ".join(
        f"{e} {'falls' if apart[e] < 0 else 'rises'} to {number(design.aim[e], 3)} %" for e in most
    )
    return f"{head}, {moves}."
