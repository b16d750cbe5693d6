"""The search through all grades for those that the criteria speak least against."""

from __future__ import annotations

import pandas as pd

from gradekit.service.candidate import Candidate, standard_candidates
from gradekit.service.criteria import answered_directly, findings
from gradekit.service.finding import VERDICTS
from gradekit.service.needs import Service

__all__ = ["suggest"]


def suggest(reference: Candidate, service: Service, most: int) -> pd.DataFrame:
    """Return every grade but the reference, those that the criteria speak least against first.

    Of equals the leaner comes first: it is what a substitution is asked for.
    """
    rows = []
    for steel in standard_candidates():
        if steel.number == reference.number:
            continue
        found = findings(steel, reference, service)
        held = {v: [f.criterion for f in found if f.verdict == v] for v in VERDICTS}
        # the index is no doubt of its own where air or water answer directly
        weighed = [
            f for f in found if f.criterion != "pitting index" or not answered_directly(found)
        ]
        doubts = sum(f.verdict in ("marginal", "not assessed") for f in weighed)
        # short of what the service asks first, then open points, then what it costs
        rank = (len(held["falls short"]), doubts, _dear(steel))
        rows.append((steel.number, steel.grade.common, steel.grade.family, held, rank))
    rows.sort(key=lambda row: (row[-1], row[0]))
    table_ = pd.DataFrame(
        {
            "common": [r[1] for r in rows],
            "family": [r[2] for r in rows],
            **{
                head: [", ".join(r[3][verdict_]) for r in rows]
                for head, verdict_ in (
                    ("falls short", "falls short"),
                    ("reserved", "marginal"),
                    ("not assessed", "not assessed"),
                )
            },
            "Ni + 2 Mo, least": [r[4][2] for r in rows],
            "rank": range(1, len(rows) + 1),
        },
        index=pd.Index([r[0] for r in rows], name="grade"),
    )
    table_["place"] = [
        "short list" if r < most else ("next" if r < most + 3 else "") for r in range(len(rows))
    ]
    table_["why"] = [_why(row, kept) for row, kept in zip(rows, table_["place"], strict=True)]
    return table_


def _why(row: tuple, place: str) -> str:
    held, (short, doubts, dear) = row[3], row[4]
    if short:
        word = f"falls short in {', '.join(held['falls short'])}"
    elif doubts:
        word = f"nothing speaks against it, {doubts} reserved or open"
    else:
        word = "every criterion is met"
    return f"{word}; at least {dear:g} % Ni + 2 Mo" + ("; dropped: others rank before it"
        if place == "next" else "")  # fmt: skip


def _dear(steel: Candidate) -> float:
    """Nickel and molybdenum at the cheap end, as the order of what a grade costs."""
    return steel.least.get("Ni", 0.0) + 2.0 * steel.least.get("Mo", 0.0)
