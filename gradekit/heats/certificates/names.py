"""What heats are called: the column of their names, and a name for each."""

from __future__ import annotations

import re
from collections.abc import Callable

import numpy as np
import pandas as pd

from gradekit.core.aliases import Label
from gradekit.core.errors import InputError
from gradekit.heats.certificates.cells import plain_text
from gradekit.heats.notes import first_remarks

_NO = r"(?:[\s._/-]*(?:no|nr|n°|nº|num|number|nummer|numero|numer|č|číslo|id|name|#))?"
# What a heat is called in the languages of laboratories.
_HEAT_WORDS = (
    r"heat|cast|charges?|chg|ch|melt|schmelze?n?|coul[ée]e|colata|colada|corrida|vazamento|wytop"
    r"|sm[äa]lta|smelt|sulatus|tavba|d[öo]k[üu]m"
)
_NAME_COLUMN = re.compile(rf"(?:{_HEAT_WORDS}|name){_NO}\.?", re.I)


def is_name_column(header: Label) -> bool:
    """Tell whether a column holds the names of the heats."""
    return isinstance(header, str) and bool(_NAME_COLUMN.fullmatch(header.strip()))


def heat_names(
    table: pd.DataFrame, column: int | None, at: Callable[[int], str], remarks: list[str]
) -> list:
    """Return the names of the heats of a table, from a column of it or from its index."""
    if column is not None:
        raw = list(table.iloc[:, column])
    elif isinstance(table.index, pd.RangeIndex):
        raw = [f"heat {i + 1}" for i in range(len(table))]
    else:
        raw = list(table.index)
    return unique_names(raw, at, remarks)


def unique_names(raw: list, at: Callable[[int], str], remarks: list[str]) -> list:
    """Return a name for every heat, none empty and none twice; what was changed is said."""
    texts = all(type(name) is str and name for name in raw)
    if texts and "".join(raw).isprintable() and len(set(raw)) == len(raw):
        if list(map(str.strip, raw)) == raw:
            return list(raw)
    names: list = []
    seen: dict = {}
    unnamed: list[str] = []
    again: list[str] = []
    for row, name in enumerate(raw):
        if isinstance(name, (list, dict, set, tuple)):
            raise InputError(f"{at(row)}name of a heat", "a text or a number", name)
        name = str(name) if isinstance(name, (bool, np.bool_)) else plain_text(name)
        if name is None:
            name = f"unnamed {len(unnamed) + 1}"
            unnamed.append(f"{at(row)}no heat name: called '{name}'")
        original = name
        while name in seen:
            seen[original] += 1
            name = f"{original} ({seen[original]})"
        if name != original:
            again.append(f"{at(row)}heat '{original}' stands there again: called '{name}'")
        seen[name] = 1
        names.append(name)
    remarks += [*first_remarks(unnamed), *first_remarks(again)]
    return names
