"""Several published forms of one quantity, each with the weight that a works' heats give it.

Each heat is foretold from the others by every form (leave-one-out predictive density); the forms
are weighted as the parts of a mixture of these densities: Y. Yao, A. Vehtari, D. Simpson and
A. Gelman, Using stacking to average Bayesian predictive distributions, Bayesian Analysis 13 (2018)
917-1003. The best weights of a few heats alone are all or nothing, so the weights have a prior, and
their mean and interval are drawn by data augmentation: J. Diebolt and C. P. Robert, Estimation of
finite mixture distributions through Bayesian sampling, J. R. Stat. Soc. B 56 (1994) 363-375.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError, said
from gradekit.core.markup import details, number, panel, table
from gradekit.properties.calibrate.posterior import posterior
from gradekit.properties.calibrate.published import LEVEL, Calibration, errors_by_heat
from gradekit.relations.declaration import Check, Function, Relation

_DRAWS, _WARM = 4000, 200
# Before any test all forms together are worth the vote of one heat, shared equally (heuristic): two
# heats outweigh it, and one heat alone never rules a published form out.
_PRIOR_HEATS = 1.0
_SHOWN = 0.005
_LEAST_WEIGHT = 1e-4  # a form below it is left out of the formula


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class Stack(Function):
    """A weighted sum of calibrated relations of one quantity; made by `calibrate`.

    Attributes
    ----------
    members : tuple of Calibration
    weights : DataFrame
        A row a published form: `weight` with `low`, `high` (90 %), its own `offset`, `RMSE` on
        heats left out before (`published`) and after (`corrected`), `remark`.
    tests : DataFrame
        `heat`, `measured`, `published` (weighted), `corrected`, `left out`.
    offset : Series
        What is to be added to the weighted published forms: `value`, `low`, `high` (90 %).
    """

    members: tuple[Calibration, ...]
    weights: pd.DataFrame
    tests: pd.DataFrame
    offset: pd.Series

    @cached_property
    def errors(self) -> pd.DataFrame:
        """RMSE and bias (calculated - measured) on heats left out, a row a form and the stack."""
        rows = {m.published.name: m.errors.loc["corrected"] for m in self.members}
        rows["together"] = errors_by_heat(self.tests, "left out")
        return pd.DataFrame(rows).T[["RMSE", "bias"]]

    @property
    def sentence(self) -> str:
        """What the tests say, in words."""
        heats = self.tests["heat"].nunique()
        first, *rest = (
            self.weights[self.weights["weight"] > 0]
            .sort_values("weight", ascending=False)
            .itertuples()
        )
        text = (
            f"Your {heats} heats give {first.Index} a weight of {number(first.weight, 2)} "
            f"({number(first.low, 2)} to {number(first.high, 2)})"
        )
        others = ", ".join(f"{r.Index} {number(r.weight, 2)}" for r in rest if r.weight > _SHOWN)
        return f"{text}{'; ' + others if others else ''}."

    def __repr__(self) -> str:
        return self.sentence

    def _repr_html_(self) -> str:
        errors = table(self.errors, f"Error on heats left out, {self.unit}")
        weights = table(self.weights, "What each form weighs", wide=["remark"])
        return panel(weights, details("What it is worth", errors), lead=self.sentence)


def stacking_weights(densities: np.ndarray, seed: int = 0) -> np.ndarray:
    """Return draws of the weights of the forms, given how well each foretells every heat.

    Parameters
    ----------
    densities : ndarray, shape (heats, forms)
        Logarithms.

    Returns
    -------
    ndarray, shape (draws, forms)
        Each draw sums to one.

    Examples
    --------
    >>> draws = stacking_weights(np.log([[0.9, 0.1], [0.8, 0.1], [0.1, 0.4]]))
    >>> draws.mean(axis=0).round(1).tolist()
    [0.7, 0.3]
    """
    rng = np.random.default_rng(seed)
    relative = np.exp(densities - densities.max(axis=1, keepdims=True))
    forms = relative.shape[1]
    weights = np.full(forms, 1.0 / forms)
    draws = np.empty((_WARM + _DRAWS, forms))
    for draw in draws:
        # Which form each heat goes to, then the weights that so many heats leave.
        share = np.cumsum(relative * weights, axis=1)
        goes_to = (share < rng.random((len(share), 1)) * share[:, -1:]).sum(axis=1)
        heats = np.bincount(goes_to, minlength=forms)
        draw[:] = weights = rng.dirichlet(heats + _PRIOR_HEATS / forms)
    return draws[_WARM:]


def stack_of(
    quantity: str,
    members: Sequence[Calibration],
    refused: Mapping[str, str],
    name: str | None = None,
    seed: int = 0,
) -> Stack:
    """Return the weighted sum of calibrated forms; `refused` says why others have no vote."""
    if not members:
        reasons = "; ".join(f"{n}: {r}" for n, r in refused.items())
        raise InputError(f"forms of {quantity}", "at least one that holds for the tests",
                         said(reasons))  # fmt: skip
    densities = np.column_stack([m.densities.to_numpy() for m in members])
    draws = stacking_weights(densities, seed)
    weights = draws.mean(axis=0)
    low, high = np.quantile(draws, [(1 - LEVEL) / 2, (1 + LEVEL) / 2], axis=0).round(3)
    rows = {
        m.published.name: (w, lo, hi, *m.offset, *m.errors["RMSE"], "; ".join(m.notes))
        for m, w, lo, hi in zip(members, weights, low, high, strict=True)
    }
    nothing = (np.nan,) * 5
    rows |= {n: (0.0, 0.0, 0.0, *nothing, reason) for n, reason in refused.items()}
    columns = ["weight", "low", "high", "offset", "offset low", "offset high"]
    columns += ["RMSE published", "RMSE corrected", "remark"]
    frame = pd.DataFrame.from_dict(rows, orient="index", columns=columns).rename_axis("form")

    kept = [(m, w) for m, w in zip(members, weights, strict=True) if w >= _LEAST_WEIGHT]
    whole = sum(w for _, w in kept)
    kept = [(m, w / whole) for m, w in kept]
    tests = members[0].tests[["heat", "measured"]].copy()
    for column in ("published", "corrected", "left out"):
        tests[column] = sum(w * m.tests[column] for m, w in kept)
    uses: dict[str, str] = {}
    for member, _ in kept:
        uses |= {**getattr(member, "uses", {}), member.name: member.formula}
    first = members[0]
    middle = (tests["measured"] - tests["measured"].median()).abs().argmin()
    known = {f.name: getattr(first.published, f.name) for f in fields(Relation)}
    ranges = {k: v for m, _ in kept for k, v in m.ranges.items() if k != "value"}
    heats = tests["heat"].nunique()
    known |= {
        "name": name or f"{'_'.join(quantity.lower().split())}_stacked",
        "title": f"{quantity[:1].upper()}{quantity[1:]}, forms weighted by {heats} heats",
        "status": "fitted by the user",
        "source": (*dict.fromkeys(s for m, _ in kept for s in m.source),),
        "domain": "the tests that weighted it",
        "ranges": ranges,
        "essential": None,
        "fitted": True,
        "error": float(errors_by_heat(tests, "left out")["RMSE"]),
        "error_basis": f"RMSE on heats left out, {heats} heats",
        "check": Check(
            {n: v for m, _ in kept for n, v in m.check.composition.items()},
            float(tests["corrected"].iloc[middle]),
            conditions={n: v for m, _ in kept for n, v in m.check.conditions.items()},
            tolerance=1e-6 * max(1.0, abs(first.check.value)),
        ),
    }  # fmt: skip
    algebra = " + ".join(f"{w:.10g}*{m.name}" for m, w in kept)
    return Stack(
        **known, algebra=algebra, uses=uses, members=tuple(m for m, _ in kept), weights=frame,
        tests=tests, offset=_offset(tests, first),
    )  # fmt: skip


def _offset(tests: pd.DataFrame, like: Calibration) -> pd.Series:
    residual = (tests["measured"] - tests["published"]).to_numpy()
    one, heats, size = np.ones((len(residual), 1)), tests["heat"].to_numpy(), float(like.prior[0])
    after = posterior(one, residual, heats, np.array([size]), size)
    value, low, high = after.interval(np.ones(1), LEVEL)
    return pd.Series({"value": value, "low": low, "high": high}, name="offset")
