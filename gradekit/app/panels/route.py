"""The route explorer: a composition and the limits of the works moved, the verdicts at once."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import pandas as pd

from gradekit.app.given import Code
from gradekit.app.panels.about_number import ExplainingPanel, about_relations, told_list
from gradekit.app.views import View
from gradekit.app.widgets.fields import element_field
from gradekit.app.widgets.numbers import Field, NumberBoxes
from gradekit.app.widgets.page import pressable
from gradekit.core.aliases import Given, HeatsLike
from gradekit.core.errors import InputError, nearest, said
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
        shown = list(elements)
        names = list(limits) if limits is not None else [
            n for n in _LIMITS if not self.plant.gap(n)
        ]  # fmt: skip
        for name in names:
            if self.plant.gap(name):
                known = list(self.plant.limits.index)
                raise InputError("limit", "one of the plant table", name, nearest(name, known))
        self._kept: tuple[Works, Route] | None = None
        state = Works(
            tuple((e, float(x)) for e, x in start.items()),
            tuple((n, float(self.plant.limits.at[n, "value"])) for n in names),
        )
        super().__init__(state, file="route")
        self.numbers = NumberBoxes(
            [element_field(e, batch) for e in shown], dict(state.contents),
            self._contents_changed, f"{self.name}, wt%", self.status,
        )  # fmt: skip
        self._fields = {n: self._field(n, x) for n, x in state.limits}
        self.limits = NumberBoxes(
            self._fields.values(), dict(state.limits),
            self._limits_changed, "What the works can do", self.status,
        )  # fmt: skip
        self.lay([self.numbers, self.limits])

    @property
    def route(self) -> Route:
        """The rows of the present state."""
        return self._walk(self.state)

    # --- the state as strings and data ------------------------------------------------------

    def moving(self, state: Works) -> View:
        rows = self._walk(state).table
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
            self._walk(state).cautions_page(),
        )  # fmt: skip
        return View((route_chart(rows, 520).tree,), below)

    def _listed(self, rows: pd.DataFrame, caption: str) -> Html:
        keys = rows["step"] + ": " + rows["check"]
        shown = rows[_COLUMNS].assign(value=pressable(rows["value"], keys))
        return table(shown, caption, wide=["reason"], index=False)

    def about(self, state: Works, name: str) -> Html:
        rows = self._walk(state).table
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
        counts = self._walk(state).table["verdict"].value_counts()
        return ", ".join(f"{n} {v}" for v, n in counts.items())

    def fill(self, state: Works) -> None:
        self.numbers.show(dict(state.contents))
        self.limits.show(dict(state.limits))

    def encode(self, state: Works) -> dict:
        return {"composition": dict(state.contents), "limits": dict(state.limits)}

    def decode(self, data: dict, where: str) -> Works:
        contents, limits = data.get("composition"), data.get("limits")
        if not isinstance(contents, Mapping) or not isinstance(limits, Mapping):
            raise InputError(where, "composition and limits", said("something else"))
        clean = as_batch(dict(contents)).iloc[0].dropna()
        if set(limits) != set(self._fields):
            raise InputError(f"{where}, limits", ", ".join(self._fields), list(limits))
        for name, value in limits.items():  # as a box would take it: no mill without force
            if isinstance(value, bool) or not isinstance(value, int | float):
                raise InputError(f"{where}, {name}", "a number", value)
            self._fields[name].within(float(value))
        return Works(
            tuple((e, float(x)) for e, x in clean.items()),
            tuple((n, float(limits[n])) for n in self._fields),
        )

    def table(self, state: Works) -> pd.DataFrame:
        return self._walk(state).table

    def code(self, state: Works) -> str:
        code, works = Code(), self._works(state)
        steel = pd.DataFrame([dict(state.contents)], index=[self.name])
        code.line(f"steel = {code.of(steel)}")
        code.line(f"plant = {self._plant_code(works, code)}")
        given = "".join(f", {k}={code.of(v)}" for k, v in self._conditions.items())
        code.line(f"gk.walk_route(steel, plant{given})")
        return code.text()

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

    # --- what the controls ask for ----------------------------------------------------------

    def _contents_changed(self, values: dict, name: str) -> None:
        merged = {**dict(self.state.contents), **values}
        contents = tuple((e, float(x)) for e, x in merged.items() if x is not None)
        as_batch(dict(contents))
        self.change(replace(self.state, contents=contents), name)

    def _limits_changed(self, values: dict, name: str) -> None:
        self.change(replace(self.state, limits=tuple(values.items())), name)

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

    def _walk(self, state: Works) -> Route:
        if self._kept is None or self._kept[0] != state:
            works = self._works(state)
            heat = pd.DataFrame([dict(state.contents)], index=[self.name])
            self._kept = (state, self._again(heat, works))
        return self._kept[1]
