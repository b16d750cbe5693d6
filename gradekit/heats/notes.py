"""What travels beside the numbers of a batch: bounds, other columns, messages, limits."""

from __future__ import annotations

import re
import warnings
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from gradekit.core.aliases import Label
from gradekit.core.errors import InputError
from gradekit.core.reader import letters

_KEY = "gradekit"
_REPEATS = 5
# The upper end of a content; "<LOD" is none.
_END = re.compile(r"<[\d.]")


class Became(NamedTuple):
    """What became of one row or column of a source.

    Attributes: 'row' or 'column'; its place; what stands at its head; what it was taken as;
    element, unit and factor to wt% of a column of contents; in words why; and whether somebody
    may not expect it.
    """

    kind: str
    where: str
    label: str
    taken_as: str
    element: str = ""
    unit: str = ""
    factor: float = np.nan
    reason: str = ""
    surprise: bool = False


class Journal:
    """Takes down what a file tells beside its heats, and what became of each row and column.

    Attributes: name of the file and of the sheet; lines of text around the tables; limits that are
    printed; what was decided, in words; the decimal sign of the clear numbers; whether the table
    has its heats beside each other.
    """

    def __init__(self, source: str):
        self.source, self.turned, self.sign = source, False, ""
        self.titles: list[str] = []
        self.limits: dict[str, dict] = {}
        self.remarks: list[str] = []
        self.entries: list[Became] = []
        self.heats: tuple[Sequence[int], Sequence[str]] = ((), ())
        self._blank = (-1, -1)
        self._rows: set[int] = set()

    def row(
        self, number: int, label: Label, taken_as: str, reason: str = "", surprise: bool = False
    ) -> None:
        """Enter a row, counted from 0; of a turned table it is a column of the file."""
        if number in self._rows:  # of two tables beside each other
            return
        self._rows.add(number)
        kind, where = self._place(number, self.turned)
        shown = "" if label is None else str(label).strip()[:60]
        self.entries.append(Became(kind, where, shown, taken_as, reason=reason, surprise=surprise))

    def forget(self, number: int) -> None:
        """Take back what was entered of a row."""
        where = self._place(number, self.turned)
        self.entries = [entry for entry in self.entries if entry[:2] != where]
        self._rows.discard(number)

    def report(self) -> list[Became] | Report:
        """Return all entries; those of the heats of a large table are made when they are read."""
        return Report(self.entries, *self.heats) if self.heats[0] else self.entries

    def blank(self, number: int) -> None:
        """Enter a row on which nothing stands; blank rows below each other are one entry."""
        last = self.entries[-1] if self.entries else None
        if last and last.taken_as == "blank" and self._blank[1] == number - 1:
            self._blank = (self._blank[0], number)
            first, kind = self._blank[0] + 1, "columns" if self.turned else "rows"
            where = f"{kind} {first} to {number + 1}"
            if self.turned:
                where = f"{kind} {letters(first - 1)} to {letters(number)}"
            self.entries[-1] = last._replace(where=where)
        else:
            self._blank = (number, number)
            self.row(number, "", "blank")

    def column(self, number: int, label: str, taken_as: str, **more) -> None:
        """Enter a column, counted from 0; of a turned table it is a row of the file."""
        kind, where = self._place(number, not self.turned)
        self.entries.append(Became(kind, where, label[:60], taken_as, **more))

    @staticmethod
    def _place(number: int, column: bool) -> tuple[str, str]:
        if column:
            return "column", f"column {letters(number)}"
        return "row", f"row {number + 1}"


class Report:
    """Entries, and behind them one for each heat of a large table, made when it is read."""

    def __init__(self, entries: list[Became], numbers: Sequence[int], names: Sequence[str]):
        self.entries, self.numbers, self.names = entries, numbers, names

    def __len__(self) -> int:
        return len(self.entries) + len(self.names)

    def __iter__(self) -> Iterator[Became]:
        yield from self.entries
        for number, name in zip(self.numbers, self.names, strict=True):
            yield Became("row", f"row {number + 1}", str(name).strip()[:60], "heat")


class Notes(dict):
    """What the border learnt beside the numbers; one shared record, never copied.

    Keys: `bounds` {element: {heat: text}}, `about` {column: {heat: value}}, `messages` [text],
    `titles` [text], `source` text, `limits` {row label: {column: value}}, `report` [Became],
    `unread` {element: header that was not understood}.
    """

    def __deepcopy__(self, memo: dict) -> Notes:
        return self

    # pandas compares the notes of tables that it joins, and keeps them only where they are equal;
    # it offers no place to merge them. Two records are the same or are not.
    def __eq__(self, other: object) -> bool:
        said = isinstance(other, Notes) and any(
            record.get(key) for record in (self, other) for key in ("bounds", "messages")
        )
        if self is not other and said:
            warnings.warn(
                "pandas joins these batches without their bounds '<x' and messages, so flags get "
                "lost; gradekit.as_batch([one, two]) keeps them",
                stacklevel=2,
            )
        return self is other

    __hash__ = None


def first_remarks(what: list, say: Callable[[Any], str] = str) -> list[str]:
    """Say the first of what is to be remarked; those on more rows are counted, not repeated."""
    more = len(what) - _REPEATS
    return [*map(say, what[:_REPEATS]), *([f"… and so in {more} more rows"] if more > 0 else [])]


def notes_of(batch: pd.DataFrame | pd.Series) -> Notes:
    """Return the notes of a batch; empty ones if it has none."""
    if not isinstance(batch, (pd.DataFrame, pd.Series)):
        raise InputError("batch", "a DataFrame of heats, as as_batch gives it", batch)
    notes = batch.attrs.get(_KEY)
    return notes if isinstance(notes, Notes) else Notes()


def with_notes(batch: pd.DataFrame, notes: Mapping) -> pd.DataFrame:
    """Attach notes to a batch and return it."""
    batch.attrs[_KEY] = Notes(notes)
    return batch


def joined_notes(records: Iterable[Mapping]) -> dict:
    """Merge what is known of single heats and what was said; the heats have names of their own."""
    merged: dict = {"bounds": {}, "about": {}, "messages": [], "report": [], "unread": {}}
    for record in records:
        for key in ("bounds", "about"):
            for column, values in record.get(key, {}).items():
                merged[key].setdefault(column, {}).update(values)
        merged["report"] += record.get("report", [])
        merged["unread"] |= record.get("unread", {})
        merged["messages"] += [m for m in record.get("messages", []) if m not in merged["messages"]]
    return merged


def bounds(batch: pd.DataFrame) -> pd.DataFrame:
    """Return what was reported as a bound instead of a number.

    Parameters
    ----------
    batch : DataFrame, shape (heats, elements)
        As `as_batch` or one of the readers gives it.

    Returns
    -------
    DataFrame, shape (heats, elements)
        '<0.005' in wt%, 'n.d.', 'tr' or '-', and an empty text elsewhere. A bound '<x' stands in
        the batch as x, its upper end; the others stand as unknown. Where the number of the batch
        has been changed since, nothing is said.

    Raises
    ------
    InputError
        What is no DataFrame.

    Examples
    --------
    >>> from gradekit import as_batch
    >>> bounds(as_batch({"Cr": 18.1, "Nb": "<0.005"})).loc["heat 1", "Nb"]
    '<0.005'
    """
    reported = notes_of(batch).get("bounds", {})
    table = pd.DataFrame("", index=batch.index, columns=batch.columns)
    for element, marks in reported.items():
        if element in table:
            table[element] = _standing(batch[element], marks)
    return table


def bounded(batch: pd.DataFrame) -> dict[str, np.ndarray]:
    """Return for each element with bounds '<x' a mask over the heats that stand at one.

    Examples
    --------
    >>> from gradekit import as_batch
    >>> bounded(as_batch({"Cr": 18.1, "Nb": "<0.005"}))
    {'Nb': array([ True])}
    """
    masks = {}
    for element, marks in notes_of(batch).get("bounds", {}).items():
        if element in batch:
            texts = _standing(batch[element], marks)
            mask = np.fromiter((bool(_END.match(t)) for t in texts), dtype=bool, count=len(texts))
            if mask.any():
                masks[element] = mask
    return masks


def _standing(column: pd.Series, marks: Mapping) -> list[str]:
    """Return the mark of each heat whose number is still the one that the mark stands for."""
    texts = [""] * len(column)
    if len(column) < len(marks):  # of one heat among thousands only its own mark is looked up
        marked = [row for row, heat in enumerate(column.index) if heat in marks]
    else:
        marked = np.flatnonzero(column.index.isin(list(marks))).tolist()
    for row in marked:
        text, value = marks[column.index[row]], column.iat[row]
        still = value == float(text[1:]) if _END.match(text) else value != value
        texts[row] = text if still else ""
    return texts


def about(batch: pd.DataFrame) -> pd.DataFrame:
    """Return the columns that came with the heats and are no analysis (grade, date, note).

    Parameters
    ----------
    batch : DataFrame, shape (heats, elements)
        As `as_batch` or one of the readers gives it.

    Returns
    -------
    DataFrame, shape (heats, columns)
        Texts as they stood; None where a heat had nothing there.

    Raises
    ------
    InputError
        What is no DataFrame.

    Examples
    --------
    >>> from gradekit import as_batch
    >>> about(as_batch([{"heat": "H1", "grade": "TW-188", "Cr": 18.1}])).loc["H1", "grade"]
    'TW-188'
    """
    came = notes_of(batch).get("about", {})
    columns = {
        # Large tables keep such a column as a Series, small ones as a dict.
        name: values.reindex(batch.index)
        if isinstance(values, pd.Series)
        else [values.get(heat) for heat in batch.index]
        for name, values in came.items()
    }
    return pd.DataFrame(columns, index=batch.index)


def messages(batch: pd.DataFrame) -> list[str]:
    """Return in words what was understood on the way in (ppm, renamed heats, left-out lines).

    Parameters
    ----------
    batch : DataFrame, shape (heats, elements)
        As `as_batch` or one of the readers gives it.

    Returns
    -------
    list of str
        Empty where nothing had to be understood.

    Raises
    ------
    InputError
        What is no DataFrame.

    Examples
    --------
    >>> from gradekit import as_batch
    >>> messages(as_batch({"Cr": 18.1, "N": 480}))
    ['N: 1 value of a size that only ppm can have, read as ppm']
    """
    return list(notes_of(batch).get("messages", []))


def not_reported(elements: Iterable[str], unread: Mapping[str, str]) -> str:
    """Say that these elements are not reported, or which column of theirs was not understood.

    `unread` is that of the notes of a batch.

    Examples
    --------
    >>> from gradekit.heats import read_heats_text
    >>> unread = notes_of(read_heats_text("heat;C;Ni 2\\nH1;0,02;8,1")).get("unread", {})
    >>> not_reported(["Ni"], unread), not_reported(["Cr", "N"], unread)
    ("column 'Ni 2' was not understood", 'Cr, N not reported')
    """
    elements = list(elements)
    gone = ", ".join(e for e in elements if e not in unread)
    columns = [f"column '{unread[e]}' was not understood" for e in elements if e in unread]
    return "; ".join([*([f"{gone} not reported"] if gone else []), *columns])


def printed_limits(batch: pd.DataFrame) -> pd.DataFrame:
    """Return the minima, maxima and aims that stood beside the heats on a certificate.

    Parameters
    ----------
    batch : DataFrame, shape (heats, elements)
        As `as_batch` or one of the readers gives it.

    Returns
    -------
    DataFrame
        One row a label such as 'min' or 'max', wt%; test results in their own unit. Empty where
        none were printed.

    Raises
    ------
    InputError
        What is no DataFrame.

    Examples
    --------
    >>> from gradekit.heats import read_heats_text
    >>> printed_limits(read_heats_text("heat,Cr\\nmax,19.5\\nH1,18.1")).at["max", "Cr"]
    np.float64(19.5)
    """
    limits = notes_of(batch).get("limits", {})
    return pd.DataFrame.from_dict(limits, orient="index").rename_axis("limit")
