"""The reading of each constitution diagram as a relation, `ferrite_<name>`, from its file alone.

The diagrams of the library are reconstructions, not the printed figures, and not for code
acceptance.
"""

from __future__ import annotations

import re
from typing import Any

import numpy as np

from gradekit.core.linear import NotLinear, Sum, expression
from gradekit.diagrams.files import DiagramData, shipped, shipped_names
from gradekit.relations import groups
from gradekit.relations.declaration import CONDITIONS, Check, Linear, Relation
from gradekit.relations.topics._catalogue import CATALOGUE
from gradekit.relations.topics._ranges import HALF_MN


def declare(data: DiagramData, *, replace: bool = False) -> Relation:
    """Declare the reading of a diagram as a relation.

    Parameters
    ----------
    data : DiagramData
    replace : bool
        Whether a reading of that name may be there already.
    """
    name = _relation_name(data)
    x, y = CATALOGUE[data.x.relation], CATALOGUE[data.y.relation]
    fields: dict[str, Any] = {
        "name": name,
        "title": _title(data),
        "quantity": data.quantity,
        "unit": data.unit,
        "families": x.families,
        "state": "weld",
        "status": data.status,
        "source": data.source,
        "domain": f"{data.use}, inside the chart",
        "ranges": _ranges(name, data),
        "floor": data.ends[0],
        "ceiling": data.ends[1],
        "error": data.error,
        "error_basis": _basis(data),
        "check": data.check or _point_of_a_line(data),
        "note": " ".join([f"{data.status.capitalize()}, not for code acceptance.", *data.notes]),
    }
    if replace and name in CATALOGUE:
        CATALOGUE.remove(name)
    if (straight := _straight(data)) and isinstance(x, Linear) and isinstance(y, Linear):
        slopes = (f"{straight.slopes.get(k, 0.0)!r}*{r.name}" for k, r in (("x", x), ("y", y)))
        algebra = " + ".join([repr(straight.constant), *slopes])
        return CATALOGUE.linear(algebra=algebra, **fields)
    algebra = f"x = {data.x.relation}; y = {data.y.relation}; {data.value_algebra}"
    return CATALOGUE.function(algebra=algebra, **fields)


def reading_of(data: DiagramData) -> Relation | None:
    """Return the reading of a diagram, None where its name belongs to another one."""
    held = CATALOGUE.get(_relation_name(data))
    return held if held and held.title == _title(data) else None


def _relation_name(data: DiagramData) -> str:
    return "ferrite_" + re.sub(r"\W+", "_", data.name.lower())


def _title(data: DiagramData) -> str:
    return f"{data.quantity.capitalize()} from the {data.title} ({data.status})"


def _ranges(name: str, data: DiagramData) -> dict[str, tuple[float | None, float | None]]:
    # The equivalents' own ranges hold for what is read from them, as on the diagram itself.
    ranges = {
        element: ends
        for axis in (data.x, data.y)
        for element, ends in CATALOGUE[axis.relation].ranges.items()
        if element != "value" and element not in CATALOGUE and element not in CONDITIONS
    }
    ranges |= {axis.relation: (axis.low, axis.high) for axis in (data.x, data.y)}
    if data.open_end:
        # Named by itself, the value is looked at before it is shown as the end of the scale.
        ranges[name] = (None, data.high)
    return ranges


def _basis(data: DiagramData) -> str:
    words = [f"tolerance of the {data.status}, {data.tolerance['words']}"]
    if left_out := data.tolerance.get("hold_out"):
        words.append(
            "left out of the fit: {points} points, rmse {rmse} {unit}, bias {bias}, "
            "largest {largest}".format(unit=data.unit, **left_out)
        )
    second_look = data.tolerance.get("second_look")
    return "; ".join([*words, second_look] if second_look else words)


def _straight(data: DiagramData) -> Sum | None:
    """Return a reading with straight, parallel and equally spaced lines as a sum of x and y."""
    try:
        line = expression(data.value_algebra)
    except NotLinear:
        return None
    return line if isinstance(line, Sum) else None


def _point_of_a_line(data: DiagramData) -> Check:
    """Return a chromium-nickel steel that lies on an iso-line, and what is read there."""
    line = data.iso_lines[len(data.iso_lines) // 2]
    point = line.points[len(line.points) // 2]
    axes = [CATALOGUE[axis.relation] for axis in (data.x, data.y)]
    # both equivalents at no alloy, at 1 % Cr and at 1 % Ni
    steels = [{"Cr": 0.0, "Ni": 0.0}, {"Cr": 1.0, "Ni": 0.0}, {"Cr": 0.0, "Ni": 1.0}]
    none, cr, ni = (
        np.array([float(r.value({e: steel.get(e, 0.0) for e in r.elements})) for r in axes])
        for steel in steels
    )
    contents = np.linalg.solve(np.column_stack([cr - none, ni - none]), point - none)
    allowed = float(data.error.at(np.array([line.value]))[0])
    cr, ni = contents.tolist()
    return Check(
        {"C": 0.0, "N": 0.0, "Cr": cr, "Ni": ni}, line.value, "arithmetic", tolerance=allowed
    )


for _name in shipped_names():
    declare(shipped(_name))

CATALOGUE.add(
    CATALOGUE["ferrite_delong_1973"].variant(
        "fn_delong_linear",
        title="DeLong chart as one linear form",
        status="memory",
        source=("long_delong_1973", "delong_1974"),
        families=groups.AUSTENITIC,
        domain="Creq 16-27; Nieq 10-21; FN 0-18; Mn <=4",
        ranges=HALF_MN
        | {"cr_eq_delong_1973": (16, 27), "ni_eq_delong_1973": (10, 21), "value": (0, 18)},
        error=6.1,
        error_basis=(
            "rms on 39 castings read as %, bias -1.7 (recalled measured values); author claim "
            "+-3 FN in 90 % of 300-series welds (memory)"
        ),
        ceiling=None,
        note="= 3.34Creq - 2.46Nieq - 28.6; stand-in for DeLong only, never for WRC-1992",
    )
)
