"""Intervals that hold whatever the error looks like: quantiles of held-out errors, by heat.

The errors of a heat's specimens are alike, so a heat with many specimens must not outvote the
others: each heat counts once, and the heat to come counts as one more, whose error is taken as
endless. If the heats are exchangeable, a specimen of a new heat lies inside with at least the
probability asked; nothing is said of the shape of the errors.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from gradekit.core.aliases import Label
from gradekit.core.errors import InputError, said


@dataclass(frozen=True, eq=False)
class Conformal:
    """Held-out scores, each with the weight that its heat leaves it.

    Attributes
    ----------
    scores : ndarray, shape (n,)
        Rising. A score is an error without sign, in units of the scale expected where it was made.
    weights : ndarray, shape (n,)
        They sum to heats / (heats + 1).
    heats : int

    Examples
    --------
    >>> Conformal.of([1, 2, 3, 4], ["A", "B", "C", "D"]).at(0.8)
    4.0
    """

    scores: np.ndarray
    weights: np.ndarray
    heats: int

    @classmethod
    def of(cls, scores: Iterable[float], groups: Iterable[Label]) -> Conformal:
        """Weigh the scores so that each group counts once.

        Parameters
        ----------
        scores : array-like, shape (n,)
        groups : array-like, shape (n,)
            Heat (or laboratory, or publication) of each score.
        """
        scores = np.asarray(scores, dtype=float)
        _, at, sizes = np.unique(np.asarray(groups), return_inverse=True, return_counts=True)
        order = np.argsort(scores, kind="stable")
        weights = 1.0 / ((len(sizes) + 1) * sizes[at])
        return cls(scores[order], weights[order], len(sizes))

    def at(self, level: float) -> float:
        """Return the score that a share `level` of new heats stays below.

        Raises
        ------
        InputError
            Where so few heats cannot promise so much.
        """
        check_level(level)
        reached = np.cumsum(self.weights)
        if reached[-1] < level - 1e-12:
            raise InputError(
                "level",
                f"at most {self.heats / (self.heats + 1):.3f}, which is all that {self.heats}"
                " held-out heats can promise",
                level,
            )
        return float(self.scores[np.searchsorted(reached, level - 1e-12)])


def held_out_coverage(
    scores: Iterable[float], groups: Iterable[Label], levels: Iterable[float]
) -> np.ndarray:
    """Return the share of rows inside at each level, each heat counting once.

    Each heat is judged by the quantile of the others, so none vouches for itself.

    Parameters
    ----------
    scores, groups : array-like, shape (n,)
    levels : array-like of shares

    Returns
    -------
    ndarray
        NaN where the heats are too few for the level.
    """
    scores, groups = np.asarray(scores, dtype=float), np.asarray(groups)
    levels = list(levels)
    shares = []
    for group in np.unique(groups):
        own = groups == group
        others = Conformal.of(scores[~own], groups[~own])
        most = others.heats / (others.heats + 1)
        shares.append(
            [np.mean(scores[own] <= others.at(p)) if p <= most else np.nan for p in levels]
        )
    return np.mean(shares, axis=0)


def check_level(level: float) -> None:
    """Refuse a level that is no share."""
    if not (isinstance(level, (int, float)) and 0 < level < 1):
        hint = f"level={level / 100:g}" if isinstance(level, (int, float)) and level > 1 else None
        raise InputError("level", "between 0 and 1, such as 0.90", said(repr(level)), hint)
