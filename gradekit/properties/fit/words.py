"""What a fit is worth, in words: the table, the trees, and terms that move together."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from gradekit.core.markup import number
from gradekit.properties.fit import regression as rg

_SURE = 0.95  # share of resampled sets of groups in which a kind must be better


def trees_words(share: float) -> str:
    """Say what it means that boosted trees are better in a share of resampled sets of groups."""
    if share > _SURE:
        return (
            f"boosted trees do better on held-out groups ({100 * share:.0f} % of resampled sets):"
            " the law is no sum of these terms. They are not taken, for they have no coefficients"
            " and no value beyond the tests; look for the missing term"
        )
    return (
        "boosted trees are no clear gain on held-out groups (better in"
        f" {100 * share:.0f} % of resampled sets), so a sum of terms is taken"
    )


def pair_words(pair: tuple[str, str, float]) -> str:
    """Say what cannot be known of two terms that move together."""
    a, b, r = pair
    way = "move together" if r > 0 else "move against each other"
    return (
        f"{a} and {b} {way} here (r = {r:.2f}): their separate effects are not supported by these"
        " heats, only what they do when they move so"
    )


def verdict_words(
    errors: Mapping[str, np.ndarray], kind: str, groups: np.ndarray, terms: int, unit: str
) -> str:
    """Say whether the table supports the model at all.

    Parameters
    ----------
    errors : mapping of candidate to ndarray, shape (tests,)
        Held-out errors, of 'mean only' and 'boosted trees' too.
    kind : str
        The candidate that was taken.
    groups : ndarray, shape (tests,)
    terms : int
        Coefficients that were fitted, beside the constant.
    unit : str
    """
    error, mean_only, trees = (errors[k] for k in (kind, "mean only", "boosted trees"))
    sure = rg.better(error, mean_only, groups)
    count = len(np.unique(groups))
    mine, mean = (f"{number(float(np.mean(np.abs(e))), 3)} {unit}".strip()
                  for e in (error, mean_only))  # fmt: skip
    figures = f"held-out MAE {mine} against {mean} of the mean alone"
    missing = ""
    if rg.better(trees, error, groups) > _SURE:
        missing = " Boosted trees do better on the same groups: a term is missing."
    if sure < _SURE:
        return (
            f"The table does not support a model: {figures}, better in only {100 * sure:.0f} % of"
            f" resampled sets of groups.{missing or ' Use the mean.'}"
        )
    if count < 3 * terms:
        return (
            f"The table supports the sum as a whole ({figures}), hardly its single coefficients:"
            f" {count} groups for {terms} terms.{missing}"
        )
    return f"The table supports the model: {figures}, on {count} groups.{missing}"
