"""Chapter 6: what makes ferrite against what makes austenite, in a chromium steel."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from gradekit.core.markup import number
from gradekit.lessons.known_limits import factor_limits
from gradekit.lessons.scenes.frame import Play, Scene
from gradekit.lessons.slips import linear
from gradekit.pictures.graph import Graph
from gradekit.pictures.marks import Mark
from gradekit.pictures.microstructures import AUSTENITE, microstructures
from gradekit.pictures.style import COLOURS
from gradekit.relations.evaluate import evaluate_batch
from gradekit.relations.topics import CATALOGUE

_FACTOR, _AUSTENITE = "ferrite_factor_kaltenhauser_1971", "austenite_max_17cr"


def look(steel: pd.DataFrame, numbers: Mapping[str, float]) -> Scene:
    """Weigh the ferrite formers of a steel against its austenite formers."""
    terms = linear(_FACTOR).terms
    parts = {e: k * float(steel[e].iloc[0]) for e, k in terms.items() if e in steel}
    makes = sum(x for x in parts.values() if x > 0)
    takes = -sum(x for x in parts.values() if x < 0)
    result = evaluate_batch(steel, [_FACTOR, _AUSTENITE])
    factor, austenite = (float(result.values[n].iloc[0]) for n in (_FACTOR, _AUSTENITE))
    lean, usual = factor_limits()
    graph = Graph((10, 26), (0, 10), "what makes ferrite, as % Cr", "what makes austenite, as % Cr")
    ends = np.array([10.0, 26.0])
    graph.area(ends, ends - usual, np.full(2, 10.0), AUSTENITE)
    graph.area(ends, ends - usual, np.maximum(ends - lean, 0.0), "#f3e6cc")
    graph.area(ends, np.zeros(2), np.maximum(ends - usual, 0.0), "#f6d9a2")
    for limit, name, at, anchor in ((lean, "12Cr steels", 7.4, "end"),
                                    (usual, "17Cr steels", 3.0, "start")):  # fmt: skip
        x = np.linspace(max(10.0, limit), min(26.0, limit + 10.0), 9)
        graph.line(x, x - limit, COLOURS[3], 1.8)
        graph.note(limit + at, at, f"{name}: {limit:g}", anchor=anchor, colour=COLOURS[3],
                   dx=-7 if anchor == "end" else 7, dy=4)  # fmt: skip
    graph.note(25.6, 0.5, "stays ferrite", anchor="end", bold=True)
    graph.note(10.4, 9.3, "forms austenite, then martensite", bold=True)
    known = np.isfinite(factor)
    if known:
        start = Mark(float(steel["Cr"].iloc[0]), 0.0, "chromium alone", 2)
        graph.marks([start, Mark(makes, takes, "this steel", 0)], trail=True)
    stays = factor > usual
    words = (
        f"Ferrite factor {number(factor, 3)}: {number(makes, 3)} for ferrite less "
        f"{number(takes, 3)} for austenite. "
        + (f"Above {usual:g}: a 17Cr weld stays ferrite." if stays
           else f"Below {usual:g}: a 17Cr weld passes through austenite, and what was austenite "
                "is martensite when cold.")
        if known else "The factor needs chromium, nickel, carbon and nitrogen."
    )  # fmt: skip
    rows = pd.DataFrame(
        {"content, %": [float(steel[e].iloc[0]) for e in parts],
         "for ferrite, as % Cr": list(parts.values())},
        index=pd.Index(list(parts), name="element"),
    )  # fmt: skip
    structure = microstructures("F" if stays else "F+M").parts if known else ()
    most = min(max(austenite, 0.0), 100.0)
    note = (
        f"{CATALOGUE[_FACTOR].title}: {CATALOGUE[_FACTOR].status}, and its limits with it. The "
        f"most austenite at 1050 to 1100 °C by another relation: {number(most, 2)} % "
        f"({CATALOGUE[_AUSTENITE].status})."
    )
    figure = (graph.tree("Ferrite factor", words), *structure)
    return Scene(figure, words, rows, "What each element does to the factor", note)


PLAY = Play(
    "families", "For ferrite and against it", "17Cr ferritic", look,
    elements=("C", "Si", "Mn", "Cr", "Ni", "Mo", "N", "Ti"),
)  # fmt: skip
