"""How a verdict is made of one value and its limits.

`margin` is the distance to the nearer limit in the unit of the value, positive on the good side.
Below zero the verdict is `beyond` ('stop' or 'caution', as the step decides; 'ok', without a
margin, where passing the limit is meant or usual). Above zero, but less
than one standard error or beyond a softer limit, it is 'caution'; so it is where published forms of
one quantity lie on both sides of the limit. Evidence never changes a verdict: a status that is not
a reading in a publication, and a value outside the range of its relation, stand in the reason. A
relation made from steels of another family judges nothing: the verdict is 'not assessed'.
"""

from __future__ import annotations

import numpy as np

from gradekit.core.markup import number
from gradekit.core.verdicts import Verdict


def verdict_of(
    value: float, low: float | None, high: float | None, agreed: tuple[str, bool], gap: str,
    error: float, beyond: Verdict, reason: str, beyond_reason: str, near: str, doubts: str,
) -> tuple[float, Verdict, str]:  # fmt: skip
    """Return margin, verdict and reason of one value.

    `agreed` is what `agreement` returned; the rest is given as to `Lot.judge`.
    """
    if gap:
        return float("nan"), "not assessed", gap
    if missing := _missing(value, low, high):
        return float("nan"), "not assessed", _joined(missing, reason, doubts)
    margin, (counted, same), more = _margin(value, low, high), agreed, ""
    verdict: Verdict = "ok"
    if margin < 0:
        verdict, more = beyond, beyond_reason
    elif np.isfinite(error) and margin < error:
        verdict = "caution"
        more = f"the margin is within one standard error ({number(error, 3)})"
    elif near:
        verdict, more = "caution", near
    verdict = verdict if same else "caution"
    if margin < 0 and verdict == "ok":
        margin = float("nan")  # a limit that may be passed leaves no margin to speak of
    return margin, verdict, _joined(counted, reason, more, doubts)


def _joined(*words: str) -> str:
    return "; ".join(filter(None, words))


def agreement(
    forms: np.ndarray, low: float | None, high: float | None, aside: str, unit: str
) -> tuple[str, bool]:
    """Say in words whether the forms are on one side of the limit, and whether they are."""
    known = forms[~np.isnan(forms)]
    if len(known) < 2:
        return "", True
    good = sum(_margin(v, low, high) >= 0 for v in known)
    span = f"{number(known.min())} to {number(known.max())} {unit}".removesuffix(" 1")
    span += f" ({aside})" if aside else ""
    if good in (0, len(known)):
        many = "both" if len(known) == 2 else f"all {len(known)}"
        return f"{many} forms agree, {span}", True
    return f"{good} of {len(known)} forms keep the limit, {span}", False


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


def limit_words(low: float | None, high: float | None) -> str:
    """Return the limits as a row shows them: '2…8', '≥ 2', '≤ 8', or '' for none."""
    known = [end is not None and np.isfinite(end) for end in (low, high)]
    if all(known):
        return f"{number(low)}…{number(high)}"
    if known[0]:
        return f"≥ {number(low)}"
    return f"≤ {number(high)}" if known[1] else ""
