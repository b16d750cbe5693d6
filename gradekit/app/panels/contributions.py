"""The contribution explorer: move a content and see which term of which relation moves."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from gradekit.app import views
from gradekit.app.given import Code
from gradekit.app.pages.content import START, PageContent, trial_groups
from gradekit.app.panels import comparison
from gradekit.app.panels.parts import parts_of, parts_svg, value_words
from gradekit.app.state import Trial
from gradekit.app.views import View
from gradekit.app.widgets.fields import condition_field, element_field
from gradekit.app.widgets.numbers import NumberBoxes
from gradekit.app.widgets.panel import Panel
from gradekit.core.aliases import Given, HeatsLike
from gradekit.core.errors import InputError, said
from gradekit.core.markup import Html, flow, items, small, tag
from gradekit.heats.batch import as_batch
from gradekit.relations.evaluate import Result, evaluate
from gradekit.relations.explain import take_apart
from gradekit.relations.listing import resolve


def contributions(
    heat: HeatsLike,
    relations: Iterable[str],
    elements: Iterable[str] | None = None,
    **conditions: Given,
) -> Contributions:
    """Take values apart while a composition moves.

    Parameters
    ----------
    heat : anything `as_batch` takes, one heat, wt%
    relations : names of relations
    elements : symbols, optional
        Those with a box; all that the relations use and the heat has by default.
    **conditions
        As for `evaluate`; each condition that a relation asks for has a box.

    Returns
    -------
    Contributions
        Live where a kernel runs, with a picture to read elsewhere.

    Raises
    ------
    InputError
        More than one heat, a name that is no relation, an unknown condition.

    Examples
    --------
    >>> panel = contributions({"Cr": 18.2, "Mo": 0.3, "N": 0.05}, ["pren_16n"])
    >>> panel.numbers.enter("N", "0,2")
    >>> round(float(panel.table(panel.state)["value"].iloc[0]), 2)
    22.39
    """
    return Contributions(as_batch(heat), resolve(relations), elements, conditions)


class Contributions(Panel):
    """The panel made by `contributions`."""

    kind = "contributions"
    title = "What makes up a value"

    def __init__(self, heat, relations, elements, conditions):
        if len(heat) != 1:
            raise InputError("heat", "one heat", said(f"{len(heat)} heats"))
        self.relations = relations
        asked = dict.fromkeys(c for r in relations for c in r.conditions)
        evaluate(heat, relations, **conditions)  # refuses an unknown condition
        super().__init__(Trial.of(heat.iloc[0], conditions))
        if elements is None:
            used = {e for r in relations for e in r.elements}
            elements = [e for e in heat if e in used]
        self.numbers = NumberBoxes(
            [element_field(e, heat) for e in elements], self.state.composition, self._moved,
            "Steel, wt%", self.status,
        )  # fmt: skip
        self.conditions = NumberBoxes(
            [condition_field(c) for c in asked], dict(self.state.conditions), self._set,
            "Conditions", self.status,
        )  # fmt: skip
        self.lay([self.numbers, self.conditions] if asked else [self.numbers])

    def moving(self, state: Trial) -> View:
        return self._view(self._result(state), self._result(self.history.first))

    def _view(self, result: Result, start: Result) -> View:
        (heat,) = result.heats.index
        formulas = [
            Html(f"{tag('b', r.title)}{tag('span', ': ', r.formula)}") for r in self.relations
        ]
        table = comparison.values_table(comparison.compared(result, start), START)
        return View((parts_svg(map(parts_of, take_apart(result, heat))),), (table, items(formulas)))

    def _result(self, state: Trial) -> Result:
        return evaluate(state.batch(), self.relations, **dict(state.conditions))

    def spoken(self, state: Trial) -> str:
        result = self._result(state)
        return "; ".join(map(value_words, take_apart(result, result.heats.index[0])))

    def fill(self, state: Trial) -> None:
        self.numbers.show(state.composition)
        self.conditions.show(dict(state.conditions))

    def encode(self, state: Trial) -> dict:
        return state.data()

    def decode(self, data: dict, where: str) -> Trial:
        return Trial.from_data(data, where)

    def table(self, state: Trial) -> pd.DataFrame:
        result = evaluate(state.composition, self.relations, **dict(state.conditions))
        contents = pd.DataFrame(state.contents, columns=["name", "value"]).assign(unit="wt%")
        values = result.long().rename(columns={"relation": "name"})
        columns = ["name", "value", "unit", "standard_error", "status", "flag"]
        return pd.concat([values, contents], ignore_index=True).reindex(columns=columns)

    def code(self, state: Trial) -> str:
        code, names = Code(), [r.name for r in self.relations]
        code.line(f"steel = {code.of(state.composition)}")
        given = "".join(f", {name}={code.of(value)}" for name, value in state.conditions)
        code.line(f"names = {names!r}")
        code.line(f"parts = [gk.explain(steel, name{given}) for name in names]")
        code.line(f"gk.evaluate(steel, names{given}), parts")
        return code.text()

    def page_content(self, state: Trial, heats: bool) -> PageContent:
        groups, result = trial_groups(self.numbers, self.conditions, state), self._result(state)
        return PageContent(
            self.kind,
            self.title,
            groups,
            self.relations,
            state.composition,
            view=self._view(result, result),
            lead=self.spoken(state),
        )

    def page_state(self, state: Trial) -> dict[str, Any]:
        start = self.history.first
        return {
            "contents": state.composition,
            "conditions": dict(state.conditions),
            "chosen": {},
            "parts": {"reference": {"name": START, "contents": start.composition}},
        }

    def page_data(self) -> dict[str, Any]:
        return {"boxes": {self.numbers.title: "contents", self.conditions.title: "conditions"}}

    def _repr_html_(self) -> str:
        # Without a style of its own: a notebook has many of these.
        view = self.moving(self.state)
        lead = tag("p", self.title, class_="lead")
        return tag("div", lead, flow([*view.figure, *view.below]), small(views.REVIVE), class_="gk")

    def _moved(self, values: dict, name: str) -> None:
        contents = Trial.of({**self.state.composition, **values}).contents
        self.change(replace(self.state, contents=contents), name)

    def _set(self, values: dict, name: str) -> None:
        known = {k: v for k, v in values.items() if v is not None and np.isfinite(v)}
        self.change(replace(self.state, conditions=Trial.of({}, known).conditions), name)
