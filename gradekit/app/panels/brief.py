"""The explorer of a brief: change any limit, see the aim, its cost, how surely and what binds."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import fields, replace
from functools import lru_cache
from typing import Any

import ipywidgets as widgets
import pandas as pd

from gradekit.app.given import Code
from gradekit.app.panels.about_number import ExplainingPanel
from gradekit.app.panels.brief_state import (
    GIVEN,
    PLAIN,
    BriefState,
    bound_field,
    data_of,
    limit_field,
    price_field,
    spans,
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
from gradekit.app.state import Part, attribute
from gradekit.app.views import View
from gradekit.app.widgets.fields import condition_field
from gradekit.app.widgets.numbers import Field
from gradekit.core.elements import is_element
from gradekit.core.errors import NOTHING, InputError, one_of
from gradekit.core.markup import Html, details, items
from gradekit.core.verdicts import SIGNS
from gradekit.design.backwards import design_grade
from gradekit.design.brief import Brief
from gradekit.design.family import HELD
from gradekit.design.prices import PricesLike, read_prices
from gradekit.design.quantities import name_of
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


def _with(options: Iterable[tuple[str, Any]], value: Any) -> list[tuple[str, Any]]:
    """Return options, and one more for a value that is not among them."""
    known = list(options)
    return known if value in dict(known).values() else [*known, (str(value), value)]


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
        self._prices = None if prices is None else read_prices(prices)
        self._price_list, self._given_scatter = prices, scatter  # as they came, for the code
        self._plant = plant
        self._start = design_grade(
            brief, self._prices, scatter, confidence, relation_error, heats=_HEATS
        )
        # What the first answer made of the scatter and of the family holds from here on.
        self._scatter, self._first = self._start.scatter, self._start.brief
        self._keys = {name_of(key): key for key in brief.limits}
        own = {
            e: span
            for e, span in self._first.bounds.items()
            if span[0] is None or span[0] != span[1]
        }
        shown = list(own) if elements is None else list(elements)
        least = brief.minimise if isinstance(brief.minimise, str) else "as given"
        state = BriefState(
            tuple((name_of(key), *span) for key, span in brief.limits.items()),
            tuple((e, *own.get(e, (None, None))) for e in shown),
            tuple(brief.conditions.items()),
            (),
            least,
            confidence,
            relation_error,
            self._first.held,
        )
        self._near = self._start if self._start.feasible else None
        self._solved = lru_cache(maxsize=8)(self._solve)
        super().__init__(state, file="my-brief")
        first = [] if least in dict(LEAST).values() else [(least, least)]
        usable = LEAST if self._prices else LEAST[1:2]
        counted = [("counted", True), ("not counted", False)]
        families = [("not held to one", ""), *((name, name) for name in HELD)]
        self._choices = [
            self.choice("Least", [*first, *usable], attribute("least")),
            self.choice("Sure of each limit", _with(_SURE, confidence), attribute("confidence")),
            self.choice("Published errors", counted, attribute("relation_error")),
            self.choice("Family", _with(families, state.family), attribute("family")),
        ]
        self._parts: list[tuple[Part, str, Callable]] = [
            (spans("limits"), "Limits", self._limit_field),
            (spans("bounds"), "Contents, wt%", bound_field),
            (GIVEN, "Conditions", lambda name, _: condition_field(name)),
            (Part("prices", self._price_boxes, self._with_prices),
             "Prices, money a contained tonne", price_field),
        ]  # fmt: skip
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
        self._build()
        wrapped = {"flex_flow": "row wrap", "overflow": "hidden", "max_width": "100%"}
        row = widgets.Box([self._wanted, *buttons], layout=widgets.Layout(**wrapped))
        self._fold = self.button(
            "", self._fold_away, "open or shut the boxes that are rarely moved"
        )
        self._folded(True)
        asked = widgets.Box([why, more, beside], layout=widgets.Layout(**wrapped))
        self.lay([*self._choices, asked, row, self._boxes, self._fold, self._rare])

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
        self.fill(self.state)
        return f"{name} has boxes now"

    def remove(self, name: str) -> str:
        """Take a limit, a bound or a condition out of the brief; a bound of the grade stays."""
        name, state = name.strip(), self.state
        kept = {
            part: tuple(row for row in getattr(state, part) if row[0] != name)
            for part in ("limits", "bounds", "conditions")
        }
        names = [row[0] for part in kept for row in getattr(state, part)]
        one_of("what to remove", name or NOTHING, names, "in the brief")
        self.change(replace(state, **kept))
        self.fill(self.state)
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
        self._build()
        super().fill(state)

    def encode(self, state: BriefState) -> dict:
        return data_of(state)

    def decode(self, data: dict, where: str) -> BriefState:
        known = {part.name: one.values for part, one in self._bound if one in self._choices}
        return state_from(data, where, known)

    def table(self, state: BriefState) -> pd.DataFrame:
        return taken_along(self._design(state))

    def code(self, state: BriefState) -> str:
        code, brief = Code(), self._brief(state)
        stated = {field.name: getattr(brief, field.name) for field in fields(brief)}
        changes = ", ".join(f"{e}={price!r}" for e, price in state.prices)
        return code.text(
            "brief = gk.Brief(",
            *(f"    {n}={code.of(value)}," for n, value in stated.items() if value is not None),
            ")",
            f"prices = {code.read('gk.read_prices', self._price_list)}",
            f"scatter = {code.of(self._given_scatter)}",
            *([f"prices = prices.changed({changes})"] if changes else []),
            f"gk.design_grade(brief, prices, scatter, confidence={state.confidence!r}, "
            f"relation_error={state.relation_error}, heats={_HEATS})",
        )

    # --- what the controls ask for ----------------------------------------------------------

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

    def _build(self) -> None:
        """Make the boxes of the state, anew only where there are others than before."""
        values = {part.name: part.held(self.state) for part, *_ in self._parts}
        if self._boxes.children and all(
            set(getattr(self, name).values) == set(now) for name, now in values.items()
        ):
            return
        self._bound = [(part, one) for part, one in self._bound if one in self._choices]
        for part, title, field in self._parts:
            boxes = [field(*row) for row in values[part.name].items()]
            setattr(self, part.name, self.boxes(boxes, part, title))
        for box, parts in ((self._boxes, _OFTEN), (self._rare, _RARE)):
            box.children = [getattr(self, part) for part in parts if values[part]]

    def _limit_field(self, box: str, value: float | None) -> Field:
        return limit_field(self._first, box, value, self._keys, self._near)

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

    def _with_prices(self, state: BriefState, values: dict[str, float]) -> BriefState:
        assert self._prices is not None
        listed = self._prices.table["price"]
        changed = ((e, v) for e, v in values.items() if v is not None and v != listed[e])
        return replace(state, prices=tuple(changed))

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
        """The answer to a state; the last ones are kept."""
        return self._solved(replace(state, more=False, beside=None))

    def _solve(self, state: BriefState) -> Design:
        if state == self.history.first:
            return self._start
        prices = self._prices
        if prices is not None and state.prices:
            prices = prices.changed(**dict(state.prices))
        design = design_grade(
            self._brief(state), prices, self._scatter, state.confidence,
            state.relation_error, heats=_HEATS, near=self._near,
        )  # fmt: skip
        if design.feasible:
            self._near = design  # from which the next one starts
        return design
