"""Diagrams and welds on them: fields, readings, dilution."""

from __future__ import annotations

import numpy as np

from gradekit.diagrams.constitution import diagram
from gradekit.lessons.drawing_lots import STEELS_OF_FIELD, steel
from gradekit.lessons.exercise import Exercise, Picture
from gradekit.lessons.forms.charts import (
    blind,
    both_steps,
    path_of,
    place,
    read_chart,
    usable,
    well_inside,
    xy,
)
from gradekit.lessons.forms.choices import change, moved, outcome
from gradekit.lessons.forms.orders import rank
from gradekit.lessons.slips import field_slips, linear, value
from gradekit.lessons.template import form, on_topic
from gradekit.relations.topics import CATALOGUE

_CHART = "schaeffler_1949"
_WELDS = ["weld metal", "18Cr-8Ni", "CrNiMo"]


@form("compute")
def _region(rng: np.random.Generator) -> Exercise:
    """In which field a steel lies."""
    chart = diagram(_CHART)
    # The field first: of steels drawn at large, three in four would lie in one and the same.
    field = str(rng.choice(list(STEELS_OF_FIELD)))
    heat = well_inside(rng, chart, STEELS_OF_FIELD[field], field, 0.3)
    x, y = xy(chart, heat)
    return Exercise(
        "In which field of the Schaeffler diagram (a reconstruction) does this steel lie as weld "
        "metal? Work out both equivalents first.",
        {"the steel": heat}, field, choices=chart.labels,
        mistakes=field_slips(chart, heat, field),
        elsewhere=f"This steel lies at ({x:.1f}, {y:.1f}), the chromium equivalent first: compare "
        "your two values with that, then find the point on the diagram.",
        solution=(*both_steps(chart, heat), f"the point ({x:.1f}, {y:.1f}) lies in {field}"),
        relations=chart.axes, evidence=f"{chart.title}: {chart.caution}",
        picture=Picture(_CHART, (), path_of(chart, heat)),
    )  # fmt: skip


_MOVES = {"N": (0.03, 0.08), "Ni": (0.6, 1.6), "Mo": (0.4, 1.0), "Cr": (0.6, 1.6),
          "C": (0.01, 0.03), "Si": (0.2, 0.5)}  # fmt: skip


@form("reason")
def _one_element(rng: np.random.Generator) -> Exercise | None:
    """What one element does to a ferrite number, told by where the point goes."""
    name = str(rng.choice(["wrc_1992", "delong_1973"]))
    chart, reading = diagram(name), f"ferrite_{name}"
    counted = {term for axis in chart.axes for term in linear(axis).terms}
    element = str(rng.choice([e for e in _MOVES if e in counted]))
    amount = float(f"{rng.uniform(*_MOVES[element]):.1g}")
    before = steel(rng, "weld metal")
    after = moved(before, element, amount)
    return outcome(
        rng, f"This weld metal gets {amount:g} % more {element}.",
        f"its ferrite number ({chart.title})", {"the weld metal": before},
        (value(before, reading), value(after, reading)), CATALOGUE[reading].unit, 1.0,
        rises=(f"{element} counts in the chromium equivalent, the point moves to the right",
               f"{element} counts in the nickel equivalent with a minus"),
        falls=(f"{element} counts in the nickel equivalent, the point moves up, towards austenite",
               f"{element} counts in the chromium equivalent with a minus"),
        stays=f"this diagram does not count {element}", relations=(*chart.axes, reading),
        picture=Picture(name, (), (("before", *xy(chart, before)), ("after", *xy(chart, after)))),
    )  # fmt: skip


_AT_WRC = "ferrite_wrc_1992"

FIELD_TEMPLATES = on_topic(
    "field of a diagram",
    _region("field by sums"),
    place("field place", _CHART, ["18Cr-8Ni", "CrNiMo", "weld metal", "25Cr-20Ni",
                                  "12Cr martensitic", "17Cr ferritic"], 0.6),
    _one_element("field one element"),
    read_chart("field reading", "wrc_1992", _WELDS, (2.5, 17.0), 1.0),
    change("field change", _AT_WRC, _WELDS, (3.0, 8.0),
           [("N", 0.04), ("N", -0.03), ("Ni", 1.0), ("Ni", -1.0), ("Cr", 0.8), ("Cr", -0.8),
            ("Mo", 0.4), ("Mn", 1.0), ("Si", 0.3)], 0.7, state="this weld metal"),
    usable("field diagram", ["17Cr ferritic", "13Cr", "25Cr-20Ni", "CrNiMo", "18Cr-8Ni"],
           {"a weld metal": "weld metal as deposited", "an annealed sheet": "annealed sheet"}),
    blind("field blind", {"N": (0.03, 0.1), "Cu": (0.6, 2.0), "Mn": (0.6, 2.5), "Si": (0.2, 0.7)}),
    rank("field order", _AT_WRC, ("weld metal", "weld metal", "18Cr-8Ni", "CrNiMo"), 2.0,
         by=("Cr", "ni_eq_wrc_1992", "cr_eq_wrc_1992", "C")),
)  # fmt: skip
