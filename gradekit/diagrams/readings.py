"""Ferrite as the constitution diagrams give it: the closed forms of the diagram files.

All three diagrams are reconstructions, not the printed figures, and not for code acceptance.
"""

from gradekit.diagrams.files import DiagramData, shipped
from gradekit.relations import groups
from gradekit.relations.declaration import CONDITIONS, Check
from gradekit.relations.topics._catalogue import CATALOGUE, mix
from gradekit.relations.topics._checks import AUSTENITIC


def _common(name: str, data: DiagramData) -> dict:
    """What a reading takes from the file of its diagram."""
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
    second_look = data.tolerance.get("second_look", "")
    return {
        "title": f"{data.quantity.capitalize()} from the {data.title} (reconstruction)",
        "quantity": data.quantity,
        "unit": data.unit,
        "families": CATALOGUE[data.x.relation].families,
        "state": "weld",
        "status": data.status,
        "source": data.source,
        "domain": f"{data.use}, inside the chart",
        "ranges": ranges,
        "floor": data.low,
        "ceiling": data.high,
        "error": data.error,
        "error_basis": (
            f"tolerance of the reconstruction, {data.tolerance['words']}; left out of the fit: "
            "{points} points, rmse {rmse} {unit}, bias {bias}, largest {largest}".format(
                unit=data.unit, **data.tolerance["hold_out"]
            )
            + (f"; {second_look}" if second_look else "")
        ),
        "note": " ".join(["Reconstruction, not for code acceptance.", *data.notes]),
    }


def _declare(name: str, diagram: str, check: Check) -> None:
    data = shipped(diagram)
    algebra = f"x = {data.x.relation}; y = {data.y.relation}; {data.value_algebra}"
    CATALOGUE.function(name, algebra=algebra, check=check, **_common(name, data))


# No weld analysis with a measured ferrite number is at hand. Worked by hand from the equations.
_declare("ferrite_wrc_1992", "wrc_1992", Check(AUSTENITIC, 10.860619))
# A joint of 1.0401 with 1.4301 by 23 12 2 L filler: austenite with about 10 % ferrite at
# equivalents of 21.3 and 11.7. The text is printed, the coordinates are estimated; the
# composition is one that has these equivalents.
_declare(
    "ferrite_schaeffler_1949",
    "schaeffler_1949",
    Check(
        {"C": 0.03, "Si": 0.6, "Mn": 1.4, "Cr": 18.9, "Ni": 10.1, "Mo": 1.5},
        10.0,
        "printed",
        tolerance=4.0,
    ),
)
_DELONG = shipped("delong_1973").closed_form["parameters"]
CATALOGUE.linear(
    "fn_delong_linear",
    "DeLong chart as one linear form",
    **mix(
        (_DELONG["slope_x"], CATALOGUE["cr_eq_delong_1973"]),
        (_DELONG["slope_y"], CATALOGUE["ni_eq_delong_1973"]),
        intercept=_DELONG["constant"],
    ),
    quantity="ferrite number",
    unit="FN",
    families=groups.AUSTENITIC,
    state="weld",
    status="memory",
    source=(
        "long_delong_1973",
        "delong_1974",
    ),
    domain="Creq 16-27; Nieq 10-21; FN 0-18",
    ranges={"cr_eq_delong_1973": (16, 27), "ni_eq_delong_1973": (10, 21), "value": (0, 18)},
    error=6.1,
    error_basis=(
        "rms on 39 castings read as %, bias -1.7 (recalled measured values); author claim "
        "+-3 FN in 90 % of 300-series welds (memory)"
    ),
    floor=0.0,
    check=Check(AUSTENITIC, 9.6483),
    note="= 3.34Creq - 2.46Nieq - 28.6; stand-in for DeLong only, never for WRC-1992",
)
# Straight and parallel lines, so it stays a linear relation: the one already declared.
CATALOGUE.add(
    CATALOGUE["fn_delong_linear"].variant(
        "ferrite_delong_1973", **_common("ferrite_delong_1973", shipped("delong_1973"))
    )
)
