"""A laboratory's table made ready for a regression: terms, target, groups, and what is refused."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import TypeAlias

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, Numbers, TableLike
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
from gradekit.relations.evaluate import Result, evaluate
from gradekit.relations.listing import Named

#: Names of conditions, or the column of each, one number, or one a row.
Conditions: TypeAlias = str | Iterable[str] | Mapping[str, str | Numbers]
_ENTRIES = {"grain_size_um": "grain_size_um^-0.5"}  # strength goes with d^-1/2
_NOT_CONTENTS = frozenset({"Re", "Ag", "At"})  # yield strength and strains, in a table of tests
_MOST = (("N", 2.0), ("C", 4.5), ("B", 1.0))  # wt%; a median above is of ppm


@dataclass(kw_only=True)
class Measured:
    """Rows of a laboratory's table that have a measured value.

    Attributes
    ----------
    target, unit : str
    frame : DataFrame
        The rows as they stand in the table; the index says where.
    batch : DataFrame, wt%
    given : mapping of condition to one number, or one a row
    used : set of str
        Columns that the conditions come from.
    y : ndarray
    groups : ndarray of str
    group_name : str
    notes : list of str
        What was left out or taken for granted.
    """

    target: str
    unit: str
    frame: pd.DataFrame
    batch: pd.DataFrame
    given: dict[str, float | np.ndarray]
    used: set[str]
    y: np.ndarray
    groups: np.ndarray
    group_name: str
    notes: list[str]

    @property
    def columns(self) -> dict[str, np.ndarray]:
        """The contents, and the conditions that differ from row to row, by name."""
        contents = {e: self.batch[e].to_numpy() for e in self.batch}
        return contents | {c: v for c, v in self.given.items() if isinstance(v, np.ndarray)}

    def only(self, rows: np.ndarray) -> Measured:
        """Return the rows of a mask."""
        given = {c: v[rows] if isinstance(v, np.ndarray) else v for c, v in self.given.items()}
        return replace(
            self, frame=self.frame.loc[rows], batch=self.batch.loc[rows], given=given,
            y=self.y[rows], groups=self.groups[rows],
        )  # fmt: skip

    def evaluated(self, names: Named) -> Result:
        """Return the values of relations for the rows, named 'row 0' and so on."""
        batch = self.batch.set_axis([f"row {k}" for k in range(len(self.y))])
        return evaluate(batch.dropna(axis=1, how="all"), names, **self.given)


@dataclass(kw_only=True)
class Tests(Measured):
    """Rows that can be fitted.

    Attributes
    ----------
    quantity : str
    terms : list of str
    x : ndarray, shape (rows, terms)
    """

    quantity: str
    terms: list[str]
    x: np.ndarray

    @property
    def means(self) -> pd.DataFrame:
        """The mean of each term in each group."""
        return pd.DataFrame(self.x, columns=self.terms).groupby(self.groups).mean()


def read_measured(
    source: TableLike, target: str, groups: Given, conditions: Conditions, unit: str | None = None
) -> Measured:
    """Read a table of tests and refuse what is measured in mixed or unknown units."""
    frame = table_of(source, target)
    summary = summary_rows(frame)
    given, used = _conditions(frame, conditions, summary)
    known_unit = unit or unit_of(target)
    y = numbers(frame[target].mask(summary), target, known_unit)
    measured = np.isfinite(y)
    if not measured.any():
        raise InputError(f"column '{target}'", "measured values", said("no value in any row"))
    notes = _left_out(frame, target, measured, summary)
    refuse_strengths(frame.loc[measured], target, y[measured], unit)
    batch = contents_in_table(frame, measured, notes)
    labels, name = group_labels(frame, groups, batch, measured, notes)
    found = Measured(
        target=target, unit=known_unit, frame=frame, batch=batch, given=given, used=used, y=y,
        groups=labels, group_name=name, notes=notes,
    ).only(measured)  # fmt: skip
    refuse_sizes(found.columns)
    return found


def read_tests(
    source: TableLike,
    target: str,
    terms: Iterable[str] | None,
    groups: Given,
    conditions: Conditions,
    unit: str | None,
) -> Tests:
    """Read a table of tests and refuse what no regression should be made of."""
    read = read_measured(source, target, groups, conditions, unit)
    known, notes = read.columns, read.notes
    if terms is None:
        terms = _default_terms(known, notes)
    terms = _named_terms([terms] if isinstance(terms, str) else list(terms), read.frame, target)
    needed = probe(terms)
    for name in needed.inputs:
        _refuse_unknown(name, known, read.frame)
    holes = {n: ~np.isfinite(known[n]) for n in needed.inputs}
    usable = ~np.any(list(holes.values()), axis=0)
    if not usable.all():
        gone = ", ".join(n for n, hole in holes.items() if hole.any())
        notes.append(f"{_rows(int((~usable).sum()))} left out: {gone} not known there")
    kept = read.only(usable)
    y = kept.y
    _refuse_few(y, kept.groups, terms, target, kept.group_name)
    with np.errstate(all="ignore"):
        amounts = needed.term_values(kept.columns)
    x = np.column_stack([np.broadcast_to(amounts[t], y.shape) for t in terms])
    for term, column in zip(terms, x.T, strict=True):
        if not np.isfinite(column).all():
            raise InputError(f"term '{term}'", "a number in every row", said("0 to a power < 0"))
        if np.ptp(column) < 1e-12:
            got = said(f"{column[0]:g} in every row")
            raise InputError(f"term '{term}'", "different from row to row", got)
    notes += _idle(kept.frame, {*kept.used, target, kept.group_name})
    quantity = quantity_in_header(target) if kept.unit else target
    return Tests(**vars(kept), quantity=quantity, terms=terms, x=x)


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count} rows"


def _left_out(
    frame: pd.DataFrame, target: str, measured: np.ndarray, summary: np.ndarray
) -> list[str]:
    """Say which rows are no tests, and which stand twice."""
    notes = []
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
    return notes


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


def _conditions(
    frame: pd.DataFrame, conditions: Conditions, summary: np.ndarray
) -> tuple[dict[str, float | np.ndarray], set[str]]:
    """Return each condition as one number or one a row, and the columns they come from."""
    pairs: dict[str, str | Numbers] = {c: c for c in CONDITIONS if c in frame.columns}
    if isinstance(conditions, str):
        conditions = [conditions]
    pairs |= conditions if isinstance(conditions, Mapping) else {c: c for c in conditions}
    given: dict[str, float | np.ndarray] = {}
    used = set()
    for name, told in pairs.items():
        one_of("condition", name, CONDITIONS)
        if isinstance(told, str):
            known_column(frame, told, f"column of {name}")
            refuse_unit(told, unit_of(name), name)
            given[name] = numbers(frame[told].mask(summary), told, unit_of(told))
            used.add(told)
        elif isinstance(told, (int, float)):
            given[name] = float(told)
        else:
            given[name] = each = np.asarray(told, dtype=float)
            if each.shape != (len(frame),):
                must = f"one value, or one for each of {len(frame)} rows"
                raise InputError(name, must, said(str(each.shape)))
    return given, used


def _default_terms(columns: Mapping[str, np.ndarray], notes: list[str]) -> list[str]:
    terms: list[str] = []
    idle: dict[str, list[str]] = {}
    for name, column in columns.items():
        told = column[np.isfinite(column)]
        if len(told) == 0:
            idle.setdefault("without any value", []).append(name)
        elif len(told) < 0.8 * len(column):
            idle.setdefault("not known in a fifth of the rows", []).append(name)
        elif len(np.unique(told)) < 4:
            idle.setdefault("hardly varied", []).append(name)
        else:
            terms.append(_ENTRIES.get(name, name))
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


def _refuse_unknown(name: str, known: Mapping[str, np.ndarray], frame: pd.DataFrame) -> None:
    if name not in known:
        close = nearest(name, map(str, frame.columns))
        if name in CONDITIONS:
            close = f'conditions={{"{name}": "{close or "its column"}"}}'
        raise InputError(f"term '{name}'", "a column of the table", NOTHING, close)
    if not np.isfinite(known[name]).any():
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
