"""The two forms of a fit: a sum of terms, and a published function with a bias and a slope."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from gradekit.core.files import write_whole
from gradekit.properties.fit import regression as rg
from gradekit.properties.fit.card import card_of
from gradekit.properties.fit.page import fit_page
from gradekit.properties.fit.property import Fit
from gradekit.relations.declaration import Function, Linear, Relation

_DIGITS = 10


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class FittedProperty(Fit):
    """A relation fitted to a user's tests, with its report and its card; see `Fit`."""

    def card(self) -> dict:
        """Return everything about the fit as plain data, to be written as JSON."""
        return card_of(self)

    def save(self, path: str | os.PathLike) -> Path:
        """Write the card as JSON and return its path; `fitted_from` reads it."""
        return write_whole(path, json.dumps(self.card(), indent=1, ensure_ascii=False) + "\n")

    def _repr_html_(self) -> str:
        return fit_page(self)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class FittedSum(FittedProperty, Linear):
    """A sum of declared terms, or a published sum with a bias and a slope."""

    @cached_property
    def beta(self) -> dict[str, float]:
        return {"constant": self.intercept, **self.terms}

    def parts(self, space: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
        return self.term_values(space)


@dataclass(frozen=True, kw_only=True, eq=False, repr=False)
class FittedFunction(FittedProperty, Function):
    """A published relation that is no plain sum, with a bias and a slope of the tests.

    Attributes
    ----------
    recalibrates : str
        Name of the published relation.
    bias, slope : float
    """

    recalibrates: str
    bias: float
    slope: float

    @cached_property
    def beta(self) -> dict[str, float]:
        return {"constant": self.bias, self.recalibrates: self.slope}

    def parts(self, space: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
        return {self.recalibrates: (self.value(space) - self.bias) / self.slope}


def fitted_form(
    solved: rg.Solved, terms: list[str], peer: Relation | None
) -> tuple[type[FittedProperty], dict]:
    """Return the form of a fit and its own fields.

    A recalibrated sum is written in its own terms, a recalibrated function term by term.
    """
    first, *slopes = solved.beta.tolist()
    if peer is None:
        form = {"intercept": first, "terms": dict(zip(terms, slopes, strict=True))}
        return FittedSum, form | {"covariance": solved.covariance}
    if isinstance(peer, Linear):
        spread = np.zeros((len(peer.terms) + 1, 2))
        spread[0] = 1.0, peer.intercept
        spread[1:, 1] = list(peer.terms.values())
        covariance = spread @ solved.covariance @ spread.T
        return FittedSum, peer.moved(first, *slopes) | {"covariance": covariance}
    bias, slope = (float(f"{b:.{_DIGITS}g}") for b in (first, *slopes))
    own = {"recalibrates": peer.name, "bias": bias, "slope": slope}
    return FittedFunction, peer.moved(bias, slope) | own | {"covariance": solved.covariance}
