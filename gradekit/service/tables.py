"""The tables of the service criteria, read on first touch."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from functools import cache

from gradekit.core.errors import one_of
from gradekit.core.sources import REFERENCE, source_in_words


@cache
def rows(name: str, folder: str = "service") -> tuple[dict[str, str], ...]:
    """Return the rows of one table of `gradekit/reference/`, all texts, sources in words."""
    with open(REFERENCE / folder / f"{name}.csv", encoding="utf-8", newline="") as file:
        read = tuple(csv.DictReader(file))
    return tuple(r | {"source": source_in_words(r["source"])} if "source" in r else r for r in read)


def naming(number: str, table: Iterable[dict[str, str]]) -> dict[str, str] | None:
    """Return the first row of a table whose `numbers` name a grade, None where none does.

    Examples
    --------
    >>> naming("1.4301", rows("spring_tempers"))["most_mpa"]
    '1300'
    """
    return next((row for row in table if number in row["numbers"].split()), None)


@cache
def judgement(name: str) -> dict[str, str]:
    """Return a threshold of `judgement.csv` with its meaning, evidence and source."""
    table = {row["id"]: row for row in rows("judgement")}
    one_of("threshold", name, table)
    return table[name]


def judged(name: str) -> float:
    """Return the value of a threshold.

    Examples
    --------
    >>> judged("fine_ra")
    0.5
    """
    return float(judgement(name)["value"])


def cell_number(text: str) -> float | None:
    """Return a cell as number, None where it is empty."""
    return float(text) if text else None
