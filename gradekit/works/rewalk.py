"""Walk the route again after a small change: only the steps that what changed concerns."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import pandas as pd

from gradekit.core.aliases import Given, HeatsLike
from gradekit.heats.batch import as_batch
from gradekit.relations.steels import families_by_votes
from gradekit.works.plant import Plant, PlantLike, typical_plant
from gradekit.works.row import Row
from gradekit.works.step import Lot
from gradekit.works.walk import STEPS, Route, judged_rows, known_conditions


class _Noted(dict):
    """The lines of a plant table, noting which were asked for."""

    def __init__(self, lines: Mapping[str, dict]):
        super().__init__(lines)
        self.names: set[str] = set()

    def get(self, name: str, otherwise: Any = None) -> Any:
        self.names.add(name)
        return super().get(name, otherwise)

    def __contains__(self, name: Any) -> bool:
        self.names.add(name)
        return super().__contains__(name)


@dataclass(frozen=True)
class _Watched(Plant):
    """A plant that notes which of its limits were asked for."""

    @cached_property
    def by_name(self) -> _Noted:
        return _Noted(self.limits.to_dict("index"))


class Rewalk:
    """Walks one heat again and again.

    Parameters
    ----------
    **conditions
        As for `walk_route`; they stay the same.

    Examples
    --------
    >>> walk = Rewalk()
    >>> plant = typical_plant()
    >>> steel = {"C": .05, "Si": .4, "Cr": 18.2, "Ni": 8.1, "N": .05}
    >>> first = walk(steel, plant)
    >>> second = walk(steel, plant.changed(caster__pressure=2))
    >>> second.table["step"].nunique()
    8
    """

    def __init__(self, **conditions: Given):
        self._conditions = known_conditions(conditions)
        self._kept: dict[tuple[str, str], tuple[tuple, dict[str, str], list[Row]]] = {}

    def __call__(self, heat: HeatsLike, plant: PlantLike | None) -> Route:
        """Return the route of one heat, the same as `walk_route` would."""
        batch, works = as_batch(heat), _Watched(typical_plant(plant).limits)
        rows = judged_rows(batch, lambda b: self._checks(b, works), self._conditions)
        return Route(rows, works)

    def _checks(self, batch: pd.DataFrame, works: _Watched) -> list[Row]:
        family = families_by_votes(batch).iloc[0]
        # as bytes, what is not reported equals itself
        content = (batch.index[0], *batch.columns, batch.to_numpy().tobytes())
        rows: list[Row] = []
        whole: Lot | None = None
        for step in STEPS:
            # what a rival family would be told is kept beside what the heat's own is told
            place = (family, step.STEP)
            kept = self._kept.get(place)
            if kept is None or kept[0] != content or kept[1] != _read(works, kept[1]):
                works.by_name.names.clear()
                whole = Lot(batch, works, self._conditions) if whole is None else whole
                lot = whole.at(step.STEP)
                step.checks(lot)
                kept = (content, _read(works, works.by_name.names), lot.rows)
                self._kept[place] = kept
            rows += kept[2]
        return rows


def _read(works: _Watched, names: Iterable[str]) -> dict[str, str]:
    # as words, a blank equals itself
    return {name: str(dict.get(works.by_name, name, {}).get("value")) for name in names}
