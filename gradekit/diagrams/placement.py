"""Points on a diagram: where they lie and what is read there."""

from __future__ import annotations

from typing import NamedTuple

import pandas as pd

from gradekit.core.aliases import Label
from gradekit.core.flags import Flag
from gradekit.core.markup import number, panel, small, table


class Spot(NamedTuple):
    """Where one heat lies: the columns of `Placement` for a single point."""

    x: float
    y: float
    region: str
    value: float
    tolerance: float
    flag: int


class Placement(pd.DataFrame):
    """Points on a diagram; a DataFrame that says in a page what the diagram is.

    Columns `x`, `y` (wt%), `region`, `value` and `tolerance` (unit of the diagram), `flag`.
    """

    _metadata = ("diagram",)

    @property
    def _constructor(self) -> type:
        return pd.DataFrame

    def words(self, label: Label) -> str:
        """Say in words what is to be said about one point; '' where there is nothing."""
        return Flag(int(self.at[label, "flag"])).words()

    def _repr_html_(self) -> str:
        drawn = self.diagram
        shown = pd.DataFrame(self).iloc[:201]
        shown["flag"] = [Flag(int(f)).words() for f in shown["flag"]]
        shown["region"] = shown["region"].astype(str)
        units = {"x": drawn.data.x.relation, "y": drawn.data.y.relation}
        units |= {"value": drawn.data.unit, "tolerance": f"± {drawn.data.unit}"}
        text = table(shown, drawn.title, units=units, wide=["flag"], digits=3)
        lead = ""
        if len(shown) == 1:
            (row,) = shown.itertuples()
            reading = f"{number(row.value, 3)} ± {number(row.tolerance, 2)} {drawn.data.unit}"
            lead = f"{row.Index}: field {row.region}, {reading}" if row.region else (
                f"{row.Index} lies outside the chart"
            )  # fmt: skip
        elif len(self):
            counts = self["region"].astype(str).replace("", "outside the chart").value_counts()
            told = ", ".join(f"{n} in {field}" for field, n in counts.items())
            lead = f"{len(self)} heats: {told.replace('in outside', 'outside')}"
        return panel(text, small(drawn.caution), lead=lead)
