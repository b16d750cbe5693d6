"""Nitrogen in the melt, and martensite that strain makes: two laws as pictures."""

from __future__ import annotations

from collections.abc import Iterator
from xml.etree.ElementTree import Element

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike
from gradekit.core.errors import InputError, said
from gradekit.core.markup import number
from gradekit.heats.batch import as_batch, one_heat
from gradekit.pictures.grains import chord, grains, joined, laths, plate
from gradekit.pictures.graph import Graph
from gradekit.pictures.microstructures import AUSTENITE, EDGE, MARTENSITE
from gradekit.pictures.paper import (
    LINE,
    frame,
    outline,
    paper,
    shifted,
    strokes,
    text_lines,
    wrapped,
    writing,
)
from gradekit.pictures.sketch import Sketch
from gradekit.pictures.style import COLOURS
from gradekit.relations.evaluate import evaluate
from gradekit.relations.topics import CATALOGUE
from gradekit.works.cold.martensite import kinetics, martensite, md30_forms, strain_of

_SOLUBILITY = "n_solubility_recommended"
_W, _H, _GAP = 132, 104, 9


def nitrogen_in_melt(heats: HeatsLike, temperature_C: float = 1600.0) -> Sketch:
    """Draw how much nitrogen a melt holds: against chromium, and against the pressure above it.

    Parameters
    ----------
    heats : anything `as_batch` takes
        Steels of the second picture, wt%; at most six.
    temperature_C : float
        Of the melt.

    Returns
    -------
    Sketch
        Computed from the library's relation (Sieverts' law with the interactions of the elements).

    Raises
    ------
    InputError
        No steel, or more than six.

    Examples
    --------
    >>> steel = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "Mo": 0.2}
    >>> len(nitrogen_in_melt(steel).parts)
    2
    """
    batch = as_batch(heats)
    if not 1 <= len(batch) <= 6:
        raise InputError("heats", "one to six steels", said(f"{len(batch)}"))
    relation = CATALOGUE[_SOLUBILITY]
    rests_on = (
        f"Computed: {relation.title} ({relation.status}), at {temperature_C:g} °C; ± 8 % of the "
        "value. Nitrogen dissolves atom by atom: twice as much asks for four times the pressure."
    )
    parts = (_against_chromium(temperature_C), _against_pressure(batch, temperature_C))
    return Sketch(parts, "Nitrogen in liquid steel", rests_on, columns=2)


def dissolved(heats: pd.DataFrame, temperature_C: float, pressure_atm: float) -> np.ndarray:
    """Return the nitrogen that melts hold below nitrogen of a pressure, wt%."""
    result = evaluate(heats, _SOLUBILITY, temperature_C=temperature_C, pN2_atm=pressure_atm)
    return result.values[_SOLUBILITY].to_numpy()


def martensite_under_strain(
    heat: HeatsLike, temperatures_C: tuple[float, ...] = (20.0, 80.0), grain_size_astm: float = 8.0
) -> Sketch:
    """Draw what strain does to lean austenite, and how much martensite it makes.

    Parameters
    ----------
    heat : anything `as_batch` takes, one heat, wt%
    temperatures_C : numbers
        Of the strip, one or two.
    grain_size_astm : float
        For the form of Md30 that asks for it.

    Returns
    -------
    Sketch
        Three sketched states, and the share of martensite against cold reduction as the band
        between all published forms of Md30.

    Raises
    ------
    InputError
        More than one heat, more than two temperatures.

    Examples
    --------
    >>> steel = {"C": 0.04, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "Mo": 0.2, "N": 0.05}
    >>> len(martensite_under_strain(steel).parts)
    2
    """
    batch = one_heat(heat)
    if not 1 <= len(temperatures_C) <= 2:
        raise InputError("temperatures_C", "one or two temperatures", said(f"{temperatures_C}"))
    forms = md30_forms(batch, grain_size_astm).iloc[0].dropna()
    if forms.empty:
        raise InputError("heat", "complete enough for an Md30", said("no value"))
    reduction = np.linspace(0.0, 70.0, 36)
    graph = Graph((0, 70), (0, 100), "cold reduction, %", "martensite, %")
    told = []
    for k, celsius in enumerate(temperatures_C):
        low, high = strain_band(reduction, celsius, forms)
        colour = COLOURS[k]
        graph.area(reduction, low, high, colour, 0.22)
        graph.line(reduction, low, colour, 1.2)
        graph.line(reduction, high, colour, 1.2)
        at = (0.36, 0.72)[k] * 70
        middle = float(np.interp(at, reduction, (low + high) / 2))
        graph.note(at, middle, f"{celsius:g} °C", anchor="middle", colour=colour, bold=True)
        ends = (float(np.interp(40, reduction, v)) for v in (low, high))
        told.append("at {:g} °C {} to {} %".format(celsius, *(number(e, 2) for e in ends)))
    words = f"Martensite after 40 % cold reduction, between the forms of Md30: {'; '.join(told)}."
    rests_on = (
        f"The states are sketches. Band: {len(forms)} published forms of Md30, from "
        f"{forms.min():.0f} to {forms.max():.0f} °C for {batch.index[0]} (grain size ASTM "
        f"{grain_size_astm:g}); kinetics {kinetics()}."
    )
    parts = (_states(), graph.tree(words=words))
    return Sketch(parts, "Martensite under strain", rests_on, columns=2)


def strain_band(
    reduction_pct: np.ndarray, temperature_C: float, md30_C: pd.Series
) -> tuple[np.ndarray, np.ndarray]:
    """Return the least and the most martensite between the forms of Md30, %."""
    shares = 100.0 * martensite(
        strain_of(reduction_pct)[:, None], temperature_C, md30_C.to_numpy()[None, :]
    )
    return shares.min(axis=1), shares.max(axis=1)


def _against_chromium(celsius: float) -> Element:
    chromium = np.linspace(0.0, 30.0, 31)
    kinds = {"iron and chromium": {}, "with 8 % nickel": {"Ni": 8.0},
             "with 10 % manganese": {"Mn": 10.0}}  # fmt: skip
    plain = {"C": 0.0, "Si": 0.0, "Mn": 0.0, "Ni": 0.0, "Mo": 0.0}
    graph = Graph((0, 30), (0, 0.8), "Cr, %", "N, % at 1 atm of nitrogen")
    told = []
    for k, (name, more) in enumerate(kinds.items()):
        steels = pd.DataFrame({**plain, **more, "Cr": chromium})
        held = dissolved(steels, celsius, 1.0)
        graph.line(chromium, held, COLOURS[k], 2.2)
        graph.note(1.0, 0.74 - 0.055 * k, name, colour=COLOURS[k], bold=True)
        told.append(f"{name}: {number(float(np.interp(18, chromium, held)), 2)} %")
    words = (
        f"Nitrogen that a melt holds at {celsius:g} °C below 1 atm of nitrogen. At 18 % chromium, "
        + "; ".join(told) + ". Chromium and manganese hold nitrogen in the melt, nickel drives "
        "it out."
    )  # fmt: skip
    return graph.tree(words=words)


def _against_pressure(batch: pd.DataFrame, celsius: float) -> Element:
    pressure = np.linspace(0.0, 1.0, 41) ** 2  # dense where the curve is steep
    held = {
        str(name): dissolved(batch.loc[[name]], celsius, 1.0)[0] * np.sqrt(pressure)
        for name in batch.index
    }
    top = max(0.05, 1.15 * max(float(v[-1]) for v in held.values()))
    graph = Graph((0, 1), (0, top), "pressure of nitrogen, atm", "N, %")
    told = []
    for k, (name, content) in enumerate(held.items()):
        graph.line(pressure, content, COLOURS[k], 2.2)
        graph.note(0.02, top * (0.94 - 0.065 * k), name, colour=COLOURS[k], bold=True)
        told.append(f"{name}: {number(float(content[-1]), 2)} %")
    words = (
        f"Nitrogen against its pressure above the melt at {celsius:g} °C. At 1 atm: "
        f"{'; '.join(told)}; at a quarter of it half as much."
    )
    return graph.tree(words=words)


def _states() -> Element:
    told = (
        ("annealed", "Austenite with a few twins."),
        ("bent a little", "Thin bands of shear; where two cross, martensite begins."),
        ("rolled hard", "Martensite has eaten most of the grains: strong, magnetic."),
    )
    parts: list[Element] = []
    below = [wrapped(words, _W - 4) for _, words in told]
    for k, (title, _) in enumerate(told):
        x = k * (_W + _GAP)
        parts += [shifted(joined(_strained(k)), x, 0), frame(_W, _H, x, 0.5)]
        parts += [writing(title, x + 2, _H + 19, bold=True), *text_lines(below[k], x + 2, _H + 36)]
    words = "Three states: " + " ".join(f"{title}: {text}" for title, text in told)
    height = _H + 44 + LINE * (max(map(len, below)) - 1)
    return paper(3 * _W + 2 * _GAP, height, *parts, words=words)


def _strained(state: int) -> Iterator[Element]:
    for k, cell in enumerate(grains(_W, _H, 3, 17)):
        fill = MARTENSITE if state == 2 and k % 4 else AUSTENITE
        yield outline(cell, fill=fill, stroke=EDGE, stroke_width=1)
        middle, angle = cell.mean(axis=0), 0.5 + 0.8 * k
        if state == 0 and k % 3 == 0:
            yield strokes(laths(0.6 * (cell - middle) + middle, angle, 9.0), EDGE, 1.0)
        if state == 1:
            bands = [chord(cell, middle + off, turn) for turn in (angle, angle + 1.1)
                     for off in ((0, 0), (6, 6))]  # fmt: skip
            yield strokes([b for b in bands if b is not None], EDGE, 1.0)
            lens = np.array([[-6.0, -3.0], [6.0, 3.0]]) + middle
            yield outline(plate(lens, 6.0), fill=MARTENSITE)
        if state == 2 and k % 4:
            yield strokes(laths(cell, angle, 6.0), "#b9aed3", 1.0)
