"""One criterion on one steel: verdict, number, limit, reason, source, evidence."""

from __future__ import annotations

from typing import NamedTuple

from gradekit.core.verdicts import VERDICTS, Verdict


class Finding(NamedTuple):
    """What one criterion says of one steel.

    Attributes
    ----------
    verdict : Verdict
    number, limit : float or None
    unit, reason, source, status : str
        Status is an evidence word, "" where nothing at all was assessed.
    remedy : str
        What would change the verdict; '' where nothing is known, or nothing need change.
    criterion : str
        Its name in `gradekit.service.criteria`, which gives it.
    """

    verdict: Verdict
    reason: str
    number: float | None = None
    limit: float | None = None
    unit: str = ""
    source: str = ""
    status: str = "memory"
    remedy: str = ""
    criterion: str = ""


def within(value: float, sure: float, most: float) -> Verdict:
    """Return 'ok' up to what is sure, 'stop' beyond the most, 'caution' between.

    Examples
    --------
    >>> within(90, 100, 200), within(150, 100, 200), within(201, 100, 200)
    ('ok', 'caution', 'stop')
    """
    return "ok" if value <= sure else "caution" if value <= most else "stop"


def no_worse(finding: Finding, now: Finding | None) -> bool:
    """Return whether the present grade, by its own finding, stands no better in this criterion.

    Examples
    --------
    >>> hot = Finding("stop", "too hot", 75.0, 50.0, "°C")
    >>> sounder = Finding("stop", "too hot", 75.0, 60.0, "°C")
    >>> no_worse(hot, hot), no_worse(sounder, hot), no_worse(hot, sounder)
    (True, True, False)
    """
    if now is None:
        return False
    ranks = VERDICTS.index(finding.verdict), VERDICTS.index(now.verdict)
    number, limit, its, its_limit = finding.number, finding.limit, now.number, now.limit
    unlike = ranks[0] != ranks[1] or finding.unit != now.unit
    if unlike or number is None or limit is None or its is None or its_limit is None:
        return ranks[0] >= ranks[1]
    if finding.criterion == "magnetism":  # less stable austenite is drawn to a magnet sooner
        return number <= its
    # of one verdict: a lower ceiling under the same load, or a lower class, is still the worse
    if number == its:
        return limit >= its_limit
    return number > its or not finding.unit.startswith("class")
