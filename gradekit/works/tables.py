"""Tables of the trade that the steps judge by, read on first use."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given
from gradekit.core.errors import InputError, nearest, one_of
from gradekit.core.sources import REFERENCE, source_in_words


def as_numbers(**given: Given) -> list[np.ndarray]:
    """Return numbers or arrays of numbers as arrays of float, in the order given.

    Examples
    --------
    >>> as_numbers(strain=0.3, temperature_C=[20, 25])
    [array(0.3), array([20., 25.])]
    """
    arrays = []
    for name, value in given.items():
        try:
            arrays.append(np.asarray(value, dtype=float))
        except (TypeError, ValueError):
            raise InputError(name, "a number or an array of numbers", value) from None
    return arrays


@dataclass(frozen=True)
class Cited:
    """A value or limit, one for all heats or one a heat, with what stands beside it in a row.

    `gap` says what is missing to know it, '' where nothing is.
    """

    value: Any
    unit: str = ""
    source: str = ""
    status: str = ""
    gap: Any = ""


@dataclass(frozen=True)
class Rule:
    """A limit of the trade: None where a side is open."""

    name: str
    what: str
    low: float | None
    high: float | None
    unit: str
    status: str
    source: str
    note: str

    @property
    def least(self) -> float:
        """The lower end, of a rule that has one."""
        assert self.low is not None, self.name
        return self.low

    @property
    def most(self) -> float:
        """The upper end, of a rule that has one."""
        assert self.high is not None, self.name
        return self.high

    @property
    def middle(self) -> float:
        """Half way between both ends."""
        return 0.5 * (self.least + self.most)


@cache
def process_table(name: str) -> pd.DataFrame:
    """Return one table of `gradekit/reference/process`; an empty cell is NaN or ''.

    Examples
    --------
    >>> process_table("gas_ladder")["oxygen_parts"].tolist()
    [4, 3, 1, 1, 1]
    """
    path = REFERENCE / "process" / f"{name}.csv"
    if not path.is_file():
        known = [p.stem for p in path.parent.glob("*.csv")]
        raise InputError("table", ", ".join(sorted(known)), name, nearest(name, known))
    table = pd.read_csv(path)
    words = table.columns[[not pd.api.types.is_numeric_dtype(t) for t in table.dtypes]]
    table = table.assign(**{c: table[c].fillna("") for c in words})
    return table.assign(source=table["source"].map(source_in_words))


def row_of_kind(name: str, kind: str) -> dict[str, Any] | None:
    """Return the line of a table for a kind of steel, or else for its family; None without one.

    Examples
    --------
    >>> row_of_kind("hardening", "duplex, super")["grade"], row_of_kind("hardening", "")
    ('2507', None)
    """
    rows = _by_kind(name)
    return rows.get(kind) or rows.get(kind.partition(", ")[0])


@cache
def _by_kind(name: str) -> dict[str, dict[str, Any]]:
    rows = process_table(name).drop_duplicates("kind")
    return {row["kind"]: row for row in rows.to_dict("records")}


@cache
def _rules() -> dict[str, Rule]:
    both = pd.concat([process_table("melt_rules"), process_table("strip_rules")])
    ends = both[["low", "high"]].astype(object)
    rows = both.assign(**ends.where(ends.notna(), None)).to_dict("records")
    return {row["id"]: Rule(*row.values()) for row in rows}


def rule(name: str) -> Rule:
    """Return a limit of the trade by its name.

    Examples
    --------
    >>> rule("superheat").low, rule("hydrogen").low
    (25.0, None)
    """
    one_of("rule", name, _rules())
    return _rules()[name]
