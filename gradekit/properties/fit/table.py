"""A laboratory's table made ready for a regression: terms, target, groups, and what is refused."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, TableLike
from gradekit.core.elements import is_element
from gradekit.core.errors import NOTHING, InputError, nearest, one_of, said
from gradekit.heats.batch import as_batch
from gradekit.heats.certificates.headers import column_element
from gradekit.heats.notes import bounds, messages
from gradekit.properties.fit.groups import group_labels, summary_rows
from gradekit.properties.fit.source import known_column, numbers, table_of
from gradekit.properties.fit.units import (
    quantity_in_header,
    refuse_sizes,
    refuse_strengths,
    refuse_unit,
    unit_of,
)
from gradekit.relations.declaration import CONDITIONS, Check, Linear

#: Names of conditions, or the column or number of each.
Conditions: TypeAlias = str | Iterable[str] | Mapping[str, str | float]
_ENTRIES = {"grain_size_um": "grain_size_um^-0.5"}  # strength goes with d^-1/2
_NOT_CONTENTS = frozenset({"Re", "Ag", "At"})  # yield strength and strains, in a table of tests
_MOST = (("N", 2.0), ("C", 4.5), ("B", 1.0))  # wt%; a median above is of ppm


@dataclass
class Tests:
    """Rows that can be fitted.

    Attributes
    ----------
    target, quantity, unit : str
    batch : DataFrame, wt%
    given : mapping of condition to ndarray
    y : ndarray
    x : ndarray, shape (rows, terms)
    terms : list of str
    columns : mapping of element or condition to ndarray
    groups : ndarray of str
    group_name : str
    rows : Index
        Where the rows stand in the table.
    notes : list of str
        What was left out or taken for granted.
    """

    target: str
    quantity: str
    unit: str
    batch: pd.DataFrame
    given: dict
    y: np.ndarray
    x: np.ndarray
    terms: list[str]
    columns: dict
    groups: np.ndarray
    group_name: str
    rows: pd.Index
    notes: list[str] = field(default_factory=list)


def read_tests(
    source: TableLike,
    target: str,
    terms: Iterable[str] | None,
    groups: Given,
    conditions: Conditions,
    unit: str | None,
) -> Tests:
    """Read a table of tests and refuse what no regression should be made of.

    Returns
    -------
    Tests
    """
    frame = table_of(source, target)
    wanted, fixed = conditions_in_table(frame, conditions)
    notes: list[str] = []
    summary = summary_rows(frame)
    y = np.full(len(frame), np.nan)
    y[~summary] = numbers(frame.loc[~summary, target], target, unit or unit_of(target))
    measured = np.isfinite(y)
    if not measured.any():
        raise InputError(f"column '{target}'", "measured values", said("no value in any row"))
    _say_left_out(frame, target, measured, summary, notes)
    refuse_strengths(frame.loc[measured], target, y[measured], unit)

    batch = contents_in_table(frame, measured, notes)
    values = {e: batch[e].to_numpy() for e in batch}
    values |= {c: numbers(frame[k].where(~summary), k, unit_of(k)) for c, k in wanted.items()}
    refuse_sizes(values)
    if terms is None:
        terms = _default_terms(values, wanted, measured, notes)
    terms = _named_terms([terms] if isinstance(terms, str) else list(terms), frame, target)
    needed = probe(terms)
    for name in needed.inputs:
        _refuse_unknown(name, values, measured, frame)
    labels, group_name = group_labels(frame, groups, batch, measured, notes)

    usable = measured.copy()
    for name in needed.inputs:
        usable &= np.isfinite(values[name])
    lost = frame.index[measured & ~usable]
    if len(lost):
        gone = [n for n in needed.inputs if not np.isfinite(values[n][measured]).all()]
        notes.append(f"{_rows(len(lost))} left out: {', '.join(gone)} not known there")
    columns = {n: values[n][usable] for n in values}
    y, labels = y[usable], labels[usable]
    _refuse_few(y, labels, terms, target, group_name)
    with np.errstate(all="ignore"):
        amounts = needed.term_values(columns)
    x = np.column_stack([np.broadcast_to(amounts[t], y.shape) for t in terms])
    for k, term in enumerate(terms):
        if not np.isfinite(x[:, k]).all():
            raise InputError(f"term '{term}'", "a number in every row", said("0 to a power < 0"))
        if np.ptp(x[:, k]) < 1e-12:
            raise InputError(
                f"term '{term}'", "different from row to row", said(f"{x[0, k]:g} in every row")
            )
    notes += _idle(frame.loc[usable], {*wanted.values(), target, group_name})
    given = {c: columns[c] for c in wanted} | {c: np.asarray(v) for c, v in fixed.items()}
    unit = unit or unit_of(target)
    quantity = quantity_in_header(target) if unit else target
    return Tests(
        target, quantity, unit, batch.loc[usable], given, y, x, terms, columns, labels, group_name,
        frame.index[usable], notes,
    )  # fmt: skip


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count} rows"


def _say_left_out(frame, target, measured, summary, notes) -> None:
    if summary.any():
        notes.append(f"{_rows(int(summary.sum()))} left out: a mean or limit, no test")
    bare = int((~measured & ~summary & frame.notna().any(axis=1)).sum())
    if bare:
        notes.append(f"{_rows(bare)} without {target}")
    twice = int(frame.loc[measured].astype(str).duplicated().sum())
    if twice:
        notes.append(
            f"{_rows(twice)} the same as an earlier one in every column, each counted as a test:"
            " pasted twice?"
        )


def contents_in_table(frame: pd.DataFrame, measured: np.ndarray, notes: list) -> pd.DataFrame:
    """Return the contents in wt%, with notes of what was read as ppm or as a bound."""
    heads = {c: column_element(c) for c in frame.columns if str(c).title() not in _NOT_CONTENTS}
    named = [c for c, head in heads.items() if head and head.element]
    if not named:
        raise InputError("table of tests", "columns of elements, wt%", list(frame.columns)[:6])
    labels = [f"row {i}" for i in (frame.index if frame.index.is_unique else range(len(frame)))]
    part = frame[named].set_axis(labels)
    part = part[measured & part.notna().any(axis=1).to_numpy()]
    if all(pd.api.types.is_numeric_dtype(t) for t in part.dtypes):
        part = part.astype(float)
    batch = as_batch(part)
    notes += messages(batch)
    ends = bounds(batch).apply(lambda column: column.astype(str).str.startswith("<").sum())
    some = [f"{element} {count}" for element, count in ends.items() if count]
    if some:
        notes.append(f"bounds such as '<0.01' stand at their upper end: {', '.join(some)}")
    for element, most in _MOST:
        if element in batch and batch[element].median() > most:
            raise InputError(
                f"column '{element}'", "wt%", said(f"a median of {batch[element].median():g}"),
                f"a header '{element} ppm'",
            )  # fmt: skip
    batch = pd.DataFrame(batch.to_numpy(), index=batch.index, columns=list(batch.columns))
    return batch.reindex(labels).set_axis(frame.index)


def conditions_in_table(frame: pd.DataFrame, conditions: Conditions) -> tuple[dict, dict]:
    """Return the column of each condition, and conditions given as one number."""
    if isinstance(conditions, str):
        conditions = [conditions]
    pairs: dict[str, str | float] = {c: c for c in CONDITIONS if c in frame.columns}
    pairs |= conditions if isinstance(conditions, Mapping) else {c: c for c in conditions}
    wanted: dict[str, str] = {}
    fixed: dict[str, float] = {}
    for name, column in pairs.items():
        one_of("condition", name, CONDITIONS)
        if isinstance(column, (int, float)):
            fixed[name] = float(column)
            continue
        known_column(frame, column, f"column of {name}")
        refuse_unit(column, unit_of(name), name)
        wanted[name] = column
    return wanted, fixed


def _default_terms(values: dict, wanted: dict, measured: np.ndarray, notes: list) -> list[str]:
    terms: list[str] = []
    idle: dict[str, list[str]] = {}
    for name, column in values.items():
        known = column[measured]
        varied = known[np.isfinite(known)]
        if len(varied) == 0:
            idle.setdefault("without any value", []).append(name)
        elif len(varied) < 0.8 * len(known):
            idle.setdefault("not known in a fifth of the rows", []).append(name)
        elif len(np.unique(varied)) < 4:
            idle.setdefault("hardly varied", []).append(name)
        else:
            terms.append(_ENTRIES.get(name, name) if name in wanted else name)
    notes += [f"no term of {', '.join(names)}: {why}" for why, names in idle.items()]
    return terms


def _named_terms(terms: list[str], frame: pd.DataFrame, target: str) -> list[str]:
    """Return each term once; a header such as 'N ppm' stands for its element."""
    if not all(isinstance(term, str) for term in terms):
        raise InputError("terms", "texts, such as ['C', 'N', 'Cr*Mo']", terms)
    heads = {c: head.element for c in frame.columns if (head := column_element(c))}
    terms = list(dict.fromkeys(heads.get(term, term) for term in terms))
    if heads.get(target, target) in terms:
        raise InputError("terms", "other columns than the target", terms)
    return terms


def probe(terms: list[str]) -> Linear:
    """Return a relation with these terms, which knows what inputs they need."""
    if not terms:
        raise InputError("terms", "at least one, such as ['C', 'N', 'Cr*Mo']", terms)
    return Linear(
        name="fit", title="", quantity="", unit="", status="fitted by the user", source=("table",),
        check=Check({}, 0.0), terms=dict.fromkeys(terms, 0.0),
    )  # fmt: skip


def _refuse_unknown(name: str, values: dict, measured: np.ndarray, frame: pd.DataFrame) -> None:
    if name not in values:
        close = nearest(name, map(str, frame.columns))
        if name in CONDITIONS:
            close = f'conditions={{"{name}": "{close or "its column"}"}}'
        raise InputError(f"term '{name}'", "a column of the table", NOTHING, close)
    if not np.isfinite(values[name][measured]).any():
        raise InputError(
            f"column '{name}'", "known in some row with the target", said("no value in any")
        )


def _refuse_few(y, labels, terms, target, group_name) -> None:
    count = len(np.unique(labels))
    if len(y) < 4 or np.ptp(y) < 1e-9 * max(1.0, np.abs(y).max()):
        got = f"{y[0]:g} in all {len(y)} rows" if len(y) else "no usable row"
        raise InputError(f"target '{target}'", "different from row to row", said(got))
    least = 12 if len(terms) > 1 else 5
    least = max(least, len(terms) + 3)
    if count < least:
        raise InputError(
            f"groups in '{group_name}'",
            f"at least {least} for {len(terms)} terms; the law would be read into chance",
            said(f"{count} groups ({len(y)} rows)"),
            'groups="..." with the heat of each row'
            if group_name == "analysis"
            else "fewer terms"
            if count >= 5
            else "more heats",
        )


def _idle(frame: pd.DataFrame, used: set) -> list[str]:
    """Name columns of tested conditions that vary and are not used."""
    lines = []
    for column in frame.columns:
        name = str(column)
        if column in used or is_element(name) or re.search(r"(?i)pitting|crevice", name):
            continue
        if re.search(r"(?i)temperature|temp\b|thickness|direction|rate|\blab(\b|orator)", name):
            if frame[column].nunique() > 1:
                lines.append(f"'{column}' varies and is no term: what it does counts as scatter")
    return lines
