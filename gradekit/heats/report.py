"""What became of every row and column of a file, as a table and below a batch in a notebook."""

from __future__ import annotations

import sys
from collections.abc import Iterable

import pandas as pd

from gradekit.core.markup import panel, table
from gradekit.heats.notes import Became, notes_of

_COLUMNS = list(Became._fields[:-1])
#: Of a file nobody wants to see more lines at once.
_SHOWN = 12


def reading_report(batch: pd.DataFrame) -> pd.DataFrame:
    """Return what became of each column and each row of the file that a batch was read from.

    Parameters
    ----------
    batch : DataFrame, shape (heats, elements)
        As `read_heats` or `as_batch` gives it.

    Returns
    -------
    DataFrame
        One line a column or row, first what one may not expect. `kind` is 'column' or 'row' and
        `where` its place; `label` what stands at its head; `taken_as` 'content', 'heat name',
        'kept aside', 'balance', 'heat', 'product analysis', 'limit', 'statistic', 'units',
        'header', 'title', 'comment', 'blank', 'left out' ...; `element`, `unit` and `factor` (to
        wt%) of a content; `reason` in words. What was said without a place stands in `messages`.

    Raises
    ------
    InputError
        What is no DataFrame.

    Examples
    --------
    >>> from gradekit.heats import read_heats_text
    >>> report = reading_report(read_heats_text("heat;Chrom;N ppm;Ni 2\\nH1;18,1;480;8"))
    >>> report[["kind", "label", "taken_as", "element", "factor"]].iloc[:2].values.tolist()
    [['column', 'Ni 2', 'kept aside', '', nan], ['column', 'Chrom', 'content', 'Cr', 1.0]]
    """
    return _frame_of(notes_of(batch).get("report", []))


def _frame_of(report: Iterable[Became]) -> pd.DataFrame:
    entries = list(report)
    order = {"column": 0, "row": 1}
    entries.sort(key=lambda e: (not e.surprise, order.get(e.kind, 2)))
    return pd.DataFrame([e[:-1] for e in entries], columns=_COLUMNS)


def show_in_notebooks(batch: pd.DataFrame) -> pd.DataFrame:
    """Have notebooks show the report below this batch, and return it."""
    notes = notes_of(batch)
    if notes and "IPython" in sys.modules:
        shell = sys.modules["IPython"].get_ipython()
        if shell is not None:
            notes["shape"] = batch.shape
            pages = shell.display_formatter.formatters["text/html"]
            pages.for_type(pd.DataFrame, html_with_report)
    return batch


def html_with_report(frame: pd.DataFrame) -> str | None:
    """Return the page of a table, with the report below it where it is a batch as it was read."""
    page = frame._repr_html_()
    notes = notes_of(frame)
    if page is None or notes.get("shape") != frame.shape or "report" not in notes:
        return page
    entries = notes["report"]
    # Of a large table the heats are entries only when somebody reads them.
    told = getattr(entries, "entries", entries)
    surprises = sum(e.surprise for e in told)
    report = _frame_of(told)
    first = report[report["taken_as"].ne("heat") | (report.index < surprises)].head(_SHOWN)
    more = len(entries) - len(first)
    shown = first.set_index(first["where"])[["label", "taken_as", "element", "unit", "reason"]]
    look = f"{surprises} things to look at first" if surprises else "all as one would expect"
    rest = f"; {more} more lines: gk.reading_report(heats)" if more else ""
    lead = f"{len(frame)} heats were read, {look.replace('1 things', '1 thing')}"
    return page + str(
        panel(table(shown, f"What became of the file{rest}", wide=["reason"]), lead=lead)
    )
