"""The explorer of a brief: move a limit, see the aim, what it costs, how surely and what binds."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass, fields, replace

import numpy as np
import pandas as pd

from gradekit.app.given import Code
from gradekit.app.views import View
from gradekit.app.widgets.controls import Choice, Field, Numbers
from gradekit.app.widgets.panel import Panel
from gradekit.core.errors import NOTHING, InputError
from gradekit.core.markup import Html, details, items, number, table, tag
from gradekit.design.backwards import Brief, Design, design_grade
from gradekit.design.prices import COST, Prices, read_prices
from gradekit.design.show import lines, window_bars
from gradekit.relations.declaration import Relation

__all__ = ["BriefExplorer", "brief_explorer"]

HEATS = 5_000
SURE = (("no guard bands", None), ("80 %", 0.8), ("90 %", 0.9), ("95 %", 0.95), ("99 %", 0.99))
LEAST = (("alloy cost", "cost"), ("nickel", "nickel"), ("CO2", "co2"))
_SIGN = {"low": "≥", "high": "≤"}


def brief_explorer(
    brief: Brief,
    prices: object = None,
    scatter: object = None,
    confidence: float | None = 0.95,
    relation_error: bool = True,
    elements: Iterable[str] | None = None,
) -> BriefExplorer:
    """Move the limits of a brief and see the answer move.

    Parameters
    ----------
    brief : Brief
        Where it begins. Every end of its limits has a box; an empty box leaves the end open.
    prices, scatter, confidence, relation_error
        As for `design_grade`.
    elements : symbols, optional
        Elements whose highest content has a box; by default all that the brief bounds from above.

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
    """
    if not isinstance(brief, Brief):
        raise InputError("brief", "a gk.Brief(...)", brief)
    return BriefExplorer(brief, prices, scatter, confidence, relation_error, elements)


@dataclass(frozen=True)
class BriefState:
    """What the panel remembers: ends of limits and bounds by their box, and three choices."""

    ends: tuple[tuple[str, float | None], ...]
    least: str
    confidence: float | None
    relation_error: bool


class BriefExplorer(Panel):
    """The panel made by `brief_explorer`."""

    kind = "brief"
    title = "Explorer of a brief"

    def __init__(self, brief, prices, scatter, confidence, relation_error, elements):
        self._first_brief: Brief = brief
        ready = prices is None or isinstance(prices, Prices)
        self._prices = prices if ready else read_prices(prices)
        self._price_list, self._given_scatter = prices, scatter  # as they came, for the code
        self._scatter = scatter
        self._boxes = dict(_limit_boxes(brief))
        bounded = [e for e, (low, high) in brief.bounds.items() if high is not None and low != high]
        for element in bounded if elements is None else elements:
            self._boxes[f"{element} ≤"] = (element, "high", True)
        ends = tuple((box, _end_of(brief, *where)) for box, where in self._boxes.items())
        least = brief.minimise if isinstance(brief.minimise, str) else "as given"
        self._kept: tuple[BriefState, Design] | None = None
        self._near: Design | None = None
        state = BriefState(ends, least, confidence, relation_error)
        self._start = self._design(state)
        # What the first answer made of the scatter and of the family holds from here on.
        self._scatter, self._first_brief = self._start.scatter, self._start.brief
        super().__init__(state, file="my-brief")
        limits = [b for b, (_, _, bound) in self._boxes.items() if not bound]
        bounds = [b for b, (_, _, bound) in self._boxes.items() if bound]
        values = dict(ends)
        self.limits = Numbers(
            [_limit_field(brief, b, self._boxes[b], values[b]) for b in limits],
            {b: values[b] for b in limits}, self._moved, "Limits", self.status,
        )  # fmt: skip
        self.bounds = Numbers(
            [_bound_field(b, values[b]) for b in bounds],
            {b: values[b] for b in bounds}, self._moved, "Highest contents, wt%", self.status,
        )  # fmt: skip
        own = () if any(least == value for _, value in LEAST) else ((least, least),)
        usable = LEAST if self._prices else LEAST[1:2]
        self._least = Choice("Least", [*own, *usable], least, self._least_chosen, self.status)
        sure = (
            SURE
            if any(confidence == v for _, v in SURE)
            else (*SURE, (str(confidence), confidence))
        )
        self._sure = Choice("Sure of each limit", sure, confidence, self._sure_chosen, self.status)
        self._errors = Choice(
            "Published errors",
            [("counted", True), ("not counted", False)], relation_error, self._errors_chosen,
            self.status,
        )  # fmt: skip
        why = self.button("Why not?", self._explain, "the smallest set of limits that clashes")
        choices = [self._least, self._sure, self._errors]
        self.lay([*choices, self.limits, *([self.bounds] if bounds else []), why])

    @property
    def brief(self) -> Brief:
        """The present brief."""
        return self._brief(self.state)

    @property
    def design(self) -> Design:
        """The present answer."""
        return self._design(self.state)

    # --- the state as strings and data ------------------------------------------------------

    def moving(self, state: BriefState) -> View:
        design = self._design(state)
        rest = details("Flags and notes", items([*lines(design), *design.flags]))
        if not design.feasible:
            return View((_spoken(self.spoken(state), f"Route: {design.route}."),), (rest,))
        words = _spoken(self.spoken(state), f"{self._cost(design)}. Route: {design.route}.")
        return View((words, window_bars(design)), (_binding(design), rest))

    def spoken(self, state: BriefState) -> str:
        design = self._design(state)
        if not design.feasible:
            return f"✕ The brief cannot be met. {design.way_out}"
        return f"✓ {design.headline}."

    def fill(self, state: BriefState) -> None:
        values = dict(state.ends)
        for boxes in (self.limits, self.bounds):
            boxes.show({b: values[b] for b in boxes.values})
        self._least.show(state.least)
        self._sure.show(state.confidence)
        self._errors.show(state.relation_error)

    def encode(self, state: BriefState) -> dict:
        return {
            "ends": dict(state.ends),
            "least": state.least,
            "confidence": state.confidence,
            "relation_error": state.relation_error,
        }

    def decode(self, data: dict, where: str) -> BriefState:
        names = ["ends", "least", "confidence", "relation_error"]
        if sorted(data) != sorted(names) or not isinstance(data["relation_error"], bool):
            raise InputError(f"{where}, state", f"with {', '.join(names)}", list(data))
        ends = data["ends"]
        if not isinstance(ends, dict) or set(ends) != set(self._boxes):
            raise InputError(
                f"{where}, ends", f"numbers for {', '.join(self._boxes)}", ends or NOTHING
            )
        for box, end in ends.items():
            if end is not None and (isinstance(end, bool) or not isinstance(end, (int, float))):
                raise InputError(f"{where}, {box}", "a number, or null for an open end", end)
        known = [value for _, value in self._least.options]
        if data.get("least") not in known:
            raise InputError(f"{where}, least", ", ".join(known), data.get("least"))
        sure = [value for _, value in self._sure.options]
        if data.get("confidence") not in sure:
            raise InputError(f"{where}, confidence", f"one of {sure}", data.get("confidence"))
        return BriefState(
            tuple((box, ends[box]) for box in self._boxes),
            data["least"],
            data["confidence"],
            data["relation_error"],
        )

    def table(self, state: BriefState) -> pd.DataFrame:
        design = self._design(state)
        ends = pd.DataFrame(
            [(box, "limit", end, np.nan, np.nan) for box, end in state.ends],
            columns=["name", "kind", "min", "aim", "max"],
        )
        window = design.window.reset_index().rename(columns={"element": "name"})
        return pd.concat([ends, window.assign(kind="wt%")], ignore_index=True)

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
        code.line(f"gk.design_grade(brief, prices, scatter, confidence={state.confidence!r}, "
                  f"relation_error={state.relation_error}, heats={HEATS})")  # fmt: skip
        return code.text()

    # --- what the controls ask for ----------------------------------------------------------

    def _moved(self, values: dict, name: str) -> None:
        ends = {**dict(self.state.ends), **values}
        self.change(replace(self.state, ends=tuple(ends.items())), name)

    def _least_chosen(self, least: str) -> None:
        self.change(replace(self.state, least=least))

    def _sure_chosen(self, confidence: float | None) -> None:
        self.change(replace(self.state, confidence=confidence))

    def _errors_chosen(self, counted: bool) -> None:
        self.change(replace(self.state, relation_error=counted))

    def _explain(self) -> str:
        design = self.design
        return "The brief is met." if design.feasible else design.conflict.words

    # --- what they need ---------------------------------------------------------------------

    def _brief(self, state: BriefState) -> Brief:
        first, values = self._first_brief, dict(state.ends)
        limits, bounds = dict(first.limits), dict(first.bounds)
        for box, (key, end, bound) in self._boxes.items():
            spans = bounds if bound else limits
            low, high = spans.get(key, (None, None))
            spans[key] = (values[box], high) if end == "low" else (low, values[box])
        limits = {k: span for k, span in limits.items() if span != (None, None)}
        least = first.minimise if state.least == "as given" else state.least
        return replace(first, limits=limits, bounds=bounds, minimise=least)

    def _design(self, state: BriefState) -> Design:
        """The answer to a state; the last one is kept, and the next one starts from it."""
        if self._kept is None or self._kept[0] != state:
            design = design_grade(
                self._brief(state), self._prices, self._scatter, state.confidence,
                state.relation_error, heats=HEATS, near=self._near,
            )  # fmt: skip
            self._kept = state, design
            if design.feasible:
                self._near = design
        return self._kept[1]

    def _cost(self, design: Design) -> str:
        aim = design.problem.aim
        said = f"Least: {aim.title}, {number(design.solution.value, 5)} {design.unit}".strip()
        if self._prices is None:
            return said
        if aim.key != COST:
            said += f"; alloy cost {number(design.cost, 5)} {self._prices.unit}"
        if self._start.feasible:
            change = design.cost - self._start.cost
            sign = "+" if change > 0 else ""
            more = f"{sign}{number(change, 3)} {self._prices.unit}"
            said += f" ({more} against the brief as it was given)"
        return f"{said}. {self._prices.warning}"


def _limit_boxes(brief: Brief):
    for key, (low, high) in brief.limits.items():
        for end, value in (("low", low), ("high", high)):
            if value is not None:
                yield f"{_key(key)} {_SIGN[end]}", (key, end, False)


def _key(key: object) -> str:
    return key.name if isinstance(key, Relation) else str(key)


def _end_of(brief: Brief, key: object, end: str, bound: bool) -> float | None:
    low, high = (brief.bounds if bound else brief.limits).get(key, (None, None))
    return low if end == "low" else high


def _limit_field(brief: Brief, box: str, where: tuple, value: float) -> Field:
    key, end, _ = where
    (quantity, *_), _ = brief.quantities_of(key)
    size = max(abs(value), 0.1)
    step = 10.0 ** np.floor(np.log10(size / 5.0))
    word = "at least" if end == "low" else "at most"
    title = f"{quantity.title} {word}, {quantity.unit or 'no unit'}; empty for no limit"
    return Field(
        box, round(value - 0.6 * size, 6), round(value + 0.6 * size, 6), step, None,
        title=title, optional=True,
    )  # fmt: skip


def _bound_field(box: str, value: float | None) -> Field:
    high = 2.0 * (value or 1.0)
    step = 10.0 ** np.floor(np.log10(high / 20.0))
    return Field(
        box, 0.0, high, step, 0.0, 100.0, optional=True,
        title=f"{box.split()[0]} at most, wt%; empty for no limit of the brief's own",
    )  # fmt: skip


def _spoken(lead: str, rest: str) -> Html:
    """The answer in words, above the picture."""
    return tag("div", tag("p", lead, class_="lead"), tag("p", rest), class_="gk",
               style="line-height:1.45")  # fmt: skip


def _binding(design: Design) -> Html:
    """What binds, and what its last unit costs."""
    rows = design.limits[design.limits["shadow price"] > 1e-9]
    rows = rows.sort_values("shadow price", ascending=False)
    shown = pd.DataFrame(
        {
            "value, exact optimum": rows["value"],
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
