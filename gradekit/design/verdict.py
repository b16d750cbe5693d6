"""Why a brief cannot be met, as tables and in words."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from gradekit.core.markup import panel, table
from gradekit.design.conflict import find_clash
from gradekit.design.joint import met_without_errors, most_certain
from gradekit.design.problem import Problem
from gradekit.design.words import clash_words

__all__ = ["Conflict", "conflict_of"]


@dataclass(frozen=True, eq=False)
class Conflict:
    """Why a wish cannot be met.

    Attributes
    ----------
    members : DataFrame, one row a demand of the smallest clashing set
        `bound`, `unit`, `guard band`, `origin`, and `frees at`: where its bound would have to be
        if everything else of the brief stayed (NaN: moving it alone does not help).
    relaxation : DataFrame
        `from`, `to`: the least change in all that frees the brief, measured by how far the
        element bounds can move each value.
    words : str
        All of it in sentences.
    proven : bool
        False where a smooth solver was needed: that it found nothing is no proof.
    """

    members: pd.DataFrame
    relaxation: pd.DataFrame
    words: str
    proven: bool

    @property
    def summary(self) -> str:
        """What clashes, in one line."""
        if self.members.empty:
            return self.words
        return f"Clash{'' if self.proven else ', not proven'}: {', '.join(self.members.index)}."

    def pages(self) -> list[str]:
        """The explanation in parts of a page: sentences, then both tables."""
        return [
            self.words,
            table(self.members, "The smallest set that clashes", wide=["origin"]),
            table(self.relaxation, "The least change that frees it"),
        ]

    def _repr_html_(self) -> str:
        return panel(*self.pages(), lead=self.summary)


def conflict_of(problem: Problem) -> Conflict:
    """Explain a problem without an answer."""
    clash = find_clash(problem)
    if clash is None:
        words = "No composition was found, and no clash either: the smooth solver did not settle."
        return Conflict(pd.DataFrame(), pd.DataFrame(), words, False)
    rows, moved = {}, {}
    for i in clash.members:
        demand = problem.demands[i]
        guard = problem.guards()[problem.linear.index(i)] if i in problem.linear else np.nan
        rows[demand.label] = {
            "bound": demand.bound,
            "unit": demand.quantity.unit,
            "guard band": np.nan if i in clash.ratios else guard,
            "frees at": np.nan if clash.alone[i] is None else clash.alone[i],
            "origin": demand.origin,
        }
    for i, to in clash.together.items():
        demand = problem.demands[i]
        moved[demand.label] = {"from": demand.bound, "to": to, "unit": demand.quantity.unit}
    certain = most_certain(problem) if problem.z or problem.reach else None
    return Conflict(
        pd.DataFrame(list(rows.values()), index=pd.Index(rows, name="limit")),
        pd.DataFrame(list(moved.values()), index=pd.Index(moved, name="limit")),
        clash_words(problem, clash, certain, certain is not None and met_without_errors(problem)),
        clash.proven,
    )
