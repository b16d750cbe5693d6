"""Chapter 10: lines of equal pitting index across molybdenum and nitrogen."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from gradekit.core.markup import number
from gradekit.lessons.scenes.frame import Play, Scene
from gradekit.lessons.slips import linear
from gradekit.pictures.graph import Graph
from gradekit.pictures.marks import Mark
from gradekit.pictures.style import COLOURS
from gradekit.relations.evaluate import evaluate_batch
from gradekit.relations.topics import CATALOGUE

_INDICES = ("pren_16n", "pren_30n")
_CASTABLE = "n_castable_by_mode"
_MOST_MO, _MOST_N = 5.0, 0.5


def look(steel: pd.DataFrame, numbers: Mapping[str, float]) -> Scene:
    """Draw along which lines molybdenum and nitrogen stand in for each other, by both indices."""
    molybdenum, nitrogen = (float(steel[e].iloc[0]) if e in steel else 0.0 for e in ("Mo", "N"))
    terms = [linear(name).terms for name in _INDICES]
    swaps = [one["Mo"] / one["N"] for one in terms]
    alone = [nitrogen + molybdenum * swap for swap in swaps]
    # The steel as it is, then without molybdenum by each convention.
    bare = [steel.assign(Mo=0.0, N=content) for content in alone]
    result = evaluate_batch(pd.concat([steel, *bare], ignore_index=True), [*_INDICES, _CASTABLE])
    castable = result.values[_CASTABLE].to_numpy()
    index = [float(result.values[name].iloc[0]) for name in _INDICES]
    graph = Graph((0, _MOST_MO), (0, _MOST_N), "Mo, %", "N, %")
    if np.isfinite(castable[0]):
        graph.area([0, _MOST_MO], [castable[0]] * 2, [_MOST_N] * 2, "#f3cfc4")
        graph.note(_MOST_MO, _MOST_N, "pores: more than this steel casts with", anchor="end",
                   dx=-6, dy=16, colour=COLOURS[3])  # fmt: skip
    across = np.linspace(0.0, _MOST_MO, 51)
    for style, swap in enumerate(swaps):
        line = nitrogen + (molybdenum - across) * swap
        graph.line(across, line, COLOURS[style], 2.2, None if style == 0 else "7 4")
        name = f"same index, {terms[style]['N']:g} N"
        graph.note(_MOST_MO, 0.40 - 0.045 * style, name, anchor="end", dx=-6,
                   colour=COLOURS[style], bold=True)  # fmt: skip
    graph.marks([Mark(molybdenum, nitrogen, "this steel", 3)])
    frame = pd.DataFrame(
        {"index": index, "N without any Mo, %": alone,
         "casts with that N": [_casts(room) for room in castable[1:] - alone]},
        index=pd.Index([CATALOGUE[name].title for name in _INDICES], name="convention"),
    )  # fmt: skip
    words = (
        f"Pitting index {number(index[0], 3)} with 16 N, {number(index[1], 3)} with 30 N. Without "
        f"molybdenum the same index asks for {number(alone[0], 2)} or {number(alone[1], 2)} % "
        "nitrogen: two conventions, two alloys. Neither is a promise of service."
        if np.isfinite(index[0])
        else "The index needs chromium, molybdenum and nitrogen."
    )
    names = (*_INDICES, _CASTABLE)
    status = "; ".join(f"{CATALOGUE[n].title}: {CATALOGUE[n].status}" for n in names)
    note = (
        f"{status}. The field of pores is that of this steel as it is; the table counts without "
        "its molybdenum. An index ranks steels in a test: weld, finish, crevice, deposit and "
        "temperature decide in service."
    )
    return Scene((graph.tree("Molybdenum or nitrogen", words),), words, frame,
                 "The same steel by two conventions", note)  # fmt: skip


def _casts(room: float) -> str:
    if not np.isfinite(room):
        return "not told"
    return "yes" if room >= 0 else f"no, {number(-room, 2)} % too much"


PLAY = Play("pitting", "Molybdenum or nitrogen", "17Cr-12Ni-2Mo", look)
