"""The route explorer: a composition and the limits of the works moved, the verdicts at once."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from gradekit.app.given import Code
from gradekit.app.panels.about_number import ExplainingPanel, about_relations, told_list
from gradekit.app.state import known, numbers_in, pairs
from gradekit.app.views import View
from gradekit.app.widgets.fields import element_field
from gradekit.app.widgets.numbers import Field
from gradekit.app.widgets.page import pressable
from gradekit.core.aliases import Given, HeatsLike
from gradekit.core.errors import InputError, one_of
from gradekit.core.markup import Html, details, evidence_words, number, table, tag
from gradekit.families.kinds import MAKERS
from gradekit.heats.batch import as_batch, one_heat
from gradekit.pictures.route_chart import route_chart
from gradekit.relations.steels import families_by_votes
from gradekit.relations.topics import CATALOGUE
from gradekit.works.plant import Plant, PlantLike, as_plant, read_plant
from gradekit.works.rewalk import Rewalk
from gradekit.works.walk import Route

_ELEMENTS = ("C", "Si", "Mn", "P", "S", "Cr", "Ni", "Mo", "N", "Cu")
_LIMITS = (
    "converter.temperature_max",
    "caster.pressure",
    "reheating.temperature_max",
    "hot_mill.force_max",
    "hot_mill.torque_max",
    "hot_mill.finish_temperature_min",
    "anneal.temperature_max",
    "anneal.cooling_rate",
    "cold_mill.force_max",
)
_COLUMNS = "step check value limit unit margin verdict status reason".split()
_WORST_FIRST = ("stop", "caution")


@dataclass(frozen=True)
class Works:
    """What the panel remembers: contents in wt% and changed limits, in a fixed order."""

    contents: tuple[tuple[str, float], ...]
    limits: tuple[tuple[str, float], ...]


def route_explorer(
    heat: HeatsLike,
    plant: PlantLike | None,
    elements: Iterable[str] | None = None,
    limits: Iterable[str] | None = None,
    **conditions: Given,
) -> RouteExplorer:
    """Change a composition and the limits of the works, and see what the route says.

    Parameters
    ----------
    heat : anything `as_batch` takes, one heat
        Where it begins, wt%.
    plant : Plant, path or table
    elements : symbols, optional
        Elements with a box.
    limits : names, optional
        Limits with a box, as 'hot_mill.force_max'.
    **conditions
        As for `gk.walk_route`; they stay.

    Returns
    -------
    RouteExplorer
        Live where a kernel runs, with a picture to read elsewhere; `.route` holds the rows.

    Raises
    ------
    InputError
        More than one heat, a plant that cannot be read, a limit or condition that there is not.

    Examples
    --------
    >>> steel = {"C": .05, "Si": .4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "N": .05}
    >>> panel = route_explorer(steel, "data/plant.csv")
    >>> panel.limits.enter("hot_mill.force_max", "12")
    >>> "stop" in set(panel.route.table["verdict"])
    True
    """
    return RouteExplorer(heat, plant, elements, limits, conditions)


class RouteExplorer(ExplainingPanel):
    """The panel made by `route_explorer`."""

    kind = "route"
    told_below = True
    title = "Route explorer"

    def __init__(self, heat, plant, elements, limits, conditions):
        batch = one_heat(heat)
        self.name = batch.index[0]
        self.plant: Plant = as_plant(plant)
        self._conditions: dict[str, Any] = conditions
        self._again = Rewalk(**conditions)
        start = batch.iloc[0].dropna()
        if elements is None:
            makers = MAKERS.get(families_by_votes(batch).iloc[0], ())
            elements = [*(e for e in _ELEMENTS if e in start), *makers]
        if limits is None:
            limits = [n for n in _LIMITS if not self.plant.gap(n)]
        held = self.plant.limits["value"]
        for name in limits:
            one_of("limit", name, held.dropna().index, "one of the plant table")
        state = Works(known(start), tuple((n, float(held[n])) for n in limits))
        super().__init__(state, file="route")
        boxes = [element_field(e, batch) for e in elements]
        self.numbers = self.boxes(boxes, pairs("contents"), f"{self.name}, wt%")
        boxes = [self._field(n, x) for n, x in state.limits]
        self.limits = self.boxes(boxes, pairs("limits"), "What the works can do")
        self.lay([self.numbers, self.limits])

    @property
    def route(self) -> Route:
        """The rows of the present state."""
        return self.answer(self.state)

    def compute(self, state: Works) -> Route:
        heat = pd.DataFrame([dict(state.contents)], index=[self.name])
        return self._again(heat, self._works(state))

    # --- the state as strings and data ------------------------------------------------------

    def moving(self, state: Works) -> View:
        rows = self.answer(state).table
        worst = rows[rows["verdict"].isin(_WORST_FIRST)].sort_values(
            "verdict", key=lambda v: v.map(_WORST_FIRST.index), kind="stable"
        )
        keeps = rows[rows["verdict"] == "ok"]
        unknown = rows.loc[rows["verdict"] == "not assessed", ["step", "check", "reason"]]
        rest = ". Estimates; codes, standards and the engineers of the works decide."
        below = (
            tag("p", tag("b", self.spoken(state)), rest),
            self._listed(worst, "What needs care"),
            details(f"Not assessed: {len(unknown)}; what is missing",
                    table(unknown, "What is missing", wide=["reason"], index=False)),
            details(f"Kept: {len(keeps)}; with how much room", self._listed(keeps, "What is kept")),
            self.answer(state).cautions_page(),
        )  # fmt: skip
        return View((route_chart(rows, 520).tree,), below)

    def _listed(self, rows: pd.DataFrame, caption: str) -> Html:
        keys = rows["step"] + ": " + rows["check"]
        shown = rows[_COLUMNS].assign(value=pressable(rows["value"], keys))
        return table(shown, caption, wide=["reason"], index=False)

    def about(self, state: Works, name: str) -> Html:
        rows = self.answer(state).table
        rows = rows[(rows["step"] + ": " + rows["check"]).eq(name)]
        if rows.empty:
            return Html()
        row = rows.iloc[0]
        unit = f" {row['unit']}" if row["unit"] not in ("", "1") else ""
        told = told_list([
            (f"{row['step']}: {row['check']}", f"{number(row['value'])}{unit}"
             + (f", limit {row['limit']}" if row["limit"] else "")),
            ("Why", row["reason"]),
            ("Evidence", evidence_words(row["status"])),
            ("Source", row["source"]),
        ])  # fmt: skip
        words = set(re.findall(r"\w+", f"{row['source']} {row['reason']}"))
        named = [CATALOGUE[n] for n in CATALOGUE if n in words]
        known = [r for r in named if not [c for c in r.conditions if c not in self._conditions]]
        return about_relations(known, dict(state.contents), self._conditions, None, told)

    def spoken(self, state: Works) -> str:
        counts = self.answer(state).table["verdict"].value_counts()
        return ", ".join(f"{n} {v}" for v, n in counts.items())

    def encode(self, state: Works) -> dict:
        return {"composition": dict(state.contents), "limits": dict(state.limits)}

    def decode(self, data: dict, where: str) -> Works:
        contents = as_batch(numbers_in(data, "composition", where)).iloc[0]
        limits = numbers_in(data, "limits", where)
        self.limits.must_hold(limits, f"{where}, limits")
        return Works(known(contents), tuple((n, limits[n]) for n in self.limits.values))

    def table(self, state: Works) -> pd.DataFrame:
        return self.answer(state).table

    def code(self, state: Works) -> str:
        code = Code()
        steel = pd.DataFrame([dict(state.contents)], index=[self.name])
        return code.text(
            f"steel = {code.of(steel)}",
            f"plant = {self._plant_code(self._works(state), code)}",
            f"gk.walk_route(steel, plant{code.given(self._conditions)})",
        )

    def _plant_code(self, works: Plant, code: Code) -> str:
        """The plant by its file, with what differs from it; else by what it holds."""
        try:
            on_file = read_plant(works.path) if works.path else None
        except InputError:
            on_file = None
        kept = works.limits.drop(columns="value")
        if on_file is None or not kept.equals(on_file.limits.drop(columns="value")):
            return code.of(replace(works, path=""))
        pairs = zip(works.limits["value"].items(), on_file.limits["value"], strict=True)
        other = {n: x for (n, x), there in pairs if x != there and not (x != x and there != there)}
        limits = ", ".join(f"{n.replace('.', '__')}={code.of(x)}" for n, x in other.items())
        return f"gk.read_plant({works.path!r})" + (f".changed({limits})" if other else "")

    # --- what they need ---------------------------------------------------------------------

    def _field(self, name: str, value: float) -> Field:
        step, _, parameter = name.partition(".")
        unit = str(self.plant.limits.at[name, "unit"])
        unit = {"C": "°C", "C/s": "°C/s"}.get(unit, unit)
        label = f"{step.replace('_', ' ')}: {parameter.replace('_', ' ')}"
        size = 10.0 if value >= 200 else 1.0 if value >= 20 else 0.1
        high = max(2.0 * value, value + 10 * size) if value < 200 else round(1.3 * value, -1)
        # A mill without force or an anneal that never cools is no works.
        least = 0.0 if unit == "°C" else size
        return Field(name, least if value < 200 else round(0.6 * value, -1), high, size, least,
                     title=f"{label}, {unit}", label=f"{label}, {unit}", unit=unit)  # fmt: skip

    def _works(self, state: Works) -> Plant:
        return self.plant.changed(**{n.replace(".", "__"): x for n, x in state.limits})
