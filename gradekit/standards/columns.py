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

from gradekit.core.aliases import Label
from gradekit.core.sources import weakest
from gradekit.heats.notes import bounds, notes_of
from gradekit.standards.judge import Analysis, LimitFinding, Reported, judge_limit, reported
from gradekit.standards.tables import Limit, Window

_COLUMNS = (
    "heat element value min max margin verdict evidence rule designation standard status reason "
    "unit kind"
).split()
_NUMBERS = ("value", "min", "max", "margin")
_KINDS = {c: float if c in _NUMBERS else "str" for c in _COLUMNS if c != "heat"}


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
            keys = batch[element]
            texts = [""] if marks is None else marks[element].tolist()
            if some := any(texts):
                keys = pd.Series(list(zip(keys.tolist(), texts, strict=True)), dtype=object)
            self._codes[element], unique = pd.factorize(keys, use_na_sentinel=False)
            pairs = unique if some else [(number, "") for number in unique]
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


def judged_limits(
    batch: pd.DataFrame, reports: Reports, window: Window, product: bool
) -> pd.DataFrame:
    """Return a check of every heat against every limit of one window, heat by heat.

    Parameters
    ----------
    batch : clean batch
    reports : Reports of it
    window : Window
    product : bool
    """
    answers: list[tuple] = []
    which = np.empty((len(batch), len(window.limits)), dtype=np.intp)
    for at, limit in enumerate(window.limits):
        codes, analyses = reports.different(_needed(limit))
        which[:, at] = len(answers) + codes
        for analysis in analyses:
            finding = judge_limit(limit, window, analysis, product)
            kind = "rule" if limit.rule else "limit"
            answers.append(row_of("", limit, window, finding, kind))
    table = rows_as_table(answers).take(which.ravel())
    table.index = pd.RangeIndex(len(table))
    table["heat"] = batch.index.repeat(len(window.limits))
    return table


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


def rows_as_table(rows: list[tuple]) -> pd.DataFrame:
    """Return rows of a check as a table; the kinds of its columns hold without a row, too."""
    table = pd.DataFrame(rows, columns=_COLUMNS)
    return table if rows else table.astype(_KINDS)
