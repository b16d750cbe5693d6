"""Answers of the course that are read from a chart; beyond its border nothing counts as read."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.core.flags import Flag
from gradekit.diagrams.constitution import diagram
from gradekit.diagrams.dilution import Weld, weld
from gradekit.lessons.answer import Answer
from gradekit.lessons.steels import STEELS

_OFF = "outside the chart"


def _remarks(flags: pd.Series) -> list[str]:
    return [Flag(int(flag)).words() for flag in flags]


def _on_chart(placed: pd.DataFrame) -> np.ndarray:
    """Which points lie on the chart; beyond its border its lines are only carried on."""
    return (placed["flag"].to_numpy(dtype=int) & int(Flag.OUTSIDE_DIAGRAM)) == 0


def course_weld() -> Weld:
    """Return the weld of the course: mild steel to 18Cr-8Ni with a 23Cr-13Ni wire."""
    return weld(STEELS["mild steel"], STEELS["18Cr-8Ni"], STEELS["23Cr-13Ni wire"], steps=1001)


def fields_answer() -> Answer:
    """On how many diagrams one steel shows ferrite."""
    charts = [diagram(name) for name in ("schaeffler_1949", "delong_1973", "wrc_1992")]
    placed = pd.concat([pd.DataFrame(chart.locate(STEELS["lean nickel"])) for chart in charts])
    placed.index = pd.Index([chart.title for chart in charts], name="diagram")
    on_chart, reading, off = _on_chart(placed), placed["value"], placed["tolerance"]
    shown = pd.DataFrame(
        {
            "field": np.where(on_chart, placed["region"].astype(str), _OFF),
            "reading": reading, "±": off, "unit": [chart.data.unit for chart in charts],
            "remark": _remarks(placed["flag"]),
        },
        index=placed.index,
    )  # fmt: skip
    beyond = ", ".join(placed.index[~on_chart])
    left = (
        " Beyond the border of a chart its lines are only carried on: the reading there "
        f"({beyond}) counts as possible, not as read."
    )
    return Answer(
        float((on_chart & (reading > 0)).sum()), float((on_chart & (reading > off)).sum()),
        float((reading + off > 0).sum()), f"of {len(charts)} diagrams",
        "Schaeffler's chart leaves nitrogen out, DeLong's counts it, WRC-1992 counts it less and "
        "leaves manganese out. Believe the one whose own steels were like yours: for 4 % "
        f"manganese and more, none of the three.{left if beyond else ''}",
        "surely above zero to possibly above zero, within the tolerance of each reading",
        shown, "The lean-nickel steel on three diagrams",
        tuple(dict.fromkeys(axis for chart in charts for axis in chart.axes)), of=len(charts),
    )  # fmt: skip


def dilution_answer() -> Answer:
    """Up to which dilution the weld of the course keeps 3 FN."""
    joint = course_weld()
    placed = joint.placed
    dilution = 100 * joint.line.index.to_numpy(dtype=float)
    value, off = (placed[c].to_numpy(dtype=float) for c in ("value", "tolerance"))
    on_chart = _on_chart(placed)

    def last(keeps: np.ndarray) -> float:
        keeps = keeps & on_chart
        return float(dilution[keeps].max()) if keeps.any() else 0.0

    some = pd.DataFrame(placed)[["x", "y", "region", "value", "tolerance"]].iloc[:601:100]
    some = some.astype({"region": str}).assign(remark=_remarks(placed["flag"].iloc[:601:100]))
    some.loc[~on_chart[:601:100], "region"] = _OFF
    some.index = pd.Index([f"{d:.0f} %" for d in dilution[:601:100]], name="dilution")
    edge = last(on_chart)
    leaves = (
        "" if on_chart.all()
        else f" The line leaves the chart at {edge:.1f} % dilution; beyond, its lines are only "
        "carried on, and no reading counts."
    )  # fmt: skip
    kept = joint.keeps()
    between = (
        "No dilution keeps 3 to 8 FN" if kept is None
        else f"3 to 8 FN are kept from {100 * kept[0]:.0f} to {100 * kept[1]:.0f} % dilution"
    )  # fmt: skip
    return Answer(
        last(value >= 3), last(value - off >= 3), (high := last((value > 0) & (value + off >= 3))),
        "% dilution",
        f"Every weld of the joint lies on the straight line from the wire to the mixture of both "
        f"parents. {between}; beyond, austenite without ferrite may crack hot, and further on "
        f"martensite waits.{leaves}",
        "the tolerance of the diagram" + (", up to its border" if high == edge else ""),
        some, "Along the line on the WRC-1992 diagram (x, y in wt%, value in FN)",
        joint.diagram.axes, f"{joint.diagram.title}: {joint.diagram.caution}",
    )  # fmt: skip
