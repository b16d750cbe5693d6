"""Chapter 8: a map of cold reduction and strip temperature, with the band of the Md30 forms."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

import numpy as np
import pandas as pd

from gradekit.core.markup import number
from gradekit.lessons.scenes.frame import Play, Scene, Slot
from gradekit.pictures.graph import Graph
from gradekit.pictures.marks import Mark
from gradekit.pictures.style import COLOURS
from gradekit.relations.topics import CATALOGUE
from gradekit.works.cold.martensite import kinetics, martensite, md30_forms, strain_of

_REDUCTION = np.linspace(2.0, 70.0, 35)
_COLD, _WARM = -60.0, 160.0
_SHARES = (0.1, 0.5)


def look(steel: pd.DataFrame, numbers: Mapping[str, float]) -> Scene:
    """Draw where cold rolling makes 10 % and 50 % martensite, between the forms of Md30."""
    reduction, celsius = numbers["reduction_pct"], numbers["temperature_C"]
    forms = md30_forms(steel, numbers["grain_size_astm"]).iloc[0]
    known = forms.dropna()
    graph = Graph((0, 70), (_COLD, _WARM), "cold reduction, %", "strip, °C")
    for share, style in zip(_SHARES, (1, 0), strict=True):
        if known.empty:
            break
        base = temperature_for(share)
        low, high = base + float(known.min()), base + float(known.max())
        graph.area(_REDUCTION, low, high, COLOURS[style], 0.25)
        graph.line(_REDUCTION, low, COLOURS[style], 1.2)
        graph.line(_REDUCTION, high, COLOURS[style], 1.2)
        # The name stands in the middle of the band, on the part of it that is seen.
        middle = (low + high) / 2
        seen = np.flatnonzero((middle > _COLD + 36) & (middle < _WARM - 40))
        if len(seen):
            at = seen[int(len(seen) * (0.75 if share < 0.3 else 0.6))]
            graph.note(float(_REDUCTION[at]), float(middle[at]), f"{100 * share:g} %", dy=4,
                       anchor="middle", colour=COLOURS[style], bold=True)  # fmt: skip
    graph.note(0.8, _WARM - 22, "warm and little worked: austenite")
    graph.note(69, _COLD + 10, "cold and hard worked: martensite", anchor="end")
    graph.marks([Mark(reduction, celsius, "this strip", 3)])
    strain = float(strain_of(reduction))
    shares = 100.0 * martensite(strain, celsius, forms.to_numpy())
    rows = pd.DataFrame(
        {"Md30, °C": forms.to_numpy(), "martensite, %": shares,
         "status": [CATALOGUE[n].status for n in forms.index]},
        index=pd.Index([CATALOGUE[n].title for n in forms.index], name="published form"),
    )  # fmt: skip
    if known.empty:
        words = "No form gives an Md30: chromium, nickel, carbon and nitrogen have to be known."
    else:
        least, most = (number(float(v), 2) for v in (np.nanmin(shares), np.nanmax(shares)))
        words = (
            f"After {reduction:g} % at {celsius:g} °C: {least} to {most} % martensite, between "
            f"{len(known)} published forms of Md30 ({known.min():.0f} to {known.max():.0f} °C)."
        )
    note = (
        f"Bands: 10 and 50 % martensite between the forms. Kinetics: {kinetics()}. The strip heats "
        "itself by 30 to 60 °C in a pass; a works measures martensite with a magnet."
    )
    return Scene((graph.tree("Martensite in cold rolling", words),), words, rows,
                 "Four publications, one strip", note)  # fmt: skip


@cache
def temperature_for(share: float) -> np.ndarray:
    """Return how far above Md30 a strip has so much martensite, a value a reduction of the map, °C.

    Examples
    --------
    >>> above = temperature_for(0.5)
    >>> strain = strain_of(_REDUCTION)
    >>> bool(np.allclose(martensite(strain, above, 0.0), 0.5, atol=1e-3))
    True
    """
    grid = np.linspace(-400.0, 400.0, 8001)
    shares = martensite(strain_of(_REDUCTION)[:, None], grid[None, :], 0.0)
    return np.array([np.interp(-share, -row, grid) for row in shares])


PLAY = Play(
    "martensite", "Cold reduction and temperature", "18Cr-8Ni", look,
    (Slot("reduction_pct", "reduction, %", 0.0, 70.0, 1.0, 20.0, 0.0, 90.0),
     Slot("temperature_C", "strip, °C", -60.0, 160.0, 5.0, 20.0, -196.0, 300.0),
     Slot("grain_size_astm", "grain, ASTM", 4.0, 12.0, 0.5, 8.0, -3.0, 14.0)),
)  # fmt: skip
