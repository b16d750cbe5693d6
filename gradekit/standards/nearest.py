"""Which grades a composition is nearest to, and what separates it from them.

The unit of distance is one tolerance of the product analysis: what a standard itself thinks a small
difference of that element at that content. It tells 0.01 C from 0.01 Cr without a weight of ours.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from functools import cache
from typing import NamedTuple

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike
from gradekit.core.errors import InputError
from gradekit.heats.batch import as_batch, one_heat
from gradekit.heats.notes import bounds
from gradekit.standards.grades import window_evidence, windows_of
from gradekit.standards.judge import Contents, Reported, contents_of, span
from gradekit.standards.rules import ZERO
from gradekit.standards.tables import Limit, Window, rows_of, windows
from gradekit.standards.tolerances import tolerance

# Where no tolerance is tabulated, one step is this share of the limit.
_SHARE = Decimal("0.05")
#: Every steel has these in amounts that matter; without a figure nothing is assumed about them.
_UNKNOWN = frozenset("CN")


class Gap(NamedTuple):
    """How far one content lies beyond one end of a window."""

    element: str
    value: Decimal
    low: Decimal | None
    high: Decimal | None
    beyond: Decimal
    step: Decimal
    words: str

    @property
    def steps(self) -> float:
        return float(self.beyond / self.step)


def nearest_grades(composition: HeatsLike, n: int = 5) -> pd.DataFrame:
    """Return the grades nearest to a composition, with what separates it from each.

    Parameters
    ----------
    composition : anything `as_batch` takes
        wt%. C and N that are not given count as unknown, other elements as 0.
    n : int
        How many grades a heat.

    Returns
    -------
    DataFrame, one row a heat and grade, the nearest first
        `heat`, `grade`, `designation`, `standard` (the window that lies nearest), `common`,
        `family`, `distance` (root of the sum of squares of what lies outside, in product-analysis
        tolerances; 0 inside every limit), `off_centre` (how far from the middle of its ranges, in
        half widths; orders those at distance 0), `separates` in words, `evidence`. An element that
        the grade does not list counts from what usually comes with the charge
        (`reference/grades/residuals.csv`, partly heuristic).

    Raises
    ------
    InputError
        `n` below 1, or heats that cannot be read.

    Examples
    --------
    >>> steel = {"C": 0.02, "Cr": 17.2, "Ni": 10.2, "Mo": 2.1, "N": 0.04}
    >>> nearest_grades(steel, 1)["grade"].tolist()
    ['1.4404']
    """
    if not (isinstance(n, (int, np.integer)) and n >= 1):
        raise InputError("n", "a whole number of grades, at least 1", n)
    batch = as_batch(composition)
    rows = []
    for heat, contents, least in zip(
        batch.index, contents_of(batch), _at_least(batch), strict=True
    ):
        space = _assumed(contents)
        best: dict[str, tuple[float, float, int, list[Gap]]] = {}  # the nearest window of a grade
        # nearest by its lower bound first: once n grades lie nearer than the rest can, it ends
        for k in np.argsort(least, kind="stable"):
            if len(best) >= n and least[k] > sorted(own[0] for own in best.values())[n - 1]:
                break
            window = windows()[k]
            distance, off_centre, gaps = _distance(window, contents, space)
            own = (distance, off_centre, k, gaps)
            if window.grade not in best or own[:3] < best[window.grade][:3]:
                best[window.grade] = own
        for distance, off_centre, k, gaps in sorted(best.values(), key=lambda own: own[:3])[:n]:
            w = windows()[k]
            gaps.sort(key=lambda gap: -gap.steps)
            words = "; ".join(g.words for g in gaps) or "nothing: inside every limit given"
            named = w.grade, w.designation, w.standard, w.common, w.family
            rows.append((heat, *named, distance, off_centre, words, window_evidence(w)))
    columns = "heat grade designation standard common family distance off_centre separates evidence"
    return pd.DataFrame(rows, columns=columns.split())


def what_separates(composition: HeatsLike, name: str, standard: str | None = None) -> pd.DataFrame:
    """Return element by element what separates one composition from a grade.

    Parameters
    ----------
    composition : one heat, anything `as_batch` takes
    name, standard
        As for `check_grade`.

    Returns
    -------
    DataFrame, one row an element that lies outside
        `designation`, `standard`, `element`, `value`, `min`, `max`, `beyond` (wt%), `tolerances`
        (the same in product-analysis tolerances), `words`.

    Raises
    ------
    InputError
        More than one heat, a name that is no grade, a standard that does not list it.

    Examples
    --------
    >>> what_separates({"Cr": 18.1, "Ni": 8.1, "Mo": 0.2}, "1.4404", "EN")["words"].tolist()
    ['Mo 0.2 is 1.80 below 2.00', 'Ni 8.1 is 1.9 below 10.0']
    """
    chosen = windows_of(name, standard)
    (contents,) = contents_of(one_heat(composition, "composition"))
    gaps = [(w, g) for w in chosen for g in _gaps(w, contents, _assumed(contents))]
    columns = "designation standard element value min max beyond tolerances words".split()
    rows = [
        (w.designation, w.standard, g.element, g.value, g.low, g.high, g.beyond, g.steps, g.words)
        for w, g in gaps
    ]
    return pd.DataFrame(rows, columns=columns).astype(dict.fromkeys(columns[3:8], float))


def _assumed(contents: Contents) -> dict[str, Reported]:
    """Return the contents with 0 for what was not given; unknown C and N stay away."""
    none = Reported(ZERO, ZERO)
    given = {e: c for e, c in contents.items() if c.high.is_finite()}
    return {e: none for e in _elements() if e not in _UNKNOWN} | given


@cache
def _elements() -> frozenset[str]:
    return frozenset(e for w in windows() for limit in w.limits for e in limit.needs)


@cache
def _plain_limits() -> dict[str, tuple[np.ndarray, ...]]:
    """Return per element the ends of its plain limits and their steps, a column a window."""
    ends: dict[str, list[np.ndarray]] = {}
    for k, window in enumerate(windows()):
        for limit in window.limits:
            if len(limit.quantity.slopes) > 1 or limit.floors:
                continue
            lows, highs, low_steps, high_steps = ends.setdefault(
                limit.element, [np.full(len(windows()), x) for x in (-np.inf, np.inf, 1.0, 1.0)]
            )
            for end, at, steps in ((limit.low, lows, low_steps), (limit.high, highs, high_steps)):
                if end is not None:
                    at[k], steps[k] = end, _step(window, limit.element, end)
    return {element: tuple(arrays) for element, arrays in ends.items()}


def _at_least(batch: pd.DataFrame) -> Iterator[np.ndarray]:
    """Yield for each heat the distance to every window that its plain limits alone make.

    A lower bound: what sums, floors and elements that a grade does not list would add is left out.
    """
    marks = bounds(batch)
    ends = []
    for element in _plain_limits():
        most = batch[element].to_numpy() if element in batch else np.full(len(batch), np.nan)
        if element not in _UNKNOWN:
            most = np.nan_to_num(most)
        bound = marks[element].to_numpy() != "" if element in batch else np.zeros(len(batch), bool)
        ends.append((np.where(bound & ~np.isnan(most), 0.0, most), most))
    for heat in range(len(batch)):
        squares = np.zeros(len(windows()))
        for (leasts, mosts), limits in zip(ends, _plain_limits().values(), strict=True):
            low, high, low_step, high_step = limits
            beyond = np.maximum((low - mosts[heat]) / low_step, (leasts[heat] - high) / high_step)
            # an unknown content adds nothing
            squares += np.fmax(beyond, 0.0) ** 2
        # the exact distance is counted in decimals: no rounding here may lie above it
        yield np.sqrt(squares) * (1 - 1e-9)


def _distance(
    window: Window, contents: Contents, space: Contents
) -> tuple[float, float, list[Gap]]:
    gaps = list(_gaps(window, contents, space))
    distance = float(np.sqrt(sum(g.steps**2 for g in gaps)))
    off = []
    for element, limit in window.by_element.items():
        if element in contents and limit.high is not None:
            low, high = float(limit.low or 0), float(limit.high)
            off.append(abs(2 * float(contents[element].high) - low - high) / (high - low))
    return distance, float(np.sqrt(np.mean(np.square(off)))) if off else 1.0, gaps


def _gaps(window: Window, contents: Contents, space: Contents) -> Iterator[Gap]:
    for limit in window.limits:
        if (gap := _gap(window, limit, space)) is not None:
            assumed = ", ".join(e for e in limit.quantity.slopes if e not in contents)
            words = f"{gap.words} ({assumed} not given)" if assumed else gap.words
            yield gap._replace(words=words)
    listed = {e for limit in window.limits for e in limit.quantity.slopes}
    for element, allowed in _allowances().items():
        if element not in listed and element in space and space[element].low > allowed:
            least, most, _ = space[element]
            words, step = f"{element} {most:f} is not foreseen", _step(window, element, most)
            yield Gap(element, most, None, allowed, least - allowed, step, words)


def _gap(window: Window, limit: Limit, space: Contents) -> Gap | None:
    space = limit.filled(space, Reported(ZERO, ZERO))
    if any(e not in space for e in limit.needs):
        return None
    # A bound has every doubt given to it: it may lie as near as it can.
    if limit.element in space:
        least, most, _ = space[limit.element]
    else:
        least, most = span(limit.quantity, space)
    low = limit.low
    for floor in limit.floors:
        at = span(floor, space)[0]
        low = at if low is None else max(low, at)
    if low is not None and most < low:
        value, beyond, side, end = most, low - most, "below", low
    elif limit.high is not None and least > limit.high:
        value, beyond, side, end = least, least - limit.high, "above", limit.high
    else:
        return None
    words = f"{limit.quantity} {value:f} is {beyond:f} {side} {end:f}"
    step = _joint_step(window, limit, end)
    return Gap(limit.element, value, low, limit.high, beyond, step, words)


def _joint_step(window: Window, limit: Limit, end: Decimal) -> Decimal:
    """For a sum or an index, the step is that of its elements added up."""
    if len(limit.quantity.slopes) == 1:
        return _step(window, limit.element, end)
    total = ZERO
    for element, k in limit.quantity.slopes.items():
        own = window.by_element.get(element)
        at = end if own is None or own.high is None else own.high
        total += abs(k) * _step(window, element, at)
    return total


def _step(window: Window, element: str, at: Decimal) -> Decimal:
    allowed = tolerance(window.side, element, at)
    sizes = [] if allowed is None else [s for s in (allowed.above, allowed.below) if s > 0]
    return max(sizes) if sizes else max(at * _SHARE, Decimal("0.0001"))


@cache
def _allowances() -> Mapping[str, Decimal]:
    return {row["element"]: Decimal(row["allowance_wt_pct"]) for row in rows_of("residuals")}
