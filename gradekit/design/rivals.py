"""What the other relations of a quantity say of the aim, and what steel the aim is by the votes."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from gradekit.core.flags import Flag
from gradekit.core.markup import number
from gradekit.design.asked import Asked
from gradekit.design.brief import Brief
from gradekit.design.quantities import name_of, on_scale, rivals_of, without_term
from gradekit.relations.declaration import Relation
from gradekit.relations.evaluate import evaluate
from gradekit.relations.groups import families_in_words
from gradekit.relations.steels import ANNEAL, families_by_votes, with_family
from gradekit.relations.topics import CATALOGUE

#: Columns of the table of rivals.
RIVALS = ["limit", "value", "unit", "holds", "inside", "why not", "status", "asked"]

_OUT = Flag.BELOW_RANGE | Flag.ABOVE_RANGE | Flag.OUTSIDE_DIAGRAM | Flag.OUTSIDE_DATA


def rivals_table(brief: Brief, x: np.ndarray) -> pd.DataFrame:
    """Hold the other relations of each limited quantity against its limit.

    Parameters
    ----------
    brief : Brief
    x : array
        Contents of the aim in the order of the brief's variables.

    Returns
    -------
    DataFrame, one row a relation
        `limit` in words; `value`, `unit`; `holds`: made for this family, inside its ranges, with a
        term for what the steel is rich in; `inside` the limit, NaN on a scale of its own; `why not`
        it holds; `status`; `asked`: the search was held to it.
    """
    aim = pd.DataFrame([x], index=["aim"], columns=list(brief.variables))
    if brief.held:
        aim = with_family(aim, brief.held)
    family, contents = families_by_votes(aim)["aim"], aim.iloc[0].to_dict()
    compared = []
    for key, span in brief.limits.items():
        asked = brief.asked(key)
        own = [q.relation for q in asked.quantities if q.relation and q.key in CATALOGUE]
        every = {r.name: r for first in own for r in (first, *rivals_of(first))}
        compared += [(name_of(key), asked, span, relation) for relation in every.values()]
    given = {"temperature_C": ANNEAL, **brief.conditions}
    result = evaluate(aim, list(dict.fromkeys(r.name for *_, r in compared)), **given)
    rows = []
    for limit, asked, span, relation in compared:
        name = relation.name
        value = float(result.values.at["aim", name])
        if np.isnan(value):
            continue
        why = _why_not(relation, family, int(result.flags.at["aim", name]), contents)
        rows.append(
            {
                "relation": name,
                "limit": limit,
                "value": value,
                "unit": relation.unit_shown,
                "holds": not why,
                "inside": _inside(relation, asked, span, value),
                "why not": why,
                "status": relation.status,
                "asked": name in {q.key for q in asked.quantities},
            }
        )
    frame = pd.DataFrame(rows, columns=["relation", *RIVALS]).set_index("relation")
    alone = frame.groupby("limit")["limit"].transform("size") == 1
    frame = frame[~(alone & frame["holds"])]  # a relation without rivals says nothing here
    # What holds and breaks the limit first, then what holds, then what does not.
    order = frame["inside"].eq(False).astype(int) + 2 * frame["holds"].astype(int)
    return frame.iloc[np.argsort(-order.to_numpy(), kind="stable")]


def broken_words(rivals: pd.DataFrame) -> list[str]:
    """Say of each limit which relations break it, and where none of them holds for this steel."""
    groups: dict[str, list[dict]] = {}
    for row in rivals.reset_index().to_dict("records"):
        groups.setdefault(str(row["limit"]), []).append(row)
    return [*filter(None, (_broken(limit, rows) for limit, rows in groups.items()))]


def _broken(limit: str, rows: list[dict]) -> str:
    """Say it of one limit, '' where nothing speaks against it; `inside` is NaN where not judged."""
    judged, holding = [r for r in rows if not pd.isna(r["inside"])], [r for r in rows if r["holds"]]
    if not any(r["holds"] for r in judged):
        return _no_promise(limit, judged)
    names, asked = [r["relation"] for r in rows], [r for r in rows if r["asked"]]
    named = limit in names
    own = rows[names.index(limit)] if named else (asked or rows)[0]
    against = [r for r in judged if r["holds"] and not r["inside"]]
    if not (own["holds"] if named else any(r["holds"] for r in asked)):
        met = f"{own['relation']} ({_reading(own)}) does not hold here: {own['why not']}"
        if not against:
            by = next(r for r in holding if r["inside"] is True)
            return f"{met}; kept by {by['relation']} ({_reading(by)}), which holds"
    elif named:
        met = f"met by {own['relation']} ({_reading(own)})"
    else:
        met = f"{limit} is kept by every relation that was asked"
    if not against:
        return ""
    values = _span_of([r["value"] for r in against])
    if len(against) > 1:
        return f"{met}; {len(against)} relations that hold for this steel say {values}"
    return f"{met}; {against[0]['relation']}, which holds for this steel, says {values}"


def _no_promise(limit: str, rows: list[dict]) -> str:
    """Say that a limit cannot be promised, and what the relations say outside their range."""
    names = [r["relation"] for r in rows]
    broken = [r["relation"] for r in rows if not r["inside"]]
    first = CATALOGUE[limit if limit in names else names[0]]
    own = [r for r in rows if CATALOGUE[r["relation"]].unit == first.unit]
    reading = f"{_span_of([r['value'] for r in own])} {own[0]['unit']}".rstrip()
    many = len(own) > 1
    said = f"they read {reading}" if many else f"it reads {reading}"
    if broken:
        said += f"; {' and '.join(broken[:2])}{' and others' * (len(broken) > 2)} past the limit"
    whom = f"none of {len(own)} relations holds" if many else "it does not hold"
    return (
        f"{first.quantity if many else first.name} cannot be promised: {whom} for this steel "
        f"({said}); measure it on a trial heat"
    )


def _reading(row: dict) -> str:
    return f"{number(row['value'], 3)} {row['unit']}".rstrip()


def _span_of(values: list[float]) -> str:
    ends = (number(v, 3) for v in (min(values), max(values)))
    return " to ".join(dict.fromkeys(ends))


def _why_not(relation: Relation, family: str, flags: int, contents: Mapping[str, float]) -> str:
    if not relation.holds_for(*([family] if family else [])):
        return f"made for {families_in_words(relation.families)} steel"
    if flags & _OUT:
        return f"outside its range{_where(relation, contents)}"
    if element := without_term(relation, contents):
        return f"no term for {element}, of which this steel has {number(contents[element], 2)} %"
    return ""


def _where(relation: Relation, contents: Mapping[str, float]) -> str:
    """Say which content leaves the range, where it is one."""
    for element, (low, high) in relation.ranges.items():
        value = contents.get(element)
        if value is None:
            continue
        if low is not None and value < low:
            return f": {element} {number(value, 3)}, made for {number(low)} and more"
        if high is not None and value > high:
            return f": {element} {number(value, 3)}, made for {number(high)} at most"
    return ""


def _inside(relation: Relation, asked: Asked, span: tuple, value: float) -> bool | float:
    own = [q.relation.name for q in asked.quantities if q.relation]
    if relation.unit == "1" and relation.name not in own:
        return np.nan  # an index has a scale of its own
    low, high = on_scale(span, asked.unit or relation.unit, relation.unit)
    if low is None and high is None:
        return np.nan
    room = 1e-6 * max(1.0, abs(value))  # an optimum lies on its limit
    return bool((low is None or value >= low - room) and (high is None or value <= high + room))
