"""What the explorer of a brief shows: the answer, what binds, what was not asked, two designs."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.app.panels.about_number import about_relations
from gradekit.app.widgets.page import asked_of
from gradekit.core.errors import InputError
from gradekit.core.markup import Html, number, table, tag
from gradekit.design.costing import TOTAL
from gradekit.design.limits import last_unit
from gradekit.design.prices import COST
from gradekit.design.result import Design
from gradekit.properties.estimate.best import estimate
from gradekit.relations.evaluate import evaluate
from gradekit.relations.topics import CATALOGUE
from gradekit.works.plant import PlantLike
from gradekit.works.walk import walk_route

_PITTING = ("pitting resistance equivalent", "critical pitting temperature")


def in_words(lead: str, rest: str) -> Html:
    """The answer in words, above the picture."""
    return tag("div", tag("p", lead, class_="lead"), tag("p", rest), class_="gk",
               style="line-height:1.45")  # fmt: skip


def cost_words(design: Design, start: Design) -> str:
    """Say what the answer costs, and how much more than the brief as it was given."""
    aim = design.problem.aim
    words = f"Least: {aim.title}, {number(design.solution.value, 5)} {design.unit}".strip()
    if design.prices is None:
        return words
    unit = design.prices.unit
    if aim.key not in (COST, TOTAL):
        words += f"; cost {number(design.cost, 5)} {unit}"
    if design.problem.making:
        words += f", of it making {number(design.making_cost, 3)}"
    if start.feasible:
        change = design.cost - start.cost
        sign = "+" if change > 0 else ""
        words += f" ({sign}{number(change, 3)} {unit} against the brief as it was given)"
    return f"{words}. {design.prices.warning}"


def binding(design: Design) -> Html:
    """What binds, and what its last unit costs."""
    rows = design.limits[design.limits["shadow price"] > 1e-9]
    rows = rows.sort_values("shadow price", ascending=False)
    shown = pd.DataFrame(
        {
            "value, exact optimum": asked_of(rows["value"], rows.index),
            "bound": rows["bound"],
            "heat scatter": rows["heat scatter"],
            "relation error": rows["relation error"],
            "guard band": rows["guard band"],
            "a unit of it costs": rows["shadow price"],
            "unit": rows["unit"],
            "comes from": rows["origin"],
            "status": rows["status"],
        }
    )
    return table(
        shown, f"What binds (costs in {design.unit or 'units of the aim'} a unit of the limit)",
        wide=["comes from"],
    )  # fmt: skip


def about(design: Design, start: Design, name: str) -> Html:
    """Say what a number that was pressed is made of.

    Parameters
    ----------
    design, start : Design
        The present answer, and the brief as it was given.
    name : str
        A row of the limits, or a relation; of any other there is nothing to say.
    """
    limits = design.limits
    if name in limits.index:
        at = next(i for i, c in enumerate(design.problem.constraints) if c.label == name)
        constraint, row = design.problem.constraints[at], limits.loc[name]
        relations = list(constraint.quantity.named.values())
        unit = f" {row['unit']}" if row["unit"] else ""
        told = [f"{constraint.words}: {number(row['value'])}{unit} at the aim; {row['origin']}."]
        if row["shadow price"] > 1e-9:
            told.append(f"{last_unit(constraint, row['shadow price'], design.unit)}.")
    elif name in CATALOGUE:
        relations, told = [CATALOGUE[name]], []
    else:
        return Html()
    first = start.aim if start.feasible and start is not design else None
    given = design.brief.conditions
    return about_relations(relations, design.aim, given, first, *told)


def unasked(design: Design, plant: PlantLike | None) -> list[Html]:
    """Tables of what the brief did not ask of the aim: steel, strength, pitting, rivals, route."""
    aim = pd.DataFrame([design.aim], index=["aim"])
    steel = design.steel
    rows = {
        "steel": (" ".join(filter(None, (steel["family"], steel["sub"]))), steel["reason"]),
        "structure": (steel["structure"], steel["doubt"] or "the votes agree"),
    }
    for target, words in (("proof_strength", "proof strength"), ("tensile_strength", "tensile")):
        row = estimate(aim, target, temperature_C=20).loc["aim"]
        if np.isfinite(row["value"]):
            band = f"{number(row['low'], 3)} to {number(row['high'], 3)} MPa at 90 %"
            rows[f"{words}, annealed"] = f"{number(row['value'], 3)} MPa, {band}", row["basis"]
        else:
            rows[f"{words}, annealed"] = "no estimate", row["basis"]
    for quantity in _PITTING:
        names = [n for n in _pitting(steel["family"]) if CATALOGUE[n].quantity == quantity]
        values = evaluate(aim, names).values.loc["aim"].dropna()
        if len(values):
            unit = "" if CATALOGUE[names[0]].unit == "1" else f" {CATALOGUE[names[0]].unit}"
            span = f"{number(values.min(), 3)} to {number(values.max(), 3)}{unit}"
            rows[quantity] = span, f"{len(values)} relations made for such a steel"
    rows["route"] = _route(aim, plant)
    frame = pd.DataFrame(list(rows.values()), pd.Index(rows, name="property"), ["at the aim", "by"])
    parts = [table(frame, "What the brief did not ask", wide=["at the aim", "by"])]
    if len(design.rivals):
        shown = design.rivals.replace({"inside": {np.nan: ""}})
        shown = shown.assign(value=asked_of(shown["value"], shown.index))
        parts.append(table(shown, "Rival relations of each limit, disagreement first",
                           wide=["why not"]))  # fmt: skip
    return parts


def _route(aim: pd.DataFrame, plant: PlantLike | None) -> tuple[str, str]:
    if plant is None:
        return "not walked", "no plant was given: brief_explorer(..., plant=...)"
    try:
        worst = walk_route(aim, plant).worst.loc["aim"]
    except InputError as error:
        return "not walked", str(error)
    told = [f"{step}: {verdict}" for step, verdict in worst.items() if verdict != "ok"]
    return "; ".join(told) or "ok in every step", "worst verdict of each step of the works"


def compared(kept: Design, now: Design) -> Html:
    """Two designs side by side: contents, certainty and cost, and what differs."""
    columns: dict[str, pd.Series] = {}
    for name, design in (("kept", kept), ("now", now)):
        values = design.aim.rename(lambda e: f"{e}, wt%")
        if design.feasible:
            if design.prices is not None:
                values[f"cost, {design.prices.unit}"] = design.cost
            if design.proof is not None:
                values["heats that keep every limit, %"] = 100 * design.proof.all()[0]
        columns[name] = values
    frame = pd.DataFrame(columns)
    frame["difference"] = frame["now"] - frame["kept"]
    differs = {"limits": _limits(kept), "now": _limits(now)}
    gone = sorted(differs["limits"] - differs["now"])
    new = sorted(differs["now"] - differs["limits"])
    words = "; ".join(
        filter(None, (f"only kept: {', '.join(gone)}" if gone else "",
                      f"only now: {', '.join(new)}" if new else ""))
    )  # fmt: skip
    return table(frame.rename_axis("beside"), f"Two designs ({words or 'the same brief'})")


_TAKEN = "name kind min aim max unit share share_with_error evidence note".split()
_ESTIMATED = {"proof_strength": "MPa", "tensile_strength": "MPa", "elongation": "%"}


def taken_along(design: Design) -> pd.DataFrame:
    """Everything of a design in one table: window, limits, cost, certainty, properties at the aim.

    Upper limits stand under `max`, lower ones under `min`, values under `aim`; `share` is that of
    virtual heats that keep the limit, 0 to 1.
    """
    sure = design.certainty if design.feasible else pd.DataFrame()
    rows: list[dict] = []
    if design.feasible:
        for element, row in design.window.iterrows():
            rows.append({"name": element, "kind": "window", "unit": "wt%", **row.to_dict()})
    for label, row in design.limits.iterrows():
        upper = "≤" in str(label)
        share = sure.loc[label] if label in sure.index else pd.Series(dtype=float)
        rows.append({
            "name": str(label).split(" ≤ ")[0].split(" ≥ ")[0], "kind": row["kind"],
            "max" if upper else "min": row["bound"], "aim": row["value"], "unit": row["unit"],
            "share": share.get("share"), "share_with_error": share.get("share with error"),
            "evidence": row["status"], "note": row["flags"] or row["origin"],
        })  # fmt: skip
    if not design.feasible:
        for name, (low, high) in design.brief.limits.items():
            rows.append({"name": str(getattr(name, "name", name)), "kind": "limit", "min": low,
                         "max": high, "note": design.headline})  # fmt: skip
        return pd.DataFrame(rows, columns=_TAKEN)
    if design.prices is not None:
        rows.append({"name": "cost", "kind": "answer", "aim": design.cost,
                     "unit": design.prices.unit, "note": design.prices.warning})  # fmt: skip
    rows.append({"name": "objective", "kind": "answer", "aim": design.solution.value,
                 "unit": design.unit})  # fmt: skip
    if "every limit" in sure.index:
        whole = sure.loc["every limit"]
        rows.append({"name": "every limit", "kind": "certainty", "share": whole["share"],
                     "share_with_error": whole["share with error"],
                     "note": design.headline})  # fmt: skip
    heat = design.aim.rename("aim").to_frame().T
    for quantity, unit in _ESTIMATED.items():
        one = estimate(heat, quantity, temperature_C=20).loc["aim"]
        rows.append({"name": quantity, "kind": "estimate at the aim, 90 %", "min": one["low"],
                     "aim": one["value"], "max": one["high"], "unit": unit,
                     "note": one["basis"]})  # fmt: skip
    steel = design.steel
    for name in _pitting(steel["family"]):
        relation = CATALOGUE[name]
        value = float(evaluate(heat, name).values.iloc[0, 0])
        rows.append({"name": name, "kind": "at the aim", "aim": value, "unit": relation.unit,
                     "evidence": relation.status})  # fmt: skip
    rows.append({"name": "steel", "kind": "at the aim",
                 "note": f"{steel['family']}: {steel['structure']}; {steel['doubt']}"})  # fmt: skip
    return pd.DataFrame(rows, columns=_TAKEN)


def _pitting(family: str) -> list[str]:
    """The relations for pitting that hold for a family and ask for no condition."""
    return [
        name
        for quantity in _PITTING
        for name in CATALOGUE.quantities()[quantity]
        if CATALOGUE[name].holds_for(*filter(None, [family])) and not CATALOGUE[name].conditions
    ]


def _limits(design: Design) -> set[str]:
    return {c.label for c in design.problem.constraints if c.kind in ("limit", "bound")}
