"""Many exercises of every template, and their values by a second reading."""

from functools import cache

import numpy as np
import second_reading
from second_reading import LINEAR, full, linear

import gradekit as gk
from gradekit.lessons.exercise import Exercise
from gradekit.lessons.sets import TEMPLATES

__all__ = ["DRAWS", "drawn", "given", "steel_of", "value_by_second_reading"]

DRAWS = 200


@cache
def drawn(name: str) -> list[Exercise]:
    """Return the exercises of a template."""
    return [TEMPLATES[name].draw(np.random.default_rng([seed, 9])) for seed in range(DRAWS)]


def given(exercise: Exercise, answer) -> str:
    """Return an answer as a student gives it."""
    if exercise.form == "order":
        return " > ".join(answer)
    return "; ".join(map(str, answer)) if exercise.form == "point" else str(answer)


def steel_of(exercise: Exercise) -> dict[str, float]:
    (heat,) = exercise.heats.values()
    return heat


def value_by_second_reading(name: str, heat: dict[str, float], **conditions: float) -> float:
    """Return the value of a relation without the library's declarations and formulas."""
    if name in LINEAR:
        return linear(name, heat)
    if name in ("ferrite_wrc_1992", "ferrite_schaeffler_1949", "ferrite_delong_1973"):
        return _between_the_lines(name.removeprefix("ferrite_"), heat)
    c = full(heat)
    if name == "n_margin_castable":
        kelvin = second_reading.liquidus_aymard_extended(c) + 273.15
        holds = second_reading.n_solubility_recommended(
            {**c, "Ti": 0.0, "Al": 0.0}, temperature_K=kelvin, pN2_atm=1
        )
        ratio = second_reading.cr_ni_ratio_hammar(c)
        return holds * np.interp(ratio, [1.43, 1.55], [1.0, 0.78]) - c["N"]
    return getattr(second_reading, name)(c, **conditions)


def _between_the_lines(chart: str, heat: dict[str, float]) -> float:
    """Read ferrite as an eye does, straight between the drawn lines; nothing above the first."""
    drawing = gk.diagram(chart)
    x, y = (linear(axis, heat) for axis in drawing.axes)
    heights = {}
    for value, points in drawing.iso_lines:
        along, up = np.array(points).T
        order = np.argsort(along)
        if along.min() <= x <= along.max():
            heights[value] = float(np.interp(x, along[order], up[order]))
    values = sorted(heights, key=heights.get)
    return float(np.interp(y, [heights[v] for v in values], values))
