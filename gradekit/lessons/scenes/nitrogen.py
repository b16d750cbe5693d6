"""Chapter 7: nitrogen in the melt against the pressure above it, and the nickel it stands for."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from gradekit.core.markup import number
from gradekit.lessons.scenes.frame import Play, Scene, Slot
from gradekit.lessons.steels import STEELS
from gradekit.pictures.graph import Graph
from gradekit.pictures.marks import Mark
from gradekit.pictures.melt_and_strain import dissolved
from gradekit.pictures.microstructures import AUSTENITE
from gradekit.pictures.style import COLOURS
from gradekit.relations.evaluate import evaluate_batch
from gradekit.relations.topics import CATALOGUE

_NICKEL, _CASTABLE = "ni_eq_wrc_1992", "n_castable_by_mode"
_FROM = "18Cr-8Ni"


def look(steel: pd.DataFrame, numbers: Mapping[str, float]) -> Scene:
    """Set the nitrogen of a steel beside what its melt holds and what casts."""
    celsius, pressure = numbers["temperature_C"], numbers["pN2_atm"]
    content = float(steel["N"].iloc[0]) if "N" in steel else np.nan
    one = float(dissolved(steel, celsius, 1.0)[0])
    held = one * np.sqrt(pressure)
    both = pd.concat([pd.DataFrame([STEELS[_FROM]]), steel], ignore_index=True).fillna(0.0)
    nickel = evaluate_batch(both, [_NICKEL]).values[_NICKEL]
    castable = float(evaluate_batch(steel, [_CASTABLE]).values[_CASTABLE].iloc[0])
    grid = np.linspace(0.0, 1.0, 41) ** 2  # dense where the curve is steep
    top = float(np.nanmax([0.1, 1.25 * one, 1.2 * content, 1.2 * castable]))
    graph = Graph((0, 1), (0, top), "pressure of nitrogen, atm", "N, %")
    if np.isfinite(one):
        graph.area(grid, np.zeros(41), one * np.sqrt(grid), AUSTENITE)
        graph.line(grid, one * np.sqrt(grid), COLOURS[0], 2.4)
        graph.note(0.97, one * 0.985, "held by the melt", anchor="end", dy=-8, colour=COLOURS[0])
    if np.isfinite(castable):
        graph.run([(0, castable), (1, castable)], COLOURS[3], 1.8, "7 4")
        graph.note(0.02, castable, "casts without pores up to here", dy=-6, colour=COLOURS[3])
    if np.isfinite(content):
        graph.marks([Mark(pressure, content, "this steel", 1)])
    needs = (content / one) ** 2 if one > 0 else np.nan
    words = _words(content, held, needs, castable, pressure)
    rows = pd.DataFrame(
        {"value": [content, held, needs, castable, castable - content, nickel.iloc[1],
                   nickel.iloc[1] - nickel.iloc[0]],
         "unit": ["%", "%", "atm", "%", "%", "%", "%"]},
        index=pd.Index([
            "nitrogen of the steel", f"held by the melt below {pressure:g} atm",
            "pressure that holds the steel's nitrogen", "most that casts without pores",
            "room left", "nickel equivalent, WRC-1992", f"its change against {_FROM}",
        ], name="of this steel"),
    )  # fmt: skip
    solubility, rule = CATALOGUE["n_solubility_recommended"], CATALOGUE[_CASTABLE]
    note = (
        f"{solubility.title} ({solubility.status}), ± 8 % of the value, for up to 1 atm; "
        f"{rule.title} ({rule.status})."
    )
    return Scene((graph.tree("Nitrogen in the melt", words),), words, rows,
                 "Nitrogen in the melt and in the mould", note)  # fmt: skip


def _words(content: float, held: float, needs: float, castable: float, pressure: float) -> str:
    if not np.isfinite(content + held):
        return "Give chromium, nickel, carbon and nitrogen: all of them are needed."
    melt = (
        f"The melt holds {number(held, 2)} % below {pressure:g} atm of nitrogen; the steel has "
        f"{number(content, 2)} %, which {number(needs, 2)} atm would hold."
    )
    if not np.isfinite(castable):
        return melt
    room = castable - content
    cast = (
        f"It casts without pores, with {number(room, 2)} % of room." if room >= 0
        else f"It is {number(-room, 2)} % too much for a mould at 1 atm: pores."
    )  # fmt: skip
    return f"{melt} {cast}"


PLAY = Play(
    "nitrogen", "Nitrogen against pressure", "18Cr-8Ni", look,
    (Slot("pN2_atm", "N₂, atm", 0.0, 1.0, 0.05, 0.4, 0.0, 1.0),
     Slot("temperature_C", "melt, °C", 1500.0, 1700.0, 10.0, 1600.0, 1500.0, 1700.0)),
)  # fmt: skip
