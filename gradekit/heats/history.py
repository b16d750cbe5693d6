"""What the history of a works shows: heats that stand apart from their practice, levels that move.

Both look at one practice at a time and only at what was measured: a bound such as '<0.005' is no
figure to judge a heat by. A sign is a reason to look into the books of that day, not a fault.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import cache
from typing import cast

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, HeatsLike
from gradekit.core.errors import InputError, said
from gradekit.heats.batch import as_batch
from gradekit.heats.notes import about, bounds
from gradekit.heats.scatter import practices

#: With fewer heats of a practice nothing can be said of one of them.
FEWEST = 8
#: A robust covariance wants so many heats for each element in it.
_FOR_EACH = 20
#: Share of the heats that the robust covariance rests on first.
_CORE = 0.75
#: In a practice without any odd heat, the chance that one is named all the same.
_CHANCE = 0.05
#: Mean moving range of two, in standard deviations of the normal distribution: 2 / sqrt(pi).
_RANGE_OF_TWO = 2.0 / np.sqrt(np.pi)
#: So many heats in a row on one side of the mean are a sign (Shewhart charts of ISO 7870-2).
RUN = 9
_NAMES = 3
_ISO = r"^(?P<year>\d{4})[-/.](?P<month>\d{1,2})[-/.](?P<day>\d{1,2})(?:[ T].*)?$"
_DAY_FIRST = r"^(?P<day>\d{1,2})\.(?P<month>\d{1,2})\.(?P<year>\d{4})$"
_EITHER = r"^(?P<first>\d{1,2})(?P<sign>[-/])(?P<second>\d{1,2})(?P=sign)(?P<year>\d{4})$"
_DIGITS = r"^(?P<year>20\d\d)(?P<month>[01]\d)(?P<day>[0-3]\d)$"
_DATED = re.compile(
    r"(?:.*[ _])?(?:date|dat|datum|data|dato|fecha|päivä|pvm|tarih)(?:[ _].*)?", re.I
)
#: Days since the end of 1899, by which spreadsheets count, of this century's first eighty years.
_SERIAL = (36_526, 65_745)


def stand_apart(heats: HeatsLike, groups: Given = None) -> pd.DataFrame:
    """Return how far each heat lies from the middle of its practice, and in which elements.

    Parameters
    ----------
    heats : anything `as_batch` takes
        wt%.
    groups : Series, list, or name of a column that came with the heats, optional
        The practice of each heat; see `practices`.

    Returns
    -------
    DataFrame, indexed by heat, in the order of the file
        `practice`, `distance` and `limit` (robust standard deviations), `apart` (True beyond the
        limit), `elements` (those that lie beyond it alone, or the farthest), `words` and `method`.
        With twenty heats for each element: distance from the minimum covariance determinant, which
        sees odd combinations too. With fewer: the largest distance of one element from the median,
        in 1.4826 median absolute deviations. `distance` is NaN with fewer than eight heats. The
        limit is such that a practice without any odd heat is named in about one case of twenty
        (covariance: up to one of eight).
        Robust distances: Rousseeuw and Van Driessen 1999.

    Raises
    ------
    InputError
        Heats or groups that cannot be read.

    Examples
    --------
    >>> found = stand_apart({"Cr": [18.0, 18.2, 18.1, 18.1, 18.3, 17.9, 18.0, 18.2, 18.1, 19.9]})
    >>> found["apart"].sum(), found["words"].iloc[-1]
    (np.int64(1), 'Cr 19.9 where the practice has 18.1')
    """
    batch = as_batch(heats)
    labels = practices(batch, groups)
    measured = batch.mask(bounds(batch).to_numpy() != "")
    parts = [
        _apart(measured[(labels == name).to_numpy()], name) for name in dict.fromkeys(labels.array)
    ]
    return pd.concat(parts).loc[batch.index]


def drift(heats: HeatsLike, groups: Given = None, dates: Given = None) -> pd.DataFrame:
    """Return what moves with time: heats beyond their limits, and runs on one side of the mean.

    Parameters
    ----------
    heats : anything `as_batch` takes
        wt%.
    groups : Series, list, or name of a column that came with the heats, optional
        The practice of each heat; see `practices`.
    dates : Series or list of dates, or name of a column, optional
        By default the first column whose texts are dates; see `dates_of`.

    Returns
    -------
    DataFrame, one row a practice with at least eight dated heats and an element
        `practice`, `element`, `heats`, `first`, `last`, `mean` (wt%), `sd_next` (from the mean
        moving range of neighbours, wt%), `sd` (of all, wt%), `low`, `high` (mean -+ 3 `sd_next`),
        `beyond` (names of heats outside), `run` (longest run on one side of the mean), `run_from`,
        `run_to`, `words` ('' where nothing shows). `sd` well above `sd_next` means that the level
        moves. Empty where the heats have no dates.

    Raises
    ------
    InputError
        Dates that are none, heats or groups that cannot be read.

    Examples
    --------
    >>> nickel = [8.0, 8.1, 8.0, 8.1, 8.0, 8.1, 8.0, 8.1, 8.0, *[8.4, 8.5] * 5]
    >>> days = pd.date_range("2026-01-05", periods=19, freq="7D")
    >>> drift({"Ni": nickel}, dates=days)["words"].item()
    'Ni: 10 heats in a row above the mean, 2026-03-09 to 2026-05-11'
    """
    batch = as_batch(heats)
    labels = practices(batch, groups)
    days = dates_of(batch, dates)
    measured = batch.mask(bounds(batch).to_numpy() != "")
    rows = []
    for name in dict.fromkeys(labels.array):
        mine = (labels == name).to_numpy() & days.notna().to_numpy()
        order = days[mine].sort_values(kind="stable").index
        for element in batch:
            series = measured.loc[order, element].dropna()
            if len(series) >= FEWEST and series.nunique() > 1:
                rows.append((name, *_moved(series, days)))
    columns = (
        "practice element heats first last mean sd_next sd low high beyond run run_from run_to"
    )
    return pd.DataFrame(rows, columns=[*columns.split(), "words"])


def dates_of(heats: HeatsLike, dates: Given = None) -> pd.Series:
    """Return the date of each heat, NaT where there is none.

    Parameters
    ----------
    heats : anything `as_batch` takes
    dates : Series or list of dates, or name of a column, optional
        By default the first column that came with the heats of whose texts four in five are dates
        as 2026-11-30 or 30.11.2026. As 03/02/2026 or 03-02-2026 they can be read two ways: such a
        column is decided by a number above 12 in it, and otherwise left alone. Under a head such
        as 'Date' the numbers of days by which spreadsheets count, and 20261130, are dates too.

    Returns
    -------
    Series of timestamps, indexed by heat

    Raises
    ------
    InputError
        A column that is not there, or not one date a heat.

    Examples
    --------
    >>> str(dates_of([{"heat": "A", "Datum": "30.11.2026", "Cr": 18}])["A"].date())
    '2026-11-30'
    """
    batch = as_batch(heats)
    told = about(batch)
    if isinstance(dates, str):
        if dates not in told:
            raise InputError("dates", f"one of {list(told)}", dates)
        return _days(told[dates], dates)
    if dates is not None:
        each = list(cast(Sequence, dates))
        if len(each) != len(batch):
            raise InputError("dates", f"one for each of {len(batch)} heats", said(str(len(each))))
        return pd.Series(pd.to_datetime(each, errors="coerce"), index=batch.index)
    for column in told:
        days = _days(told[column], str(column))
        if len(days) and days.notna().mean() >= 0.8:
            return days
    return pd.Series(pd.NaT, index=batch.index, dtype="datetime64[ns]")


def _days(texts: pd.Series, title: str) -> pd.Series:
    words = texts.astype("string").str.strip().fillna("")
    parts = words.str.extract(_ISO).fillna(words.str.extract(_DAY_FIRST))
    either = words.str.extract(_EITHER)
    above = (either[["first", "second"]].astype(float) > 12).any()
    if above["first"] != above["second"]:
        order = ["day", "month"] if above["first"] else ["month", "day"]
        parts = parts.fillna(either.rename(columns=dict(zip(above.index, order, strict=True))))
    if _DATED.fullmatch(title):
        parts = parts.fillna(words.str.extract(_DIGITS))
    days = pd.to_datetime(parts["year"].str.cat(parts[["month", "day"]], sep="-"), errors="coerce")
    counted = pd.to_numeric(words, errors="coerce").astype(float)
    if _DATED.fullmatch(title) and counted.between(*_SERIAL).sum() >= 0.8 * len(counted):
        counted = counted.where(counted.between(*_SERIAL)).round()
        days = days.fillna(pd.Timestamp("1899-12-30") + pd.to_timedelta(counted, unit="D"))
    return days.rename(title)


def _apart(measured: pd.DataFrame, name: str) -> pd.DataFrame:
    """Judge the heats of one practice, bounds left out."""
    count = len(measured)
    known = measured.loc[:, measured.notna().sum() >= max(FEWEST, 0.8 * count)]
    known = known.loc[:, known.nunique() > 1]
    out = pd.DataFrame({"practice": name, "distance": np.nan, "limit": np.nan}, measured.index)
    out["apart"], out["elements"], out["words"], out["method"] = False, "", "", "not assessed"
    if known.empty:
        out["words"] = f"not assessed: {count} heats, at least {FEWEST} are needed"
        return out
    middle = known.median()
    alone = (known - middle) / _spread(known, middle)
    size = alone.abs()
    if count >= _FOR_EACH * known.shape[1] and known.shape[1] > 1:
        out["distance"], out["method"] = _joint_distance(known.fillna(middle)), "covariance"
        out["limit"] = _joint_limit(count, known.shape[1])
    else:
        out["distance"], out["method"] = size.max(axis=1), "median"
        out["limit"] = _largest_of(count, known.shape[1])
    out["apart"] = out["distance"] > out["limit"]
    for heat in out.index[out["apart"]]:
        far = size.loc[heat].sort_values(ascending=False)
        chosen = far[far > out.at[heat, "limit"]].index[:_NAMES]
        chosen = chosen if len(chosen) else far.index[:1]
        out.at[heat, "elements"] = ", ".join(chosen)
        words = [f"{e} {known.at[heat, e]:g} where the practice has {middle[e]:g}" for e in chosen]
        odd = size.loc[heat].max() <= out.at[heat, "limit"]
        out.at[heat, "words"] = ("an odd combination; most in " if odd else "") + ", ".join(words)
    return out


def _spread(known: pd.DataFrame, middle: pd.Series) -> pd.Series:
    """Robust standard deviation, not below what rounding to the last digit makes."""
    step = [np.diff(np.unique(known[e].dropna())).min() for e in known]
    return np.hypot(1.4826 * (known - middle).abs().median(), np.array(step) / np.sqrt(12))


def _joint_distance(known: pd.DataFrame) -> np.ndarray:
    from scipy.stats import chi2
    from sklearn.covariance import MinCovDet

    # Rounded contents have whole planes of equal values: half a last digit of noise parts them.
    scaled = (known - known.median()) / _spread(known, known.median())
    step = np.array([np.diff(np.unique(scaled[e])).min() for e in scaled])
    noise = np.random.default_rng(0).uniform(-0.5, 0.5, scaled.shape) * step
    fitted = MinCovDet(support_fraction=_CORE, random_state=0).fit(scaled.to_numpy() + noise)
    # Fitted again to the 97.5 % that lie nearest, it is a little too narrow.
    elements = scaled.shape[1]
    narrow = chi2.cdf(chi2.ppf(0.975, elements), elements + 2) / 0.975
    return np.sqrt(narrow * fitted.mahalanobis(scaled.to_numpy()))


def _joint_limit(count: int, elements: int) -> float:
    from scipy.stats import f

    core = _CORE * count
    beyond = f.isf(_CHANCE / count, elements, core - elements)
    return float(np.sqrt(elements * (core - 1) / (core - elements) * beyond))


@cache
def _largest_of(count: int, elements: int) -> float:
    """Return what the largest distance from a median exceeds by chance in one batch of twenty.

    Drawn, because the median absolute deviation of a few heats is itself far from sure.
    """
    rng = np.random.default_rng(0)
    batches = max(200, min(20_000, 4_000_000 // count))
    drawn = rng.standard_normal((count, batches))
    off = np.abs(drawn - np.median(drawn, axis=0))
    largest = np.max(off / (1.4826 * np.median(off, axis=0)), axis=0)
    return float(np.quantile(largest, (1 - _CHANCE) ** (1 / elements)))


def _moved(series: pd.Series, days: pd.Series) -> tuple:
    values = series.to_numpy()
    when = [days[heat].strftime("%Y-%m-%d") for heat in series.index]
    mean = float(values.mean())
    near = float(np.abs(np.diff(values)).mean() / _RANGE_OF_TWO)
    low, high = mean - 3 * near, mean + 3 * near
    outside = [str(h) for h, v in zip(series.index, values, strict=True) if not low <= v <= high]
    side = np.sign(values - mean)
    turns = np.flatnonzero(np.diff(side)) + 1
    starts, ends = np.r_[0, turns], np.r_[turns, len(side)]
    at = int(np.argmax((ends - starts) * (side[starts] != 0)))
    begin, end = int(starts[at]), int(ends[at]) - 1
    run = end - begin + 1
    told = []
    if run >= RUN:
        where = "above" if side[begin] > 0 else "below"
        told.append(f"{run} heats in a row {where} the mean, {when[begin]} to {when[end]}")
    if outside:
        more = f" and {len(outside) - _NAMES} more" if len(outside) > _NAMES else ""
        told.append(f"outside the control limits: {', '.join(outside[:_NAMES])}{more}")
    words = f"{series.name}: {'; '.join(told)}" if told else ""
    spread = float(values.std(ddof=1))
    level = (mean, near, spread, max(low, 0.0), high, ", ".join(outside))
    places = (run, when[begin], when[end], words)
    return (series.name, len(values), when[0], when[-1], *level, *places)
