"""One heat against one limit, on the digits that were reported.

Every comparison is made in decimal arithmetic. ASTM limits are compared by the rounding method of
E29 (the observed value is rounded to the last place of the limit, a tie to the even digit); the
EN grade tables state no rounding, so there a value counts as reported. A content reported as '<x'
is the interval from 0 to x, and a verdict is given only if it holds for all of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_EVEN, Decimal
from typing import NamedTuple

import pandas as pd

from gradekit.core.linear import Sum, decimal
from gradekit.core.sources import weakest
from gradekit.core.verdicts import Verdict
from gradekit.heats.notes import bounds, not_reported, notes_of
from gradekit.standards.rules import ZERO
from gradekit.standards.tables import Limit, Variant, Window, variant_in_words
from gradekit.standards.tolerances import Tolerance, tolerance

#: The reason beside a verdict that rests on such a limit.
FROM_MEMORY = "the limit is from trade memory"


class Reported(NamedTuple):
    """One content as an interval, wt%: a number is a point, a bound reaches down to 0."""

    low: Decimal
    high: Decimal
    text: str = ""


Contents = Mapping[str, Reported]
Reach = tuple[Decimal, Decimal]


class Analysis(dict[str, Reported]):
    """The reported contents of a heat; `unread` names the columns that were not understood."""

    def __init__(self, unread: Mapping[str, str]):
        super().__init__()
        self.unread = unread


def contents_of(batch: pd.DataFrame) -> Iterator[Analysis]:
    """Yield the reported contents of each heat; what was not reported is left out."""
    marks = bounds(batch)
    unread = notes_of(batch).get("unread", {})
    columns = {e: (batch[e].to_numpy(), marks[e].tolist()) for e in batch}
    for row in range(len(batch)):
        contents = Analysis(unread)
        for element, (numbers, texts) in columns.items():
            if (report := reported(numbers[row], texts[row])) is not None:
                contents[element] = report
        yield contents


def reported(number: float, text: str) -> Reported | None:
    """Return a content as it was reported, `text` being its bound; None where it was not."""
    if number == number:
        exact = decimal(number)
        return Reported(ZERO if text else exact, exact, text)
    return Reported(ZERO, Decimal("Infinity"), text) if text else None


@dataclass(frozen=True)
class LimitFinding:
    """What one limit says about one heat; numbers in the unit of the limit.

    'caution' is inside one published form of the limit and outside another. `status` is the weaker
    evidence of what decided, beside the verdict.
    """

    value: Decimal | None
    low: Decimal | None
    high: Decimal | None
    margin: Decimal | None
    verdict: Verdict
    status: str
    reasons: tuple[str, ...] = ()


def judge_limit(
    limit: Limit, window: Window, contents: Contents, product: bool = False
) -> LimitFinding:
    """Judge one limit; where publications disagree, each form is judged and all are told."""
    findings = [_judge_form(limit, form, window, contents, product) for form in limit.variants]
    first = findings[0]
    if len(findings) == 1:
        return first
    told = tuple(
        f"{f.verdict} by {variant_in_words(form)} ({form.where})"
        for f, form in zip(findings, limit.variants, strict=True)
    )
    verdicts = {f.verdict for f in findings}
    if verdicts == {"ok", "stop"}:
        return replace(first, verdict="caution", status="conflicting", reasons=told)
    why = [r for f in findings for r in f.reasons if r != FROM_MEMORY]
    return replace(
        first,
        verdict=verdicts.pop() if len(verdicts) == 1 else "not assessed",
        # Kept by every form, so by the strictest; what was read vouches for it.
        margin=min((f.margin for f in findings if f.margin is not None), default=None),
        status="verified" if any(f.status == "verified" for f in findings) else "memory",
        reasons=tuple(dict.fromkeys([*told, *why])),
    )


class _End(NamedTuple):
    """One end of a limit: where it lies, and the least and most margin that the report allows."""

    at: Decimal
    least: Decimal
    most: Decimal
    status: str = "verified"
    reasons: tuple[str, ...] = ()


def _judge_form(
    limit: Limit, form: Variant, window: Window, contents: Contents, product: bool
) -> LimitFinding:
    reasons = []
    unread = getattr(contents, "unread", {})
    if limit.element == "Nb+Ta" and "Nb" in contents and "Ta" not in contents:
        contents = {**contents, "Ta": Reported(ZERO, ZERO)}
        reasons.append("Ta not reported: Nb taken as the sum")
    silent = sorted(limit.helps - contents.keys() - unread.keys())
    if silent:
        contents = {**contents, **dict.fromkeys(silent, Reported(ZERO, ZERO))}
    needed = dict.fromkeys(e for line in (limit.quantity, *form.floors) for e in line.slopes)
    if absent := [e for e in needed if e not in contents]:
        unknown = set(absent) & set(limit.quantity.slopes)
        at = None if unknown else _number(span(limit.quantity, contents)[1])
        gone = not_reported(absent, unread)
        return LimitFinding(at, form.low, form.high, None, "not assessed", form.status, (gone,))
    reach = span(limit.quantity, contents)
    lower = [_computed(limit, window, floor, contents, product) for floor in form.floors]
    if form.low is not None:
        lower.append(_fixed(limit, window, reach, form.low, -1, product))
    upper = []
    if form.high is not None:
        upper.append(_fixed(limit, window, reach, form.high, 1, product))
    ends = [*lower, *upper]
    least, most = min(e.least for e in ends), min(e.most for e in ends)
    verdict: Verdict = "ok" if least >= 0 else "stop" if most < 0 else "not assessed"
    if silent and verdict != "ok":
        reasons.append(f"{' and '.join(silent)} not reported: counted as 0")
    reasons += [f"{e} reported as {contents[e].text}" for e in needed if contents[e].text]
    reasons += [r for e in ends for r in e.reasons]
    if form.status == "memory" and verdict != "not assessed":
        reasons.append(FROM_MEMORY)
    return LimitFinding(
        _number(reach[1]),
        max((e.at for e in lower if e.at.is_finite()), default=None),
        upper[0].at if upper else None,
        least if verdict == "ok" else most if verdict == "stop" else None,
        verdict,
        weakest(form.status, *(e.status for e in ends)),
        tuple(reasons),
    )


def span(line: Sum, contents: Contents) -> Reach:
    """Return the least and the largest value that the reported contents allow."""
    low = high = line.constant
    for element, k in line.slopes.items():
        content = contents[element]
        low += k * (content.low if k > 0 else content.high)
        high += k * (content.high if k > 0 else content.low)
    return low, high


def _fixed(
    limit: Limit, window: Window, reach: Reach, specified: Decimal, sign: int, product: bool
) -> _End:
    """Judge a printed end: `sign` is -1 for a minimum and +1 for a maximum."""
    single = len(limit.quantity.slopes) == 1
    wider = tolerance(window.side, limit.element, specified) if product and single else None
    at = specified if wider is None else specified + sign * wider.beyond(sign)
    best, poorest = reach if sign > 0 else reach[::-1]
    least, most = sign * (at - poorest), sign * (at - best)
    if least >= 0 and wider is None:
        return _End(at, least, most)
    status, reasons = "verified", []
    if least < 0 and single:
        grid = _grid(limit, at)
        near, far = (
            x if x.is_infinite() else x.quantize(grid, ROUND_HALF_EVEN) for x in (best, poorest)
        )
        kept, exact = sign * (at - far), best == poorest
        if window.side == "ASTM":
            if kept >= 0 and exact:
                tie = 2 * abs(best - near) == grid
                status = "memory" if tie else status
                how = ", a tie to the even digit, from trade memory" if tie else ""
                reasons.append(f"{best:f} rounds to {near} (E29{how})")
            # rounding may keep a limit, and never breaks one
            least = max(least, kept) if kept >= 0 else least
            most = max(most, sign * (at - near)) if sign * (at - near) >= 0 else most
        elif kept >= 0 and exact:
            reasons.append(
                f"would round to {near}, but the EN table states no rounding: it counts as reported"
            )
    if product and wider is None and least < 0:
        reasons.append(f"no product tolerance is tabulated for {specified}")
        most = max(most, ZERO)
    if wider is not None and least >= 0 and sign * (specified - poorest) < 0:
        weaker, why = _by_tolerance(window, wider, sign, specified)
        status = weakest(status, weaker)
        reasons.append(why)
    if most < 0:
        side = "above the maximum" if sign > 0 else "below the minimum"
        name = "" if single else f"{limit.quantity} = "
        reasons.insert(0, f"{name}{best:f} is {-most:f} {side} {at}")
    return _End(at, least, most, status, tuple(reasons))


def _by_tolerance(
    window: Window, wider: Tolerance, sign: int, specified: Decimal
) -> tuple[str, str]:
    why = f"within the product tolerance {wider.beyond(sign)} of {specified} ({wider.standard}"
    why += ", from trade memory)" if wider.status == "memory" else ")"
    own = window.standard.split(":")[0]
    if window.side == "EN" and own not in ("EN 10088-2", "EN 10088-3"):
        return "memory", f"{why}; the tolerances of {own} itself were not read"
    return wider.status, why


def _computed(limit: Limit, window: Window, floor: Sum, contents: Contents, product: bool) -> _End:
    """Judge a minimum computed from other contents, exactly and without rounding."""
    above = limit.quantity - floor
    assert isinstance(above, Sum)
    least, most = span(above, contents)
    at = span(floor, contents)[1]
    status, reasons = "verified", []
    if product and least < 0 and at.is_finite():
        single = len(limit.quantity.slopes) == 1
        wider = tolerance(window.side, limit.element, at) if single else None
        if wider is None:
            most = max(most, ZERO)
            reasons.append("no product tolerance is tabulated for this minimum")
        elif least + wider.below >= 0:
            least, most, at, status = ZERO, most + wider.below, at - wider.below, "memory"
            reasons.append(
                f"within {wider.below} of a computed minimum; that the tolerance applies there is "
                "not stated"
            )
    if most < 0:
        value = span(limit.quantity, contents)[1]
        reasons.append(f"{value:f} is {-most:f} below {floor} = {at:f}")
    return _End(at, least, most, status, tuple(reasons))


def _grid(limit: Limit, at: Decimal) -> Decimal:
    """Return the place to round to: the last of the end compared with, 18.0 less 0.20 being 17.80.

    Carbon of low-carbon types is reported to 0.001 % (footnote of A269), however it is printed.
    """
    place = int(at.as_tuple().exponent)
    if limit.element == "C" and at <= Decimal("0.035"):
        place = min(place, -3)
    return Decimal(1).scaleb(place)


def _number(value: Decimal) -> Decimal | None:
    return value if value.is_finite() else None
