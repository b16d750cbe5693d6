"""The search through all grades for those that the criteria speak least against."""

from __future__ import annotations

from collections.abc import Callable

import pandas as pd

from gradekit.core.markup import number
from gradekit.core.verdicts import VERDICTS
from gradekit.service.candidate import Candidate, standard_candidates
from gradekit.service.criteria import answered_directly, findings, left_open
from gradekit.service.finding import no_worse
from gradekit.service.needs import Service


def suggest(
    reference: Candidate,
    service: Service,
    most: int,
    cost: Callable[[Candidate], float] | None = None,
    unit: str = "",
) -> pd.DataFrame:
    """Return every grade but the reference, those that the criteria speak least against first.

    Of equals the cheaper comes first, or without prices the leaner: it is what a substitution is
    asked for. What the present grade leaves in doubt as well is no doubt against a candidate.

    Parameters
    ----------
    reference : Candidate
    service : Service
    most : int
        Length of the short list.
    cost : function of a Candidate, optional
        Its alloy cost, in `unit`.
    unit : str

    Returns
    -------
    DataFrame
        A row a grade, in order, with why it stands there.
    """
    now = {f.criterion: f for f in findings(reference, reference, service)}
    rows = []
    for steel in standard_candidates():
        if steel.number == reference.number:
            continue
        looked_at = findings(steel, reference, service)
        held = {v: [f.criterion for f in looked_at if f.verdict == v] for v in VERDICTS}
        # the index is no doubt of its own where air or water answer directly
        weighed = [
            f
            for f in looked_at
            if f.criterion != "pitting index" or not answered_directly(looked_at)
        ]
        doubts = sum(
            f.verdict in ("caution", "not assessed") and not no_worse(f, now.get(f.criterion))
            for f in weighed
        )
        blind = sum(not no_worse(f, now.get(f.criterion)) for f in left_open(looked_at))
        more = None if cost is None else cost(steel) - cost(reference)
        # short of what the service asks first, then what was asked and nobody can tell of this
        # steel though of the present grade, then cautions and other open points, then the cost
        rank = (len(held["stop"]), blind, doubts, _dear(steel) if more is None else more)
        words = _why(held, doubts, blind, steel, more, unit)
        rows.append((steel.number, steel.grade.common, steel.grade.family, held, rank, words,
                     _dear(steel)))  # fmt: skip
    rows.sort(key=lambda row: (row[4], row[0]))
    table_ = pd.DataFrame(
        {
            "common": [r[1] for r in rows],
            "family": [r[2] for r in rows],
            **{
                verdict: [", ".join(r[3][verdict]) for r in rows]
                for verdict in ("stop", "caution", "not assessed")
            },
            "Ni + 2 Mo, least": [r[6] for r in rows],
            **({} if cost is None else {f"cost against now, {unit}": [r[4][-1] for r in rows]}),
            "rank": range(1, len(rows) + 1),
        },
        index=pd.Index([r[0] for r in rows], name="grade"),
    )
    table_["place"] = [
        "short list" if r < most else ("next" if r < most + 3 else "") for r in range(len(rows))
    ]
    table_["why"] = [
        row[5] + ("; dropped: others rank before it" if place == "next" else "")
        for row, place in zip(rows, table_["place"], strict=True)
    ]
    return table_


def _why(
    held: dict, doubts: int, blind: int, steel: Candidate, more: float | None, unit: str
) -> str:
    if held["stop"]:
        word = f"falls short in {', '.join(held['stop'])}"
    elif doubts:
        word = f"nothing against it; cautions and open points beyond the present grade: {doubts}"
        word += f", {blind} of them asked and not assessed" if blind else ""
    elif held["caution"] or held["not assessed"]:
        word = "nothing against it, no caution beyond those of the present grade"
    else:
        word = "every criterion is met"
    word += f"; at least {_dear(steel):g} % Ni + 2 Mo"
    if more is None:
        return word
    return f"{word}; alloy cost {'+' if more > 0 else ''}{number(more, 3)} {unit} against now"


def _dear(steel: Candidate) -> float:
    """Nickel and molybdenum at the cheap end, as the order of what a grade costs."""
    return steel.least.get("Ni", 0.0) + 2.0 * steel.least.get("Mo", 0.0)
