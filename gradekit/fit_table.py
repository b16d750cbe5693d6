"""A laboratory's table made ready for a regression: terms, target, groups, and what is refused."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
import pandas as pd

from gradekit.cells import column_element
from gradekit.composition import as_batch
from gradekit.elements import is_element
from gradekit.errors import NOTHING, InputError, nearest, said
from gradekit.relation import CONDITIONS, Check, Linear

__all__ = ["Tests", "read_tests"]

KSI = 6.894757
_UNITS = {"MPa": "MPa", "pct": "%", "C": "°C", "um": "µm", "HV": "HV", "HB": "HB", "J": "J"}
_GROUPS = ("heat", "melt", "charge", "cast", "laborator", "lab", "publication", "paper", "source")
_ENTRIES = {"grain_size_um": "grain_size_um^-0.5"}  # strength goes with d^-1/2


@dataclass
class Tests:
    """Rows that can be fitted.

    Attributes
    ----------
    batch : DataFrame, wt%
    given : mapping of condition to ndarray
    y : ndarray
    x : ndarray, shape (rows, terms)
    terms : list of str
    groups : ndarray of str
    group_name : str
    notes : list of str
        What was left out or taken for granted.
    """

    target: str
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
    source: object,
    target: str,
    terms: Iterable[str] | None,
    groups: object,
    conditions: object,
    unit: str | None,
) -> Tests:
    """Read a table of tests and refuse what no regression should be made of.

    Returns
    -------
    Tests
    """
    frame = _frame(source)
    _known_column(frame, target, "target")
    unit = unit or _unit_of(target)
    wanted, fixed = _conditions(frame, conditions)
    y = _numbers(frame[target], target)
    if not np.isfinite(y).any():
        raise InputError(f"column '{target}'", "measured values", said("no value in any row"))
    _refuse_units(frame, target, y, unit)

    notes = []
    batch = _batch(frame)
    values = {e: batch[e].to_numpy() for e in batch}
    values |= {c: _numbers(frame[column], column) for c, column in wanted.items()}
    _refuse_sizes(values)
    measured = np.isfinite(y)
    if terms is None:
        terms = _default_terms(values, wanted, measured, notes)
    terms = [terms] if isinstance(terms, str) else list(terms)
    probe = _probe(terms)
    for name in probe.inputs:
        if name not in values:
            column = nearest(name, map(str, frame.columns))
            raise InputError(f"term '{name}'", "a column of the table", NOTHING, column)
        if not np.isfinite(values[name][measured]).any():
            raise InputError(
                f"column '{name}'", "known in some row with the target", said("no value in any")
            )
    labels, group_name = _groups(frame, groups, batch, notes)

    usable = measured.copy()
    for name in probe.inputs:
        usable &= np.isfinite(values[name])
    lost = int(measured.sum() - usable.sum())
    if lost:
        gone = [n for n in probe.inputs if not np.isfinite(values[n][measured]).all()]
        notes.append(f"{lost} tested rows left out: {', '.join(gone)} not known there")
    if (~measured).any():
        notes.append(f"{int((~measured).sum())} rows have no {target}")
    columns = {n: values[n][usable] for n in values}
    y, labels = y[usable], labels[usable]
    _refuse_few(y, labels, terms, target, group_name)
    with np.errstate(all="ignore"):
        amounts = probe.term_values(columns)
    x = np.column_stack([np.broadcast_to(amounts[t], y.shape) for t in terms])
    for k, term in enumerate(terms):
        if not np.isfinite(x[:, k]).all():
            raise InputError(f"term '{term}'", "a number in every row", said("0 to a power < 0"))
        if np.ptp(x[:, k]) < 1e-12:
            raise InputError(
                f"term '{term}'", "different from row to row", said(f"{x[0, k]:g} in every row")
            )
    notes += _idle(frame, usable, wanted, target)
    given = {c: columns[c] for c in wanted} | {c: np.asarray(v) for c, v in fixed.items()}
    return Tests(
        target, unit, batch.loc[usable], given, y, x, terms, columns, labels, group_name,
        frame.index[usable], notes,
    )  # fmt: skip


def _frame(source: object) -> pd.DataFrame:
    if isinstance(source, pd.DataFrame):
        return source.reset_index() if source.index.name else source.copy()
    if not isinstance(source, (str, os.PathLike)):
        raise InputError("table of tests", "a DataFrame, or a CSV or XLSX file", source)
    path = Path(source)
    if not path.is_file():
        raise InputError("table of tests", "an existing CSV or XLSX file", path.name)
    if path.suffix.lower() in (".xlsx", ".xlsm"):
        return pd.read_excel(path)
    if path.suffix.lower() not in (".csv", ".tsv", ".txt"):
        raise InputError("table of tests", "a CSV or XLSX file", path.name)
    for encoding in ("utf-8-sig", "cp1252"):
        try:
            return pd.read_csv(path, sep=None, engine="python", encoding=encoding, comment="#")
        except UnicodeDecodeError:
            continue
        except pd.errors.ParserError as error:
            raise InputError(f"table '{path.name}'", "one header, then rows", said(error)) from None
    raise InputError(f"table '{path.name}'", "text in UTF-8 or cp1252", said("other bytes"))


def _known_column(frame: pd.DataFrame, name: object, what: str) -> None:
    if name not in frame.columns:
        close = nearest(str(name), map(str, frame.columns))
        raise InputError(what, "a column of the table", name, close)


def _numbers(column: pd.Series, name: str) -> np.ndarray:
    if pd.api.types.is_numeric_dtype(column):
        return column.to_numpy(dtype=float)
    text = column.astype("string").str.strip().str.replace(",", ".", regex=False)
    text = text.mask(text.str.lower().isin(["", "-", "n.d.", "n/a", "na"]))
    numbers = pd.to_numeric(text, errors="coerce")
    wrong = numbers.isna() & text.notna()
    if wrong.any():
        raise InputError(
            f"column '{name}', row {column.index[wrong.to_numpy()][0]}", "a number",
            column[wrong.to_numpy()].iloc[0],
        )  # fmt: skip
    return numbers.to_numpy(dtype=float, na_value=np.nan)


def _batch(frame: pd.DataFrame) -> pd.DataFrame:
    named = [c for c in frame.columns if (h := column_element(c)) and h.element]
    if not named:
        raise InputError("table of tests", "columns of elements, wt%", list(frame.columns)[:6])
    part = frame[named].set_axis([f"row {i}" for i in range(len(frame))])
    empty = part.isna().all(axis=1)
    numbers = part[~empty]
    if all(pd.api.types.is_numeric_dtype(t) for t in numbers.dtypes):
        numbers = numbers.astype(float)
    batch = as_batch(numbers)
    if len(batch) != len(numbers):
        raise InputError("rows of the table", "one analysis each", said("summary rows among them"))
    for element, most in (("N", 2.0), ("C", 4.5), ("B", 1.0)):
        if element in batch and batch[element].median() > most:
            raise InputError(
                f"column '{element}'", "wt%", said(f"a median of {batch[element].median():g}"),
                f"a header '{element} ppm'",
            )  # fmt: skip
    batch = batch.set_axis(numbers.index).reindex(part.index)
    return batch.set_axis(frame.index)


def _conditions(frame: pd.DataFrame, conditions: object) -> tuple[dict, dict]:
    """Return the condition of each column, and conditions given as one number."""
    if isinstance(conditions, str):
        conditions = [conditions]
    pairs = (
        dict(conditions)
        if isinstance(conditions, Mapping)
        else {c: c for c in [*conditions, *[c for c in CONDITIONS if c in frame.columns]]}
    )
    wanted, fixed = {}, {}
    for name, column in pairs.items():
        if name not in CONDITIONS:
            raise InputError("condition", ", ".join(CONDITIONS), name, nearest(name, CONDITIONS))
        if isinstance(column, (int, float)):
            fixed[name] = float(column)
        else:
            _known_column(frame, column, f"column of {name}")
            wanted[name] = column
    for name in CONDITIONS:
        if name in frame.columns and name not in pairs:
            wanted[name] = name
    return wanted, fixed


def _default_terms(values: dict, wanted: dict, measured: np.ndarray, notes: list) -> list[str]:
    terms = []
    for name, column in values.items():
        known = column[measured]
        varied = known[np.isfinite(known)]
        if len(varied) < 0.8 * len(known) or len(np.unique(varied)) < 4:
            notes.append(f"{name} is no term: hardly varied, or not known in a fifth of the rows")
            continue
        terms.append(_ENTRIES.get(name, name) if name in wanted else name)
    return terms


def _probe(terms: list[str]) -> Linear:
    if not terms:
        raise InputError("terms", "at least one, such as ['C', 'N', 'Cr*Mo']", terms)
    return Linear(
        name="fit", title="", quantity="", unit="", status="fitted by the user", source=("table",),
        check=Check({}, 0.0), terms=dict.fromkeys(terms, 0.0),
    )  # fmt: skip


def visible_group(frame: pd.DataFrame) -> str | None:
    """Return the column that seems to say which rows belong together."""
    lower = {c: re.sub(r"[^a-z]", "", str(c).lower()) for c in frame.columns}
    for word in _GROUPS:
        for column, name in lower.items():
            numeric = pd.api.types.is_float_dtype(frame[column])
            if name.startswith(word) and not numeric and frame[column].nunique() > 1:
                return column
    return None


def _groups(frame, groups, batch, notes) -> tuple[np.ndarray, str]:
    seen = visible_group(frame)
    if groups is None:
        if seen is not None:
            if not frame[seen].is_unique:
                raise InputError(
                    "groups",
                    "the column whose rows belong together: tests of one heat are alike, and a"
                    " split by rows would test the fit on heats that it knows",
                    NOTHING,
                    f'groups="{seen}"',
                )
            return frame[seen].astype(str).to_numpy(), str(seen)
        notes.append("no column of heats: rows of the same analysis are taken for one heat")
        codes = batch.fillna(-1.0).groupby(list(batch.columns), sort=False).ngroup()
        return codes.astype(str).to_numpy(), "analysis"
    if isinstance(groups, str):
        _known_column(frame, groups, "groups")
        column, name = frame[groups], groups
    else:
        column, name = pd.Series(list(groups)), "groups"
        if len(column) != len(frame):
            raise InputError(
                "groups", f"a column, or one label for each of {len(frame)} rows",
                said(f"{len(column)} labels"),
            )  # fmt: skip
    if column.isna().any():
        raise InputError(f"groups '{name}'", "known in every row", said("blank cells"))
    if column.is_unique and seen is not None and not frame[seen].is_unique:
        raise InputError(
            "groups", "fewer than rows: a split by rows tests the fit on heats that it knows",
            said("a group for every row"), f'groups="{seen}"',
        )  # fmt: skip
    return column.astype(str).to_numpy(), name


def _refuse_few(y, labels, terms, target, group_name) -> None:
    count = len(np.unique(labels))
    if len(y) < 4 or np.ptp(y) < 1e-9 * max(1.0, np.abs(y).max()):
        found = f"{y[0]:g} in all {len(y)} rows" if len(y) else "no usable row"
        raise InputError(f"target '{target}'", "different from row to row", said(found))
    least = 12 if len(terms) > 1 else 5
    least = max(least, len(terms) + 3)
    if count < least:
        raise InputError(
            f"groups in '{group_name}'",
            f"at least {least} for {len(terms)} terms; the law would be read into chance",
            said(f"{count} groups ({len(y)} rows)"),
            "fewer terms" if count >= 5 else "more heats",
        )


def _unit_of(target: str) -> str:
    tail = str(target).rsplit("_", 1)[-1]
    return _UNITS.get(tail, "ksi" if tail.lower() == "ksi" else "")


def _refuse_units(frame: pd.DataFrame, target: str, y: np.ndarray, unit: str) -> None:
    advice = f"MPa = {KSI:.3f} ksi"
    if re.search(r"(?i)(?<![a-z])(ksi|psi)(?![a-z])", str(target)) or unit in ("ksi", "psi"):
        raise InputError(f"column '{target}'", "in MPa", said("ksi, by its name"), advice)
    if unit != "MPa":
        return
    known = y[np.isfinite(y)]
    if (known <= 0).any():
        raise InputError(f"column '{target}'", "positive strengths", float(known.min()))
    ordered = np.sort(np.log(known))
    gaps = np.diff(ordered)
    if len(gaps) and gaps.max() > np.log(2):
        at = int(gaps.argmax()) + 1
        low, high = ordered[:at], ordered[at:]
        apart = np.median(high) - np.median(low)
        together = np.std(np.concatenate([low + np.log(KSI), high]))
        if abs(apart - np.log(KSI)) < 0.5 and together < np.std(ordered) / 2:
            row = frame.index[np.nanargmin(y)]
            raise InputError(
                f"column '{target}'", "in one unit",
                said(f"{len(low)} of {len(known)} values a seventh of the others, as ksi among"
                     f" MPa (row {row}: {np.nanmin(y):g})"),
                advice,
            )  # fmt: skip
    for other in frame.columns:
        if other == target or _unit_of(str(other)) != "MPa":
            continue
        ratio = np.nanmedian(y) / np.nanmedian(_numbers(frame[other], other))
        if ratio < 0.19:
            raise InputError(
                f"column '{target}'", "in MPa",
                said(f"a median of {np.nanmedian(y):g}, where '{other}' has"
                     f" {np.nanmedian(y) / ratio:g}: as ksi among MPa"),
                advice,
            )  # fmt: skip


def _refuse_sizes(values: dict) -> None:
    grain = values.get("grain_size_um")
    if grain is not None and np.nanmedian(grain) < 0.5:
        raise InputError(
            "grain_size_um", "µm", said(f"a median of {np.nanmedian(grain):g}, as in mm")
        )
    hot = values.get("temperature_C")
    if hot is not None and np.nanmin(hot) in (293.0, 293.15, 295.0, 295.15, 298.0, 298.15):
        raise InputError("temperature_C", "°C", said(f"{np.nanmin(hot):g} at the least, as in K"))


def _idle(frame: pd.DataFrame, usable: np.ndarray, wanted: dict, target: str) -> list[str]:
    """Name columns of tested conditions that vary and are not used."""
    found = []
    for column in frame.columns:
        if column in wanted.values() or column == target or is_element(str(column)):
            continue
        if re.search(r"(?i)temperature|thickness|direction|rate|laborator", str(column)):
            if re.search(r"(?i)pitting|crevice", str(column)):
                continue
            if frame.loc[usable, column].nunique() > 1:
                found.append(f"'{column}' varies and is no term: what it does counts as scatter")
    return found
