"""A doubt about what steel a heat is, carried into every check that depends on it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

import pandas as pd

from gradekit.core.verdicts import worst
from gradekit.works.row import Row


def with_rivals(rows: Iterable[Row], others: Iterable[Row], rivals: pd.Series) -> list[Row]:
    """Return the rows with what each check would say if the heat were of the rival family.

    A check that says the same either way does not depend on the family and stays as it is. Any
    other takes the worse of both verdicts, and says the other answer.

    Parameters
    ----------
    rows, others : Row
        As the heat's own family and as the rival family judge it.
    rivals : Series
        Rival family by heat.
    """
    told = {(row.heat, row.step, row.check): row for row in others}
    rival_of = rivals.to_dict()
    merged = []
    for row in rows:
        rival = rival_of.get(row.heat, "")
        other = told.pop((row.heat, row.step, row.check), None)
        if not rival or (other and _answer(other) == _answer(row)):
            merged.append(row)
        elif other is None:
            merged.append(replace(row, reason=f"{row.reason}; if {rival}: does not apply"))
        else:
            verdict = worst((row.verdict, other.verdict))
            alike = other.verdict == row.verdict
            said = f"{other.verdict} as well" if alike else f"{other.verdict}, {other.reason}"
            merged.append(replace(row, verdict=verdict, reason=f"{row.reason}; if {rival}: {said}"))
    return merged + [
        replace(row, reason=f"if {rival_of[row.heat]}: {row.reason}") for row in told.values()
    ]


def _answer(row: Row) -> tuple:
    return repr(row.value), row.limit, row.verdict, row.reason
