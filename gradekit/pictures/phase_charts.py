"""The phase diagrams behind the lines: iron and carbon, chromium's loop, iron-chromium-nickel.

What a relation of the library gives is drawn as it computes it; what only textbooks draw stands
through a few of their points, and the picture says which is which.
"""

from __future__ import annotations

from functools import cache
from xml.etree.ElementTree import Element

import numpy as np
import pandas as pd

from gradekit.core.markup import number
from gradekit.core.sources import REFERENCE
from gradekit.diagrams.criteria import limits
from gradekit.pictures.graph import Graph
from gradekit.pictures.marks import Mark
from gradekit.pictures.microstructures import AUSTENITE, FERRITE
from gradekit.pictures.sketch import Sketch
from gradekit.pictures.style import COLOURS, INK, QUIET
from gradekit.relations.declaration import Linear
from gradekit.relations.evaluate import evaluate
from gradekit.relations.topics import CATALOGUE

_MELT = "#fbf1d6"
_PALE_F = "#f6e3bf"
_MOST_AUSTENITE = "austenite_max_17cr"
_LIQUIDUS = "liquidus_aymard_1974"
# What the computed charts take for the rest of a plain chromium steel, wt%.
_REST = {"Si": 0.4, "Mn": 0.5, "N": 0.02}
_IRON = 70.0


@cache
def textbook_points() -> pd.DataFrame:
    """Return the points that the sketched lines go through, with status and source.

    Examples
    --------
    >>> points = textbook_points()
    >>> float(points.query("figure == 'Fe-C' and point == 'S'")["content"].iloc[0])
    0.77
    """
    return pd.read_csv(REFERENCE / "textbook_points.csv", keep_default_na=False)


def iron_carbon() -> Sketch:
    """Draw the iron-carbon diagram, and the bridge from it to stainless steel.

    Returns
    -------
    Sketch
        Three pictures: iron with carbon; iron with chromium, whose austenite is a loop; and that
        loop seen from above at 1050 to 1100 °C, with carbon, as a relation of the library gives it.

    Examples
    --------
    >>> len(iron_carbon().parts)
    3
    """
    relation = CATALOGUE[_MOST_AUSTENITE]
    rests_on = (
        "Iron-carbon and iron-chromium: lines through textbook points, from memory. Austenite at "
        f"1050 to 1100 °C: computed, {relation.title} ({relation.status}), with "
        + ", ".join(f"{x:g} % {e}" for e, x in _REST.items())
        + "."
    )
    parts = (_carbon(), _loop(), _from_above())
    return Sketch(parts, "From iron and carbon to stainless steel", rests_on, columns=3)


def iron_chromium_nickel() -> Sketch:
    """Draw the section through iron-chromium-nickel at 70 % iron: what lies behind the fields.

    Returns
    -------
    Sketch
        The liquidus and the change of the first crystals are computed from what the library holds;
        the fields of the solid are a sketch, and the picture says so.

    Examples
    --------
    >>> "sketch" in iron_chromium_nickel().rests_on
    True
    """
    nickel = np.linspace(0.0, 20.0, 41)
    liquidus = _section_liquidus(nickel)
    switch, status, source = first_phase_switch()
    at = (100.0 - _IRON) / (1.0 + switch)
    graph = Graph((0, 20), (1000, 1550), "Ni, % (Cr: 30 − Ni)", "°C, at 70 % Fe", height=380)
    ferrite, austenite = (_sketched(f"Fe-Cr-Ni {phase}") for phase in ("ferrite", "austenite"))
    top_f, top_a = ferrite[-1], austenite[-1]
    meets = (at, float(np.interp(at, nickel, liquidus)) - 6)
    solid_end = (20.0, float(liquidus[-1]) - 14)
    graph.field([(0, 1000), *ferrite, (0, float(liquidus[0]))], _PALE_F)
    graph.field([*ferrite, *austenite[::-1]], "#ebe5da")
    graph.field([*austenite, solid_end, (20, 1000)], AUSTENITE)
    graph.area(nickel, liquidus, np.full(len(nickel), 1550.0), _MELT)
    for line in (ferrite, austenite):
        graph.run(line, QUIET, dash="6 4")
    solidus = [(0.0, float(liquidus[0]) - 2), top_f, meets, top_a, solid_end]
    graph.run(solidus, QUIET, dash="6 4")
    graph.line(nickel, liquidus, INK, 2.4)
    graph.line([at, at], [float(np.interp(at, nickel, liquidus)), 1550], COLOURS[1], 2.0)
    graph.note(at, 1550, ["austenite first →"], dx=6, dy=16, colour=COLOURS[1])
    graph.note(at, 1550, ["← ferrite first"], anchor="end", dx=-6, dy=16, colour=COLOURS[1])
    graph.note(1, 1500, "melt", dy=-6, bold=True)
    graph.note(1.0, 1240, ["ferrite", "(delta)"], bold=True)
    graph.note(14.5, 1240, "austenite", bold=True)
    graph.note(7.0, 1085, ["both"], anchor="middle", bold=True)
    graph.note(20, 1000, ["solid: a sketch, not computed"], anchor="end", dx=-4, dy=-8,
               colour=QUIET)  # fmt: skip
    words = (
        f"Section at 70 % iron. Liquidus from {liquidus[0]:.0f} °C at 30 % Cr to "
        f"{liquidus[-1]:.0f} °C at 10 % Cr and 20 % Ni. Up to {at:.1f} % Ni ferrite freezes first, "
        "beyond it austenite. Below, ferrite at the left, austenite at the right, and both in a "
        "field between that widens as the steel cools: a sketch, not computed."
    )
    rests_on = (
        f"Computed: the liquidus ({CATALOGUE[_LIQUIDUS].title}, {CATALOGUE[_LIQUIDUS].status}), "
        f"and where the first crystals change (Cr/Ni {switch:g}, {status}, {source}). The dashed "
        "lines of the solid are a sketch from memory: no published form of them is at hand."
    )
    return Sketch((graph.tree(words=words),), "Iron, chromium and nickel at 70 % iron", rests_on)


def first_phase_switch() -> tuple[float, str, str]:
    """Return Cr/Ni of pure Fe-Cr-Ni at which the first crystals change, its status and source.

    Examples
    --------
    >>> first_phase_switch()[:2]
    (1.5, 'secondary')
    """
    row = limits().loc["s14"]
    return float(row["upper"]), str(row["status"]), "Yamada 1987"


def chromium_for(austenite_pct: float, carbon: np.ndarray) -> np.ndarray:
    """Return the chromium at which a plain chromium steel has at most so much austenite.

    Parameters
    ----------
    austenite_pct : float
        At 1050 to 1100 °C; 100 where it becomes austenite as a whole, 0 where not at all.
    carbon : array, wt%

    Examples
    --------
    >>> chromium_for(100.0, np.array([0.0, 0.2])).round(1).tolist()
    [8.5, 15.8]
    """
    relation = CATALOGUE[_MOST_AUSTENITE]
    assert isinstance(relation, Linear)
    terms = relation.terms
    rest = relation.intercept + sum(terms[e] * x for e, x in _REST.items())
    return (austenite_pct - rest - terms["C"] * np.asarray(carbon)) / terms["Cr"]


def _section_liquidus(nickel: np.ndarray) -> np.ndarray:
    steels = pd.DataFrame({"Cr": 100.0 - _IRON - nickel, "Ni": nickel, "C": 0.0})
    return evaluate(steels, _LIQUIDUS).values[_LIQUIDUS].to_numpy()


def _sketched(figure: str) -> list[tuple[float, float]]:
    own = textbook_points().query("figure == @figure")
    return [*zip(own["content"], own["temperature_C"], strict=True)]


def _carbon() -> Element:
    table = textbook_points().query("figure == 'Fe-C'").set_index("point")
    at: dict[str, tuple[float, float]] = dict(zip(table.index, _sketched("Fe-C"), strict=True))
    graph = Graph((0, 5), (600, 1600), "C, %", "°C, iron with carbon", height=340)
    graph.field([(0, 1600), at["A"], at["B"], at["C"], (5, 1230), (5, 1600)], _MELT)
    graph.field([at["N"], at["J"], at["E"], at["S"], at["G"]], AUSTENITE)
    graph.field([at["A"], at["H"], at["N"]], FERRITE)
    graph.field([at["G"], at["P"], (0, 727)], FERRITE)
    end = (5.0, at["E"][1]), (5.0, at["S"][1])
    for names in ("ABC", "AHN", "NJE", "HB", "GSE", "GP"):
        graph.run([at[n] for n in names])
    graph.run([at["E"], end[0]])
    graph.run([at["P"], end[1]])
    graph.run([at["C"], (5, 1230)])
    graph.note(1.1, 1040, "austenite", anchor="middle", bold=True)
    graph.note(3.4, 1420, "melt", anchor="middle", bold=True)
    graph.note(3.4, 930, "austenite + cementite", anchor="middle")
    graph.note(3.5, 660, "ferrite + cementite", anchor="middle")
    graph.note(*at["S"], "pearlite 0.77", dx=8, dy=16)
    graph.note(*at["E"], "2.1", dx=4, dy=15)
    graph.note(*at["C"], "4.3", anchor="middle", dy=15)
    graph.note(*at["G"], "912 °C", dx=6, dy=-7)
    graph.note(*at["N"], "1394 °C", dx=4, dy=14)
    words = (
        "Iron with carbon. Austenite from 912 to 1394 °C in pure iron; carbon widens it down to "
        "727 °C at 0.77 % and up to 2.1 % at 1147 °C. Below lie ferrite and cementite."
    )
    return graph.tree(words=words)


def _loop() -> Element:
    points = textbook_points().query("figure == 'Fe-Cr'")
    from scipy.interpolate import PchipInterpolator

    # A curve through the points, in their order, which overshoots none of them.
    step = np.linspace(0, len(points) - 1, 61)
    x, y = PchipInterpolator(np.arange(len(points)), _sketched("Fe-Cr"))(step).T
    graph = Graph((0, 20), (600, 1600), "Cr, %", "°C, iron with chromium", height=340)
    graph.field([(0, 600), (20, 600), (20, 1500), (0, 1538)], _PALE_F)
    graph.field([(0, 1538), (20, 1500), (20, 1600), (0, 1600)], _MELT)
    graph.field([*zip(x, y, strict=True)], AUSTENITE)
    graph.line(x, y, QUIET, 2.0, "6 4")
    graph.note(5.2, 1100, "austenite", anchor="middle", bold=True)
    graph.note(15.5, 1250, "ferrite", anchor="middle", bold=True)
    nose = points.set_index("point").loc["nose"]
    beyond = ["beyond the nose", "no austenite,", "no martensite"]
    graph.note(nose["content"], nose["temperature_C"], beyond, dx=8, dy=-12)
    graph.note(10, 690, "ferrite", anchor="middle", bold=True)
    graph.note(20, 600, "through textbook points", anchor="end", dx=-4, dy=-8, colour=QUIET)
    words = (
        "Iron with chromium. Austenite is a loop that ends at about 12 % chromium near 1030 °C: "
        "with more, iron is ferrite from the melt to room temperature. Through textbook points, "
        "from memory."
    )
    return graph.tree(words=words)


def _from_above() -> Element:
    low, high = CATALOGUE[_MOST_AUSTENITE].ranges["Cr"]
    assert low is not None and high is not None
    carbon = np.linspace(0.0, 0.3, 31)
    full, none = (chromium_for(share, carbon) for share in (100.0, 0.0))
    graph = Graph((low, high), (0, 0.3), "Cr, %", "C, %, at 1050 to 1100 °C", height=340)
    whole = np.array([[low, 0], [high, 0], [high, 0.3], [low, 0.3]])
    graph.field(whole, "#ebe5da")
    graph.field([*zip(full, carbon, strict=True), (low, 0.3)], AUSTENITE)
    graph.field([*zip(none, carbon, strict=True), (high, 0.3), (high, 0.0)], _PALE_F)
    graph.line(full, carbon, INK, 2.0)
    graph.line(none, carbon, INK, 2.0)
    graph.note(11.3, 0.255, ["austenite alone:", "all of it becomes", "martensite"], bold=True)
    graph.note(14.6, 0.115, ["part of it"], anchor="middle", bold=True)
    graph.note(17.05, 0.008, "ferrite only →", anchor="end", bold=True)
    marks = [Mark(13.2, 0.21, "13Cr martensitic", 5), Mark(16.4, 0.04, "17Cr ferritic", 1)]
    graph.marks(marks)
    ends = (number(float(np.interp(c, carbon, full)), 3) for c in (0.0, 0.2))
    words = (
        "Plain chromium steels at 1050 to 1100 °C, computed: carbon pushes the nose of the loop to "
        "more chromium. Austenite alone up to {} % Cr without carbon and up to {} % Cr at "
        "0.2 % C."
    ).format(*ends)
    return graph.tree(words=words)
