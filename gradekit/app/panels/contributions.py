"""The contribution explorer: move a content and see which term of which relation moves."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pandas as pd

from gradekit.app import views
from gradekit.app.given import Code
from gradekit.app.pages.drawing import START
from gradekit.app.panels import comparison
from gradekit.app.panels.drawn import DrawnPanel
from gradekit.app.panels.parts import parts_of, parts_svg, value_words
from gradekit.app.state import Trial, pairs
from gradekit.app.views import View
from gradekit.app.widgets.fields import condition_field, element_field
from gradekit.core.aliases import Given, HeatsLike
from gradekit.core.markup import Html, flow, items, small, tag
from gradekit.heats.batch import one_heat
from gradekit.relations.evaluate import Result, evaluate
from gradekit.relations.explain import Breakdown, take_apart
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
    return Contributions(one_heat(heat), resolve(relations), elements, conditions)


class Contributions(DrawnPanel):
    """The panel made by `contributions`."""

    kind = "contributions"
    title = "What makes up a value"

    def __init__(self, heat, relations, elements, conditions):
        self.relations = relations
        asked = dict.fromkeys(c for r in relations for c in r.conditions)
        evaluate(heat, relations, **conditions)  # refuses an unknown condition
        super().__init__(Trial.of(heat.iloc[0], conditions))
        if elements is None:
            used = {e for r in relations for e in r.elements}
            elements = [e for e in heat if e in used]
        fields = [element_field(e, heat) for e in elements]
        self.numbers = self.boxes(fields, pairs("contents"), "Steel, wt%")
        fields = [condition_field(c) for c in asked]
        self.conditions = self.boxes(fields, pairs("conditions"), "Conditions")
        self.lay([self.numbers, self.conditions] if asked else [self.numbers])

    def compute(self, state: Trial) -> Result:
        return evaluate(state.batch(), self.relations, **dict(state.conditions))

    def moving(self, state: Trial) -> View:
        return self._view(self.answer(state), self.compute(self.history.first))

    def alone(self, state: Trial) -> View:
        return self._view(self.answer(state), self.answer(state))

    def _view(self, result: Result, start: Result) -> View:
        formulas = [
            Html(f"{tag('b', r.title)}{tag('span', ': ', r.formula)}") for r in self.relations
        ]
        table = comparison.values_table(comparison.compared(result, start), START)
        return View((parts_svg(map(parts_of, _apart(result))),), (table, items(formulas)))

    def spoken(self, state: Trial) -> str:
        return "; ".join(map(value_words, _apart(self.answer(state))))

    def table(self, state: Trial) -> pd.DataFrame:
        contents = pd.DataFrame(state.contents, columns=["name", "value"]).assign(unit="wt%")
        values = self.answer(state).long().rename(columns={"relation": "name"})
        columns = ["name", "value", "unit", "standard_error", "status", "flag"]
        return pd.concat([values, contents], ignore_index=True).reindex(columns=columns)

    def code(self, state: Trial) -> str:
        code, names = Code(), [r.name for r in self.relations]
        given = code.given(state.conditions)
        return code.text(
            f"steel = {code.of(state.composition)}",
            f"names = {names!r}",
            f"parts = [gk.explain(steel, name{given}) for name in names]",
            f"gk.evaluate(steel, names{given}), parts",
        )

    def beside(self, state: Trial) -> dict[str, tuple[str, Any]]:
        return {"reference": (START, self.history.first.composition)}

    def _repr_html_(self) -> str:
        # Without a style of its own: a notebook has many of these.
        view = self.moving(self.state)
        lead = tag("p", self.title, class_="lead")
        return tag("div", lead, flow([*view.figure, *view.below]), small(views.REVIVE), class_="gk")


def _apart(result: Result) -> tuple[Breakdown, ...]:
    (heat,) = result.heats.index
    return take_apart(result, heat)
