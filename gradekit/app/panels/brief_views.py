"""What the explorer of a brief shows: the answer, what binds, what was not asked, two designs."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pandas as pd

from gradekit.app.panels.about_number import about_relations, others_in_words, told_list
from gradekit.app.panels.comparison import signed
from gradekit.app.widgets.page import pressable
from gradekit.core.errors import InputError
from gradekit.core.markup import Html, askable, leads, number, table, tag
from gradekit.design.limits import last_unit
from gradekit.design.prices import COST, TOTAL
from gradekit.design.result import Design
from gradekit.properties.estimate.best import Estimate, estimate
from gradekit.relations.evaluate import evaluate
from gradekit.relations.topics import CATALOGUE
from gradekit.works.plant import PlantLike
from gradekit.works.walk import walk_route

_COST, _SHARE = "the cost", "heats that keep every limit"
_PITTING = ("pitting resistance equivalent", "critical pitting temperature")


def answer_in_words(lines: list[str], rest: str) -> Html:
    """The answer in words, above the picture."""
    rest = rest if isinstance(rest, Html) else tag("p", rest)
    return tag("div", leads(*lines), rest, class_="gk", style="line-height:1.45")


def cost_words(design: Design, start: Design) -> Html:
    """Say what the answer costs, and how much more than the brief as it was given."""
    aim = design.problem.aim
    value = f"{number(design.solution.value, 5)} {design.unit}".strip()
    if design.prices is None:
        return tag("p", f"Least: {aim.title}, {value}.")
    unit, more = design.prices.unit, ""
    if design.problem.making:
        more = f", of it making {number(design.making_cost, 3)}"
    if start.feasible:
        change = signed(design.cost - start.cost)
        more += f" ({change} {unit} against the brief as it was given)"
    if aim.key in (COST, TOTAL):
        told = [f"Least: {aim.title}, ", askable(value, _COST)]
    else:
        cost = askable(f"{number(design.cost, 5)} {unit}", _COST)
        told = [f"Least: {aim.title}, {value}; cost ", cost]
    return tag("p", *told, f"{more}. {design.prices.warning}.")


def binding(design: Design) -> Html:
    """What binds, and what its last unit costs."""
    rows = design.limits[design.limits["shadow price"] > 1e-9]
    rows = rows.sort_values("shadow price", ascending=False)
    shown = pd.DataFrame(
        {
            "value, exact optimum": pressable(rows["value"], rows.index),
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


def about_number(design: Design, start: Design, name: str) -> Html:
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
        price = row["shadow price"]
        lines = [
            (constraint.words, f"{number(row['value'])}{unit} at the aim"),
            ("Asked by", row["origin"]),
            ("Guard band", _guard(row, unit)),
            ("It costs", last_unit(constraint, price, design.unit) if price > 1e-9 else ""),
        ]
        told = [told_list(lines)]
    elif name in CATALOGUE:
        relations, told = [CATALOGUE[name]], []
    elif name in _PITTING:
        relations, told = [CATALOGUE[n] for n in _pitting(design.steel["family"], name)], []
    elif name in _ESTIMATED:
        return _about_estimate(design, name)
    elif name == _COST:
        shown = design.cost_parts
        return table(shown, "In parts", wide=["counted", "source"], digits=3)
    elif name == _SHARE and design.feasible:
        return table(design.certainty, "Heats that keep each limit, shares")
    elif name in design.aim.index:
        return _about_content(design, name)
    else:
        return Html()
    first = start.aim if start.feasible and start is not design else None
    given = design.brief.conditions
    return about_relations(relations, design.aim, given, first, *told)


def _guard(row: pd.Series, unit: str) -> str:
    if not row["guard band"] > 0:
        return ""
    told = f"{number(row['guard band'], 3)}{unit} inside the bound {number(row['bound'])}{unit}, "
    told += f"for a scatter of heats of ± {number(row['heat scatter'], 2)}{unit}"
    error = row["relation error"]
    return told + (f" and a published error of ± {number(error, 2)}{unit}" if error > 0 else "")


def _about_content(design: Design, element: str) -> Html:
    """What holds a content of the aim where it is, and how far heats may stray from it."""
    lines = [(f"{element} at the aim", f"{number(design.aim[element])} wt%")]
    if design.feasible:
        low, high = design.window.loc[element, ["min", "max"]]
        prices = design.limits["shadow price"]
        own = [str(label) for label in prices.index[prices > 1e-9]
               if str(label).split()[0] == element]  # fmt: skip
        held = ", ".join(own) or "no bound of its own: the other limits and the objective decide"
        lines += [("Window", f"{number(low)} to {number(high)} wt%"), ("Held by", held)]
    return told_list(lines)


def _about_estimate(design: Design, name: str) -> Html:
    """What an estimate rests on, and what published relations give beside it."""
    result = _estimated(design, name)
    row, unit = result.loc["aim"], result.unit
    quantity = name.replace("_", " ")
    relations = [CATALOGUE[n] for n in CATALOGUE.quantities().get(quantity, ())]
    others = others_in_words(relations, _aim(design), design.brief.conditions)
    return told_list([
        (f"{quantity.capitalize()}, annealed", f"{number(row['value'], 3)} {unit} at the aim"),
        ("Range", f"{number(row['low'], 3)} to {number(row['high'], 3)} {unit} for nine heats in "
         "ten"),
        ("Rests on", row["basis"]),
        ("To be said", result.words("aim")),
        (f"Also give {quantity}", others if relations else ""),
    ])  # fmt: skip


def beside_the_brief(design: Design, plant: PlantLike | None) -> list[Html]:
    """Tables of what the brief did not ask of the aim: steel, strength, pitting, rivals, route."""
    aim, steel = _aim(design), design.steel
    rows = {
        "steel": (" ".join(filter(None, (steel["family"], steel["sub"]))), steel["reason"]),
        "structure": (steel["structure"], steel["doubt"] or "the votes agree"),
    }
    for target, words in (("proof_strength", "proof strength"), ("tensile_strength", "tensile")):
        row = _estimated(design, target).loc["aim"]
        if np.isfinite(row["value"]):
            band = f"{number(row['low'], 3)} to {number(row['high'], 3)} MPa at 90 %"
            shown = askable(f"{number(row['value'], 3)} MPa, {band}", target)
            rows[f"{words}, annealed"] = shown, row["basis"]
        else:
            rows[f"{words}, annealed"] = "no estimate", row["basis"]
    for quantity in _PITTING:
        names = _pitting(steel["family"], quantity)
        values = evaluate(aim, names).values.loc["aim"].dropna()
        if len(values):
            unit = CATALOGUE[names[0]].unit_behind
            span = f"{number(values.min(), 3)} to {number(values.max(), 3)}{unit}"
            by = f"{len(values)} relations made for such a steel"
            rows[quantity] = askable(span, quantity), by
    rows["route"] = _route(aim, plant)
    index, columns = pd.Index(rows, name="property"), ["at the aim", "by"]
    frame = pd.DataFrame([*rows.values()], index, columns, dtype=object)  # keeps markup as it is
    parts = [table(frame, "What the brief did not ask", wide=["at the aim", "by"])]
    if len(design.rivals):
        shown = design.rivals.replace({"inside": {np.nan: ""}})
        shown = shown.assign(value=pressable(shown["value"], shown.index))
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


def side_by_side(kept: Design, now: Design) -> Html:
    """Two designs side by side: contents, certainty and cost, and what differs."""
    columns: dict[str, pd.Series] = {}
    for name, design in (("kept", kept), ("now", now)):
        values = design.aim.copy()
        if design.feasible:
            if design.prices is not None:
                values[_COST] = design.cost
            if design.proof is not None:
                values[_SHARE] = 100 * design.proof.all()[0]
        columns[name] = values
    frame = pd.DataFrame(columns)
    frame["difference"] = frame["now"] - frame["kept"]
    frame["now"] = pressable(frame["now"], frame.index)
    unit = now.prices.unit if now.prices is not None else ""
    heads = {_COST: f"cost, {unit}", _SHARE: f"{_SHARE}, %"}
    frame.index = pd.Index([heads.get(row, f"{row}, wt%") for row in frame.index], name="beside")
    before, after = _limits(kept), _limits(now)
    told = [("only kept", before - after), ("only now", after - before)]
    words = "; ".join(f"{word}: {', '.join(sorted(some))}" for word, some in told if some)
    return table(frame, f"Two designs ({words or 'the same brief'})")


_TAKEN = "name kind min aim max unit share share_with_error evidence note".split()
_ESTIMATED = {"proof_strength": "MPa", "tensile_strength": "MPa", "elongation": "%"}


def taken_along(design: Design) -> pd.DataFrame:
    """Everything of a design in one table: window, limits, cost, certainty, properties at the aim.

    Upper limits stand under `max`, lower ones under `min`, values under `aim`; `share` is that of
    virtual heats that keep the limit, 0 to 1.
    """
    return pd.DataFrame(_taken_rows(design), columns=_TAKEN)


def _taken_rows(design: Design) -> Iterator[dict[str, Any]]:
    sure = design.certainty if design.feasible else pd.DataFrame()
    if design.feasible:
        for element, row in design.window.iterrows():
            yield {"name": element, "kind": "window", "unit": "wt%", **row.to_dict()}
    for label, row in design.limits.iterrows():
        upper = "≤" in str(label)
        share = sure.loc[label] if label in sure.index else pd.Series(dtype=float)
        yield {
            "name": str(label).split(" ≤ ")[0].split(" ≥ ")[0], "kind": row["kind"],
            "max" if upper else "min": row["bound"], "aim": row["value"], "unit": row["unit"],
            "share": share.get("share"), "share_with_error": share.get("share with error"),
            "evidence": row["status"], "note": row["flags"] or row["origin"],
        }  # fmt: skip
    if not design.feasible:
        for name, (low, high) in design.brief.limits.items():
            yield {"name": str(getattr(name, "name", name)), "kind": "limit", "min": low,
                   "max": high, "note": design.headline}  # fmt: skip
        return
    if design.prices is not None:
        yield {"name": "cost", "kind": "answer", "aim": design.cost, "unit": design.prices.unit,
               "note": design.prices.warning}  # fmt: skip
    yield {"name": "objective", "kind": "answer", "aim": design.solution.value,
           "unit": design.unit}  # fmt: skip
    if "every limit" in sure.index:
        whole = sure.loc["every limit"]
        yield {"name": "every limit", "kind": "certainty", "share": whole["share"],
               "share_with_error": whole["share with error"], "note": design.headline}  # fmt: skip
    for quantity, unit in _ESTIMATED.items():
        one = _estimated(design, quantity).loc["aim"]
        yield {"name": quantity, "kind": "estimate at the aim, 90 %", "min": one["low"],
               "aim": one["value"], "max": one["high"], "unit": unit,
               "note": one["basis"]}  # fmt: skip
    steel = design.steel
    for name in _pitting(steel["family"]):
        relation, value = CATALOGUE[name], evaluate(_aim(design), name).values.iloc[0, 0]
        yield {"name": name, "kind": "at the aim", "aim": float(value), "unit": relation.unit,
               "evidence": relation.status}  # fmt: skip
    yield {"name": "steel", "kind": "at the aim",
           "note": f"{steel['family']}: {steel['structure']}; {steel['doubt']}"}  # fmt: skip


def _aim(design: Design) -> pd.DataFrame:
    return pd.DataFrame([design.aim], index=["aim"])


def _estimated(design: Design, quantity: str) -> Estimate:
    return estimate(_aim(design), quantity, temperature_C=20)


def _pitting(family: str, *quantities: str) -> list[str]:
    """The relations for pitting that hold for a family and ask for no condition."""
    return [
        name
        for quantity in quantities or _PITTING
        for name in CATALOGUE.quantities()[quantity]
        if CATALOGUE[name].holds_for(*filter(None, [family])) and not CATALOGUE[name].conditions
    ]


def _limits(design: Design) -> set[str]:
    return {c.label for c in design.problem.constraints if c.kind in ("limit", "bound")}
