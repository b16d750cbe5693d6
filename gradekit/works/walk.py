"""A heat walked through every step of the works."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import ModuleType

import pandas as pd

from gradekit.core.aliases import Given, HeatsLike, Label
from gradekit.core.errors import one_of
from gradekit.core.markup import Html, details, evidence_line, items, panel, small, table, verdict
from gradekit.core.verdicts import worst
from gradekit.families.kinds import words_each
from gradekit.families.table import rivals
from gradekit.heats.batch import as_batch
from gradekit.relations.steels import with_family
from gradekit.works.anneal import strip
from gradekit.works.cast import mould
from gradekit.works.cold import cold_rolling
from gradekit.works.deciding import deciding
from gradekit.works.finish import surface
from gradekit.works.hot import hot_rolling
from gradekit.works.melt import charge, gas, refining
from gradekit.works.plant import Plant, PlantLike, typical_plant
from gradekit.works.rivals import with_rivals
from gradekit.works.row import Row, as_table
from gradekit.works.step import Lot

#: The steps in the order of the works; see `gradekit.works.step` for what a step must offer.
STEPS: tuple[ModuleType, ...] = (
    charge,
    refining,
    gas,
    mould,
    hot_rolling,
    strip,
    cold_rolling,
    surface,
)

# So many checks of one heat, and so many heats, are told one by one.
_TOLD = 3
_OPENINGS = {"stop": "cannot be made as it is", "caution": "can be made; watch"}
# Heats walked together: enough that arrays pay, few enough that their rows fit in memory.
_AT_ONCE = 5_000


class Route:
    """What every step says about every heat.

    Attributes
    ----------
    table : DataFrame
        One row a heat and check, with the columns of `gradekit.works.row.Row`; its
        `attrs["cautions"]` hold what each step that can hurt says, by step, and `attrs["plant"]`
        how much of the works is a typical one.
    """

    def __init__(self, rows: list[Row], works: Plant):
        self.table = as_table(rows)
        cautions = {s.STEP: s.CAUTIONS for s in STEPS if hasattr(s, "CAUTIONS")}
        self.table.attrs |= {"cautions": cautions, "plant": works.typical}

    @property
    def cautions(self) -> dict[str, tuple[str, ...]]:
        """What is to be heeded, by step."""
        return self.table.attrs["cautions"]

    @property
    def plant(self) -> str:
        """How many limits are those of a typical works, in words; '' where none is."""
        return self.table.attrs["plant"]

    @property
    def worst(self) -> pd.DataFrame:
        """The worst verdict of each heat (rows) in each step (columns), of what was assessed."""
        heats, steps = self.table["heat"].unique(), self.table["step"].unique()
        groups = self.table.groupby(["heat", "step"], sort=False)["verdict"]
        groups = groups.agg(lambda verdicts: worst(verdicts, assessed=True))
        return groups.unstack("step").reindex(index=heats, columns=steps).fillna("not assessed")

    def for_heat(self, heat: Label) -> pd.DataFrame:
        """Return the rows of one heat, without the column `heat`.

        Raises
        ------
        InputError
            No such heat.
        """
        known = self.table["heat"].unique()
        one_of("heat", heat, known, "one of this route")
        rows = self.table[self.table["heat"] == heat]
        return rows.drop(columns="heat").reset_index(drop=True)

    @property
    def words(self) -> str:
        """The answer in one sentence; of two or three heats one each."""
        heats = self.table["heat"].unique()
        if len(heats) <= _TOLD:
            return " ".join(self._sentence(heat, alone=len(heats) == 1) for heat in heats)
        counts = self.worst.agg(lambda own: worst(own, assessed=True), axis=1).value_counts()
        return f"{len(heats)} heats: " + ", ".join(f"{n} {v}" for v, n in counts.items()) + "."

    def _sentence(self, heat: Label, alone: bool) -> str:
        """Name the checks of one heat that are beyond their limit; of many, the steps."""
        for word, opening in _OPENINGS.items():
            rows = self.table[self.table["heat"].eq(heat) & self.table["verdict"].eq(word)]
            if len(rows):
                checks = [f"{r.check} ({r.step})" for r in rows.itertuples()]
                told = checks if alone and len(checks) <= _TOLD else rows["step"].unique()
                return f"{heat} {opening}: {', '.join(told)}."
        return f"{heat} can be made, by all that was assessed."

    def _repr_html_(self) -> str:
        heats = self.table["heat"].unique()
        if len(heats) > 1:
            shown = table(self.worst.map(verdict), "Worst verdict in each step")
            return panel(shown, small(self.plant), self.cautions_page(), lead=self.words)
        rows = self.for_heat(heats[0]).rename(columns={"status": "evidence"})
        columns = ["step", "verdict", "check", "value", "limit", "unit", "evidence", "reason"]
        decisive = rows.loc[deciding(self.table).index, columns].set_index("step")
        unknown = rows["verdict"] == "not assessed"
        missing = rows.loc[unknown, ["step", "check", "reason"]]
        assessed = rows[~unknown]
        return panel(
            table(decisive, "The check that decides each step", wide=["reason"]),
            evidence_line(assessed["evidence"], "checks"),
            details(
                f"All {len(assessed)} checks that were assessed",
                table(assessed, "Checks, with margin and source", wide=["reason"], index=False),
            ),
            details(
                f"{len(missing)} checks not assessed, and what is missing",
                table(missing, "Not assessed", wide=["reason"], index=False),
            ),
            small(self.plant),
            self.cautions_page(),
            lead=self.words,
        )

    def cautions_page(self) -> Html:
        """Return what is to be heeded, folded away."""
        lines = [f"{step}: {words}" for step, own in self.cautions.items() for words in own]
        return details("Cautions", items(lines))

    def __repr__(self) -> str:
        return f"Route: {self.table['heat'].nunique()} heats\n{self.worst!r}"


def walk_route(heats: HeatsLike, plant: PlantLike | None = None, **conditions: Given) -> Route:
    """Walk heats through the works and judge every step.

    Parameters
    ----------
    heats : anything `as_batch` takes
        Compositions in wt%.
    plant : Plant, path or table, optional
        What the works can do (see `read_plant`); where it has no line, and without it, those of
        `typical_plant` serve and are marked *typical*.
    **conditions
        What the steps ask for beside composition and plant; `route_conditions()` lists them. What
        is not given makes 'not assessed'.

    Returns
    -------
    Route

    Raises
    ------
    InputError
        A keyword that no step knows.

    Examples
    --------
    >>> steel = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "N": 0.05}
    >>> walk_route(steel, "data/plant.csv", coast_km=30).worst.loc["heat 1", "casting"]
    'ok'
    """
    return _walked(as_batch(heats), typical_plant(plant), conditions)


def _walked(batch: pd.DataFrame, works: Plant, conditions: Mapping[str, Given]) -> Route:
    given = known_conditions(conditions)
    return Route(judged_rows(batch, lambda heats: _checks(heats, works, given), given), works)


def known_conditions(given: Mapping[str, Given]) -> dict[str, Given]:
    """Return the conditions that are given; a name that no step knows is refused."""
    known = route_conditions()
    for name in given:
        one_of("condition", name, known)
    return {name: value for name, value in given.items() if value is not None}


def judged_rows(
    batch: pd.DataFrame,
    checks: Callable[[pd.DataFrame], list[Row]],
    conditions: Mapping[str, Given],
) -> list[Row]:
    """Return what the checks say of each heat, in the order of the works, and where a heat may be
    of another family what they would say then.

    `checks` is asked for a batch whose family is known, where it is told or looked at as a rival.
    """
    told = conditions.get("family")
    if told is not None:
        batch = with_family(batch, words_each(told, batch, "family"))
    rows, rival = checks(batch), rivals(batch)
    if told is None and (doubted := rival[rival != ""]).size:
        rows = with_rivals(rows, checks(with_family(batch.loc[doubted.index], doubted)), doubted)
    place = {heat: i for i, heat in enumerate(batch.index)}
    order = {step.STEP: i for i, step in enumerate(STEPS)}
    return sorted(rows, key=lambda row: (place[row.heat], order[row.step]))


def _checks(batch: pd.DataFrame, works: Plant, conditions: Mapping[str, Given]) -> list[Row]:
    whole, rows = Lot(batch, works, conditions), []
    for step in STEPS:
        lot = whole.at(step.STEP)
        step.checks(lot)
        rows += lot.rows
    return rows


def assess_route(
    heats: HeatsLike, plant: PlantLike | None = None, **conditions: Given
) -> pd.DataFrame:
    """Return what `walk_route` finds as a plain table.

    Parameters
    ----------
    heats, plant, **conditions
        As for `walk_route`.

    Returns
    -------
    DataFrame
        Columns `heat step check value limit unit margin verdict reason source status`; `verdict`
        is 'ok', 'caution', 'stop' or 'not assessed', `margin` is in the unit of the value and
        positive on the good side.

    Raises
    ------
    InputError
        As `walk_route`.

    Examples
    --------
    >>> steel = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "N": 0.05}
    >>> table = assess_route(steel, "data/plant.csv").set_index("check")
    >>> table.loc["nitrogen that casts without pores", "verdict"]
    'ok'
    """
    batch, works = as_batch(heats), typical_plant(plant)
    # the rows of one part become a table before the next is walked: memory holds tables only
    parts = [batch.iloc[k : k + _AT_ONCE] for k in range(0, len(batch), _AT_ONCE)]
    tables = [_walked(part, works, conditions).table for part in parts]
    whole = tables[0] if len(tables) == 1 else pd.concat(tables, ignore_index=True)
    whole.attrs = tables[0].attrs
    return whole


def route_conditions() -> dict[str, str]:
    """Return what may be told to `walk_route` beside heats and plant, with its meaning.

    Returns
    -------
    dict of name to str
        What it is, with its unit.

    Examples
    --------
    >>> route_conditions()["coast_km"]
    'distance of the place of use from the surf, km'
    """
    return {k: words for step in STEPS for k, words in step.CONDITIONS.items()}
