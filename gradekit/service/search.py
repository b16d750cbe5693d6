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
    rows, ranks = [], []
    for steel in standard_candidates():
        if steel.number == reference.number:
            continue
        looked_at = findings(steel, reference, service)
        held = {v: [f.criterion for f in looked_at if f.verdict == v] for v in VERDICTS}
        beyond = [f for f in looked_at if not no_worse(f, now.get(f.criterion))]
        # the index is no doubt of its own where air or water answer directly
        direct = answered_directly(looked_at)
        doubts = sum(
            f.verdict in ("caution", "not assessed")
            for f in beyond
            if f.criterion != "pitting index" or not direct
        )
        blind = len(left_open(beyond))
        more = None if cost is None else cost(steel) - cost(reference)
        # short of what the service asks first, then what was asked and nobody can tell of this
        # steel though of the present grade, then cautions and other open points, then the cost
        dear = _dear(steel)
        price = dear if more is None else more
        ranks.append((len(held["stop"]), blind, doubts, price, steel.number))
        rows.append({
            "grade": steel.number,
            "common": steel.grade.common,
            "family": steel.grade.family,
            **{v: ", ".join(held[v]) for v in ("stop", "caution", "not assessed")},
            "Ni + 2 Mo, least": dear,
            **({} if more is None else {f"cost against now, {unit}": more}),
            "rank": 0,
            "place": "",
            "why": _why(held, doubts, blind, dear, more, unit),
        })  # fmt: skip
    order = sorted(range(len(rows)), key=ranks.__getitem__)
    found = pd.DataFrame([rows[k] for k in order]).set_index("grade")
    found["rank"] = range(1, len(found) + 1)
    found["place"] = [_place(rank, most) for rank in found["rank"]]
    found.loc[found["place"] == "next", "why"] += "; dropped: others rank before it"
    return found


def _place(rank: int, most: int) -> str:
    return "short list" if rank <= most else "next" if rank <= most + 3 else ""


def _why(held: dict, doubts: int, blind: int, dear: float, more: float | None, unit: str) -> str:
    if held["stop"]:
        word = f"falls short in {', '.join(held['stop'])}"
    elif doubts:
        word = f"nothing against it; cautions and open points beyond the present grade: {doubts}"
        word += f", {blind} of them asked and not assessed" if blind else ""
    elif held["caution"] or held["not assessed"]:
        word = "nothing against it, no caution beyond those of the present grade"
    else:
        word = "every criterion is met"
    word += f"; at least {dear:g} % Ni + 2 Mo"
    if more is None:
        return word
    return f"{word}; alloy cost {'+' if more > 0 else ''}{number(more, 3)} {unit} against now"


def _dear(steel: Candidate) -> float:
    """Nickel and molybdenum at the cheap end, as the order of what a grade costs."""
    return steel.least.get("Ni", 0.0) + 2.0 * steel.least.get("Mo", 0.0)
