"""One row of the route: a number beside its limit, with verdict, reason and source.

How a step is written
---------------------
A works step is a module of this room with

* `STEP`: its name, as it stands in the column `step`;
* `CONDITIONS`: mapping of each keyword it takes from `assess_route` to what it means, unit
  included (one keyword may be used by several steps; its words are then the same);
* `CAUTIONS`, where the step can hurt: sentences that are shown beside its rows;
* `checks(heats, plant, **conditions) -> list[Row]`: one row for each heat and check. `heats` is a
  clean batch (`as_batch` was there), `plant` a `Plant`, and only keywords of `CONDITIONS` that the
  user gave arrive.

and one entry in `STEPS` of `gradekit/works/walk.py`, in the order of the works. Everything else
the module offers (a pass schedule, a charge) is a plain function with a result object of its own,
which `checks` calls.

Three ways to make rows, which never mix judging with computing:

* `judge(...)`: values against limits;
* `judge_relation(...)`: the same for a relation of a `Result`; value, unit, source, status, error,
  flags in words come with it;
* `judge_forms(...)`: several published forms of one quantity; the verdict says whether they agree.

What cannot be judged is not left out: a value that is NaN, a limit that is NaN and a `gap` (see
`Plant.gap`) all give the verdict 'not assessed' with the reason, and so does `unassessed`.

How a verdict is made
---------------------
`margin` is the distance to the nearer limit in the unit of the value, positive on the good side.
Below zero the verdict is `beyond` ('stop' or 'caution', as the step decides; 'ok', without a
margin, where passing the limit is meant or usual). Above zero, but less
than one standard error or beyond a softer limit, it is 'caution'; so it is where published forms of
one quantity lie on both sides of the limit. Evidence never changes a verdict: a status that is not
a reading in a publication, and a value outside the range of its relation, stand in the reason. A
relation made from steels of another family judges nothing: the verdict is 'not assessed'.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, Label
from gradekit.core.flags import OUT, Flag
from gradekit.core.markup import number
from gradekit.core.sources import weakest
from gradekit.core.verdicts import Verdict
from gradekit.relations.evaluate import Result
from gradekit.works.row import Row, short

# What every second relation would say of itself is not repeated in each row.
_QUIET = int(Flag.RANGE_NOT_STATED | Flag.ASSUMED_ZERO)


def judge(
    step: str,
    check: str,
    values: pd.Series,
    *,
    unit: str,
    source: str,
    status: str,
    low: Given = None,
    high: Given = None,
    beyond: Given = "stop",
    reason: Given = "",
    beyond_reason: Given = "",
    error: Given = 0.0,
    near: Given = "",
    doubts: Given = "",
    gap: Given = "",
    limit_status: str = "",
    forms: pd.DataFrame | None = None,
    aside: Given = "",
) -> list[Row]:
    """Judge one value a heat against limits.

    Parameters
    ----------
    step, check : str
        Where it happens and what is looked at.
    values : Series indexed by heat
        NaN means that there is no value.
    unit, source, status : str
        Of the value; `source` as it is to be read (see `short`).
    low, high : number, Series or None
        Limits; None leaves the side open, NaN means that the limit is not known. With both None
        the value is shown without a verdict.
    beyond : str or Series of str
        The verdict beyond the limit: 'stop' or 'caution'.
    reason, beyond_reason : str or Series of str
        What it means, and what is added where the limit is passed.
    error : number or Series
        Standard error of the value; NaN and 0 where none is known.
    near : str or Series of str
        A softer limit that is passed, in words: it turns 'ok' into 'caution'; '' where none is.
    doubts : str or Series of str
        What the value rests on (out of range, a mode that is undecided); it changes no verdict.
    gap : str or Series of str
        What is missing to judge; then the verdict is 'not assessed'.
    limit_status : str
        Evidence word of the limit itself, where it differs; the weaker one is shown.
    forms : DataFrame, shape (heats, forms), optional
        The same quantity by every published form, the shown one among them; the reason then says
        whether they agree on the side of the limit, and where they do not the verdict is 'caution'.
    aside : str or Series of str
        What is to be said of the forms, such as how many are outside their range.

    Returns
    -------
    list of Row, one a heat

    Examples
    --------
    >>> ratio = pd.Series({"H1": 1.3, "H2": 1.0})
    >>> rows = judge("casting", "ratio", ratio, unit="1", source="x", status="verified", low=1.2)
    >>> [(r.verdict, round(r.margin, 2)) for r in rows]
    [('ok', 0.1), ('stop', -0.2)]
    """
    heats = values.index
    status = weakest(status, limit_status)
    columns = [
        _each(x, heats)
        for x in (low, high, error, beyond, reason, beyond_reason, near, doubts, gap, aside)
    ]
    shown = values.to_numpy(dtype=float).tolist()
    each_form = None if forms is None else forms.to_numpy(dtype=float)
    rows: list[Row] = []
    verdict: Verdict
    for i, (heat, value, *given) in enumerate(zip(heats, shown, *columns, strict=True)):
        lo, hi, sigma, fall, why, why_beyond, close, doubt, gone, beside = given
        margin = _margin(value, lo, hi)
        missing = gone or _missing(value, lo, hi)
        if missing:
            words = [gone] if gone else [missing, why, doubt]
            verdict, margin = "not assessed", float("nan")
        else:
            words, verdict, past = [why], fall if margin < 0 else "ok", margin < 0
            if each_form is not None:
                counted, agreed = _agreement(each_form[i], lo, hi, unit)
                words.insert(0, f"{counted} ({beside})" if counted and beside else counted)
                verdict = verdict if agreed else "caution"
            if past:
                words.append(why_beyond)
                # a limit that may be passed leaves no margin to speak of
                margin = float("nan") if verdict == "ok" else margin
            elif np.isfinite(sigma) and margin < sigma:
                verdict = "caution"
                words.append(f"the margin is within one standard error ({number(sigma, 3)})")
            elif close:
                verdict = "caution"
                words.append(close)
            words.append(doubt)
        text = "; ".join(w for w in words if w)
        limit = _limit_words(lo, hi)
        rows.append(
            Row(heat, step, check, value, limit, unit, margin, verdict, text, source, status)
        )
    return rows


def judge_relation(
    step: str,
    check: str,
    result: Result,
    name: str,
    *,
    heats: pd.Index | None = None,
    gap: Given = "",
    limit_source: str = "",
    forms: pd.DataFrame | None = None,
    **limits: Any,
) -> list[Row]:
    """Judge a relation of a result; its unit, source, status, error and flags come with it.

    Parameters
    ----------
    result : Result
        Of `gradekit.relations.evaluate`, holding `name`.
    heats : Index, optional
        Those of the result that are to be judged; all by default.
    limit_source : str
        Where the limit comes from, if it is not of the same source.
    **limits
        Whatever else `judge` takes: `low`, `high`, `beyond`, `reason`, `limit_status` ...

    Examples
    --------
    >>> from gradekit.relations.evaluate import evaluate
    >>> r = evaluate({"Cr": 18.2, "Ni": 8.1, "Mo": 0.3, "N": 0.05}, "pren_16n")
    >>> judge_relation("service", "pitting", r, "pren_16n", low=18)[0].verdict
    'ok'
    """
    relation = next(r for r in result.relations if r.name == name)
    values, flags, error = (
        frame[name] if heats is None else frame[name][heats]
        for frame in (result.values, result.flags, result.standard_error)
    )
    flags = flags.tolist()
    if forms is not None:
        bits = result.flags.loc[values.index, list(forms)]
        forms = forms.loc[values.index].mask((bits & int(Flag.OTHER_FAMILY)).astype(bool))
    words = [_flag_words(result, h, name, f) for h, f in zip(values.index, flags, strict=True)]
    known = np.isfinite(values).tolist()
    gaps = [
        g or (w if not k or f & Flag.OTHER_FAMILY else "")
        for g, k, f, w in zip(_each(gap, values.index), known, flags, words, strict=True)
    ]
    if forms is not None and "aside" not in limits:
        out = ((bits.to_numpy() & OUT) != 0) & forms.notna().to_numpy()
        limits["aside"] = [
            f"{n} of them outside their own range" if n else "" for n in out.sum(axis=1)
        ]
    return judge(
        step,
        check,
        values,
        unit=relation.unit,
        source="; ".join(filter(None, [f"{name} ({short(*relation.source)})", limit_source])),
        status=relation.status,
        error=error,
        doubts=[w if k and f & OUT else "" for w, k, f in zip(words, known, flags, strict=True)],
        gap=gaps,
        forms=forms,
        **limits,
    )


def judge_forms(step: str, check: str, result: Result, prefer: str, **limits: Any) -> list[Row]:
    """Judge several published forms of one quantity and say whether they agree.

    The value shown is that of the preferred form. Where every form gives the same side of the
    limit the verdict is that of the preferred one; where they disagree it is 'caution', and the
    reason counts the forms and names the spread.

    Parameters
    ----------
    result : Result
        Holding all forms, in one unit, and nothing else.
    prefer : str
        Name of the form that is shown.
    **limits
        Whatever else `judge_relation` takes.
    """
    return judge_relation(step, check, result, prefer, forms=result.values, **limits)


def unassessed(
    step: str,
    check: str,
    heats: pd.Index,
    needed: str,
    *,
    unit: str = "1",
    source: str = "",
    status: str = "",
) -> list[Row]:
    """Return rows for a check that nothing at hand can judge.

    Parameters
    ----------
    needed : str
        What would be needed, in words.

    Examples
    --------
    >>> unassessed("casting", "star cracks", pd.Index(["H1"]), "no published limit")[0].verdict
    'not assessed'
    """  # fmt: skip
    nan = float("nan")
    return [
        Row(h, step, check, nan, "", unit, nan, "not assessed", needed, source, status)
        for h in heats
    ]


def said_rows(
    step: str, check: str, heats: pd.Index, verdict: Verdict, reason: str, source: str, status: str
) -> list[Row]:
    """Return rows for what a source says in words of a kind of steel, without a number."""
    nan = float("nan")
    return [Row(h, step, check, nan, "", "1", nan, verdict, reason, source, status) for h in heats]


def _agreement(
    values: np.ndarray, low: float | None, high: float | None, unit: str
) -> tuple[str, bool]:
    """Say in words whether the forms are on one side of the limit, and whether they are."""
    known = values[~np.isnan(values)]
    if len(known) < 2:
        return "", True
    good = sum(_margin(v, low, high) >= 0 for v in known)
    span = f"{number(known.min())} to {number(known.max())} {unit}".removesuffix(" 1")
    if good in (0, len(known)):
        many = "both" if len(known) == 2 else f"all {len(known)}"
        return f"{many} forms agree, {span}", True
    return f"{good} of {len(known)} forms keep the limit, {span}", False


def _each(given: Given, heats: pd.Index) -> list:
    """Return one entry a heat of a Series, an array or a single value."""
    if isinstance(given, (pd.Series, Mapping)):
        series = given if isinstance(given, pd.Series) else pd.Series(given)
        return (series if series.index.equals(heats) else series.reindex(heats)).tolist()
    if isinstance(given, (np.ndarray, list, tuple)):
        return list(given)
    return [given] * len(heats)


def _margin(value: float, low: float | None, high: float | None) -> float:
    sides = ([value - low] if low is not None else []) + (
        [high - value] if high is not None else []
    )
    least = min(sides, default=float("nan"))
    # The mean of heats that lie at a limit falls short of it by the last digit of the machine.
    return 0.0 if -1e-9 * abs(value) < least < 0 else least


def _missing(value: float, low: float | None, high: float | None) -> str:
    if not np.isfinite(value):
        return "no value"
    if low is None and high is None:
        return "shown without a verdict: no limit to judge it by"
    if any(end is not None and np.isnan(end) for end in (low, high)):
        return "the limit is not known"
    return ""


def _limit_words(low: float | None, high: float | None) -> str:
    known = [end is not None and np.isfinite(end) for end in (low, high)]
    if all(known):
        return f"{number(low)}…{number(high)}"
    if known[0]:
        return f"≥ {number(low)}"
    return f"≤ {number(high)}" if known[1] else ""


def _flag_words(result: Result, heat: Label, name: str, flag: int) -> str:
    return result.words(heat, name) if flag & ~_QUIET else ""
