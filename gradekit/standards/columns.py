"""A whole batch against the limits of a grade: each different report judged once, exactly.

Laboratories report a handful of different digits for an element, so that twenty thousand heats hold
a few dozen different contents of chromium. A limit is judged on each different report that it asks
for, in decimals as for one heat, and the answers are spread over the heats as arrays.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike
from pandas.api.extensions import ExtensionArray

from gradekit.core.aliases import Label
from gradekit.core.sources import weakest
from gradekit.heats.notes import bounds, notes_of
from gradekit.standards.judge import Analysis, LimitFinding, Reported, judge_limit, reported
from gradekit.standards.tables import Limit, Window

_CONSTANT = ("element", "evidence", "rule", "unit", "kind")


class Reports:
    """What a batch reports, each different report of an element once.

    Parameters
    ----------
    batch : clean batch
    """

    def __init__(self, batch: pd.DataFrame) -> None:
        self.heats = len(batch)
        self.unread = notes_of(batch).get("unread", {})
        marks = bounds(batch) if notes_of(batch).get("bounds") else None
        self._codes: dict[str, np.ndarray] = {}
        self._reports: dict[str, list[Reported | None]] = {}
        for element in batch:
            numbers = batch[element].to_numpy()
            texts = [""] * self.heats if marks is None else marks[element].tolist()
            some = any(texts)
            keys = list(zip(numbers.tolist(), texts, strict=True)) if some else numbers
            codes, unique = pd.factorize(pd.Series(keys, dtype=object if some else float),
                                         use_na_sentinel=False)  # fmt: skip
            pairs = unique if some else [(number, "") for number in unique]
            self._codes[element] = codes
            self._reports[element] = [reported(number, text) for number, text in pairs]

    def different(self, elements: Iterable[str]) -> tuple[np.ndarray, list[Analysis]]:
        """Return for each heat which of the different reports of these elements it has.

        Returns
        -------
        ndarray of int, shape (heats,), and the reports
        """
        names = [e for e in elements if e in self._codes]
        whole = np.zeros(self.heats, dtype=np.int64)
        for name in names:
            whole = whole * len(self._reports[name]) + self._codes[name]
            _, whole = np.unique(whole, return_inverse=True)
        _, first, codes = np.unique(whole, return_index=True, return_inverse=True)
        analyses = []
        for row in first:
            analysis = Analysis(self.unread)
            for name in names:
                report = self._reports[name][self._codes[name][row]]
                if report is not None:
                    analysis[name] = report
            analyses.append(analysis)
        return codes, analyses


def columns_of(
    batch: pd.DataFrame, reports: Reports, window: Window, product: bool
) -> dict[str, ArrayLike]:
    """Return the columns of a check of every heat against one window, heat by heat.

    Parameters
    ----------
    batch : clean batch
    reports : Reports of it
    window : Window
    product : bool

    Returns
    -------
    dict of column to array, length heats x limits
    """
    limits = window.limits
    shape = (reports.heats, len(limits))
    numbers = {c: np.empty(shape) for c in ("value", "min", "max", "margin")}
    words = {c: _Words(shape) for c in ("verdict", "status", "reason")}
    for at, limit in enumerate(limits):
        codes, analyses = reports.different(_needed(limit))
        judged = [judge_limit(limit, window, analysis, product) for analysis in analyses]
        for column, cell in (("value", "value"), ("min", "low"), ("max", "high"),
                             ("margin", "margin")):  # fmt: skip
            numbers[column][:, at] = np.array([_float(getattr(f, cell)) for f in judged])[codes]
        words["verdict"].put(at, codes, [f.verdict for f in judged])
        words["status"].put(at, codes, [weakest(limit.status, f.status) for f in judged])
        words["reason"].put(at, codes, ["; ".join(f.reasons) for f in judged])
    same = {c: _Words(shape) for c in (*_CONSTANT, "designation", "standard")}
    nothing = np.zeros(reports.heats, dtype=np.intp)
    for at, limit in enumerate(limits):
        kind = "rule" if limit.rule else "limit"
        texts = (limit.element, limit.evidence, limit.rule, limit.unit, kind)
        for column, text in zip(_CONSTANT, texts, strict=True):
            same[column].put(at, nothing, [text])
        same["designation"].put(at, nothing, [window.designation])
        same["standard"].put(at, nothing, [window.standard])
    return {
        "heat": batch.index.repeat(len(limits)),
        **{column: table.ravel() for column, table in numbers.items()},
        **{column: table.array() for column, table in (words | same).items()},
    }


class _Words:
    """A column of words, each different one held once."""

    def __init__(self, shape: tuple[int, int]) -> None:
        self._known: dict[str, int] = {}
        self._codes = np.empty(shape, dtype=np.intp)

    def put(self, at: int, codes: np.ndarray, words: list[str]) -> None:
        """Write the words of one limit: `words[codes]`."""
        places = [self._known.setdefault(word, len(self._known)) for word in words]
        self._codes[:, at] = np.array(places, dtype=np.intp)[codes]

    def array(self) -> ExtensionArray:
        """Return the column, heat by heat."""
        return pd.array(list(self._known), dtype="str").take(self._codes.ravel())


def _needed(limit: Limit) -> tuple[str, ...]:
    """The elements that a limit is judged on; where tantalum is not reported, niobium may do."""
    return (*limit.needs, "Nb", "Ta") if limit.element == "Nb+Ta" else limit.needs


def _float(value: Decimal | None) -> float:
    return float("nan") if value is None else float(value) + 0.0  # never a negative zero


def row_of(heat: Label, limit: Limit, window: Window, finding: LimitFinding, kind: str) -> tuple:
    """Return one row of a check, in the order of its columns."""
    return (
        heat, limit.element, _float(finding.value), _float(finding.low), _float(finding.high),
        _float(finding.margin), finding.verdict, limit.evidence, limit.rule, window.designation,
        window.standard, weakest(limit.status, finding.status), "; ".join(finding.reasons),
        limit.unit, kind,
    )  # fmt: skip
