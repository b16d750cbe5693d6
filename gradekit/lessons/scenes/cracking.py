"""Chapter 5: the ratio of the equivalents against P + S, and the band where welds crack."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd

from gradekit.core.markup import number
from gradekit.diagrams.criteria import criteria, limits
from gradekit.lessons.known_limits import impurity_limit
from gradekit.lessons.scenes.frame import Play, Scene
from gradekit.pictures.freezing import mode_scale
from gradekit.pictures.graph import Graph
from gradekit.pictures.marks import Mark
from gradekit.pictures.style import COLOURS, INK, QUIET
from gradekit.relations.evaluate import evaluate_batch

_RATIO = "cr_ni_ratio_schaeffler"
_LOW, _HIGH, _TOP = 1.0, 2.2, 0.06


def look(steel: pd.DataFrame, numbers: Mapping[str, float]) -> Scene:
    """Place a weld metal between its ratio and its P + S."""
    rules = criteria()
    names = list(dict.fromkeys(rule.relation for rule in rules))
    ratios = evaluate_batch(steel, names).values.iloc[0]
    ratio = float(ratios[_RATIO])
    impurities = sum(float(steel[e].iloc[0]) if e in steel else np.nan for e in ("P", "S"))
    band = next(r for r in rules if r.name == "schaeffler_bands")
    mode = band.band(ratio)
    graph = Graph((_LOW, _HIGH), (0, _TOP), "Schaeffler's chromium over nickel equivalent",
                  "P + S, %")  # fmt: skip
    limit, below = impurity_limit()
    # Between these two statements of the limit differ.
    doubt_low, doubt_high = (float(limits().at["s15b", end]) for end in ("lower", "upper"))
    graph.field([(_LOW, doubt_high), (below, doubt_high), (below, _TOP), (_LOW, _TOP)], "#f3cfc4")
    graph.field([(_LOW, doubt_low), (below, doubt_low), (below, doubt_high), (_LOW, doubt_high)],
                "#faebdc")  # fmt: skip
    graph.run([(_LOW, limit), (below, limit), (below, _TOP)], COLOURS[3], 2.0)
    for one in band.bands[:-1]:
        graph.run([(one.upper, 0), (one.upper, _TOP)], QUIET, 1.0, "3 3")
    edges = [_LOW, *(b.upper for b in band.bands[:-1]), _HIGH]
    for one, left, right in zip(band.bands, edges, edges[1:], strict=False):
        graph.note((left + right) / 2, _TOP, one.word, anchor="middle", dy=14, bold=True)
    graph.note(_LOW, 0.045, "cracks hot", dx=8, colour=COLOURS[3], bold=True)
    graph.note(_LOW, doubt_low, "statements differ", dx=8, dy=-5, colour=QUIET)
    graph.note(1.53, 0.03, ["sound in practice"], colour=INK)
    if np.isfinite(ratio + impurities):
        graph.marks([Mark(ratio, impurities, "this weld", 0)])
    words = _words(ratio, impurities, mode.word if mode else "", below, limit)
    rows = []
    for rule in rules:
        freezing = rule.band(float(ratios[rule.relation]))
        rows.append({"criterion": rule.title, "ratio": ratios[rule.relation],
                     "freezes as": freezing.word if freezing else "not told",
                     "status": freezing.status if freezing else ""})  # fmt: skip
    figure = (graph.tree("Hot cracking", words), mode_scale(ratio))
    row = limits().loc["s15"]
    note = (
        f"The limit of P + S: {row['status']}; {row['meaning']}. A limit belongs to its own ratio. "
        "A crack test of the procedure decides."
    )
    frame = pd.DataFrame(rows).set_index("criterion")
    return Scene(figure, words, frame, "Every criterion with its own ratio", note)


def _words(ratio: float, impurities: float, mode: str, below: float, limit: float) -> str:
    if not np.isfinite(ratio + impurities):
        return "The ratio or P + S is not known: give chromium, nickel, carbon, P and S."
    place = f"Ratio {ratio:.2f}, mode {mode}; P + S {number(impurities, 2)} %."
    if ratio >= below:
        return f"{place} Ferrite is first: there is no limit of P + S in practice."
    if impurities <= limit:
        return f"{place} Austenite is first, and P + S lie below the limit of {limit:g} %."
    return f"{place} Austenite is first, and P + S lie above {limit:g} %: this weld may crack hot."


PLAY = Play(
    "solidification", "The cracking band", "weld metal", look,
    elements=("C", "Si", "Mn", "Cr", "Ni", "Mo", "N", "P", "S"),
)  # fmt: skip
