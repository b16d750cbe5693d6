"""Chapter 9: anneal of a duplex steel against what its two phases hold."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from gradekit.core.markup import number
from gradekit.lessons.scenes.frame import Play, Scene, Slot
from gradekit.lessons.slips import linear
from gradekit.pictures.graph import Graph
from gradekit.pictures.style import COLOURS, INK, QUIET
from gradekit.relations.topics import CATALOGUE
from gradekit.works.anneal.duplex_phases import NITROGEN_WAYS, partition, phase_contents

_GRID = np.linspace(1000.0, 1250.0, 26)
_SHOWN = ("Cr", "Mo", "Ni", "N")
_FACTORS = (16, 30)


def look(steel: pd.DataFrame, numbers: Mapping[str, float]) -> Scene:
    """Draw the pitting index of both phases against the anneal, and what they hold at one."""
    celsius = numbers["temperature_C"]
    steel = steel.reindex(columns=PLAY.elements)
    at = np.append(_GRID, celsius)
    share, rich, poor = phase_contents(steel, at, "saturated")
    ways = {"saturated": (share, rich, poor)}
    for way in NITROGEN_WAYS[1:]:  # they differ in nitrogen alone
        ratio = partition("N", at, way)
        low = steel["N"].to_numpy()[:, None] / (1.0 + share * (ratio - 1.0))
        ways[way] = share, {**rich, "N": ratio * low}, {**poor, "N": low}
    rich_way, poor_way = _band(ways, 1), _band(ways, 2)
    low, top = (float(end(v)) for end, v in ((np.min, [rich_way[0], poor_way[0]]),
                                             (np.max, [rich_way[1], poor_way[1]])))  # fmt: skip
    ends = (np.floor(low / 5) * 5, np.ceil(top / 5 + 0.6) * 5) if np.isfinite(low) else (20, 50)
    graph = Graph((1000, 1250), (float(ends[0]), float(ends[1])), "anneal, °C",
                  "pitting index of each phase")  # fmt: skip
    names = (("ferrite", rich_way, COLOURS[1], 0.94), ("austenite", poor_way, COLOURS[0], 0.87))
    for name, (least, most), colour, high in names:
        if np.isfinite(least).all():
            graph.area(_GRID, least[:-1], most[:-1], colour, 0.22)
            graph.line(_GRID, least[:-1], colour, 1.2)
            graph.line(_GRID, most[:-1], colour, 1.2)
        graph.note(1005, ends[0] + high * (ends[1] - ends[0]), name, colour=colour, bold=True)
    graph.run([(celsius, ends[0]), (celsius, ends[1])], INK, 1.2, "4 3")
    graph.note(celsius, ends[0], f"{celsius:g} °C", dx=5 if celsius < 1200 else -5, dy=-8,
               anchor="start" if celsius < 1200 else "end", colour=QUIET)  # fmt: skip
    ferrite = 100 * float(share[0, -1])
    rows = pd.DataFrame(
        {"the steel": [float(steel[e].iloc[0]) for e in _SHOWN],
         "ferrite": [float(rich[e][0, -1]) for e in _SHOWN],
         "austenite": [float(poor[e][0, -1]) for e in _SHOWN]},
        index=pd.Index([f"{e}, %" for e in _SHOWN], name="content"),
    )  # fmt: skip
    rows.loc["pitting index, 16 N"] = [
        float(_index({e: steel[e].to_numpy() for e in steel}, 16)[0]),
        _index(rich, 16)[0, -1], _index(poor, 16)[0, -1],
    ]  # fmt: skip
    words = _words(celsius, ferrite, rich_way, poor_way)
    relation = CATALOGUE["ferrite_duplex_anchored"]
    note = (
        f"Share of ferrite: {relation.title} ({relation.status}), ± {relation.error:g} points. "
        "Bands: three ways of sharing nitrogen, and for the austenite 16 or 30 N. Partition from "
        "memory. The table takes the ferrite saturated with nitrogen. Below about 1000 °C sigma "
        "phase forms, which no line here shows."
    )
    caption = f"At {celsius:g} °C: {number(ferrite, 2)} % ferrite"
    return Scene((graph.tree("Two phases", words),), words, rows, caption, note)


def _band(ways: Mapping, phase: int) -> tuple[np.ndarray, np.ndarray]:
    """The least and the most pitting index of a phase: 1 ferrite, with 16 N; 2 austenite."""
    factors = _FACTORS if phase == 2 else _FACTORS[:1]
    every = [_index(contents[phase], factor)[0] for contents in ways.values() for factor in factors]
    return np.min(every, axis=0), np.max(every, axis=0)


def _index(contents: Mapping[str, np.ndarray], factor: int) -> np.ndarray:
    terms = linear(f"pren_{factor}n").terms
    none = np.zeros_like(contents["Cr"])
    return sum(k * contents.get(e, none) for e, k in terms.items())  # type: ignore[return-value]


def _words(celsius: float, ferrite: float, rich: tuple, poor: tuple) -> str:
    if not np.isfinite(ferrite):
        return "Chromium, nickel, molybdenum, carbon and nitrogen have to be known."
    least = rich[0][-1] - poor[1][-1], rich[1][-1] - poor[0][-1]
    gap = " to ".join(number(float(v), 2) for v in least)
    weak = (
        "the austenite is the weaker phase" if least[0] > 0
        else "the ferrite is the weaker phase" if least[1] < 0
        else "which phase is the weaker one depends on how nitrogen is shared and weighed"
    )  # fmt: skip
    return (
        f"At {celsius:g} °C {number(ferrite, 2)} % ferrite; its pitting index lies {gap} points "
        f"above that of the austenite: {weak}."
    )


PLAY = Play(
    "duplex", "Anneal and the two phases", "22Cr duplex", look,
    (Slot("temperature_C", "anneal, °C", 1000.0, 1250.0, 10.0, 1100.0, 1000.0, 1250.0),),
)  # fmt: skip
