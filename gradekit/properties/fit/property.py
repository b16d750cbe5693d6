"""A fitted property: a relation that knows its tests, its errors and its limits."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import cast

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, HeatsLike
from gradekit.core.flags import Flag
from gradekit.core.markup import number
from gradekit.heats.columns import amount
from gradekit.properties.conformal import Conformal, check_level, held_out_coverage
from gradekit.properties.fit import regression as rg
from gradekit.relations.declaration import Relation
from gradekit.relations.evaluate import Result, evaluate


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Fit(Relation):
    """A relation fitted to a user's tests: constant + coefficients x parts.

    Attributes
    ----------
    kind : str
        'ridge', 'Bayesian ridge', or 'recalibrated' with the name of a published relation.
    covariance : ndarray, shape (parts + 1, parts + 1)
        Of constant and coefficients.
    scatter : float
        Standard deviation of a test of a new heat about the true mean, unit of the relation.
    between : float
        Share of that variance that lies between heats.
    freedom : float
    furthest : float
        The largest leverage among the tests: the hull of the data.
    scores : DataFrame
        MAE, RMSE and bias on held-out groups with 90 % intervals, a row a candidate.
    held_out : DataFrame
        A row a test: group, fold, measured, predicted without its group, score.
    learning : DataFrame
        MAE on held-out groups of fits made on fewer groups.
    leakage : DataFrame
        The MAE that a split by rows would claim beside the one on whole groups.
    together : tuple of (term, term, correlation)
    influence : DataFrame
        A row a test: name, what is left of it, leverage, Cook's distance, its weight in a robust
        fit, and why it is named.
    robust : DataFrame
        Coefficients of Huber's fit, which outliers pull less.
    counts : mapping
    remarks : tuple of str
    verdict : str
        Whether the table supports the model at all.
    """

    kind: str
    covariance: np.ndarray
    scatter: float
    between: float
    freedom: float
    furthest: float
    scores: pd.DataFrame
    held_out: pd.DataFrame
    learning: pd.DataFrame
    leakage: pd.DataFrame
    together: tuple
    influence: pd.DataFrame
    robust: pd.DataFrame
    counts: dict
    remarks: tuple[str, ...]
    verdict: str

    @property
    def beta(self) -> dict[str, float]:
        """The constant, and the coefficient of each part."""
        raise NotImplementedError

    def parts(self, space: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
        """Return the amount of each part."""
        raise NotImplementedError

    @property
    def short(self) -> str:
        """The formula with four digits; `formula` has all of them."""
        constant, *slopes = self.beta.items()
        parts = [f"{'−' if c < 0 else '+'} {number(abs(c), 4)} × {name}" for name, c in slopes]
        return " ".join([number(constant[1], 4), *parts])

    @cached_property
    def conformal(self) -> Conformal:
        """The held-out scores, each group counting once."""
        return Conformal.of(self.held_out["score"], self.held_out["group"])

    @cached_property
    def coefficients(self) -> pd.DataFrame:
        """Coefficients with standard error, 90 % interval, the coefficient of a robust fit beside
        it, and what is to be said of each."""
        from scipy.stats import t

        names, value = list(self.beta), np.array(list(self.beta.values()))
        error = np.sqrt(np.diag(self.covariance))
        reach = t.ppf(0.95, self.freedom) * error
        words = [""]
        for term, slope, half in list(zip(names, value, reach, strict=True))[1:]:
            partners = [b if a == term else a for a, b, _ in self.together if term in (a, b)]
            if partners:
                said = f"moves together with {', '.join(partners)}: its own effect is not supported"
            elif any(r.startswith(f"{term} follows from") for r in self.remarks):
                said = "follows from several others: its own effect is not supported"
            else:
                said = "may be nothing: the interval holds 0" if abs(slope) < half else ""
            words.append(said)
        return pd.DataFrame(
            {
                "coefficient": value,
                "standard error": error,
                "low": value - reach,
                "high": value + reach,
                "robust": self.robust["coefficient"].reindex(names).to_numpy(),
                "remark": words,
            },
            index=pd.Index(names, name="term"),
        )

    @cached_property
    def folds(self) -> pd.DataFrame:
        """MAE, bias and number of tests of each held-out fold."""
        error = self.held_out["predicted"] - self.held_out["measured"]
        table = self.held_out.assign(MAE=error.abs(), bias=error)
        return table.groupby("fold").agg(
            groups=("group", "nunique"), tests=("group", "size"),
            MAE=("MAE", "mean"), bias=("bias", "mean"),
        )  # fmt: skip

    def coverage(self, levels: Iterable[float] = (0.5, 0.6, 0.7, 0.8, 0.9)) -> pd.Series:
        """Return the share of held-out tests inside the interval of each level.

        Each group is judged by the errors of the others, and counts once.
        """
        levels = list(levels)
        shares = held_out_coverage(self.held_out["score"], self.held_out["group"], levels)
        return pd.Series(shares, index=pd.Index(levels, name="level"), name="covered")

    def effects(self, level: float = 0.90, points: int = 25) -> pd.DataFrame:
        """Return what each input does over its range, the others in the middle of theirs.

        Returns
        -------
        DataFrame
            `input`, `x`, `effect` against the middle of the range, and its band `low`, `high`.
        """
        from scipy.stats import t

        check_level(level)
        ends = {n: self._ends.get(n, (0.0, 0.0)) for n in self.inputs}
        middle = {n: np.full(points, sum(both) / 2) for n, both in ends.items()}
        inputs = [n for n, both in ends.items() if np.ptp(both) > 0]
        slopes = np.array(list(self.beta.values())[1:])
        reach = t.ppf((1 + level) / 2, self.freedom)
        parts = []
        for name in inputs:
            x = np.linspace(*ends[name], points)
            here, base = self.parts({**middle, name: x}), self.parts(middle)
            moved = np.column_stack([here[k] - base[k] for k in base])
            effect, inner = moved @ slopes, self.covariance[1:, 1:]
            half = reach * np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", moved, inner, moved), 0))
            ends_of = {"low": effect - half, "high": effect + half}
            parts.append(pd.DataFrame({"input": name, "x": x, "effect": effect} | ends_of))
        return pd.concat(parts, ignore_index=True)

    def interval(self, heats: HeatsLike, level: float = 0.90, **conditions: Given) -> pd.DataFrame:
        """Return the value of each heat with an interval for one test of it.

        The interval is the quantile of the held-out errors, widened by the leverage. Where an
        input lies beyond its range, it is widened by at least the share of the range that it lies
        beyond: a rule of thumb, for no test tells whether the law stays straight out there.

        Parameters
        ----------
        heats : anything `as_batch` takes
            wt%.
        level : float
            Share of tests of new heats that lie inside, such as 0.90.
        **conditions
            As for `evaluate`.

        Returns
        -------
        DataFrame, indexed by heat
            `value`, `low`, `high` in the unit of the relation, `leverage` (variance of the fitted
            mean over that of a test) and `flag` in words, which says where a heat lies outside
            the data, and how many times wider its interval is than in their middle.

        Raises
        ------
        InputError
            Where the heats tested are too few for the level.

        Examples
        --------
        >>> rng = np.random.default_rng(2)
        >>> tests = pd.DataFrame({"heat": [f"H{i}" for i in range(30)],
        ...     "N": rng.uniform(.03, .2, 30)})
        >>> tests["proof_strength_MPa"] = 220 + 500 * tests.N + rng.normal(0, 3, 30)
        >>> from gradekit.properties.fit.fitted import fit_property
        >>> fit = fit_property(tests, "proof_strength_MPa", groups="heat")
        >>> ends = fit.interval({"inside": {"N": 0.1}, "outside": {"N": 0.4}})
        >>> print(ends.loc["outside", "flag"])  # doctest: +ELLIPSIS
        N 0.4 is above the range 0.0...; ...; interval ... times as wide
        """
        quantile = self.conformal.at(level)
        result = evaluate(heats, self, **conditions)
        value = result.values[self.name].to_numpy()
        space = self._space(result, value.shape)
        with np.errstate(all="ignore"):
            amounts = self.parts(space).values()
        x = np.column_stack([np.broadcast_to(a, value.shape) for a in amounts])
        reach = rg.leverage(x, self.covariance, self.scatter)
        reach = np.where(np.isnan(value), np.nan, reach)
        wider = np.maximum(np.sqrt(1.0 + reach), 1.0 + self._beyond(space, value.shape))
        half = quantile * self.scatter * wider
        words, flags = [], result.flags[self.name].to_numpy()
        for k, heat in enumerate(result.heats.index):
            parts = [result.words(heat, self.name)] if flags[k] else []
            if reach[k] > self.furthest:
                parts.append("a mixture of contents outside the hull of the data")
            if flags[k] & Flag.OUTSIDE_DATA or reach[k] > self.furthest:
                parts.append(f"interval {number(float(wider[k]), 2)} times as wide")
            words.append("; ".join(w for w in parts if w))
        return pd.DataFrame(
            {
                "value": value,
                "low": value - half,
                "high": value + half,
                "leverage": reach,
                "flag": words,
            },
            index=result.heats.index,
        )

    def _space(self, result: Result, shape: tuple) -> dict[str, np.ndarray]:
        """Return every element and condition that is needed, an unknown element as zero."""
        space = {name: amount(result.heats, name) for name in self.elements}
        if "Fe" in self.elements:
            space["Fe"] = 100.0 - np.nansum(result.heats.to_numpy(), axis=1)
        for name in self.conditions:
            space[name] = np.broadcast_to(result.conditions.get(name, np.nan), shape)
        return space

    @property
    def _ends(self) -> dict[str, tuple[float, float]]:
        """The ranges; tests have always given both ends."""
        return cast("dict[str, tuple[float, float]]", self.ranges)

    def _beyond(self, space: dict[str, np.ndarray], shape: tuple) -> np.ndarray:
        """Return how far outside its range the worst input lies, as a share of that range."""
        worst = np.zeros(shape)
        for name, (low, high) in self._ends.items():
            if name in self.inputs and high > low:  # leverage knows of inputs that move together
                worst = np.fmax(
                    worst, np.fmax(low - space[name], space[name] - high) / (high - low)
                )
        return worst

    def __repr__(self) -> str:
        return f"{self.title}: {self.short} {self.unit}. {self.verdict}"
