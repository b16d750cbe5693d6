"""Windows to aim into: of one grade, common to several, and guarded for the works.

Everything here is linear in the contents, so that a designer can put it into a linear programme.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from decimal import Decimal

import numpy as np
import pandas as pd

from gradekit.core.errors import NOTHING, InputError, listed
from gradekit.core.linear import Sum
from gradekit.standards.grades import own_windows
from gradekit.standards.tables import Limit, Variant, Window


def window(
    names: str | Iterable[str], standard: str | None = None, *, safest: bool = False
) -> pd.DataFrame:
    """Return the window that one designation, or several together, leave each element.

    Parameters
    ----------
    names : str or several
        EN numbers stand for their EN standard, UNS, AISI and common names for their ASTM one.
    standard : str, optional
        By default the first standard of each designation (EN 10088-2, A240); 'all' takes every
        one of its side, a part of a name picks.
    safest : bool
        Where publications disagree, take the form that satisfies all instead of the one in the
        table.

    Returns
    -------
    DataFrame
        `element`, `min`, `max` (wt%, NaN where nothing binds), `min_from`, `max_from` (designation
        and standard that bind each end), `min_evidence`, `max_evidence`. A window that is closed
        shows min above max. Rules between elements are given by `rules`.

    Raises
    ------
    InputError
        A name that is no grade, or a standard that does not list it, with those that do.

    Examples
    --------
    >>> window("1.4376").set_index("element").loc["Ni", ["min", "max"]].tolist()
    [2.0, 4.5]
    """
    ends: dict[str, list] = {}
    for part in _chosen(names, standard):
        for limit in part.limits:
            if limit.element == "PREN" or "+" in limit.element:
                continue
            low, high, floors = _ends(limit, safest)
            fixed = [f.constant for f in floors if not f.slopes]
            low = max([*fixed, *([] if low is None else [low])], default=None)
            row = ends.setdefault(limit.element, [None, None, [], [], [], []])
            for i, end, tighter in ((0, low, 1), (1, high, -1)):
                if end is None:
                    continue
                if row[i] is None or (end - row[i]) * tighter > 0:
                    row[i], row[2 + i], row[4 + i] = end, [], []
                if end == row[i]:
                    row[2 + i].append(part.title)
                    row[4 + i].append(limit.evidence)
    rows = [
        (e, *(np.nan if r[i] is None else float(r[i]) for i in (0, 1)), *map(_joined, r[2:]))
        for e, r in ends.items()
    ]
    columns = "element min max min_from max_from min_evidence max_evidence".split()
    return pd.DataFrame(rows, columns=columns)


def rules(
    names: str | Iterable[str], standard: str | None = None, *, safest: bool = False
) -> pd.DataFrame:
    """Return what one designation, or several together, ask of elements jointly.

    Parameters
    ----------
    names, standard, safest
        As for `window`.

    Returns
    -------
    DataFrame
        `rule` in words, `intercept` and `coefficients` (element to number) of an expression that
        must not be negative: intercept + sum of coefficient x wt% >= 0; `from`, `evidence`.

    Raises
    ------
    InputError
        A name that is no grade, or a standard that does not list it, with those that do.

    Examples
    --------
    >>> rules("S32100").loc[0, ["rule", "coefficients"]].tolist()
    ['Ti >= 5 C + 5 N', {'Ti': 1.0, 'C': -5.0, 'N': -5.0}]
    """
    rows = [
        (words, float(line.constant), {e: float(k) for e, k in line.slopes.items()}, *rest)
        for words, line, *rest in joint_rules(names, standard, safest=safest)
    ]
    return pd.DataFrame(rows, columns=["rule", "intercept", "coefficients", "from", "evidence"])


def joint_rules(
    names: str | Iterable[str], standard: str | None = None, *, safest: bool = False
) -> list[tuple[str, Sum, str, str]]:
    """Return the rules as exact sums that must not be negative: words, sum, from, evidence."""
    rules: dict[tuple, tuple[str, Sum, list, list]] = {}
    for part in _chosen(names, standard):
        for limit in part.limits:
            for words, line in _joint(limit, safest):
                key = (line.constant, tuple(sorted(line.slopes.items())))
                *_, where, evidence = rules.setdefault(key, (words, line, [], []))
                where.append(part.title)
                evidence.append(limit.evidence)
    return [(words, line, _joined(w), _joined(e)) for words, line, w, e in rules.values()]


def common_window(names: str | Iterable[str], standard: str | None = None) -> pd.DataFrame:
    """Return the window that heats sold under several designations at once must keep.

    Parameters
    ----------
    names, standard
        As for `window`.

    Returns
    -------
    DataFrame, indexed by element, with one row more for each rule between elements
        `min`, `max` (wt%), `rule`, `min_from`, `max_from` (what binds each end), `hold` (the
        tighter end that satisfies every published form of a limit in dispute, in words), `state`:
        'open', or 'closed' where no content meets all of them. The mechanical minima add up too:
        a dual plate must meet the higher of both.

    Raises
    ------
    InputError
        A name that is no grade, or a standard that does not list it, with those that do.

    Examples
    --------
    >>> twin = common_window(["1.4435", "S31603"])
    >>> twin.loc[["Cr", "Mo", "Ni"], ["min", "max"]].values.tolist()
    [[17.0, 18.0], [2.5, 3.0], [12.5, 14.0]]
    """
    plain, safe = window(names, standard), window(names, standard, safest=True)
    rows = []
    for row, tight in zip(plain.itertuples(), safe.itertuples(), strict=True):
        hold = [
            f"{word} {there:g}: {where}, publications disagree"
            for word, here, there, where in (
                ("min", row.min, tight.min, tight.min_from),
                ("max", row.max, tight.max, tight.max_from),
            )
            if there == there and there != here
        ]
        state = "closed" if row.min > row.max else "open"
        rows.append(
            (row.element, row.min, row.max, "", row.min_from, row.max_from, "; ".join(hold), state)
        )
    known = {rule for rule, *_ in joint_rules(names, standard)}
    for rule, _, where, _ in joint_rules(names, standard, safest=True):
        word = "" if rule in known else f"{rule}: {where}, publications disagree"
        quantity = re.split(" [<>]= ", rule)[0]
        rows.append((quantity, np.nan, np.nan, rule, where, "", word, "open"))
    columns = "element min max rule min_from max_from hold state".split()
    return pd.DataFrame(rows, columns=columns).set_index("element")


def _joint(limit: Limit, safest: bool) -> list[tuple[str, Sum]]:
    """Return the joint rules of a row as sums that must not be negative, with words."""
    low, high, floors = _ends(limit, safest)
    joint = len(limit.quantity.slopes) > 1
    name = str(limit.quantity)
    out = [
        (f"{name} >= {floor}", limit.quantity.plus(-floor))
        for floor in floors
        if joint or floor.slopes
    ]
    if joint and low is not None:
        out.append((f"{name} >= {low}", limit.quantity.plus(Sum(-low, {}))))
    if joint and high is not None:
        out.append((f"{name} <= {high}", (-limit.quantity).plus(Sum(high, {}))))
    return out


def _ends(limit: Limit, safest: bool) -> tuple[Decimal | None, Decimal | None, tuple[Sum, ...]]:
    forms: tuple[Variant, ...] = limit.variants if safest else limit.variants[:1]
    low = max((v.low for v in forms if v.low is not None), default=None)
    high = min((v.high for v in forms if v.high is not None), default=None)
    floors = {str(f): f for v in forms for f in v.floors}
    return low, high, tuple(floors.values())


def _chosen(names: str | Iterable[str], standard: str | None) -> list[Window]:
    several = listed(names, "designations")
    if not several:
        raise InputError("designations", "at least one, such as '1.4301'", NOTHING)
    chosen = {w.title: w for name in several for w in own_windows(name, standard)}
    return list(chosen.values())


def _joined(words: list[str]) -> str:
    return "; ".join(dict.fromkeys(words))
