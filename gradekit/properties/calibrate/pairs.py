"""A works' measurements beside the published value of each: what a calibration is made from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, TableLike
from gradekit.core.errors import InputError, said
from gradekit.core.flags import Flag
from gradekit.properties.fit.groups import group_labels, summary_rows
from gradekit.properties.fit.source import numbers, table_of
from gradekit.properties.fit.table import conditions_in_table, contents_in_table
from gradekit.properties.fit.units import unit_of
from gradekit.relations.declaration import Relation
from gradekit.relations.evaluate import evaluate


@dataclass(frozen=True, eq=False)
class Measured:
    """Rows of a laboratory's table that have a measured value.

    Attributes
    ----------
    batch : DataFrame, wt%, a row a test
    conditions : dict of name to number or ndarray
    y : ndarray, shape (tests,)
    heats : ndarray of str, shape (tests,)
    target, unit : str
    notes : tuple of str
        What was left out or taken for granted.
    """

    batch: pd.DataFrame
    conditions: dict[str, float | np.ndarray]
    y: np.ndarray
    heats: np.ndarray
    target: str
    unit: str
    notes: tuple[str, ...]


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
    """

    columns: dict[str, np.ndarray]
    published: np.ndarray
    y: np.ndarray
    heats: np.ndarray
    left_out: tuple[str, ...]


def read_measured(source: TableLike, target: str, groups: Given, conditions: dict) -> Measured:
    """Read the tests.

    Parameters
    ----------
    source : DataFrame, or path of a CSV or XLSX file
        A row a test: contents in wt% or ppm, the measured column, conditions.
    target : str
        The measured column.
    groups : str or one label a row, or None
        The heat of each test.
    conditions : mapping of condition to number, one value a row, or name of a column
    """
    frame = table_of(source, target)
    notes: list[str] = []
    arrays = {k: v for k, v in conditions.items() if not isinstance(v, (str, int, float))}
    named, fixed = conditions_in_table(
        frame, {k: v for k, v in conditions.items() if k not in arrays}
    )
    summary = summary_rows(frame)
    y = np.full(len(frame), np.nan)
    y[~summary] = numbers(frame.loc[~summary, target], target, unit_of(target))
    rows = np.isfinite(y)
    if not rows.any():
        raise InputError(f"column '{target}'", "measured values", said("no value in any row"))
    batch = contents_in_table(frame, rows, notes)
    labels, _ = group_labels(frame, groups, batch, rows, notes)
    given: dict[str, float | np.ndarray] = dict(fixed)
    given |= {c: numbers(frame[k], k, unit_of(k))[rows] for c, k in named.items()}
    for name, values in arrays.items():
        each = np.asarray(values, dtype=float)
        if each.shape != y.shape:
            raise InputError(
                name, f"one value, or one for each of {len(y)} rows", said(str(each.shape))
            )
        given[name] = each[rows]
    if missing := int((~rows & ~summary).sum()):
        notes.append(f"{missing} rows without {target}")
    return Measured(
        batch[rows], given, y[rows], labels[rows], target, unit_of(target), tuple(notes)
    )


def pair_with(measured: Measured, relation: Relation) -> Pairs:
    """Set the value of a relation beside each test.

    Raises
    ------
    InputError
        No test with a published value, or a unit that is not the relation's.
    """
    if measured.unit and measured.unit != relation.unit:
        raise InputError(f"column '{measured.target}'", f"in {relation.unit}", measured.unit)
    rows = measured.batch.set_axis([f"test {k}" for k in range(len(measured.y))])
    given = {c: v for c, v in measured.conditions.items() if c in relation.conditions}
    result = evaluate(rows, relation, **given)
    values, flags = result.column(relation.name)
    usable = np.isfinite(values)
    if not usable.any():
        raise InputError(
            f"tests for {relation.name}", "with a published value each",
            said(result.words(rows.index[0], relation.name)),
        )  # fmt: skip
    left = [f"{k} tests left out: {w}" for w, k in _reasons(result, relation, ~usable).items()]
    at_end = usable & ((flags & int(Flag.CLAMPED)) > 0)
    if at_end.any() and not at_end.all():
        # Beyond the end of its scale a diagram reads the end, whatever the steel.
        left.append(f"{int(at_end.sum())} tests left out: at the end of the scale")
        usable &= ~at_end
    columns = {e: np.nan_to_num(rows[e].to_numpy()) for e in rows if e in relation.elements}
    columns |= {c: np.broadcast_to(v, values.shape) for c, v in given.items()}
    return Pairs(
        {name: column[usable] for name, column in columns.items()},
        values[usable], measured.y[usable], measured.heats[usable], tuple(left),
    )  # fmt: skip


def _reasons(result, relation: Relation, gone: np.ndarray) -> dict[str, int]:
    words = [result.words(heat, relation.name) for heat in result.heats.index[gone]]
    return {w: words.count(w) for w in dict.fromkeys(words)}
