"""A published relation with the correction that a works' own measurements call for."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np
import pandas as pd

from gradekit.core.markup import details, number, panel, table
from gradekit.properties.calibrate.pairs import Pairs
from gradekit.properties.calibrate.posterior import Posterior, posterior
from gradekit.relations.declaration import Check, Function, Linear, Relation

#: Standard deviation that a slope may have before any test: a published relation rarely grows by
#: more than half as much again, or half as little (twice this), from one works to another. A
#: working rule of this library.
SLOPE_PRIOR = 0.25
#: The same for a coefficient of a sum, as a share of the published one.
COEFFICIENT_PRIOR = 0.3
LEVEL = 0.90


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Calibration(Relation):
    """A published relation corrected by tests; made by `calibrate`.

    Attributes
    ----------
    published : Relation
    correction : Posterior
        Of the columns of `names`.
    names : tuple of str
        'offset', then 'slope' and terms where they were asked for.
    prior : ndarray, shape (columns,)
        Standard deviation of each before any test.
    centre : mapping of column to number
        Middle of the tests, from which slope and terms count, so that the offset is what the
        published relation reads wrong among these tests.
    tests : DataFrame
        A row a test: `heat`, `measured`, `published`, `corrected`, and `left out`: the corrected
        value by the other heats alone.
    densities : Series
        Logarithm of the probability density of the tests of each heat, given those of the others.
    notes : tuple of str
    """

    published: Relation
    correction: Posterior
    names: tuple[str, ...]
    prior: np.ndarray
    centre: Mapping[str, float]
    tests: pd.DataFrame
    densities: pd.Series
    notes: tuple[str, ...]

    @cached_property
    def coefficients(self) -> pd.DataFrame:
        """Each part of the correction with its 90 % interval and what it could be before."""
        rows = [self.correction.interval(unit, LEVEL) for unit in np.eye(len(self.names))]
        frame = pd.DataFrame(rows, columns=["value", "low", "high"], index=list(self.names))
        return frame.assign(prior=self.prior).rename_axis("part")

    @property
    def offset(self) -> pd.Series:
        """What is to be added in the middle of the tests: `value`, `low`, `high` (90 %), its unit
        that of the relation."""
        return self.coefficients.loc["offset", ["value", "low", "high"]]

    @property
    def covariance(self) -> pd.DataFrame:
        """Covariance of the parts of the correction."""
        return pd.DataFrame(self.correction.covariance, self.names, self.names)

    @cached_property
    def errors(self) -> pd.DataFrame:
        """MAE, RMSE and bias (calculated - measured), uncorrected and corrected by other heats.

        Each heat counts once.
        """
        columns = {"published": "published", "corrected": "left out"}
        return pd.DataFrame({k: errors_by_heat(self.tests, c) for k, c in columns.items()}).T

    @property
    def sentence(self) -> str:
        """What the tests say, in words."""
        value, low, high = self.offset
        heats = self.tests["heat"].nunique()
        who = f"Your {heats} heats" if heats > 1 else "Your one heat"
        half = f"{number(abs(value), 2)} ± {number((high - low) / 2, 2)} {self.unit}"
        if low <= 0 <= high:
            text = f"{who} do not show that {self.published.title} reads wrong ({half})"
        else:
            text = f"{who} say {self.published.title} reads {half} {'low' if value > 0 else 'high'}"
        spans = ", ".join(
            f"{name} {number(low, 3)} to {number(high, 3)}"
            for name, (low, high) in self.ranges.items()
            if name in self.published.required and low is not None and high is not None
        )
        return f"{text}. Outside {spans} you have no heat." if spans else f"{text}."

    def __repr__(self) -> str:
        return self.sentence

    def _repr_html_(self) -> str:
        errors = f"Error on heats that the correction did not see, {self.unit}"
        return panel(
            table(self.coefficients, "What was learnt from the tests"),
            details("What it is worth", table(self.errors, errors)),
            lead=self.sentence,
        )


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class CalibratedSum(Calibration, Linear):
    """A published sum with a correction, itself a sum."""


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class CalibratedFunction(Calibration, Function):
    """A published formula that is no sum, with a correction."""


def errors_by_heat(tests: pd.DataFrame, column: str) -> pd.Series:
    """Return MAE, RMSE and bias (calculated - measured) of a column, each heat counting once."""
    error = tests[column] - tests["measured"]
    each = pd.DataFrame({"MAE": error.abs(), "RMSE": error**2, "bias": error})
    mean = each.groupby(tests["heat"]).mean().mean()
    return mean.where(mean.index != "RMSE", np.sqrt(mean["RMSE"]))


def calibration_of(
    relation: Relation,
    pairs: Pairs,
    slope: bool,
    terms: tuple[str, ...],
    notes: Iterable[str],
    name: str | None = None,
) -> Calibration:
    """Return the relation with the correction that these tests call for."""
    names = ("offset", *(["slope"] if slope else []), *terms)
    residual = pairs.y - pairs.published
    expected = _expected(relation, pairs, residual)
    amounts = {"offset": np.ones_like(pairs.y), "slope": pairs.published} | pairs.columns
    centre = {n: 0.0 if n == "offset" else float(amounts[n].mean()) for n in names}
    columns = np.column_stack([amounts[n] - centre[n] for n in names])
    prior = np.array(
        [_prior(n, relation, expected, c) for n, c in zip(names, columns.T, strict=True)]
    )
    labels, at = np.unique(pairs.heats, return_inverse=True)
    after = posterior(columns, residual, at, prior, expected)
    others = [
        posterior(columns[rest], residual[rest], at[rest], prior, expected)
        for rest in (at != h for h in range(len(labels)))
    ]
    held = np.array([others[h].mean for h in at])
    tests = pd.DataFrame(
        {
            "heat": pairs.heats,
            "measured": pairs.y,
            "published": pairs.published,
            "corrected": pairs.published + columns @ after.mean,
            "left out": pairs.published + (columns * held).sum(axis=1),
        }
    )
    densities = pd.Series([after.evidence - o.evidence for o in others], labels, name="density")
    kind, form = _form(relation, dict(zip(names, after.mean, strict=True)), centre)
    spans = {k: (float(v.min()), float(v.max())) for k, v in pairs.columns.items()}
    size = float(np.sqrt(after.scatter**2 + after.covariance[0, 0]))
    known = {f.name: getattr(relation, f.name) for f in fields(Relation)}
    known |= {
        "name": name or f"{relation.name}_calibrated",
        "title": f"{relation.title}, corrected by {len(labels)} heats",
        "status": "fitted by the user",
        "source": (*relation.source, "the user's own tests"),
        "ranges": dict(relation.ranges) | spans,
        "domain": "the tests that corrected it",
        "fitted": True,
        "error": size,
        "error_basis": f"tests of {len(labels)} heats: their scatter and the doubt of the offset",
    }
    known["check"] = _check(relation, pairs, tests["corrected"].to_numpy())
    return kind(
        **known, **form, published=relation, correction=after, names=names, prior=prior,
        centre=centre, tests=tests, densities=densities, notes=(*notes, *pairs.left_out),
    )  # fmt: skip


def _expected(relation: Relation, pairs: Pairs, residual: np.ndarray) -> float:
    """Return the published error at these tests; where none is known, the size of what is left."""
    sizes = relation.error_at(pairs.published)
    if np.isfinite(sizes).any():
        return float(np.nanmedian(sizes))
    return float(max(np.sqrt(np.mean(residual**2)), 1e-6 * max(1.0, np.abs(pairs.y).max())))


def _prior(name: str, relation: Relation, expected: float, column: np.ndarray) -> float:
    """Return the standard deviation that a part of the correction may have before any test."""
    if name in ("offset", "slope"):
        return expected if name == "offset" else SLOPE_PRIOR
    own = abs(relation.terms.get(name, 0.0)) if isinstance(relation, Linear) else 0.0
    return COEFFICIENT_PRIOR * own or expected / (2.0 * float(column.std()) or 1.0)


def _form(
    relation: Relation, values: dict[str, float], centre: Mapping[str, float]
) -> tuple[type[Calibration], dict]:
    """Return the corrected formula in the form of the published one."""
    factor = 1.0 + values.pop("slope", 0.0)
    constant = values.pop("offset") + (1.0 - factor) * centre.get("slope", 0.0)
    constant -= sum(v * centre[n] for n, v in values.items())
    kind = CalibratedSum if isinstance(relation, Linear) else CalibratedFunction
    return kind, relation.moved(constant, factor, values)


def _check(relation: Relation, pairs: Pairs, corrected: np.ndarray) -> Check:
    """Return the corrected value of the test in the middle."""
    one = int(np.argmin(np.abs(pairs.y - np.median(pairs.y))))
    given = {n: float(c[one]) for n, c in pairs.columns.items()}
    value = float(np.clip(corrected[one], relation.floor, relation.ceiling))
    return Check(
        {n: v for n, v in given.items() if n not in relation.conditions},
        value,
        conditions={n: v for n, v in given.items() if n in relation.conditions},
        tolerance=1e-6 * max(1.0, abs(value)),
    )
