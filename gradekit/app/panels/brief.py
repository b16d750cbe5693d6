"""The explorer of a brief: change any limit, see the aim, its cost, how surely and what binds."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import fields, replace
from typing import Any

import ipywidgets as widgets
import pandas as pd

from gradekit.app.given import Code
from gradekit.app.panels.about_number import ExplainingPanel
from gradekit.app.panels.brief_state import (
    PLAIN,
    BriefState,
    bound_field,
    brief_condition_field,
    data_of,
    ends_of,
    limit_field,
    name_of,
    price_field,
    state_from,
)
from gradekit.app.panels.brief_views import (
    about_number,
    answer_in_words,
    beside_the_brief,
    binding,
    cost_words,
    side_by_side,
    taken_along,
)
from gradekit.app.views import View
from gradekit.app.widgets.controls import Choice
from gradekit.app.widgets.numbers import NumberBoxes
from gradekit.core.elements import is_element
from gradekit.core.errors import NOTHING, InputError, nearest
from gradekit.core.markup import Html, details, items
from gradekit.core.verdicts import SIGNS
from gradekit.design.backwards import design_grade
from gradekit.design.brief import Brief
from gradekit.design.family import HELD
from gradekit.design.prices import Prices, PricesLike, read_prices
from gradekit.design.result import Design
from gradekit.design.show import answer_lines, lead_lines, window_bars
from gradekit.heats.scatter import ScatterLike
from gradekit.relations.declaration import CONDITIONS
from gradekit.relations.topics import CATALOGUE
from gradekit.works.plant import PlantLike

_HEATS = 5_000
# The boxes that are always there, and those that fold away.
_OFTEN, _RARE = ("limits", "bounds"), ("conditions", "prices")
_SURE = (("no guard bands", None), ("80 %", 0.8), ("90 %", 0.9), ("95 %", 0.95), ("99 %", 0.99))
LEAST = (("cost", "cost"), ("nickel", "nickel"), ("CO2", "co2"))


def brief_explorer(
    brief: Brief,
    prices: PricesLike | None = None,
    scatter: ScatterLike | None = None,
    confidence: float | None = 0.95,
    relation_error: bool = True,
    elements: Iterable[str] | None = None,
    plant: PlantLike | None = None,
) -> BriefExplorer:
    """Change a brief and see the answer change.

    Parameters
    ----------
    brief : Brief
        Where it begins. Both ends of its limits have boxes; an empty box leaves the end open.
        *Add* takes any element, relation, quantity, expression or condition by name.
    prices, scatter, confidence, relation_error
        As for `design_grade`.
    elements : symbols, optional
        Elements whose contents have boxes; by default all that the brief bounds.
    plant : Plant, path or table, optional
        For the line on the route under *What was not asked*.

    Returns
    -------
    BriefExplorer
        Live where a kernel runs, with the answer to read elsewhere; `.design` is the present
        answer and `.brief` the present brief.

    Raises
    ------
    InputError
        What is no Brief, or what `design_grade` refuses.

    Examples
    --------
    >>> brief = Brief({"Cr": (16, 20), "Mo": (0, 2), "N": (0, 0.1)}, {"pren_16n": (20, None)},
    ...               minimise={"Cr": 1.0, "Mo": 10.0})
    >>> panel = brief_explorer(brief, confidence=None)
    >>> panel.limits.enter("pren_16n ≥", "21")
    >>> round(float(panel.design.aim["Cr"]), 2)
    19.4
    >>> panel.add("Ni")
    'Ni has boxes now'
    """
    if not isinstance(brief, Brief):
        raise InputError("brief", "a gk.Brief(...)", brief)
    return BriefExplorer(brief, prices, scatter, confidence, relation_error, elements, plant)


class BriefExplorer(ExplainingPanel):
    """The panel made by `brief_explorer`."""

    kind = "brief"
    title = "Explorer of a brief"

    def __init__(
        self,
        brief: Brief,
        prices: PricesLike | None,
        scatter: ScatterLike | None,
        confidence: float | None,
        relation_error: bool,
        elements: Iterable[str] | None,
        plant: PlantLike | None,
    ):
        self._prices: Prices | None = (
            prices if prices is None or isinstance(prices, Prices) else read_prices(prices)
        )
        self._price_list, self._given_scatter = prices, scatter  # as they came, for the code
        self._plant = plant
        self._answers: dict[BriefState, Design] = {}
        self._near: Design | None = None
        self._start = design_grade(
            brief, self._prices, scatter, confidence, relation_error, heats=_HEATS
        )
        # What the first answer made of the scatter and of the family holds from here on.
        self._scatter, self._first = self._start.scatter, self._start.brief
        self._keys = {name_of(key): key for key in brief.limits}
        spans = {
            e: span
            for e, span in self._first.bounds.items()
            if span[0] is None or span[0] != span[1]
        }
        shown = list(spans) if elements is None else list(elements)
        least = brief.minimise if isinstance(brief.minimise, str) else "as given"
        state = BriefState(
            tuple((name_of(key), *span) for key, span in brief.limits.items()),
            tuple((e, *spans.get(e, (None, None))) for e in shown),
            tuple(brief.conditions.items()),
            (),
            least,
            confidence,
            relation_error,
            self._first.held,
        )
        self._answers[state] = self._start
        if self._start.feasible:
            self._near = self._start
        super().__init__(state, file="my-brief")
        own = () if any(least == value for _, value in LEAST) else ((least, least),)
        usable = LEAST if self._prices else LEAST[1:2]
        sure = (
            _SURE
            if any(confidence == v for _, v in _SURE)
            else (*_SURE, (str(confidence), confidence))
        )
        say = self.status
        self._least = Choice("Least", [*own, *usable], least, self._setter("least"), say)
        self._sure = Choice("Sure of each limit", sure, confidence, self._setter("confidence"), say)
        counted = [("counted", True), ("not counted", False)]
        self._errors = Choice(
            "Published errors", counted, relation_error, self._setter("relation_error"), say
        )
        families = [("not held to one", ""), *((name, name) for name in HELD)]
        held = self._first.held
        if held not in dict(families).values():
            families.append((held, held))
        self._family = Choice("Family", families, held, self._setter("family"), say)
        self._wanted = widgets.Combobox(
            placeholder="what to limit",
            options=[*self._first.variables, *CATALOGUE.quantities(), *CATALOGUE, *CONDITIONS],
            description="Limit",
            ensure_option=False,
            layout=widgets.Layout(width="auto", min_width="0", max_width="calc(100% - 8px)"),
        )
        more = self.button("What was not asked", self._more, "strength, pitting, rivals, route")
        beside = self.button(
            "Keep beside", self._set_beside, "set the present design beside what follows"
        )
        why = self.button("Why not?", self._explain, "the smallest set of limits that clashes")
        buttons = [
            self.button("Add", lambda: self.add(self._wanted.value), "boxes for what is named"),
            self.button("Remove", lambda: self.remove(self._wanted.value), "take it out again"),
        ]
        self._boxes, self._rare = (
            widgets.VBox(layout=widgets.Layout(overflow="visible", width="100%")) for _ in range(2)
        )
        self._build(state)
        wrapped = {"flex_flow": "row wrap", "overflow": "hidden", "max_width": "100%"}
        row = widgets.Box([self._wanted, *buttons], layout=widgets.Layout(**wrapped))
        self._fold = self.button(
            "", self._fold_away, "open or shut the boxes that are rarely moved"
        )
        self._folded(True)
        asked = widgets.Box([why, more, beside], layout=widgets.Layout(**wrapped))
        choices = [self._least, self._sure, self._errors, self._family]
        self.lay([*choices, asked, row, self._boxes, self._fold, self._rare])

    @property
    def brief(self) -> Brief:
        """The present brief."""
        return self._brief(self.state)

    @property
    def design(self) -> Design:
        """The present answer."""
        return self._design(self.state)

    def add(self, name: str) -> str:
        """Give an element, a relation, a quantity, an expression or a condition its boxes."""
        name, state = name.strip(), self.state
        if name in CONDITIONS:
            self._folded(False)
            if name not in dict(state.conditions):
                self.change(replace(state, conditions=(*state.conditions, (name, None))))
        elif is_element(name):
            if name not in {e for e, *_ in state.bounds}:
                span = self._first.bounds.get(
                    name, (None, None) if name in self._first.variables else (0.0, 1.0)
                )
                self.change(replace(state, bounds=(*state.bounds, (name, *span))))
        elif name not in {key for key, *_ in state.limits}:
            asked = self.brief.asked(name)
            if not asked.quantities:
                raise InputError(
                    f"limit '{name}'", "one that a relation can answer", "; ".join(asked.left)
                )
            known = dict(state.conditions)
            needed = [
                c for q in asked.quantities for c in q.inputs if c in CONDITIONS and c not in known
            ]
            conditions = (*state.conditions, *((c, None) for c in dict.fromkeys(needed)))
            if needed:
                self._folded(False)
            limits = (*state.limits, (name, None, None))
            self.change(replace(state, limits=limits, conditions=conditions))
        self._build(self.state)
        return f"{name} has boxes now"

    def remove(self, name: str) -> str:
        """Take a limit, a bound or a condition out of the brief; a bound of the grade stays."""
        name, state = name.strip(), self.state
        kept = {
            part: tuple(row for row in getattr(state, part) if row[0] != name)
            for part in ("limits", "bounds", "conditions")
        }
        if all(kept[part] == getattr(state, part) for part in kept):
            names = [row[0] for part in kept for row in getattr(state, part)]
            raise InputError(
                "what to remove", "in the brief", name or NOTHING, nearest(name, names)
            )
        self.change(replace(state, **kept))
        self._build(self.state)
        return f"{name} is out"

    # --- the state as strings and data ------------------------------------------------------

    def moving(self, state: BriefState) -> View:
        design = self._design(state)
        rest = details("Flags and notes", items([*answer_lines(design), *design.flags]))
        kept = [side_by_side(self._design(state.beside), design)] if state.beside else []
        if not design.feasible:
            words = answer_in_words([self.spoken(state)], f"Route: {design.route}.")
            return View((words,), (*kept, rest))
        words = answer_in_words(lead_lines(design), cost_words(design, self._start))
        more = beside_the_brief(design, self._plant) if state.more else []
        return View((words, window_bars(design)), (binding(design), *kept, *more, rest))

    def about(self, state: BriefState, name: str) -> Html:
        return about_number(self._design(state), self._start, name)

    def spoken(self, state: BriefState) -> str:
        design = self._design(state)
        if not design.feasible:
            return f"✕ The brief cannot be met. {design.way_out}"
        return f"{SIGNS[design.verdict]} {lead_lines(design)[-1]}."

    def fill(self, state: BriefState) -> None:
        self._build(state)
        self._least.show(state.least)
        self._sure.show(state.confidence)
        self._errors.show(state.relation_error)
        self._family.show(state.family)

    def encode(self, state: BriefState) -> dict:
        return data_of(state)

    def decode(self, data: dict, where: str) -> BriefState:
        choices = {"least": self._least, "confidence": self._sure, "family": self._family}
        return state_from(data, where, {n: [v for _, v in c.options] for n, c in choices.items()})

    def table(self, state: BriefState) -> pd.DataFrame:
        return taken_along(self._design(state))

    def code(self, state: BriefState) -> str:
        code, brief = Code(), self._brief(state)
        code.line("brief = gk.Brief(")
        for field in fields(brief):
            value = getattr(brief, field.name)
            if value is not None:
                code.line(f"    {field.name}={code.of(value)},")
        code.line(")")
        for name, reader, given in (
            ("prices", "gk.read_prices", self._price_list), ("scatter", "", self._given_scatter)
        ):  # fmt: skip
            by_path = reader and isinstance(given, str | os.PathLike)
            code.line(f"{name} = {f'{reader}({code.of(given)})' if by_path else code.of(given)}")
        if state.prices:
            changes = ", ".join(f"{e}={price!r}" for e, price in state.prices)
            code.line(f"prices = prices.changed({changes})")
        code.line(f"gk.design_grade(brief, prices, scatter, confidence={state.confidence!r}, "
                  f"relation_error={state.relation_error}, heats={_HEATS})")  # fmt: skip
        return code.text()

    # --- what the controls ask for ----------------------------------------------------------

    def _setter(self, name: str):
        return lambda value: self.change(replace(self.state, **{name: value}))

    def _span_moved(self, part: str):
        def moved(values: dict, name: str) -> None:
            rows = tuple(
                (key, values.get(f"{key} ≥", low), values.get(f"{key} ≤", high))
                for key, low, high in getattr(self.state, part)
            )
            self.change(replace(self.state, **{part: rows}), name)

        return moved

    def _value_moved(self, part: str):
        def moved(values: dict, name: str) -> None:
            rows = tuple(values.items())
            if part == "prices" and self._prices is not None:
                first = self._prices.table["price"]
                rows = tuple((e, v) for e, v in rows if v is not None and v != first[e])
            self.change(replace(self.state, **{part: rows}), name)

        return moved

    def _explain(self) -> str:
        design = self.design
        return "The brief is met." if design.feasible else design.why_not.words

    def _more(self) -> None:
        self.change(replace(self.state, more=not self.state.more))

    def _set_beside(self) -> str:
        state = self.state
        now = None if state.beside else replace(state, beside=None, more=False)
        self.change(replace(state, beside=now))
        return "kept: change the brief and see what differs" if now else "only the present design"

    # --- the boxes --------------------------------------------------------------------------

    def _build(self, state: BriefState) -> None:
        """Show a state in the boxes; they are made anew only where there are others."""
        values: dict[str, dict[str, Any]] = {
            "limits": ends_of(state.limits),
            "bounds": ends_of(state.bounds),
            "conditions": dict(state.conditions),
            "prices": self._price_boxes(state),
        }
        if not self._boxes.children or any(
            set(getattr(self, part).values) != set(now) for part, now in values.items()
        ):
            aim = self._near
            limits = [
                limit_field(self._first, box, value, self._keys, aim)
                for box, value in values["limits"].items()
            ]
            made = {
                "limits": (limits, self._span_moved, "Limits"),
                "bounds": (
                    [bound_field(b, v) for b, v in values["bounds"].items()],
                    self._span_moved, "Contents, wt%",
                ),
                "conditions": (
                    [brief_condition_field(c, v) for c, v in values["conditions"].items()],
                    self._value_moved, "Conditions",
                ),
                "prices": (
                    [price_field(e, v) for e, v in values["prices"].items()],
                    self._value_moved, "Prices, money a contained tonne",
                ),
            }  # fmt: skip
            for part, (boxes, moved, title) in made.items():
                setattr(
                    self, part, NumberBoxes(boxes, values[part], moved(part), title, self.status)
                )
            for box, parts in ((self._boxes, _OFTEN), (self._rare, _RARE)):
                box.children = [getattr(self, part) for part in parts if values[part]]
        else:
            for part, now in values.items():
                getattr(self, part).show(now)

    def _fold_away(self) -> str:
        shut = self._rare.layout.display != "none"
        self._folded(shut)
        return "shut" if shut else "conditions and prices stand below"

    def _folded(self, shut: bool) -> None:
        self._rare.layout.display = "none" if shut else ""
        self._fold.description = f"{'▸' if shut else '▾'} Conditions and prices"

    def _price_boxes(self, state: BriefState) -> dict[str, float]:
        if self._prices is None:
            return {}
        listed = self._prices.table["price"]
        used = [e for e in self._brief(state).variables if e in listed.index]
        return {e: dict(state.prices).get(e, float(listed[e])) for e in used if e not in PLAIN}

    # --- what they need ---------------------------------------------------------------------

    def _brief(self, state: BriefState) -> Brief:
        first = self._first
        limits = {
            self._keys.get(name, name): (low, high)
            for name, low, high in state.limits
            if (low, high) != (None, None)
        }
        gone = {e for e in self._boxed if e not in {row[0] for row in state.bounds}}
        bounds = {e: span for e, span in first.bounds.items() if e not in gone}
        bounds |= {e: (low, high) for e, low, high in state.bounds}
        least = first.minimise if state.least == "as given" else state.least
        conditions = {c: v for c, v in state.conditions if v is not None}
        return replace(first, limits=limits, bounds=bounds, minimise=least, family=state.family,
                       conditions=conditions)  # fmt: skip

    @property
    def _boxed(self) -> set[str]:
        """Elements that had boxes at first, and whose bounds can therefore be taken out."""
        return {row[0] for row in self.history.first.bounds}

    def _design(self, state: BriefState) -> Design:
        """The answer to a state; the last ones are kept, and the next starts from the last."""
        state = replace(state, more=False, beside=None)
        if state not in self._answers:
            prices = self._prices
            if prices is not None and state.prices:
                prices = prices.changed(**dict(state.prices))
            design = design_grade(
                self._brief(state), prices, self._scatter, state.confidence,
                state.relation_error, heats=_HEATS, near=self._near,
            )  # fmt: skip
            while len(self._answers) > 7:
                self._answers.pop(next(iter(self._answers)))
            self._answers[state] = design
            if design.feasible:
                self._near = design
        return self._answers[state]
