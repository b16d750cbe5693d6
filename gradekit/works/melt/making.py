"""What a content costs in the making, beside the metal: gas, reduction, slag, nitrided alloys.

From the balances by which the route judges: the gas ladder and the carbon in balance with chromium,
the washing out of nitrogen, its solubility, the partition of sulphur. Time, lining and energy have
no price in a price book: they are not counted, and neither is what every heat pays alike.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from gradekit.core.elements import atomic_masses
from gradekit.core.markup import number
from gradekit.core.programme import BrokenLine
from gradekit.core.sources import weakest
from gradekit.heats.batch import as_batch
from gradekit.relations.evaluate import evaluate_batch
from gradekit.works.melt.aod import slag_share
from gradekit.works.melt.blow import MOLAR_VOLUME, oxide_per_kg, oxygen_per_kg, reductant_per_kg
from gradekit.works.melt.carbon import PREFERRED, least_burnt
from gradekit.works.melt.ladder import (
    HOTTEST,
    VESSEL_PRESSURE,
    carbon_ends,
    carbon_share,
    gas_steps,
    oxygen_for_carbon,
)
from gradekit.works.melt.price_book import PriceBook
from gradekit.works.plant import Plant
from gradekit.works.tables import rule

_START, _TAP_NITROGEN = "converter.bath_carbon_start", "eaf.tap_nitrogen"
_SULPHUR_START, _BASICITY = "converter.bath_sulphur_start", "converter.basicity_max"
_FIRST_GAS = "converter.oxygen_to_inert_step_1"
_SOLUBILITY = "n_solubility_recommended"
_GASES = {"oxygen": ("O", 2), "nitrogen": ("N", 2), "argon": ("Ar", 1)}  # element, atoms of a gas
# The lowest contents that are priced, wt%; below them the last slope goes on.
_LEAST = {"C": 0.002, "S": 0.0003}
_POINTS = 24  # of each curve, evenly spaced by ratio: an error below 1 % between two of them


@dataclass(frozen=True, eq=False)
class MakingCost:
    """What one element costs in the making, as a convex broken line.

    Attributes
    ----------
    element, what : str
    line : BrokenLine
        Money a tonne of steel over the content in wt%; beyond its ends the last slope goes on.
    basis : str
        What is counted, and at which composition.
    source, status : str
    """

    element: str
    what: str
    line: BrokenLine
    basis: str
    source: str
    status: str


def making_costs(
    heat: Mapping[str, float],
    plant: Plant,
    book: PriceBook,
    metals: Mapping[str, float] | None = None,
    nitrogen_kept: float = 1.0,
) -> tuple[list[MakingCost], list[str]]:
    """Return what carbon, nitrogen and sulphur cost in the making, and in words what is not known.

    Parameters
    ----------
    heat : mapping of element to wt%
        Where the balances are taken: chromium and nickel hold carbon and nitrogen in solution.
    plant : Plant
        Gas ladder, temperatures, and what the furnace hands over.
    book : PriceBook
        Prices of oxygen, argon, nitrogen, lime, ferrosilicon and nitrided alloys.
    metals : mapping of element to money a contained tonne, optional
        What the rest of a nitrided alloy is worth; without them its nitrogen has no price.
    nitrogen_kept : float
        Fraction of an alloy's nitrogen that stays.

    Returns
    -------
    (list of MakingCost, list of str)

    Examples
    --------
    >>> from gradekit.works.melt.price_book import as_price_book
    >>> from gradekit.works.plant import as_plant
    >>> costs, _ = making_costs({"C": 0.04, "Cr": 18.0, "Ni": 8.0, "N": 0.05},
    ...                         as_plant("data/plant.csv"), as_price_book("data/prices.csv"))
    >>> [(c.what, round(float(c.line.value(0.01) - c.line.value(0.04)), 1)) for c in costs[:2]]
    [('gas of the blow', 5.9), ('reduction', 3.3)]
    """
    works = _Works(heat, plant, book, metals or {}, nitrogen_kept)
    parts = (works.carbon, works.nitrogen_low, works.nitrogen_high, works.sulphur)
    return [cost for part in parts for cost in part()], works.unknown


class _Works:
    """The balances of one composition with the prices of a price book."""

    def __init__(
        self, heat: Mapping, plant: Plant, book: PriceBook, metals: Mapping, nitrogen_kept: float
    ):
        # What the heat does not hold is not there; the solubility asks for nickel all the same.
        self.heat = as_batch({"C": 0.0, "Cr": 0.0, "Ni": 0.0, "N": 0.0, **heat})
        self.plant, self.book, self.metals, self.kept = plant, book, metals, nitrogen_kept
        self.status = weakest("memory", "invented" if "invented" in book.note else "")
        steel = ", ".join(f"{number(heat[e], 3)} {e}" for e in ("Cr", "Ni", "Mn") if heat.get(e))
        self.where = f"taken at {steel}"
        self.unknown: list[str] = []

    def price(self, material: str) -> float:
        """Money a kg; NaN where the price book has no such material."""
        prices = self.book.materials["price"]
        return float(prices.get(material, np.nan)) / 1000.0

    def gas(self, material: str) -> float:
        """Money a Nm³."""
        element, atoms = _GASES[material]
        return self.price(material) * atoms * atomic_masses()[element] / MOLAR_VOLUME

    @property
    def silicon(self) -> float:
        """Money a kg of silicon of the cheapest ferrosilicon; NaN where there is none."""
        contents = self.book.contents
        held = contents.get("Si", pd.Series(0.0, contents.index))
        main = contents.drop(columns=["Fe", "rest"]).idxmax(axis=1)
        each = self.book.materials["price"] / 1000.0 / held
        return float(each[(held >= 0.4) & (main == "Si")].min())

    def lacks(self, what: str, *limits: str, doubt: str = "", **prices: float) -> bool:
        """Note that a cost is not known, and what is missing of plant and price book; else False.

        `doubt` is what makes the balance say nothing though all is there.
        """
        gone = [name.replace("_", " ") for name, price in prices.items() if np.isnan(price)]
        words = f"the price book has no {', '.join(gone)}" if gone else ""
        gap = "; ".join(filter(None, [self.plant.gap(*limits), words])) or doubt
        if gap:
            self.unknown.append(f"cost of {what} not known: {gap}")
        return bool(gap)

    def carbon(self) -> Iterator[MakingCost]:
        """Each gas of the ladder burns its carbon with less of its oxygen; the rest burns chromium,
        which silicon takes back and lime slags."""
        ladder = gas_steps(self.plant)
        oxygen, nitrogen, silicon = self.gas("oxygen"), self.gas("nitrogen"), self.silicon
        if self.lacks(
            "decarburising", _START, HOTTEST, VESSEL_PRESSURE, "converter.basicity", _FIRST_GAS,
            oxygen=oxygen, nitrogen=nitrogen, ferrosilicon=silicon, lime=self.price("lime"),
        ):  # fmt: skip
            return
        start = self.plant.get(_START, "wt%")
        ends = carbon_ends(np.array([0.0]), ladder, start)[0]
        nodes = np.geomspace(_LEAST["C"], start, _POINTS)
        nodes = np.unique(np.concatenate([nodes, ends[(ends > nodes[0]) & (ends < start)]]))
        step = np.array([np.flatnonzero(ends[1:] <= c)[0] for c in nodes[:-1]])
        ratio = ladder["oxygen_to_inert"].to_numpy()[step]
        burnt = 10.0 * np.diff(nodes)  # kg carbon a tonne
        contents = {e: self.heat[e].to_numpy() for e in self.heat if e != "C"}
        pressure = np.full(len(step), self.plant.get(VESSEL_PRESSURE, "atm"))
        least = least_burnt(contents, nodes[None, 1:], nodes[None, :-1], ratio, pressure,
                            self.plant.get(HOTTEST, "C"))[PREFERRED][0]  # fmt: skip
        practice = np.array([carbon_share(r) for r in ratio])
        usual = burnt * (1.0 / practice - 1.0) * oxygen_per_kg("C") / oxygen_per_kg("Cr")
        chromium = np.fmax(least, usual)
        blown = burnt * oxygen_per_kg("C") + chromium * oxygen_per_kg("Cr")
        charged = chromium * reductant_per_kg("Cr") / (rule("reductant_use").middle / 100.0)
        lime = self.plant.get("converter.basicity", "1") * charged * oxide_per_kg("Si")
        source = f"gas ladder of the plant, carbon shares of the trade, {PREFERRED}"
        for what, money, counted in (
            ("gas of the blow", blown * (oxygen + nitrogen / ratio),
             "oxygen and inert gas (nitrogen) from the start of the blow down"),
            ("reduction", charged * silicon + lime * self.price("lime"),
             "ferrosilicon and lime for the chromium burnt with the carbon"),
        ):  # fmt: skip
            each = _summed(money / burnt, burnt)
            basis = f"{counted}, {self.where}"
            yield self._cost("C", what, np.append(nodes, 2.0 * start), each, basis, source)

    def nitrogen_low(self) -> Iterator[MakingCost]:
        """Gas without nitrogen has to wash out what the bath holds above the aim: argon in place of
        nitrogen, for as much of the blow as is needed; beyond it argon alone."""
        argon, gas, ladder = self.gas("argon"), self.gas("nitrogen"), gas_steps(self.plant)
        if self.lacks("low nitrogen", _START, _TAP_NITROGEN, _FIRST_GAS, argon=argon, nitrogen=gas):
            return
        tap, back = self.plant.get(_TAP_NITROGEN, "wt%"), rule("nitrogen_pick_up").middle
        start = self.plant.get(_START, "wt%")
        oxygen = oxygen_for_carbon(self.heat["C"].to_numpy(), ladder, start)[0]
        inert = float((oxygen / ladder["oxygen_to_inert"].to_numpy()).sum())
        blow = 2.0 * float(oxygen.sum()) + inert
        solubility = self.solubility(rule("nitrogen_stage").most)
        nodes = np.append(back + np.geomspace(0.002, tap, _POINTS), 1.0)
        washing = 8.0 * solubility**2 * np.maximum(1.0 / (nodes - back) - 1.0 / tap, 0.0)
        money = np.minimum(washing, blow) * inert / blow * (argon - gas)
        money = money + np.maximum(washing - blow, 0.0) * argon
        basis = (
            f"argon to wash nitrogen from {tap:g} wt% down, {back:g} given back by the air; "
            f"{blow:.0f} Nm³/t of gas come with the blow; {self.where}"
        )
        source = f"balance of the gas with {_SOLUBILITY}; {self.plant.cite(_TAP_NITROGEN)}"
        yield self._cost("N", "argon against nitrogen", nodes, money, basis, source, "heuristic")

    def nitrogen_high(self) -> Iterator[MakingCost]:
        """Above what gas at the vessel's pressure dissolves, nitrogen comes with alloys, whose
        nitrogen costs what they cost above the metal in them."""
        pressure = self.plant.get(VESSEL_PRESSURE, "atm")
        contents, prices = self.book.contents, self.book.materials["price"]
        held = contents.get("N", pd.Series(0.0, contents.index))
        dear = {}
        for material in held.index[(held >= 0.01) & (held < 0.5)]:
            metal = contents.loc[material].drop(["N", "rest"])
            known = metal[metal > 0.005].index
            if all(e in self.metals for e in known):
                worth = sum(float(metal[e]) * self.metals[e] for e in known)
                dear[material] = (float(prices[material]) - worth) / float(held[material]) / 1000.0
        cheapest = min(dear.values(), default=np.nan)
        if self.lacks("high nitrogen", VESSEL_PRESSURE, priced_nitrided_alloy=cheapest):
            return
        material = min(dear, key=dear.__getitem__)
        gas = self.solubility(rule("nitrogen_stage").middle) * float(np.sqrt(pressure))
        nodes = np.array([0.0, gas, gas + 0.5])
        spent = 5.0 * max(cheapest, 0.0) / self.kept  # 5 kg are 0.5 wt% of a tonne
        basis = (
            f"{material} above {number(gas, 3)} wt%, what nitrogen gas gives at {pressure:g} atm, "
            f"{self.where}"
        )
        yield self._cost("N", "nitrided alloy", nodes, np.array([0.0, 0.0, spent]), basis,
                         f"{_SOLUBILITY}; price book")  # fmt: skip

    def sulphur(self) -> Iterator[MakingCost]:
        """More slag than the reduction makes: lime, and silicon for its silica."""
        silicon, lime, basicity = self.silicon, self.price("lime"), self.plant.get(_BASICITY, "1")
        least = rule("basicity_sulphur").least
        doubt = f"the partition is known from basicity {least:g} up" if basicity < least else ""
        if self.lacks("low sulphur", _SULPHUR_START, _BASICITY, doubt=doubt, ferrosilicon=silicon,
                      lime=lime):  # fmt: skip
            return
        before, partition = self.plant.get(_SULPHUR_START, "wt%"), rule("sulphur_partition")
        there = 1000.0 * slag_share(basicity)
        free = before / (1.0 + 0.001 * there * partition.middle)
        nodes = np.append(np.geomspace(min(_LEAST["S"], 0.5 * free), free, _POINTS), 1.0)
        slag = 1000.0 * np.maximum(before / nodes - 1.0, 0.0) / partition.middle
        each = (basicity * lime + silicon / oxide_per_kg("Si")) / (1.0 + basicity)
        money = np.maximum(slag - there, 0.0) * each
        basis = (
            f"slag beyond the {there:.0f} kg/t of the reduction, from {before:g} wt% at a "
            f"partition of {partition.middle:g} (known within {partition.low:g} to "
            f"{partition.high:g})"
        )
        yield self._cost("S", "slag against sulphur", nodes, money, basis, partition.source)

    def solubility(self, temperature_C: float) -> float:
        """Nitrogen in balance with 1 atm, wt%."""
        result = evaluate_batch(self.heat, _SOLUBILITY, temperature_C=temperature_C, pN2_atm=1.0)
        return float(result.values[_SOLUBILITY].iloc[0])

    def _cost(
        self, element: str, what: str, contents: np.ndarray, money: np.ndarray, basis: str,
        source: str, status: str = "memory",
    ) -> MakingCost:  # fmt: skip
        line = BrokenLine.through(contents, money)
        return MakingCost(element, what, line, basis, source, weakest(status, self.status))


def _summed(each: np.ndarray, burnt: np.ndarray) -> np.ndarray:
    """Money from the start of the blow down to each node, and nothing above the start; a kg of
    carbon costs no less further down."""
    dearer = np.maximum.accumulate(each[::-1])[::-1]
    return np.append(np.cumsum((dearer * burnt)[::-1])[::-1], [0.0, 0.0])
