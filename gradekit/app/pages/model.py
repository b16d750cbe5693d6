"""What a page computes with: relations and diagrams as data, their formulas as functions."""

from __future__ import annotations

import json
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

from gradekit.app.pages.told import NEGLIGIBLE, told_lines
from gradekit.app.pages.translate import function_text
from gradekit.core.elements import is_element
from gradekit.core.flags import Flag
from gradekit.core.formula import Formula
from gradekit.design.quantities import rivals_of
from gradekit.diagrams.constitution import FROM_AXES, Diagram
from gradekit.diagrams.readings import reading_of
from gradekit.relations.declaration import (
    CONDITIONS,
    ESSENTIAL,
    Bands,
    Function,
    Linear,
    Percent,
    Relation,
)
from gradekit.relations.groups import FAMILIES, families_in_words
from gradekit.relations.listing import resolve
from gradekit.relations.plan import plan_for
from gradekit.relations.steels import ANNEAL, GAPS, RULE, VOTES
from gradekit.relations.topics import CATALOGUE

_SCRIPTS = ("format.js", "engine.js", "told.js")


def engine(relations: Iterable[Relation], diagrams: Iterable[Diagram] = ()) -> str:
    """Return the script that evaluates these relations and diagrams in a page.

    Parameters
    ----------
    relations : relations, linear or not
    diagrams : diagrams
        Their axes and readings are put among the relations, and with each relation its rivals.

    Returns
    -------
    str
        JavaScript for a script element or for Node: `model`, `formulas`, and the functions of
        `engine.js` (`evaluate`, `explain`, `why`, `locate`, `place`, `yAt`) and `told.js` (`told`).
        It asks for nothing from anywhere and evaluates no text.

    Examples
    --------
    >>> from gradekit.relations.topics import CATALOGUE
    >>> "3.3" in engine([CATALOGUE["pren_16n"]])
    True
    """
    drawn = list(diagrams)
    readings = {d.name: reading_of(d.data) for d in drawn}
    asked = {r.name: r for r in (*relations, *filter(None, readings.values()))}
    named = asked | {r.name: r for one in asked.values() for r in rivals_of(one)}
    for one in drawn:
        named |= {r.name: r for r in plan_for(resolve(one.axes)).relations}
    plan = plan_for(tuple(named.values()))
    votes = {vote: _formula(CATALOGUE[name]) for vote, name in VOTES.items()}
    functions = [r for r in named.values() if isinstance(r, Function)]
    model = {
        "elements": plan.elements,
        "conditions": list(CONDITIONS),
        "essential": list(ESSENTIAL),
        "rangeNames": {key: list(f.names) for key, f in plan.formulas.items()},
        "fromAxes": FROM_AXES,
        "relations": [_relation(r) | (_told(r) if r.name in asked else {}) for r in named.values()],
        "diagrams": [_diagram(d, readings[d.name]) for d in drawn],
        "nothing": NEGLIGIBLE,
        "families": ["", *FAMILIES],
        "familyElements": sorted(
            {n for f in (RULE, *votes.values()) for n in f.names if is_element(n)}
        ),
        "anneal": ANNEAL,
    }
    formulas = {
        "value": {r.name: function_text(r.compiled) for r in functions},
        "terms": {
            r.name: "[" + ",".join(f"[{json_text(t)},{function_text(f)}]" for t, f in terms) + "]"
            for r in functions
            if len(terms := r.compiled.terms) > 1
        },
        "range": {key: function_text(f) for key, f in plan.formulas.items()},
        "diagram": {d.name: _readings(d) for d in drawn},
        "gaps": {element: function_text(Formula(text)) for element, text in GAPS.items()},
        "votes": {vote: function_text(formula) for vote, formula in votes.items()},
    }
    parts = {name: _object(some) for name, some in formulas.items()}
    parts["family"] = function_text(RULE)
    flags = {f.name: int(f) for f in Flag if f}
    return "\n".join(
        [
            f"const flag={json_text(flags)};",
            f"const model={json_text(model)};",
            "model.byName=Object.fromEntries(model.relations.map(r=>[r.name,r]));",
            f"const formulas={_object(parts)};",
            *map(text_of, _SCRIPTS),
        ]
    )


def _formula(relation: Relation) -> Formula:
    return relation.compiled if isinstance(relation, Function) else Formula(relation.formula)


def _relation(relation: Relation) -> dict:
    as_declared = ("name", "title", "quantity", "unit", "domain", "floor", "ceiling")
    common = {name: getattr(relation, name) for name in as_declared} | {
        "elements": [e for e in relation.elements if e != "Fe"],
        "balance": "Fe" in relation.elements,
        "conditions": list(relation.conditions),
        "required": list(relation.required),
        "error": _error(relation),
        "outside": int(Flag.OUTSIDE_DATA) if relation.fitted else 0,
        "families": list(relation.families),
        "madeFor": families_in_words(relation.families),
        "limits": [[key, low, high] for key, (low, high) in relation.ranges.items()],
    }
    if isinstance(relation, Linear):
        terms = [[c, relation.factors[t], t] for t, c in relation.terms.items()]
        return common | {"intercept": relation.intercept, "terms": terms}
    return common | {"reference": dict(relation.check.composition)}


def _told(relation: Relation) -> dict:
    return {"told": told_lines(relation), "rivals": [r.name for r in rivals_of(relation)]}


def _error(relation: Relation) -> dict | float | None:
    error = relation.error
    if isinstance(error, Bands):
        return {"steps": error.steps, "relative": error.relative_above}
    return {"percent": error.size} if isinstance(error, Percent) else error


def _diagram(drawn: Diagram, reading: Relation | None) -> dict:
    data = drawn.data
    low, high, below, edges = drawn.edges
    return {
        "name": data.name,
        "title": data.title,
        "caution": drawn.caution,
        "reading": reading.name if reading else "",
        "status": drawn.status,
        "quantity": data.quantity,
        "unit": data.unit,
        "axes": list(drawn.axes),
        "low": low,
        "high": high,
        "below": below,
        "edges": edges,
        "lines": [[line.value, line.points.tolist()] for line in data.iso_lines],
        "ends": list(drawn.ends),
        "openEnd": data.open_end,
        "bare": [r.label for r in data.regions if not r.iso_lines_drawn],
        "error": {"steps": data.error.steps, "relative": data.error.relative_above},
        "words": {r.label: r.words for r in data.regions},
    }


def _readings(drawn: Diagram) -> str:
    texts = {"value": drawn.data.value_algebra, "inverse": drawn.data.inverse_algebra}
    return _object({k: function_text(Formula(t)) if t else "null" for k, t in texts.items()})


def _object(parts: dict[str, str]) -> str:
    return "{" + ",".join(f"{json_text(key)}:{value}" for key, value in parts.items()) + "}"


@cache
def text_of(name: str) -> str:
    """Return a file beside this module, or elsewhere in the room by its way from here."""
    return (Path(__file__).parent / name).read_text(encoding="utf-8")


def json_text(value: Any) -> str:
    """Return a value as JSON that cannot end the script element it stands in."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"), allow_nan=False)
    for character in "<>&\u2028\u2029":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return text
