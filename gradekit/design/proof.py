"""The proof by drawing: virtual heats around the aim, each held against every limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from gradekit.design.problem import Problem

_ENDS = ["share", "low", "high"]
#: Columns of the table of certainty.
SHARES = [*_ENDS, *(f"{c} with error" for c in _ENDS)]

HEATS = 20_000


def share(kept: int, drawn: int, level: float = 0.95) -> tuple[float, float, float]:
    """Return a share with its exact (Clopper-Pearson) confidence interval.

    Examples
    --------
    >>> [round(v, 4) for v in share(19, 20)]
    [0.95, 0.7513, 0.9987]
    """
    from scipy.special import betaincinv

    tail = (1.0 - level) / 2.0
    low = 0.0 if kept == 0 else float(betaincinv(kept, drawn - kept + 1, tail))
    high = 1.0 if kept == drawn else float(betaincinv(kept + 1, drawn - kept, 1.0 - tail))
    return kept / drawn, low, high


@dataclass
class Proof:
    """How many of the virtual heats keep what is demanded.

    Attributes
    ----------
    heats : array, shape (drawn, variables), wt%
    kept : array of bool, shape (constraints, drawn)
        If the relations are right.
    kept_with_error : same shape
        With each relation's published error drawn as well.
    counted : array of bool, shape (constraints,)
        Constraints on the steel; ranges of relations are not among them.
    """

    heats: np.ndarray
    kept: np.ndarray
    kept_with_error: np.ndarray
    counted: np.ndarray

    @property
    def drawn(self) -> int:
        return len(self.heats)

    def all(self, with_error: bool = False) -> tuple[float, float, float]:
        """Share of heats that keep every constraint, with its interval."""
        kept = self.kept_with_error if with_error else self.kept
        return share(int(kept[self.counted].all(axis=0).sum()), self.drawn)

    def each(self, with_error: bool = False) -> np.ndarray:
        """Share of each constraint with its interval, shape (constraints, 3)."""
        kept = self.kept_with_error if with_error else self.kept
        return np.array([share(int(k.sum()), self.drawn) for k in kept]).reshape(-1, 3)

    def inside(self, low: np.ndarray, high: np.ndarray) -> tuple[float, float, float]:
        """Share of heats inside a window, with its interval."""
        hit = ((self.heats >= low - 1e-12) & (self.heats <= high + 1e-12)).all(axis=1)
        return share(int(hit.sum()), self.drawn)


def draw_heats(aim: np.ndarray, covariance: np.ndarray, count: int, seed: int = 0) -> np.ndarray:
    """Draw virtual heats around an aim; no content falls below zero.

    Returns
    -------
    array, shape (count, variables), wt%
    """
    size, axes = np.linalg.eigh(covariance)
    root = axes * np.sqrt(np.maximum(size, 0.0))
    heats = np.random.default_rng(seed).standard_normal((count, len(aim))) @ root.T
    heats += aim
    return np.maximum(heats, 0.0, out=heats)


def prove(problem: Problem, aim: np.ndarray, count: int = HEATS, seed: int = 0) -> Proof:
    """Hold virtual heats against every constraint, on the full relations.

    The published error of a relation is drawn once a heat for all constraints on that relation, and
    relations err independently of each other.
    """
    heats = draw_heats(aim, problem.covariance, count, seed)
    values = problem.full(heats)
    constraints = problem.constraints
    kept = np.array([d.kept(v) for d, v in zip(constraints, values, strict=True)])
    rng = np.random.default_rng(seed + 1)
    errors: dict[str, np.ndarray] = {}
    with_error = kept.copy()
    for i, constraint in enumerate(constraints):
        size = constraint.quantity.error_at(constraint.bound, problem.conditions)
        if constraint.kind == "range" or not np.isfinite(size) or size == 0:
            continue
        if constraint.quantity.key not in errors:
            errors[constraint.quantity.key] = rng.standard_normal(count)
        with_error[i] = constraint.kept(values[i] + size * errors[constraint.quantity.key])
    counted = np.array([d.kind not in ("range", "melt") for d in constraints])
    shape = (len(constraints), count)
    return Proof(heats, kept.reshape(shape), with_error.reshape(shape), counted)


def certainty_table(
    problem: Problem, proof: Proof, low: np.ndarray, high: np.ndarray
) -> pd.DataFrame:
    """Return the share of virtual heats that keep each constraint, with its interval."""
    both = np.hstack([proof.each(), proof.each(with_error=True)])
    rows = {"every limit": [*proof.all(), *proof.all(with_error=True)]}
    for constraint, row in zip(problem.constraints, both, strict=True):
        name = constraint.label if constraint.kind != "range" else f"{constraint.label} (range)"
        rows[name] = row
    inside = proof.inside(low, high)
    rows["inside the window"] = [*inside, *inside]
    return pd.DataFrame(list(rows.values()), pd.Index(rows, name="limit"), SHARES)
