"""The tables of the service criteria, read on first touch."""

from __future__ import annotations

import csv
from functools import cache

from gradekit.sources import REFERENCE

__all__ = ["number", "rows"]


@cache
def rows(name: str) -> tuple[dict[str, str], ...]:
    """Return the rows of one table of `gradekit/reference/service/`, all texts."""
    with open(REFERENCE / "service" / f"{name}.csv", encoding="utf-8", newline="") as file:
        return tuple(csv.DictReader(file))


def number(text: str) -> float | None:
    """Return a cell as number, None where it is empty."""
    return float(text) if text else None
