"""The dilution explorer: two parents and a wire, the line of their welds across a diagram."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields, replace
from typing import Any
from xml.etree.ElementTree import Element

import numpy as np
import pandas as pd

from gradekit.app.given import Code
from gradekit.app.pages.drawing import CHART_WIDTH, DIAGRAMS, START, Group
from gradekit.app.panels import comparison
from gradekit.app.panels.drawn import DrawnPanel
from gradekit.app.state import Part, attribute
from gradekit.app.views import View
from gradekit.app.widgets.fields import element_field
from gradekit.app.widgets.numbers import Field
from gradekit.core.aliases import HeatsLike
from gradekit.core.errors import InputError, one_of, said
from gradekit.core.flags import Flag
from gradekit.core.markup import Column, Html, columns_table, number, tag
from gradekit.core.svg import drawing, shape, stacked
from gradekit.diagrams.constitution import diagram as named_diagram
from gradekit.diagrams.dilution import Weld, weld
from gradekit.diagrams.placement import Spot
from gradekit.heats.batch import as_batch
from gradekit.pictures.draw import background
from gradekit.pictures.marks import Mark, ToPixels
from gradekit.pictures.overlay import overlay
from gradekit.relations.evaluate import evaluate
from gradekit.relations.listing import resolve

_PARTS = {"first": "First parent", "second": "Second parent", "wire": "Wire"}
_STEPS = 201
_LINE, _KEPT = "#20262e", "#0b7a4b"
_FIELDS = (
    Field("dilution", 0.0, 100.0, 1.0, 0.0, 100.0, "share of molten parent metal, %",
          label="dilution, %", unit="%"),
    Field("share", 0.0, 100.0, 5.0, 0.0, 100.0, "of the molten parent metal, from the first, %",
          label="from first, %", unit="%"),
    Field("low", 0.0, 20.0, 0.5, 0.0, 100.0, "least ferrite, in the unit of the diagram",
          label="ferrite from"),
    Field("high", 0.0, 30.0, 0.5, 0.0, 100.0, "most ferrite, in the unit of the diagram",
          label="ferrite to"),
    Field("layers", 1.0, 6.0, 1.0, 1.0, 20.0, "layers buttered on the first parent",
          label="layers"),
)  # fmt: skip


@dataclass(frozen=True)
class Joint:
    """A weld being tried; shares in %."""

    first: str
    second: str
    wire: str
    diagram: str = "wrc_1992"
    dilution: float = 30.0
    share: float = 50.0
    low: float = 3.0
    high: float = 8.0
    layers: float = 3.0


_NUMBERS = Part(
    "weld",
    lambda joint: {field.name: getattr(joint, field.name) for field in _FIELDS},
    lambda joint, values: replace(joint, **values),
)


def weld_explorer(
    heats: HeatsLike, first: str, second: str, wire: str, diagram: str = "wrc_1992", **start: float
) -> WeldExplorer:
    """Move the dilution of a weld and see where it lies, and which dilutions keep the ferrite.

    Parameters
    ----------
    heats : anything `as_batch` takes, wt%
        Parents and wires to choose from.
    first, second, wire : names of heats
        The same parent may stand twice.
    diagram : 'wrc_1992', 'schaeffler_1949' or 'delong_1973'
    **start : float
        `dilution` and `share` (of the first parent in the molten parent metal) in %, `low` and
        `high` in the unit of the diagram, `layers`.

    Returns
    -------
    WeldExplorer
        Live where a kernel runs, with a picture to read elsewhere. The diagrams are
        reconstructions and not for code acceptance.

    Raises
    ------
    InputError
        A heat, a diagram or a start that there is not, or a number outside its ends.

    Examples
    --------
    >>> heats = {"C": [.15, .04, .015], "Cr": [.1, 18.2, 23.5], "Ni": [.1, 8.1, 13.0],
    ...          "N": [.005, .05, .06], "Mo": [0, .2, .1], "heat": ["plate", "sheet", "wire"]}
    >>> panel = weld_explorer(heats, "plate", "sheet", "wire", dilution=20)
    >>> panel.numbers.enter("dilution", "30")
    >>> panel.state.dilution
    30.0
    """
    ends = {field.name: field for field in _FIELDS}
    for name in start:
        one_of("start of the explorer", name, ends)
    numbers: dict[str, Any] = {n: ends[n].read(str(value)) for n, value in start.items()}
    return WeldExplorer(as_batch(heats), Joint(first, second, wire, diagram, **numbers))


class WeldExplorer(DrawnPanel):
    """The panel made by `weld_explorer`."""

    kind = "weld"
    told_below = True
    title = "Dilution explorer"

    def __init__(self, heats: pd.DataFrame, joint: Joint):
        self.heats = heats.set_axis(heats.index.map(str))
        self.diagrams = {name: named_diagram(name) for name in DIAGRAMS}
        self.elements = _listed(self.heats)
        self._check(joint, "")
        self._kept: dict[Joint, Weld] = {}
        drawn = self.diagrams.values()
        self.relations = resolve([n for d in drawn for n in (*d.axes, f"ferrite_{d.name}")])
        super().__init__(joint, "my-weld")
        titles = [(drawn.title, name) for name, drawn in self.diagrams.items()]
        heats = [
            self.choice(word, self.heats.index, attribute(part)) for part, word in _PARTS.items()
        ]
        chart = self.choice("Diagram", titles, attribute("diagram"))
        self.numbers = self.boxes(_FIELDS, _NUMBERS, "Weld")
        self.lay([*heats, chart, self.numbers])

    def moving(self, state: Joint) -> View:
        return self._view(state, self.history.first)

    def alone(self, state: Joint) -> View:
        return self._view(state, state)

    def _view(self, state: Joint, start: Joint) -> View:
        joint, to_px = self.weld_of(state), self._picture(state)[1]
        metals = _metals(state, joint)
        spots = joint.diagram.spots(metals)
        kept = joint.keeps(state.low, state.high)
        x, y = (joint.placed[axis].to_numpy() for axis in "xy")
        words = _in_words(state, spots[0], kept, joint)
        marks = [
            Mark(x[-1], y[-1], "both parents", 2),
            Mark(x[0], y[0], state.wire, 1),
            *(
                Mark(spot.x, spot.y, name, 3)
                for spot, name in zip(spots[1:], metals.index[1:], strict=True)
                if spot.region
            ),
            Mark(spots[0].x, spots[0].y, f"{state.dilution:g} %", 0),
        ]
        marks = [m for m in marks if np.isfinite(m.x + m.y)]
        ends = None if kept is None else np.searchsorted(joint.line.index, kept)
        picture = stacked(_lines(to_px, x, y, ends), overlay(to_px, marks, words=words))
        note = (
            f"{joint.diagram.title}: {joint.diagram.caution}. Mixing is by mass; losses and "
            "pick-up in the arc are left out."
        )
        results = (evaluate(self._metal(one), self.relations) for one in (state, start))
        below = (
            tag("p", words, data_of="words"),
            _metals_table(state, joint, metals, spots),
            tag("p", note, class_="s", data_of="note"),
            comparison.values_table(comparison.compared(*results), START),
        )
        return View((picture,), below)

    def _metal(self, state: Joint) -> pd.DataFrame:
        return self.weld_of(state).at(state.dilution / 100)

    def spoken(self, state: Joint) -> str:
        joint = self.weld_of(state)
        (spot,) = joint.diagram.spots(self._metal(state))
        return _in_words(state, spot, joint.keeps(state.low, state.high), joint)

    def background(self, state: Joint) -> Element:
        return self._picture(state)[0]

    def change(self, state: Joint, key: str = "") -> None:
        self._check(state, "")
        super().change(state, key)

    def encode(self, state: Joint) -> dict:
        return asdict(state)

    def decode(self, data: dict, where: str) -> Joint:
        names = {f.name for f in fields(Joint)}
        if set(data) != names:
            raise InputError(f"{where}, state", ", ".join(sorted(names)), sorted(data))
        for field in _FIELDS:
            data[field.name] = field.read(str(data[field.name]))
        joint = Joint(**data)
        self._check(joint, f"{where}, ")
        return joint

    def table(self, state: Joint) -> pd.DataFrame:
        joint = self.weld_of(state)
        placed = pd.DataFrame(joint.placed)[["x", "y", "region", "value", "tolerance"]]
        placed["region"] = placed["region"].astype(str)
        return pd.concat([joint.line, placed], axis=1).reset_index()

    def code(self, state: Joint) -> str:
        code, dilution = Code(), state.dilution / 100
        steels = {part: self.heats.loc[[getattr(state, part)]].dropna(axis=1) for part in _PARTS}
        return code.text(
            *(f"{part} = {code.of(heat)}" for part, heat in steels.items()),
            f"joint = gk.diagrams.weld({', '.join(_PARTS)}, share={state.share / 100!r}, "
            f"on={state.diagram!r}, steps={_STEPS})",
            f"metals = joint.at({dilution!r}), joint.layers({dilution!r}, {state.layers:g})",
            f"*metals, joint.keeps({state.low!r}, {state.high!r}), joint.line",
        )

    def metal(self, state: Joint) -> dict[str, float]:
        return self._metal(state).iloc[0].dropna().to_dict()

    def groups(self, state: Joint) -> list[Group]:
        reported = [e for e in self.heats if self.heats[e].notna().any()]
        boxes = [element_field(e, self.heats) for e in reported]
        heats = {part: self.heats.loc[getattr(state, part), reported] for part in _PARTS}
        return [*super().groups(state), *(
            Group(part, _PARTS[part].lower(), boxes, heat.to_dict(), str(heat.name))
            for part, heat in heats.items()
        )]  # fmt: skip

    def beside(self, state: Joint) -> dict[str, tuple[str, pd.Series]]:
        names = {part: getattr(state, part) for part in _PARTS}
        start = self._metal(self.history.first).iloc[0]
        return {p: (n, self.heats.loc[n]) for p, n in names.items()} | {"reference": (START, start)}

    # --- what they need -----------------------------------------------------------------------

    def _check(self, joint: Joint, where: str) -> None:
        for part in _PARTS:
            one_of(f"{where}{part}", getattr(joint, part), list(self.heats.index),
                   "one of the heats")  # fmt: skip
        one_of(f"{where}diagram", joint.diagram, DIAGRAMS)
        if joint.low > joint.high:
            got = said(f"{joint.low:g} to {joint.high:g}")
            raise InputError(f"{where}ferrite", "from a lower to a higher value", got)
        if joint.layers != int(joint.layers):
            raise InputError(f"{where}layers", "a whole number", joint.layers)

    def weld_of(self, state: Joint) -> Weld:
        """Return the line of all welds of a state, whatever dilution is tried; the last is kept."""
        key = replace(state, dilution=0.0, low=0.0, high=0.0, layers=1.0)
        if key not in self._kept:
            parts = (self.heats.loc[[getattr(state, p)]] for p in _PARTS)
            made = weld(*parts, share=state.share / 100, on=state.diagram, steps=_STEPS)
            self._kept = {key: made}
        return self._kept[key]

    def _picture(self, state: Joint) -> tuple[Element, ToPixels]:
        return background(self.diagrams[state.diagram], CHART_WIDTH)


def _metals(state: Joint, joint: Weld) -> pd.DataFrame:
    """The weld metal, and beneath it the layers."""
    metal = joint.at(state.dilution / 100)
    layers = joint.layers(state.dilution / 100, int(state.layers))
    names = ["weld metal", *layers.index]
    contents = np.vstack([metal.to_numpy(), layers.to_numpy()])
    return pd.DataFrame(contents, index=names, columns=metal.columns)


def _metals_table(state: Joint, joint: Weld, metals: pd.DataFrame, spots: list[Spot]) -> Html:
    contents = dict(zip(metals, metals.to_numpy().T.tolist(), strict=True))
    read = [spot.value if spot.region else None for spot in spots]
    columns = [
        *(Column(e, contents[e], exact=contents[e]) for e in _listed(metals)),
        Column("field", [spot.region or "outside" for spot in spots], text=True),
        Column(f"ferrite, {joint.diagram.data.unit}", read, exact=read),
        Column("±", [spot.tolerance if spot.region else None for spot in spots]),
        Column("flag", [_remark(spot) for spot in spots], text=True, wide=True),
    ]
    caption = f"Weld metal, and layers buttered on {state.first}; contents in wt%"
    return columns_table(columns, caption, metals.index, "metal", digits=3, data_of="metals")


def _listed(heats: pd.DataFrame) -> list[str]:
    return [e for e in ("C", "Mn", "Cr", "Ni", "Mo", "N") if e in heats]


def _in_words(state: Joint, spot: Spot, kept: tuple | None, joint: Weld) -> str:
    unit, remark = joint.diagram.data.unit, _remark(spot)
    if not np.isfinite(spot.x + spot.y):
        return f"No place on the diagram: {remark}."
    read = (
        f"field {spot.region}, {number(spot.value, 3)} ± {number(spot.tolerance, 2)} {unit}"
        f"{f' ({remark})' if remark else ''}."
        if spot.region
        else "outside the chart, which says nothing there."
    )
    span = f"{state.low:g} to {state.high:g} {unit}"
    keeps = (
        f"No dilution on the chart keeps {span}." if kept is None
        else f"{span} are kept from {100 * kept[0]:.0f} to {100 * kept[1]:.0f} % dilution "
        "(thick line)."
    )  # fmt: skip
    return f"At {state.dilution:g} % dilution: {read} {keeps}{_chart_ends(state, joint)}"


def _chart_ends(state: Joint, joint: Weld) -> str:
    """Say where the line leaves the chart, if it does."""
    if joint.on_chart is None:
        where = " No weld of this line lies on this chart."
    else:
        low, high = (100 * end for end in joint.on_chart)
        outside = [f"below {low:.0f} %"] * (low > 0) + [f"above {high:.0f} %"] * (high < 100)
        if not outside:
            return ""
        where = f" {' and '.join(outside).capitalize()} the line lies outside this chart."
    # Its axes begin at nothing, so that no mixture of steels lies below them.
    further = "schaeffler_1949"
    if state.diagram == further:
        return where
    return f"{where} The {named_diagram(further).title} reaches further, and shows martensite."


def _remark(spot: Spot) -> str:
    # That it lies outside stands where its field would, and then nothing is read.
    shown = ~Flag.OUTSIDE_DIAGRAM if spot.region else ~(Flag.OUTSIDE_DIAGRAM | Flag.CLAMPED)
    return Flag(spot.flag & shown).words()


def _lines(to_px: ToPixels, x: np.ndarray, y: np.ndarray, kept: np.ndarray | None) -> Element:
    """The line of all welds, thick where the ferrite is kept, cut off at the border."""
    left, top, right, bottom = to_px.box
    drawn = []
    for ends, colour, size, dash in (((0, -1), _LINE, 1.6, "7 4"), (kept, _KEPT, 6, None)):
        if ends is None:
            continue
        (x0, x1), (y0, y1) = to_px(x[list(ends)], y[list(ends)])
        if np.isfinite(x0 + x1 + y0 + y1):
            drawn.append(
                shape("path", d=f"M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}", stroke=colour,
                      stroke_width=size, stroke_dasharray=dash)
            )  # fmt: skip
    inner = {"width": right - left, "height": bottom - top}
    view = f"{left:.1f} {top:.1f} {right - left:.1f} {bottom - top:.1f}"
    chart = shape("svg", *drawn, x=left, y=top, viewBox=view, **inner)
    return drawing(to_px.width, to_px.height, chart)
