"""A linear correction with a prior, from tests that come in heats: exact, without sampling.

    test = published value + columns x correction + heat + scatter of the test

The correction has a normal prior, the heat and the test each a normal scatter of unknown size. For
given sizes of the two scatters the posterior is normal and in closed form; the sizes are summed
over a grid with the weight that the tests give them. D. V. Lindley and A. F. M. Smith, Bayes
estimates for the linear model, J. R. Stat. Soc. B 34 (1972) 1-41.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

# Sizes of scatter that are considered, as shares of the size that is expected: from next to nothing
# to far more, in steps that change no interval by a hundredth.
_TEST_GRID = np.geomspace(0.03, 4.0, 36)
_HEAT_GRID = np.concatenate([[1e-6], np.geomspace(0.03, 4.0, 24)])


@dataclass(frozen=True, eq=False)
class Posterior:
    """A mixture of normal distributions of the correction, one for each pair of scatters.

    Attributes
    ----------
    weights : ndarray, shape (pairs,)
    means : ndarray, shape (pairs, columns)
    covariances : ndarray, shape (pairs, columns, columns)
    test, heat : ndarray, shape (pairs,)
        Standard deviations of a test within its heat and of heats among each other.
    evidence : float
        Logarithm of the probability density of the tests.
    """

    weights: np.ndarray
    means: np.ndarray
    covariances: np.ndarray
    test: np.ndarray
    heat: np.ndarray
    evidence: float

    @cached_property
    def mean(self) -> np.ndarray:
        """Mean of the correction, shape (columns,)."""
        return self.weights @ self.means

    @cached_property
    def covariance(self) -> np.ndarray:
        """Covariance of the correction, shape (columns, columns)."""
        apart = self.means - self.mean
        spread = self.covariances + np.einsum("gi,gj->gij", apart, apart)
        return np.einsum("g,gij->ij", self.weights, spread)

    @cached_property
    def scatter(self) -> float:
        """Root mean square of a test of a new heat about its true mean."""
        return float(np.sqrt(self.weights @ (self.test**2 + self.heat**2)))

    def interval(
        self, row: np.ndarray, level: float, one_test: bool = False
    ) -> tuple[float, float, float]:
        """Return mean, low and high of a correction, or of one test of a new heat.

        Parameters
        ----------
        row : ndarray, shape (columns,)
        level : float
        one_test : bool
            Whether the scatter of heat and test is in it.
        """
        middle = self.means @ row
        variance = np.einsum("i,gij,j->g", row, self.covariances, row)
        if one_test:
            variance = variance + self.test**2 + self.heat**2
        low, high = (
            _quantile(self.weights, middle, np.sqrt(variance), q)
            for q in ((1 - level) / 2, (1 + level) / 2)
        )
        return float(self.weights @ middle), low, high


def posterior(
    columns: np.ndarray, residual: np.ndarray, heats: np.ndarray, prior: np.ndarray, expected: float
) -> Posterior:
    """Return what the tests leave of the prior.

    Parameters
    ----------
    columns : ndarray, shape (tests, columns)
    residual : ndarray, shape (tests,)
        Measured minus published.
    heats : ndarray of label, shape (tests,)
    prior : ndarray, shape (columns,)
        Standard deviation of each correction before any test; their means are zero.
    expected : float
        Size of scatter to expect: the published error. A test's own scatter is taken as equally
        likely on a scale of ratios, that among heats as half-normal of this size.
    """
    test, heat = (expected * grid.ravel() for grid in np.meshgrid(_TEST_GRID, _HEAT_GRID))
    member = (np.unique(heats)[:, None] == heats).astype(float)
    count, column, total = member.sum(axis=1), member @ columns, member @ residual
    share = heat[:, None] ** 2 / (test[:, None] ** 2 + count * heat[:, None] ** 2)

    def summed(whole: np.ndarray, of_heats: np.ndarray) -> np.ndarray:
        # (sum over tests - sum over heats of share x their own) / variance of a test
        part = np.tensordot(share, of_heats, axes=(1, 0))
        return (whole - part) / test.reshape(-1, *(1,) * np.ndim(whole)) ** 2

    outer = np.einsum("hj,hk->hjk", column, column)
    precision = summed(columns.T @ columns, outer) + np.diag(prior**-2.0)
    pull = summed(columns.T @ residual, column * total[:, None])
    energy = summed(residual @ residual, total**2)
    covariances = np.linalg.inv(precision)
    means = np.einsum("gij,gj->gi", covariances, pull)
    among = np.log1p(count * (heat / test)[:, None] ** 2).sum(axis=1)
    logs = -0.5 * (
        len(residual) * np.log(2 * np.pi * test**2)
        + among
        + energy
        - np.einsum("gi,gi->g", pull, means)
        + np.linalg.slogdet(precision)[1]
        + 2 * np.log(prior).sum()
    )
    before = -0.5 * (heat / expected) ** 2 + np.log(np.gradient(_HEAT_GRID).repeat(_TEST_GRID.size))
    logs = logs + before - np.log(np.exp(before).sum())
    evidence = float(np.logaddexp.reduce(logs))
    weights = np.exp(logs - evidence)
    return Posterior(weights / weights.sum(), means, covariances, test, heat, evidence)


def _quantile(weights: np.ndarray, means: np.ndarray, sizes: np.ndarray, share: float) -> float:
    """Return a quantile of a mixture of normal distributions."""
    from scipy.optimize import brentq
    from scipy.stats import norm

    reach = 12.0 * sizes.max() + 1e-12
    low, high = float(means.min() - reach), float(means.max() + reach)
    return float(brentq(lambda x: weights @ norm.cdf(x, means, sizes) - share, low, high))
