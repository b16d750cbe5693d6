"""Checking heats against grades: limit by limit, several samples of a cast, all grades at once."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from decimal import Decimal
from functools import cache

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike, Label
from gradekit.core.errors import InputError, listed, said
from gradekit.core.lazy import lazy_frame, mapped
from gradekit.core.sources import weakest
from gradekit.core.verdicts import Verdict, worst
from gradekit.heats.batch import as_batch
from gradekit.heats.notes import bounded
from gradekit.standards.columns import Reports, judged_limits, row_of, rows_as_table
from gradekit.standards.grades import windows_of
from gradekit.standards.judge import Contents, LimitFinding, contents_of, judge_limit
from gradekit.standards.limits_shown import Checked
from gradekit.standards.tables import Limit, Window, windows
from gradekit.standards.tolerances import tolerance


def check_grade(
    heats: HeatsLike,
    name: str,
    standard: str | Iterable[str] | None = None,
    analysis: str = "heat",
    declared: HeatsLike | None = None,
) -> pd.DataFrame:
    """Check heats against the limits of a grade, limit by limit.

    Parameters
    ----------
    heats : anything `as_batch` takes
        wt%. Samples of one cast may carry the same heat name. Of a dask DataFrame or a Parquet data
        set the answer is a lazy DataFrame.
    name : str
        EN number, EN name, UNS, AISI or common name.
    standard : str or several, optional
        Part of a standard's name ('EN', 'A240'); by default every one that the name carries.
    analysis : str
        'heat': the limits as they stand. 'product': widened at each end by the product tolerance
        of the standard, whose class follows the value of that limit.
    declared : one heat, optional
        With analysis='product', the declared cast analysis; all samples are taken to be of this
        cast, and under EN each must lie within the tolerance of it.

    Returns
    -------
    DataFrame, one row a heat and limit, with `words`
        `heat`, `element`, `value`, `min`, `max`, `margin` (wt%, negative where a limit is broken,
        NaN where it cannot be told; for PREN a pure number), `verdict` ('ok', 'stop', 'not
        assessed', or 'caution' inside one published form of the limit and outside another),
        `evidence` of the limit, `status` (the weakest evidence word in it), `rule` as
        printed, `designation`, `standard`, `reason` in words, `unit`, `kind` ('limit', 'rule',
        'declared cast', 'samples of a cast'). `min` is the larger of the fixed and the computed
        minimum. Nothing here is a certificate: the standard in force decides.

    Raises
    ------
    InputError
        Unknown grade, standard or kind of analysis.

    Examples
    --------
    >>> table = check_grade({"C": 0.0304, "Cr": 18.1, "Ni": 8.1}, "1.4307").set_index("element")
    >>> table.loc["C", ["standard", "verdict"]].iloc[[0, 2]].values.tolist()
    [['EN 10088-2:2014', 'stop'], ['ASTM A240/A240M', 'ok']]
    """
    if analysis not in ("heat", "product"):
        raise InputError("analysis", "'heat' or 'product'", analysis)
    if declared is not None and analysis == "heat":
        raise InputError("declared", "given with analysis='product'", said("analysis='heat'"))
    if (parts := lazy_frame(heats)) is not None:
        chosen = windows_of(name, standard)
        return mapped(parts, _checked, chosen=chosen, analysis=analysis, declared=declared)
    return check_windows(as_batch(heats), windows_of(name, standard), analysis, declared)


def _checked(
    part: pd.DataFrame, chosen: Iterable[Window], analysis: str, declared: HeatsLike | None
) -> pd.DataFrame:
    return pd.DataFrame(check_windows(as_batch(part), chosen, analysis, declared))


def check_windows(
    batch: pd.DataFrame,
    chosen: Iterable[Window],
    analysis: str = "heat",
    declared: HeatsLike | None = None,
) -> pd.DataFrame:
    """Check a batch against given windows; the rest as for `check_grade`."""
    product = analysis == "product"
    reports = Reports(batch)
    everything = list(zip(batch.index, contents_of(batch), strict=True)) if product else []
    parts: list[pd.DataFrame] = []
    for window in chosen:
        parts.append(judged_limits(batch, reports, window, product))
        rows = _declared_rows(everything, window, declared)
        rows += _one_end_rows(everything, _casts(batch.index, declared), window) if product else []
        if rows:
            parts.append(rows_as_table(rows))
    if not parts:
        return Checked(rows_as_table([]))
    return Checked(parts[0] if len(parts) == 1 else pd.concat(parts, ignore_index=True))


# --- several samples of a cast ----------------------------------------------------------------


def _casts(labels: pd.Index, declared: HeatsLike | None) -> dict[Label, list[int]]:
    """Return the positions of the samples of each cast; equal names came in as 'H1 (2)'."""
    casts: dict[Label, list[int]] = {}
    for position, label in enumerate(labels):
        cast = label
        if declared is not None:
            cast = "all samples"
        elif isinstance(label, str):
            cast = re.sub(r" \(\d+\)$", "", label)
        casts.setdefault(cast, []).append(position)
    return casts


def _declared_rows(everything: list, window: Window, declared: HeatsLike | None) -> list[tuple]:
    """Under EN each sample must lie within the tolerance of the declared cast analysis."""
    if declared is None or window.side != "EN":
        return []
    cast = as_batch(declared)
    if len(cast) != 1:
        raise InputError("declared", "one cast analysis", said(f"{len(cast)} heats"))
    (known,) = contents_of(cast)
    out = []
    for heat, contents in everything:
        for limit in window.limits:
            finding = _against_declared(limit, window, contents, known)
            if finding is not None:
                out.append(row_of(heat, limit, window, finding, "declared cast"))
    return out


def _against_declared(
    limit: Limit, window: Window, contents: Contents, known: Contents
) -> LimitFinding | None:
    e = limit.element
    if e not in contents or e not in known or contents[e].text or known[e].text:
        return None
    low_class = tolerance(window.side, e, limit.low) if limit.low is not None else None
    high_class = tolerance(window.side, e, limit.high) if limit.high is not None else None
    low_class, high_class = low_class or high_class, high_class or low_class
    if low_class is None or high_class is None:
        return None
    centre, value = known[e].high, contents[e].high
    # Where the table gives only '+', nothing is said about a sample that lies lower.
    low = centre - low_class.below if low_class.below else None
    high = centre + high_class.above
    margin = min(high - value, high - value if low is None else value - low)
    both = (low_class.status, high_class.status)
    status = "memory" if "memory" in both else "verified"
    verdict: Verdict = "ok" if margin >= 0 else "stop"
    reason = f"declared {centre:f}; tolerance by the class of the specified limit"
    return LimitFinding(value, low, high, margin, verdict, status, (reason,))


def _one_end_rows(
    everything: list, casts: Mapping[Label, list[int]], window: Window
) -> list[tuple]:
    """Samples of one cast may lie beyond one end of the range, not beyond both."""
    out = []
    for cast, positions in casts.items():
        if len(positions) < 2:
            continue
        for limit in window.limits:
            low, high = limit.low, limit.high
            samples = (everything[p][1].get(limit.element) for p in positions)
            exact = [s.high for s in samples if s is not None and not s.text]
            if low is None or high is None or not exact:
                continue
            if min(exact) < low and max(exact) > high:
                status = "verified" if window.side == "EN" else "memory"
                reason = f"samples of one cast lie below {low} and above {high}; they may lie "
                reason += "beyond one end only"
                margin = max(min(exact) - low, high - max(exact))
                finding = LimitFinding(None, low, high, margin, "stop", status, (reason,))
                out.append(row_of(cast, limit, window, finding, "samples of a cast"))
    return out


# --- which designations one heat satisfies ------------------------------------------------------


def certifiable(heats: HeatsLike, among: Iterable[str] | None = None) -> pd.DataFrame:
    """Return the designations that each heat satisfies, all at once.

    Parameters
    ----------
    heats : anything `as_batch` takes
        Heat analyses, wt%.
    among : names, optional
        By default every designation of the library.

    Returns
    -------
    DataFrame, one row a heat and a designation in a standard that no limit refuses
        `heat`, `designation`, `standard`, `common`, `verdict` (the worst of its limits), `status`
        (the weakest evidence word of what decided), `closest` (the limit with the least margin, and
        the margin in wt%), `open` (what was not assessed or is in dispute, in words). Strengths are
        not looked at: 304/304L plate, for one, must also meet the higher of both minima.

    Raises
    ------
    InputError
        A name that is no grade, or heats that cannot be read.

    Examples
    --------
    >>> heat = {"C": 0.021, "Si": 0.45, "Mn": 1.4, "P": 0.03, "S": 0.001, "N": 0.056, "Cr": 18.1,
    ...         "Ni": 8.2}
    >>> certifiable(heat, ["1.4301", "1.4307", "1.4306"])["designation"].unique().tolist()
    ['1.4301', 'S30400', '1.4307', 'S30403']
    """
    batch = as_batch(heats)
    if among is None:
        candidates = list(windows())
    else:
        several = listed(among, "grades to try")
        candidates = list({w.title: w for name in several for w in windows_of(name)}.values())
    possible = _not_refused(batch, candidates)
    rows = []
    for row, (heat, contents) in enumerate(zip(batch.index, contents_of(batch), strict=True)):
        for column in np.flatnonzero(possible[row]):
            window = candidates[column]
            findings = [(limit, judge_limit(limit, window, contents)) for limit in window.limits]
            if any(f.verdict == "stop" for _, f in findings):
                continue
            rows.append((heat, *_summary(window, findings)))
    columns = "heat designation standard common verdict status closest open".split()
    return pd.DataFrame(rows, columns=columns)


def _summary(window: Window, findings: list[tuple[Limit, LimitFinding]]) -> tuple:
    verdict = worst(f.verdict for _, f in findings)
    status = weakest(*(f.status for _, f in findings))
    inside = [(f.margin, x) for x, f in findings if f.verdict == "ok" and f.margin is not None]
    closest = ""
    if inside:
        # Compared as shares of the limit, so that 0.1 Cr does not look wider than 0.002 C.
        margin, limit = min(inside, key=lambda m: m[0] / (m[1].high or m[1].low or Decimal(1)))
        closest = f"{limit.element} {margin:f}"
    open_ = [
        f"{limit.element}: {'; '.join(f.reasons)}" if f.verdict == "caution" else f.reasons[0]
        for limit, f in findings
        if f.verdict in ("not assessed", "caution")
    ]
    named = window.designation, window.standard, window.common
    return *named, verdict, status, closest, " | ".join(open_)


@cache
def _loosest(window: Window) -> dict[str, tuple[float, float]]:
    """The ends of a window with every doubt given to the heat: all variants, half a digit."""
    ends = {}
    for limit in window.limits:
        if len(limit.quantity.slopes) == 1:
            lows = (v.low for v in limit.variants)
            highs = (v.high for v in limit.variants)
            ends[limit.element] = (
                min(-np.inf if low is None else float(low) - _half(low) for low in lows),
                max(np.inf if high is None else float(high) + _half(high) for high in highs),
            )
    return ends


def _half(limit: Decimal) -> float:
    return 0.5 * 10.0 ** int(limit.as_tuple().exponent) + 1e-9


def _not_refused(batch: pd.DataFrame, candidates: list[Window]) -> np.ndarray:
    """Sort out at once what a plain number refuses beyond doubt; the rest is judged exactly."""
    bound = bounded(batch)
    values = {e: np.where(bound.get(e, False), np.nan, batch[e]) for e in batch}
    ok = np.ones((len(batch), len(candidates)), dtype=bool)
    for j, window in enumerate(candidates):
        for element, (low, high) in _loosest(window).items():
            if element in values:
                ok[:, j] &= ~((values[element] < low) | (values[element] > high))
    return ok
