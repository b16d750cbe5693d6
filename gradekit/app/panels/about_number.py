"""What a number on the screen is made of: its parts, what moved it, range, source and rivals."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import ipywidgets as widgets
import numpy as np
import pandas as pd

from gradekit.app.panels.parts import parts_svg
from gradekit.app.widgets.panel import Panel
from gradekit.app.widgets.status import guarded
from gradekit.core.markup import Html, Part, evidence, flow, inline, items, number, tag
from gradekit.design.quantities import rivals_of
from gradekit.relations.declaration import Relation
from gradekit.relations.evaluate import evaluate
from gradekit.relations.explain import take_apart
from gradekit.relations.groups import families_in_words
from gradekit.relations.steels import families_by_votes
from gradekit.relations.why import why


class Asked(Panel):
    """An explorer whose numbers are buttons: what each is made of is computed when it is pressed.

    A subclass makes them with `asked_of`, and defines `about`.
    """

    def about(self, state: Any, name: str) -> Html:
        """Return what a number is made of, nothing for one that does not stand there."""
        raise NotImplementedError

    def lay(self, controls: list[widgets.Widget]) -> None:
        super().lay(controls)
        self._moving.on_number(guarded(self.status, self.ask))

    def ask(self, name: str) -> str:
        """Show below a number what it is made of; '' shuts what is open.

        Returns
        -------
        str
            What is to be said in the status line.
        """
        self._moving.answer(name, self.about(self.state, name) if name else "")
        return f"what {name} is made of stands below it" if name else "shut again"

    def moved(self) -> None:
        super().moved()
        if name := self._moving.number:
            self._moving.answer(name, self.about(self.state, name))


def about_relations(
    relations: Iterable[Relation],
    contents: Mapping[str, float],
    conditions: Mapping[str, float],
    start: Mapping[str, float] | None = None,
    *more: Part,
) -> Html:
    """Return what the values of relations are made of, as a part of a page.

    Parameters
    ----------
    relations : relations
    contents, conditions : mapping of name to number
        The steel that is shown; a condition that is not known is left out.
    start : contents, optional
        The steel before: what moved the value since then, element by element.
    *more : Part
        What else is to be said, first.
    """
    heat = pd.DataFrame([dict(contents)], index=["now"])
    parts: list[Part] = [*more]
    for relation in relations:
        parts += _one(relation, heat, conditions, start)
    return flow(parts, inline)


def _one(
    relation: Relation, heat: pd.DataFrame, conditions: Mapping, start: Mapping | None
) -> list[Part]:
    given = {c: v for c, v in conditions.items() if c in relation.conditions}
    result = evaluate(heat, relation, **given)
    parts: list[Part] = [parts_svg(take_apart(result, "now"))]
    unit = "" if relation.unit == "1" else f" {relation.unit}"
    if start is not None and (moved := _moved(relation, heat, given, start, unit)):
        parts.append(moved)
    error = float(result.standard_error.iat[0, 0])
    told = [
        tag("span", "Formula: ", tag("code", relation.formula)),
        f"Holds for {families_in_words(relation.families) or 'any'} steel; {relation.domain}",
        f"Error: ± {number(error, 3)}{unit}, {relation.error_basis}" if np.isfinite(error)
        else f"Error not known: {relation.error_basis}",
        tag("span", evidence(relation.status), f" {relation.citation}"),
    ]  # fmt: skip
    if flags := result.words("now", relation.name):
        told.append(f"To be said: {flags}")
    if rivals := _rivals(relation, heat, conditions):
        told.append(rivals)
    return [*parts, items(told)]


def _moved(
    relation: Relation, heat: pd.DataFrame, given: Mapping, start: Mapping, unit: str
) -> str:
    table = why(dict(start), heat.iloc[0].to_dict(), relation, **given)
    shares = table["contribution"]
    shares = shares[shares.abs() > 1e-9]
    if shares.empty:
        return ""
    change = table.attrs["after"] - table.attrs["before"]
    by = ", ".join(f"{e} {_signed(x)}" for e, x in shares.items())
    return f"Change since the start, {_signed(change)}{unit}: {by}."


def _rivals(relation: Relation, heat: pd.DataFrame, conditions: Mapping) -> str:
    family = families_by_votes(heat)["now"]
    others = [
        r for r in rivals_of(relation)
        if (not family or r.holds_for(family)) and all(c in conditions for c in r.conditions)
    ]  # fmt: skip
    if not others:
        made = f" was made for {family} steel" if family else ""
        return f"No other relation of {relation.quantity}{made}" if rivals_of(relation) else ""
    needed = {c: v for c, v in conditions.items() if any(c in r.conditions for r in others)}
    values = evaluate(heat, others, **needed).values.loc["now"].dropna()
    told = [
        f"{r.title} {number(float(values[r.name]), 3)}{'' if r.unit == '1' else ' ' + r.unit}"
        for r in others if r.name in values
    ]  # fmt: skip
    return f"Other relations of {relation.quantity}: {'; '.join(told)}" if told else ""


def _signed(value: float) -> str:
    return f"+{number(value, 3)}" if value > 0 else number(value, 3)
