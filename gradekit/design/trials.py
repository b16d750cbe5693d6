"""Which trial heats would decide most: where measuring saves most of what doubt costs.

What a published relation reads wrong is taken as an offset and a slope in each element, normal
before any trial. A trial heat measures published value + what it reads wrong + scatter. How sure
one is afterwards does not depend on what comes out, so trials can be chosen before any is melted:
those that leave least doubt where the next aims would lie. K. Chaloner and I. Verdinelli, Bayesian
experimental design: a review, Statistical Science 10 (1995) 273-304.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import accumulate, product
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, TableLike
from gradekit.core.errors import InputError, said
from gradekit.core.markup import details, number, panel, table
from gradekit.design.backwards import design_grade
from gradekit.design.brief import Brief
from gradekit.design.prices import PricesLike
from gradekit.design.quantities import name_of
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
class _Beliefs:
    """What is believed of the errors of relations: normal, linear about a centre.

    Attributes
    ----------
    relations : list of Relation
    price : ndarray, shape (relations,)
        What a unit of its bound costs at the aim.
    heat : ndarray, shape (relations,)
        Standard deviation of its value from heat to heat.
    noise : ndarray, shape (relations,)
        Scatter of one trial about the relation once its bias is known.
    covariance : ndarray, shape (relations, 1 + elements, 1 + elements)
        Of the offset and of the slopes over a whole span.
    """

    relations: list[Relation]
    price: np.ndarray
    heat: np.ndarray
    noise: np.ndarray
    covariance: np.ndarray

    def after(self, row: np.ndarray) -> _Beliefs:
        """Return the beliefs once a heat with this row (1, distances) has been measured."""
        pull = self.covariance @ row
        outer = pull[:, :, None] * pull[:, None, :]
        left = self.covariance - outer / (pull @ row + self.noise**2)[:, None, None]
        return replace(self, covariance=left)

    def error(self, row: np.ndarray) -> np.ndarray:
        """Standard error of the corrected relations at a place."""
        return np.sqrt(self.covariance @ row @ row + self.noise**2)

    def guard(self, rows: np.ndarray, z: float) -> float:
        """Cost of all guard bands, the mean over places."""
        doubt = np.einsum("ki,nij,kj->kn", rows, self.covariance, rows)
        bands = z * np.sqrt(self.heat**2 + self.noise**2 + doubt)
        return float((bands @ self.price).mean())


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
    beliefs, z = _beliefs(start, now), now.problem.z or 1.0

    def redesigned(offsets: np.ndarray, errors: np.ndarray, sure: float = confidence) -> Design:
        """Design anew with relations that read higher by an offset and have another error."""
        changed = {
            r.name: r.variant(r.name, **(r.moved(float(offset)) | {"error": float(error)}))
            for r, offset, error in zip(beliefs.relations, offsets, errors, strict=True)
        }
        return design_grade(_with(own, changed), confidence=sure, heats=500, **asked)

    pool = _pool(start, plant, seed)
    rows = _rows(pool, start)
    rng = np.random.default_rng(seed)
    # aims that may come out once the relations are known, drawn from what is believed
    doubt = np.sqrt(beliefs.covariance[:, 0, 0])
    drawn = [redesigned(rng.normal(0.0, doubt), beliefs.noise, 0.95) for _ in range(_FUTURES)]
    aims = pd.DataFrame([start.aim, *(design.aim for design in drawn if design.feasible)])
    futures = _rows(aims, start)
    costs = _melting(pool, start, heat_t)
    chosen = choose(beliefs, rows, futures, z, n, budget, costs, _information(pool, terms))
    if not chosen:
        raise InputError("budget", f"at least {number(float(costs.min()), 4)}, one heat", budget)
    steps = [*accumulate(rows[chosen], _Beliefs.after, initial=beliefs)]
    heats = pool.iloc[chosen].set_axis([f"trial {k}" for k in range(1, len(chosen) + 1)])
    cost = {"melting cost": costs[chosen]} if np.isfinite(costs).all() else {}
    left = {"doubt left": [step.guard(futures, z) for step in steps[1:]]}
    here = np.eye(1, rows.shape[1])[0]
    final = steps[-1].error(here)
    units = [r.unit for r in beliefs.relations]
    errors = pd.DataFrame(
        {"now": beliefs.error(here), "after": final, "unit": units},
        pd.Index([r.name for r in beliefs.relations], name="relation"),
    )
    outcomes = _outcomes(beliefs, rows[chosen], heats, start, final, redesigned)
    after = redesigned(np.zeros(len(final)), final)
    return Trials(now, after, heats.assign(**cost, **left), errors, outcomes, tuple(notes))


def _with(brief: Brief, relations: Mapping[str, Relation]) -> Brief:
    """Return the brief with these relations in the place of those that it limits by name."""
    limits = {relations.get(name_of(key), key): span for key, span in brief.limits.items()}
    return replace(brief, limits=limits)


def _corrected(
    brief: Brief, tests: TableLike | None, targets: Mapping[str, str] | None, groups: Given
) -> tuple[Brief, list[str]]:
    """Return the brief with each tested relation in its calibrated form, under its own name."""
    if tests is None:
        return brief, []
    if not targets:
        raise InputError("targets", "given with tests, as {'md30_nohara_1977': 'Md30_C'}", targets)
    corrected: dict[str, Calibration] = {}
    for name, column in targets.items():
        given: dict[str, Any] = {
            c: v for c, v in brief.conditions.items() if c in CATALOGUE[name].conditions
        }
        own = calibrate(name, tests, column, groups, name=name, **given)
        assert isinstance(own, Calibration)
        corrected[name] = own
    return _with(brief, corrected), [own.sentence for own in corrected.values()]


def _beliefs(start: Design, now: Design) -> _Beliefs:
    """Return what is believed of each relation whose limit doubt makes dearer."""
    slopes = [SLOPE_SHARE] * len(start.brief.variables)
    dearest: dict[str, tuple] = {}
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
        if price > dearest.get(relation.name, (relation, 0.0))[1]:
            covariance = doubt * np.diag([1.0, *slopes])
            dearest[relation.name] = relation, price, row["heat scatter"], noise, covariance
    if not dearest:
        raise InputError("brief", "one in which a limit on a relation with a known error binds",
                         said("none that a trial could make cheaper"))  # fmt: skip
    relations, *numbers = zip(*dearest.values(), strict=True)
    return _Beliefs(list(relations), *map(np.array, numbers))


def _spans(brief: Brief) -> pd.Series:
    spans = {e: (high or 0.0) - (low or 0.0) for e, (low, high) in brief.box.items()}
    return pd.Series({e: spans.get(e) or 1.0 for e in brief.variables})


def _rows(heats: pd.DataFrame, start: Design) -> np.ndarray:
    """Return (1, distance from the aim in spans of each element) of heats."""
    apart = (heats[start.aim.index] - start.aim) / _spans(start.brief)
    return np.column_stack([np.ones(len(heats)), apart.to_numpy()])


def _pool(start: Design, plant: PlantLike | None, seed: int) -> pd.DataFrame:
    """Return heats that the works could melt as trials: the aim first, others around it."""
    from scipy.stats import qmc

    aim = start.aim
    reach = _REACH * start.problem.sd
    reach = np.where(reach > 0, reach, 0.05 * _spans(start.brief).to_numpy())
    share = qmc.Sobol(len(aim), rng=np.random.default_rng(seed)).random(_POOL)
    heats = np.vstack([aim.to_numpy(), aim.to_numpy() + (2 * share - 1) * reach])
    pool = pd.DataFrame(np.clip(heats, *start.problem.box()), columns=aim.index)
    pool.index = pd.Index([f"candidate {k}" for k in range(len(pool))], name="heat")
    route = assess_route(pool, plant)
    stopped = set(route.loc[route["verdict"] == "stop", "heat"]) - {pool.index[0]}
    return pool[~pool.index.isin(stopped)]


def _melting(pool: pd.DataFrame, start: Design, heat_t: float) -> np.ndarray:
    if start.prices is None:
        return np.full(len(pool), np.nan)
    return evaluate(pool, start.prices.cost).values.iloc[:, 0].to_numpy() * heat_t


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
    beliefs: _Beliefs,
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
    terms = np.zeros((len(rows), 0)) if regression is None else regression
    moments = 0.01 * np.eye(terms.shape[1])

    def left(at: int) -> float:
        """What is left of the doubt, or of the spread of a regression, after a heat."""
        if regression is None:
            return beliefs.after(rows[at]).guard(futures, z)
        return -float(np.linalg.slogdet(moments + np.outer(terms[at], terms[at]))[1])

    chosen: list[int] = []
    for _ in range(n):
        spent = costs[chosen].sum() + costs
        within = [k for k in range(len(rows)) if budget is None or spent[k] <= budget]
        if not within:
            break
        chosen.append(best := min(within, key=left))
        beliefs = beliefs.after(rows[best])
        moments = moments + np.outer(terms[best], terms[best])
    return chosen


def _outcomes(
    beliefs: _Beliefs,
    rows: np.ndarray,
    heats: pd.DataFrame,
    start: Design,
    errors: np.ndarray,
    redesigned: Callable[..., Design],
) -> pd.DataFrame:
    """Return what would follow if one relation came out a standard deviation low or high."""
    first = int(np.argmax(beliefs.price * beliefs.covariance[:, 0, 0]))
    relation, covariance = beliefs.relations[first], beliefs.covariance[first]
    given = {c: v for c, v in start.brief.conditions.items() if c in relation.conditions}
    read = evaluate(heats, relation, **given).values.iloc[:, 0]
    outcomes = []
    for (trial, row, expected), side in product(zip(heats.index, rows, read, strict=True), (-1, 1)):
        spread = side * float(np.sqrt(row @ covariance @ row + beliefs.noise[first] ** 2))
        offsets = np.zeros(len(errors))
        offsets[first] = covariance[0] @ row / spread
        design = redesigned(offsets, errors)
        outcomes.append(
            {
                "trial": trial,
                "relation": relation.name,
                "expected": expected,
                "outcome": expected + spread,
                "Ni of the next aim": design.aim.get("Ni") if design.feasible else np.nan,
                "objective": design.cost if design.feasible else np.nan,
                "decides": _decides(trial, relation, expected + spread, side, design, start),
            }
        )
    return pd.DataFrame(outcomes)


def _decides(
    trial: str, relation: Relation, outcome: float, side: int, design: Design, start: Design
) -> str:
    head = (
        f"If {relation.quantity} of {trial} comes out at {number(outcome, 3)} {relation.unit} "
        f"({'low' if side < 0 else 'high'} by one standard deviation)"
    )
    if not design.feasible:
        return f"{head}, no aim keeps the brief."
    apart = design.aim - start.aim
    most = apart.abs().sort_values(ascending=False).head(2).index
    moves = " and ".join(
        f"{e} {'falls' if apart[e] < 0 else 'rises'} to {number(design.aim[e], 3)} %" for e in most
    )
    return f"{head}, {moves}."
