"""Briefs drawn at random, and a second formulation that shares nothing with the library's solver.

The rows are made here by loops over the declared terms, and solved by the interior-point method;
the library uses its own rows and the simplex method.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from scipy.optimize import linprog

import gradekit as gk
from gradekit.relations.topics import CATALOGUE

DATA = Path(__file__).resolve().parents[2] / "data"
ELEMENTS = "C Si Mn Cr Ni Mo N Cu Nb Ti V W Al Co P S".split()
MIDDLE = np.array([0.05, 0.5, 4, 18, 5, 1, 0.15, 1, 0.1, 0.1, 0.1, 0.3, 0.05, 0.1, 0.03, 0.005])
# Linear relations of very different slopes; their ranges are left out of the random briefs. A
# stacking fault energy is refused as a target.
NAMES = [
    n for n, r in CATALOGUE.items()
    if r.form == "linear" and r.plain and "Fe" not in r.terms and set(r.terms) <= set(ELEMENTS)
    and r.floor is None and r.ceiling is None and r.quantity != "stacking fault energy"
]  # fmt: skip
#: The lean grade of the works, its limits partly curved; no relation of Md30 holds for it.
WORKS = dict(
    bounds={"C": (0.02, 0.08), "Si": (0.2, 1.0), "Mo": (0.05, 0.6), "Cu": (0.2, 2.5), "P": 0.03,
            "S": 0.002, "Ni": (0, 4.5)},
    limits={"pren_16n": (19, None), "md30_nohara_1977": (None, 20), "ferrite_wrc_1992": (1, 16),
            "pn2_needed_sieverts": (None, 0.9)},
    within="1.4376",
    conditions={"grain_size_astm": 7, "temperature_C": 1500.0},
    name="TW-18L",
)  # fmt: skip


def random_brief(rng: np.random.Generator, elements: int = 8, limits: int = 6, tight: float = 1.0):
    """Return a brief around a composition; `tight` below 0 makes it unlikely to be met."""
    used = list(rng.choice(ELEMENTS, elements, replace=False))
    used = list(dict.fromkeys([*used, "Cr", "Ni", "C", "N"]))
    middle = {e: MIDDLE[ELEMENTS.index(e)] * rng.uniform(0.6, 1.4) for e in used}
    bounds = {e: (0.4 * m, 1.7 * m) for e, m in middle.items()}
    asked = {}
    for name in rng.choice(NAMES, limits, replace=False):
        relation = CATALOGUE[name]
        value = relation.intercept + sum(k * middle.get(e, 0.0) for e, k in relation.terms.items())
        swing = sum(abs(k) * middle.get(e, 0.0) for e, k in relation.terms.items()) + 1e-3
        room = tight * swing * rng.uniform(0.0, 0.1)
        asked[str(name)] = (value - room, None) if rng.random() < 0.5 else (None, value + room)
    weights = {e: float(rng.uniform(0.5, 3.0)) * (1 if rng.random() < 0.8 else -1) for e in used}
    return gk.Brief(bounds, asked, minimise=weights, stay_in_range=False)


def as_rows(brief, skip: tuple = ()):
    """Return (cost, rows, ends, bounds) of a linear brief, leaving out named demands."""
    names = list(brief.variables)
    rows, ends = [], []
    for key, (low, high) in brief.limits.items():
        relation = CATALOGUE[key]
        row = np.zeros(len(names))
        for i, element in enumerate(names):
            row[i] = relation.terms.get(element, 0.0)
        if high is not None and (key, 1) not in skip:
            rows.append(row)
            ends.append(high - relation.intercept)
        if low is not None and (key, -1) not in skip:
            rows.append(-row)
            ends.append(relation.intercept - low)
    box = []
    for element in names:
        low, high = brief.bounds[element]
        box.append((0.0 if (element, -1) in skip else low, 100.0 if (element, 1) in skip else high))
    rows.append(np.ones(len(names)))
    ends.append(100.0)
    cost = np.zeros(len(names))
    for i, element in enumerate(names):
        cost[i] = brief.minimise.get(element, 0.0)
    return cost, np.array(rows), np.array(ends), box


def second_opinion(brief, skip: tuple = ()):
    """Return the optimum of a linear brief by the interior-point method, None if there is none."""
    cost, rows, ends, box = as_rows(brief, skip)
    found = linprog(cost, A_ub=rows, b_ub=ends, bounds=box, method="highs-ipm")
    return found.fun if found.status == 0 else None
