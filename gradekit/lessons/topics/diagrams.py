"""Diagrams and welds on them: fields, readings, dilution."""

from __future__ import annotations

import numpy as np

from gradekit.diagrams.constitution import diagram
from gradekit.lessons.drawing_lots import STEELS_OF_FIELD, steel
from gradekit.lessons.exercise import Exercise, Picture
from gradekit.lessons.forms.amounts import steps
from gradekit.lessons.forms.charts import blind, path_of, place, read_chart, usable, well_inside, xy
from gradekit.lessons.forms.choices import Case, change, moved, outcome
from gradekit.lessons.forms.orders import rank
from gradekit.lessons.slips import field_slips, linear, value
from gradekit.lessons.template import Template
from gradekit.relations.topics import CATALOGUE

_TOPIC = "field of a diagram"
_CHART = "schaeffler_1949"
_WELDS = ["weld metal", "18Cr-8Ni", "CrNiMo"]


def _region(rng: np.random.Generator) -> Exercise:
    chart = diagram(_CHART)
    # The field first: of steels drawn at large, three in four would lie in one and the same.
    field = str(rng.choice(list(STEELS_OF_FIELD)))
    heat = well_inside(rng, chart, STEELS_OF_FIELD[field], field, 0.3)
    x, y = xy(chart, heat)
    return Exercise(
        _TOPIC,
        "In which field of the Schaeffler diagram (a reconstruction) does this steel lie as weld "
        "metal? Work out both equivalents first.",
        {"the steel": heat}, field, choices=chart.labels,
        mistakes=field_slips(chart, heat, field),
        elsewhere=f"This steel lies at ({x:.1f}, {y:.1f}), the chromium equivalent first: compare "
        "your two values with that, then find the point on the diagram.",
        solution=(*steps(heat, chart.axes[0]), *steps(heat, chart.axes[1]),
                  f"the point ({x:.1f}, {y:.1f}) lies in {field}"),
        relations=chart.axes, evidence=f"{chart.title}: {chart.caution}",
        picture=Picture(_CHART, (), path_of(chart, heat)),
    )  # fmt: skip


_MOVES = {"N": (0.03, 0.08), "Ni": (0.6, 1.6), "Mo": (0.4, 1.0), "Cr": (0.6, 1.6),
          "C": (0.01, 0.03), "Si": (0.2, 0.5)}  # fmt: skip


def _one_element(rng: np.random.Generator) -> Case:
    """What one element does to a ferrite number, told by where the point goes."""
    name = str(rng.choice(["wrc_1992", "delong_1973"]))
    chart, reading = diagram(name), f"ferrite_{name}"
    x_terms, y_terms = (linear(axis).terms for axis in chart.axes)
    element = str(rng.choice([e for e in _MOVES if e in x_terms or e in y_terms]))
    amount = float(f"{rng.uniform(*_MOVES[element]):.1g}")
    heat = steel(rng, "weld metal")
    after = moved(heat, element, amount)
    right = f"{element} counts in the chromium equivalent, the point moves to the right"
    up = f"{element} counts in the nickel equivalent, the point moves up, towards austenite"
    unit = CATALOGUE[reading].unit
    ends = tuple(("before", *xy(chart, h)) if h is heat else ("after", *xy(chart, h))
                 for h in (heat, after))  # fmt: skip
    return Case(
        f"This weld metal gets {amount:g} % more {element}.",
        f"its ferrite number ({chart.title})", {"the weld metal": heat},
        value(heat, reading), value(after, reading), unit,
        rises=(right, f"{element} counts in the nickel equivalent with a minus"),
        falls=(up, f"{element} counts in the chromium equivalent with a minus"),
        stays=f"this diagram does not count {element}",
        relations=(*chart.axes, reading), picture=Picture(name, (), ends),
    )  # fmt: skip


_AT_WRC = "ferrite_wrc_1992"

FIELD_TEMPLATES: tuple[Template, ...] = (
    Template("field by sums", _TOPIC, "compute", _region),
    place("field place", _TOPIC, _CHART, ["18Cr-8Ni", "CrNiMo", "weld metal", "25Cr-20Ni",
                                          "12Cr martensitic", "17Cr ferritic"], 0.6),
    outcome("field one element", _TOPIC, _one_element, 1.0),
    read_chart("field reading", _TOPIC, "wrc_1992", _WELDS, (2.5, 17.0), 1.0),
    change("field change", _TOPIC, _AT_WRC, _WELDS, (3.0, 8.0),
           [("N", 0.04), ("N", -0.03), ("Ni", 1.0), ("Ni", -1.0), ("Cr", 0.8), ("Cr", -0.8),
            ("Mo", 0.4), ("Mn", 1.0), ("Si", 0.3)], 0.7, state="this weld metal"),
    usable("field diagram", _TOPIC, ["17Cr ferritic", "13Cr", "25Cr-20Ni", "CrNiMo", "18Cr-8Ni"],
           {"a weld metal": "weld metal as deposited", "an annealed sheet": "annealed sheet"}),
    blind("field blind", _TOPIC, {"N": (0.03, 0.1), "Cu": (0.6, 2.0), "Mn": (0.6, 2.5),
                                  "Si": (0.2, 0.7)}),
    rank("field order", _TOPIC, _AT_WRC, ("weld metal", "weld metal", "18Cr-8Ni", "CrNiMo"), 2.0,
         by=("Cr", "ni_eq_wrc_1992", "cr_eq_wrc_1992", "C")),
)  # fmt: skip
