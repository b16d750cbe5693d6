"""The one vocabulary of verdicts, with one order, for route, grades, service and design.

A verdict comes from the margin alone: of the value, of its standard error and, where several
published forms give the quantity, of each of them. How well the number is attested is another
thing, an evidence word (`gradekit.core.sources.STATUSES`), and stands beside it.

'ok': the limit is kept. 'caution': near the limit, beyond a softer one, or published forms lie on
both sides of it. 'not assessed': a value, a limit or a condition is missing. 'stop': it is broken.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal, get_args

Verdict = Literal["stop", "not assessed", "caution", "ok"]

#: The worst first. What nobody assessed may be a stop, so it stands next to it.
VERDICTS: tuple[Verdict, ...] = get_args(Verdict)

#: The sign before each verdict, so that none depends on colour.
SIGNS: dict[Verdict, str] = {"stop": "✕", "not assessed": "○", "caution": "△", "ok": "✓"}


def worst(verdicts: Iterable[Verdict], *, assessed: bool = False) -> Verdict:
    """Return the worst of several verdicts, 'not assessed' where there are none.

    Parameters
    ----------
    verdicts : iterable of Verdict
    assessed : bool
        Leave out what was not assessed, unless nothing was: for parts of which each stands for
        itself, as the checks of a works step. A grade needs all of its limits.

    Examples
    --------
    >>> worst(["ok", "not assessed", "ok"]), worst(["ok", "not assessed"], assessed=True)
    ('not assessed', 'ok')
    """
    ranked = sorted(verdicts, key=VERDICTS.index)
    if assessed:
        ranked = [v for v in ranked if v != "not assessed"] or ranked
    return ranked[0] if ranked else "not assessed"
