"""Where in the window of its standard a heat usually lies: an analysis of our own making.

No analysis of a producer is held. `reference/grades/typical_rule.csv` says, by element and family,
which share of the way through its limits a content usually lies; it is a working rule of this
library, status heuristic, and an analysis made by it lies inside every limit of its window.
"""

from __future__ import annotations

from functools import cache

from gradekit.standards.tables import Limit, Window, rows_of


def typical_contents(window: Window) -> dict[str, float]:
    """Return the contents of a usual heat of one window, wt%.

    Parameters
    ----------
    window : Window
        The limits of one designation in one standard.

    Returns
    -------
    dict of element to wt%
        In the order of the window; what usually comes with the charge follows where the standard
        sets no limit. Rounded to two decimals, below 0.1 to three. Status heuristic.

    Examples
    --------
    >>> from gradekit.standards.tables import windows
    >>> heat = typical_contents(windows()[0])
    >>> windows()[0].title, heat["C"], heat["Cr"], heat["Ni"]
    ('1.4310 (EN 10088-2:2014)', 0.1, 16.75, 6.7)
    """
    family = window.family
    contents: dict[str, float] = {}
    later = []
    for limit in window.limits:
        if any(f.slopes for f in limit.floors):
            later.append(limit)  # its minimum needs carbon and nitrogen first
        elif limit.element.isalpha() and limit.element != "PREN":
            low = max([float(limit.low or 0), *(float(f.constant) for f in limit.floors)])
            value = _inside(limit, low, "between" if low else "under", family)
            contents[limit.element] = round(value, 2 if value >= 0.1 else 3)
    for row in rows_of("typical_rule"):
        if row["where"] == "not limited" and row["element"] not in window.by_element:
            contents[row["element"]] = _share("not limited", row["element"], family)
    for limit in (*later, *(m for m in window.limits if m.element == "Nb+Ta")):
        known = limit.filled(contents, 0.0)
        low = max((float(f.over(known)) for f in limit.floors), default=float(limit.low or 0))
        value = _inside(limit, low, "above the computed minimum", family)
        parts = [e for e in limit.element.split("+") if e != "Ta"]  # a sum is shared evenly
        contents.update({e: round(value / len(parts), 3) for e in parts})
    return contents


def _inside(limit: Limit, low: float, where: str, family: str) -> float:
    """The content that lies so far between a minimum and the maximum as the rule says."""
    if limit.high is None:
        return low * (1 + _share("above a minimum alone", limit.element, family))
    return low + _share(where, limit.element, family) * (float(limit.high) - low)


@cache
def _share(where: str, element: str, family: str) -> float:
    """The line of the rule for this element and family; the later line is the closer one."""
    shares = [
        row["share"]
        for row in rows_of("typical_rule")
        if row["where"] == where
        and row["element"] in ("", element)
        and row["family"] in family  # '' is in every family
    ]
    return float(shares[-1])
