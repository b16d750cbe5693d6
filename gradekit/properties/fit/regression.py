"""Regression on tests that come in heats: penalised least squares and its held-out scores.

Specimens of one heat share that heat's own deviation. With the share rho of the variance that
lies between heats, n specimens of a heat count as n / (1 + (n - 1) rho) independent ones.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass

import numpy as np
import pandas as pd

from gradekit.core.aliases import Numbers

#: How the penalty is found; the solution is the same ridge for all.
RIDGES = ("ridge", "Bayesian ridge")
#: Penalties tried, in units of the information of one standardised term.
PENALTIES = (1e-6, 1e-4, 1e-3, 3e-3, 1e-2, 3e-2, 0.1, 0.3, 1.0, 3.0)
_RESAMPLES = 1000


@dataclass(frozen=True, eq=False)
class Solved:
    """A fitted sum of terms.

    Attributes
    ----------
    beta : ndarray, shape (terms + 1,)
        Intercept first.
    covariance : ndarray, shape (terms + 1, terms + 1)
    scatter : float
        Standard deviation of one test of a new heat about the true mean.
    between : float
        Share of that variance that lies between heats.
    freedom : float
        Independent tests left after what the terms take.
    penalty : float
    """

    beta: np.ndarray
    covariance: np.ndarray
    scatter: float
    between: float
    freedom: float
    penalty: float

    def predict(self, x: np.ndarray) -> np.ndarray:
        return self.beta[0] + x @ self.beta[1:]

    def leverage(self, x: np.ndarray) -> np.ndarray:
        """Return the variance of the fitted mean at x over that of one test."""
        return leverage(x, self.covariance, self.scatter)


def leverage(x: np.ndarray, covariance: np.ndarray, scatter: float) -> np.ndarray:
    """Return x' C x / s2 for each row, the constant included."""
    full = np.column_stack([np.ones(len(x)), x])
    return np.einsum("ij,jk,ik->i", full, covariance, full) / scatter**2


def shared(groups: np.ndarray, between: float) -> np.ndarray:
    """Return the weight of each test where a share of the variance lies between groups."""
    _, at, sizes = np.unique(groups, return_inverse=True, return_counts=True)
    return 1.0 / (1.0 + (sizes[at] - 1) * between)


def solve_ridge(
    x: np.ndarray,
    y: np.ndarray,
    groups: np.ndarray,
    kind: str = "plain",
    like: Solved | None = None,
) -> Solved:
    """Fit y to the columns of x, the penalty found as `kind` says ('plain' has none).

    `like` gives the penalty and the share between groups of another fit.
    """
    if like is not None:
        weights = shared(groups, like.between)
        return _solved(x, y, weights, like.penalty, like.between)
    first = ridges(x, y, shared(groups, 1.0), [1e-6])[:, 0]
    between = _between(y - first[0] - x @ first[1:], groups)
    weights = shared(groups, between)
    if kind == "plain":
        penalty = 1e-9
    elif kind == "ridge":
        penalty = _best_penalty(x, y, weights, groups)
    else:
        penalty = _evidence(x, y, weights)
    return _solved(x, y, weights, penalty, between)


def standard(x: np.ndarray, weights: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return the columns less their middle over their size, the middles and the sizes."""
    share = weights / weights.sum()
    centre = share @ x
    size = np.sqrt(share @ (x - centre) ** 2)
    size = np.where(size > 1e-12, size, 1.0)
    return (x - centre) / size, centre, size


def ridges(x: np.ndarray, y: np.ndarray, weights: np.ndarray, penalties: Numbers) -> np.ndarray:
    """Return intercept and slopes, a column a penalty, all from one decomposition."""
    z, centre, size = standard(x, weights)
    middle = weights @ y / weights.sum()
    weighted = (z * weights[:, None]).T
    values, vectors = np.linalg.eigh(weighted @ z)
    held_back = values[:, None] + np.multiply(penalties, weights.sum())
    slopes = vectors @ ((vectors.T @ (weighted @ (y - middle)))[:, None] / held_back)
    slopes /= size[:, None]
    return np.vstack([middle - centre @ slopes, slopes])


def _solved(x, y, weights, penalty, between) -> Solved:
    z, centre, size = standard(x, weights)
    total = weights.sum()
    information = (z * weights[:, None]).T @ z
    inverse = np.linalg.inv(information + penalty * total * np.eye(x.shape[1]))
    beta = ridges(x, y, weights, [penalty])[:, 0]
    freedom = max(total - 1 - np.trace(inverse @ information), 1.0)
    residual = y - beta[0] - x @ beta[1:]
    variance = max(float(np.sum(weights * residual**2) / freedom), 1e-18)
    # From deviations of standardised terms back to the terms as they are.
    nothing = np.zeros((x.shape[1], 1))
    back = np.block([[np.ones((1, 1)), -centre / size], [nothing, np.diag(1.0 / size)]])
    inner = variance * np.block([[1.0 / total, nothing.T], [nothing, inverse]])
    return Solved(beta, back @ inner @ back.T, variance**0.5, between, float(freedom), penalty)


def _between(residual: np.ndarray, groups: np.ndarray) -> float:
    """Return the share of the variance between groups, from a one-way table."""
    _, at, sizes = np.unique(groups, return_inverse=True, return_counts=True)
    rows, count = len(residual), len(sizes)
    if rows == count or count < 2:
        return 0.0
    means = np.bincount(at, residual) / sizes
    within = np.sum((residual - means[at]) ** 2) / (rows - count)
    among = np.sum(sizes * (means - residual.mean()) ** 2) / (count - 1)
    typical = (rows - np.sum(sizes**2) / rows) / (count - 1)
    share = (among - within) / (among + (typical - 1) * within) if among + within > 0 else 0.0
    return float(np.clip(share, 0.0, 0.99))


def folds(groups: np.ndarray, count: int = 10, start: int = 0) -> Iterator[np.ndarray]:
    """Yield masks of held-out rows; all rows of a group are held out together."""
    names, at = np.unique(groups, return_inverse=True)
    order = np.random.default_rng(20261001 + start).permutation(len(names))
    for part in np.array_split(order, min(count, len(names))):
        yield np.isin(at, part)


def _best_penalty(x, y, weights, groups) -> float:
    errors = np.zeros(len(PENALTIES))
    for out in folds(groups, 6, start=1):
        beta = ridges(x[~out], y[~out], weights[~out], PENALTIES)
        errors += weights[out] @ (y[out][:, None] - beta[0] - x[out] @ beta[1:]) ** 2
    return PENALTIES[int(np.argmin(errors))]


def _evidence(x: np.ndarray, y: np.ndarray, weights: np.ndarray) -> float:
    from sklearn.linear_model import BayesianRidge

    z, _, _ = standard(x, weights)
    # Its tolerance is absolute: a property in small numbers would stop it at the first step.
    y, _, _ = standard(y[:, None], weights)
    with _unchecked():
        model = BayesianRidge().fit(z, y[:, 0], sample_weight=weights)
    return float(model.lambda_ / model.alpha_ / weights.sum())


def _unchecked() -> AbstractContextManager:
    """Let scikit-learn take its arrays at their word: checking each tree takes half the time."""
    import sklearn

    return sklearn.config_context(assume_finite=True, skip_parameter_validation=True)


def cross_validate(x: np.ndarray, y: np.ndarray, groups: np.ndarray, kind: str) -> pd.DataFrame:
    """Predict each row by a fit that saw no row of its group.

    Returns
    -------
    DataFrame, a row for each row of x
        `fold`, `predicted`, and `scale`: what the error is expected to be there, in units of
        the scatter.
    """
    fold, predicted, scale = np.zeros(len(y), dtype=int), np.empty(len(y)), np.empty(len(y))
    for k, out in enumerate(folds(groups), start=1):
        fit = solve_ridge(x[~out], y[~out], groups[~out], kind)
        fold[out], predicted[out] = k, fit.predict(x[out])
        scale[out] = np.sqrt(1.0 + fit.leverage(x[out]))
    return pd.DataFrame({"fold": fold, "predicted": predicted, "scale": scale})


def predict_held_out(x: np.ndarray, y: np.ndarray, groups: np.ndarray, fit: Callable) -> np.ndarray:
    """Predict each row with `fit(x, y, x_new)` made without its group."""
    predicted = np.empty(len(y))
    for out in folds(groups):
        predicted[out] = fit(x[~out], y[~out], x[out])
    return predicted


def boosted(x: np.ndarray, y: np.ndarray, new: np.ndarray) -> np.ndarray:
    """Predict with gradient-boosted trees, three splits deep."""
    from sklearn.ensemble import GradientBoostingRegressor

    model = GradientBoostingRegressor(
        n_estimators=60, max_depth=3, learning_rate=0.12, subsample=0.8, random_state=0
    )
    with _unchecked():
        return model.fit(x, y).predict(new)


def held_out_score(error: np.ndarray, groups: np.ndarray, level: float = 0.90) -> dict[str, float]:
    """Return MAE, RMSE and bias (predicted less measured), each with its interval by heats."""
    each = np.column_stack([np.abs(error), error**2, error, np.ones(len(error))])
    drawn = _resampled(each, groups, seed=7)
    means, whole = drawn[:, :3] / drawn[:, 3:], each.mean(axis=0)
    means[:, 1], whole[1] = np.sqrt(means[:, 1]), np.sqrt(whole[1])
    whole[np.abs(whole) < 1e-12 * whole[0]] = 0.0  # a bias of rounding alone is none
    ends = np.quantile(means, [(1 - level) / 2, (1 + level) / 2], axis=0)
    out: dict[str, float] = {}
    for k, name in enumerate(("MAE", "RMSE", "bias")):
        out |= {name: whole[k], f"{name} low": ends[0, k], f"{name} high": ends[1, k]}
    return out


def better(error: np.ndarray, other: np.ndarray, groups: np.ndarray) -> float:
    """Return the share of resampled sets of heats in which `error` is smaller on average."""
    gain = np.abs(other) - np.abs(error)
    return float(np.mean(_resampled(gain[:, None], groups, seed=11) > 0))


def _resampled(each: np.ndarray, groups: np.ndarray, seed: int) -> np.ndarray:
    """Return the sum of each column over sets of as many groups, drawn with replacement."""
    names, at = np.unique(groups, return_inverse=True)
    sums = np.column_stack([np.bincount(at, column) for column in each.T])
    draw = np.random.default_rng(seed).integers(len(names), size=(_RESAMPLES, len(names)))
    return sums[draw].sum(axis=1)


def learning_curve(x: np.ndarray, y: np.ndarray, groups: np.ndarray, kind: str) -> pd.DataFrame:
    """Return the held-out MAE of fits made on fewer groups, down to a quarter of them."""
    rows = []
    for share in (0.25, 0.4, 0.6, 0.8, 1.0):
        errors, used = [], []
        for turn in range(3 if share < 1 else 1):
            rng = np.random.default_rng(31 + turn)
            for out in folds(groups, 5, start=2):
                rest = np.unique(groups[~out])
                take = max(round(share * len(rest)), 4)
                kept = ~out & np.isin(groups, rng.permutation(rest)[:take])
                fit = solve_ridge(x[kept], y[kept], groups[kept], kind)
                errors.append(np.abs(fit.predict(x[out]) - y[out]))
                used.append(min(take, len(rest)))
        rows.append((int(np.mean(used)), float(np.concatenate(errors).mean())))
    return pd.DataFrame(rows, columns=["groups", "MAE"]).drop_duplicates("groups")
