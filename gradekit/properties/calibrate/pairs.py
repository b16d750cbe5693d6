"""A works' measurements beside the published value of each: what a calibration is made from."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

import numpy as np

from gradekit.core.errors import InputError, said
from gradekit.core.flags import Flag
from gradekit.properties.fit.table import Measured
from gradekit.relations.declaration import Relation


@dataclass(frozen=True, eq=False)
class Pairs:
    """Tests with the value that a published relation has for each.

    Attributes
    ----------
    columns : dict of name to ndarray
        Contents and conditions of each test.
    published, y : ndarray, shape (tests,)
    heats : ndarray of str, shape (tests,)
    left_out : tuple of str
        Tests without a published value, and why.
    foreign : float
        Share of the tests that are of steels that the relation was not made for.
    """

    columns: dict[str, np.ndarray]
    published: np.ndarray
    y: np.ndarray
    heats: np.ndarray
    left_out: tuple[str, ...]
    foreign: float


def pair_with(measured: Measured, relation: Relation) -> Pairs:
    """Set the value of a relation beside each test.

    Raises
    ------
    InputError
        No test with a published value, or a unit that is not the relation's.
    """
    if measured.unit and measured.unit != relation.unit:
        raise InputError(f"column '{measured.target}'", f"in {relation.unit}", measured.unit)
    result = measured.evaluated(relation)
    values, flags = result.column(relation.name)
    usable = np.isfinite(values)
    if not usable.any():
        raise InputError(
            f"tests for {relation.name}", "with a published value each",
            said(result.words("row 0", relation.name)),
        )  # fmt: skip
    reasons = Counter(result.words(heat, relation.name) for heat in result.heats.index[~usable])
    left = [f"{_tests(count)} left out: {words}" for words, count in reasons.items()]
    at_end = usable & ((flags & int(Flag.CLAMPED)) > 0)
    if at_end.any() and not at_end.all():
        # Beyond the end of its scale a diagram reads the end, whatever the steel.
        left.append(f"{_tests(int(at_end.sum()))} left out: at the end of the scale")
        usable &= ~at_end
    batch, given = measured.batch, measured.given
    columns = {e: np.nan_to_num(batch[e].to_numpy()) for e in batch if e in relation.elements}
    columns |= {
        c: np.broadcast_to(given[c], values.shape) for c in given if c in relation.conditions
    }
    return Pairs(
        {name: column[usable] for name, column in columns.items()},
        values[usable], measured.y[usable], measured.groups[usable], tuple(left),
        float(np.mean((flags & int(Flag.OTHER_FAMILY)) > 0)),
    )  # fmt: skip


def _tests(count: int) -> str:
    return "1 test" if count == 1 else f"{count} tests"
