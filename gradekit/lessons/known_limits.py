"""Published limits on which texts, questions and explorers of the course rest."""

from __future__ import annotations

from functools import cache

from gradekit.diagrams.criteria import limits


@cache
def factor_limits() -> tuple[float, float]:
    """Return the ferrite factors above which a weld stays ferrite: of a 12Cr and a 17Cr steel.

    Examples
    --------
    >>> factor_limits()
    (13.5, 17.0)
    """
    known = limits()
    own = known.loc[known["relation"] == "ferrite_factor_kaltenhauser_1971", "lower"]
    return float(own.min()), float(own.max())


@cache
def impurity_limit() -> tuple[float, float]:
    """Return the limit of P + S, wt%, and Schaeffler's ratio below which it holds.

    Examples
    --------
    >>> impurity_limit()
    (0.015, 1.5)
    """
    row = limits().loc["s15"]
    return float(row["upper"]), float(str(row["given"]).partition("<")[2])
