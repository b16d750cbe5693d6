"""What the other relations of a quantity say of the aim, and what steel the aim is by the votes."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from gradekit.core.flags import Flag
from gradekit.core.markup import number
from gradekit.design.brief import Brief
from gradekit.design.quantities import rivals_of, without_term
from gradekit.relations.declaration import Relation
from gradekit.relations.evaluate import evaluate
from gradekit.relations.groups import families_in_words
from gradekit.relations.steels import ANNEAL, families_by_votes, with_family
from gradekit.relations.topics import CATALOGUE

__all__ = ["RIVALS", "broken_words", "rivals_table"]

#: Columns of the table of rivals.
RIVALS = ["limit", "value", "unit", "holds", "inside", "why not", "status"]

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
        it holds; `status`.
    """
    aim = pd.DataFrame([x], index=["aim"], columns=list(brief.variables))
    if brief.held:
        aim = with_family(aim, brief.held)
    family, contents = families_by_votes(aim)["aim"], aim.iloc[0].to_dict()
    rivals: list[tuple[str, tuple, list[Relation], dict[str, Relation]]] = []
    for key, span in brief.limits.items():
        asked = [q.relation for q in brief.quantities_of(key)[0] if q.relation is not None]
        asked = [r for r in asked if r.name in CATALOGUE]
        relations = {r.name: r for first in asked for r in (first, *rivals_of(first))}
        if len(relations) > 1:
            rivals.append(
                (key.name if isinstance(key, Relation) else str(key), span, asked, relations)
            )
    given = {"temperature_C": ANNEAL, **brief.conditions}
    result = evaluate(aim, list({n: n for *_, names in rivals for n in names}), **given)
    values, flags = result.values.loc["aim"].to_dict(), result.flags.loc["aim"].to_dict()
    rows = []
    for limit, span, asked, relations in rivals:
        for name, relation in relations.items():
            value = float(values[name])
            if np.isnan(value):
                continue
            why = _why_not(relation, family, flags[name], contents)
            rows.append(
                {
                    "relation": name,
                    "limit": limit,
                    "value": value,
                    "unit": "" if relation.unit == "1" else relation.unit,
                    "holds": not why,
                    "inside": _inside(relation, asked, span, value, aim),
                    "why not": why,
                    "status": relation.status,
                }
            )
    frame = pd.DataFrame(rows, columns=["relation", *RIVALS]).set_index("relation")
    # What holds and breaks the limit first, then what holds, then what does not.
    order = frame["inside"].eq(False).astype(int) + 2 * frame["holds"].astype(int)
    return frame.iloc[np.argsort(-order.to_numpy(), kind="stable")]


def broken_words(rivals: pd.DataFrame) -> list[str]:
    """Say of each limit which relations break it: those that hold for this steel, else the others.

    Others are heard only where the relation that was limited does not hold either.
    """
    lines = []
    for limit, rows in rivals.groupby("limit", sort=False):
        # Of a quantity every relation was asked; what is left are those of another scale.
        own = rows.loc[limit] if limit in rows.index else None
        trusted = rows["holds"] if own is None or own["holds"] else True
        against = rows[rows["inside"].eq(False) & trusted]
        if against.empty:
            continue
        if own is None:
            met = f"{limit} is kept by every relation that was asked"
        else:
            made = "" if own["holds"] else f", which does not hold here: {own['why not']}"
            met = f"met by {limit} ({number(own['value'], 3)} {own['unit']}".rstrip() + f"){made}"
        values = [number(v, 3) for v in (against["value"].min(), against["value"].max())]
        hold = " that hold for this steel" if against["holds"].all() else ""
        count = f"{len(against)} relations{hold} say" if len(against) > 1 else (
            f"{against.index[0]}{', which holds for this steel,' if hold else ''} says"
        )  # fmt: skip
        span = " to ".join(dict.fromkeys(values))
        lines.append(f"{met}; {count} {span}")
    return lines


def _why_not(relation: Relation, family: str, flags: int, contents: Mapping[str, float]) -> str:
    if not relation.holds_for(*([family] if family else [])):
        return f"made for {families_in_words(relation.families)} steel"
    if int(flags) & _OUT:
        return "outside its range"
    if element := without_term(relation, contents):
        return f"no term for {element}, of which this steel has {number(contents[element], 2)} %"
    return ""


def _inside(
    relation: Relation, asked: list[Relation], span: tuple, value: float, aim: pd.DataFrame
) -> bool | float:
    if relation.unit == "1" and relation not in asked:
        return np.nan  # an index has a scale of its own
    ends = span
    if relation.unit == "FN" and all(r.unit != "FN" for r in asked):
        ends = tuple(None if end is None else _ferrite_number(end, aim) for end in span)
    low, high = ends
    room = 1e-6 * max(1.0, abs(value))  # an optimum lies on its limit
    return bool((low is None or value >= low - room) and (high is None or value <= high + room))


def _ferrite_number(percent: float, aim: pd.DataFrame) -> float:
    found = evaluate(aim, "fn_from_vol_pct_2003", ferrite_vol_pct=percent)
    return float(found.values.iat[0, 0])
