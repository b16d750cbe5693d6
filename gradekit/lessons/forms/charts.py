"""Questions on a diagram: read it, mark a place on it, and know when to leave it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from gradekit.core.flags import Flag
from gradekit.diagrams.constitution import Diagram, diagram
from gradekit.lessons.drawing_lots import steel
from gradekit.lessons.exercise import Exercise, Mistake, Picture, wrong_ways
from gradekit.lessons.forms.amounts import steps
from gradekit.lessons.slips import linear, value
from gradekit.lessons.template import form
from gradekit.relations.evaluate import Result, evaluate

CHARTS = ("schaeffler_1949", "delong_1973", "wrc_1992")
_NONE = "none of the three"
_UNFIT = int(Flag.BELOW_RANGE | Flag.ABOVE_RANGE | Flag.OTHER_FAMILY | Flag.OUTSIDE_DIAGRAM)


def xy(chart: Diagram, heat: dict[str, float]) -> tuple[float, float]:
    """Return where a steel lies, wt%."""
    x, y = (value(heat, axis) for axis in chart.axes)
    return x, y


def path_of(chart: Diagram, heat: dict[str, float]) -> tuple[tuple[str, float, float], ...]:
    """Return how the place of a steel comes about: chromium and nickel first, then term by term."""
    from gradekit.pictures.chart_path import terms_path  # loads what draws

    return tuple(terms_path(chart, heat))


def _inside(chart: Diagram, x: float, y: float) -> bool:
    along, up = chart.data.x, chart.data.y
    return along.low < x < along.high and up.low < y < up.high


@form("place")
def place(
    rng: np.random.Generator, chart_name: str, families: Iterable[str], within: float
) -> Exercise | None:
    """Ask to mark a steel on a diagram.

    Parameters
    ----------
    chart_name : name of a diagram
    families : of which the steel is drawn
    within : float
        How far the mark may be off on either axis, wt%.
    """
    chart, heat = diagram(chart_name), steel(rng, families)
    x, y = xy(chart, heat)
    if not _inside(chart, x, y):
        return None
    chromium, nickel = map(linear, chart.axes)
    mistakes = [
        Mistake((y, x), "you swapped the axes: the chromium equivalent lies along the bottom"),
        Mistake((heat["Cr"], heat["Ni"]), "those are chromium and nickel themselves; the other "
                "elements count too"),
        *(Mistake((x, y - k * heat.get(term, 0.0)), f"you left out {k:g}·{term} on the nickel side")
          for term, k in nickel.terms.items()),
    ]  # fmt: skip
    return Exercise(
        f"Mark this steel on the diagram: {chart.title}. Work out both equivalents first, "
        f"{chromium.formula} and {nickel.formula}.",
        {"the steel": heat}, (x, y), "wt%", within, mistakes=tuple(mistakes),
        solution=both_steps(chart, heat), relations=chart.axes,
        evidence=f"{chart.title}: {chart.caution}",
        picture=Picture(chart_name, (), path_of(chart, heat)),
        elsewhere="Work out both equivalents once more.",
    )  # fmt: skip


def both_steps(chart: Diagram, heat: dict[str, float]) -> tuple[str, ...]:
    """Return the working of both equivalents of a steel, chromium's first."""
    return tuple(line for axis in chart.axes for line in steps(heat, axis))


@form("read")
def read_chart(
    rng: np.random.Generator, chart_name: str, families: Iterable[str],
    ends: tuple[float, float], within: float,
) -> Exercise | None:  # fmt: skip
    """Ask for the reading at a point of a diagram.

    Parameters
    ----------
    chart_name : name of a diagram
    families : of which the steel is drawn
    ends : (least, most) reading that is asked
    within : float
        What an eye may be off.
    """
    chart, heat, reading = diagram(chart_name), steel(rng, families), f"ferrite_{chart_name}"
    x, y = xy(chart, heat)
    read_off = value(heat, reading)
    if not (ends[0] < read_off < ends[1] and _inside(chart, x, y)):
        return None
    lines = [v for v, _ in chart.iso_lines]
    below = max((v for v in lines if v <= read_off), default=lines[0])
    above = min((v for v in lines if v > read_off), default=lines[-1])
    return Exercise(
        f"Read the {chart.data.quantity} of the marked weld metal off the diagram: "
        f"{chart.title}. Within {within:g} {chart.data.unit} is right.",
        {}, read_off, chart.data.unit, within,
        mistakes=(
            Mistake(y, "that is the nickel equivalent, read off the side"),
            Mistake(x, "that is the chromium equivalent, read off the bottom"),
            *(Mistake(v, f"that is the line {v:g}: the point lies on its side of "
                      f"{'less' if read_off < v else 'more'} ferrite") for v in lines),
        ),
        solution=(f"the point ({x:.1f}, {y:.1f}) lies between the lines {below:g} and {above:g}",
                  f"read: {read_off:.1f} {chart.data.unit}"),
        relations=(*chart.axes, reading), evidence=f"{chart.title}: {chart.caution}",
        picture=Picture(chart_name, (("weld metal", x, y),)),
    )  # fmt: skip


def all_axes() -> tuple[str, ...]:
    """Return the equivalents of the three diagrams, one after the other."""
    return tuple(axis for name in CHARTS for axis in diagram(name).axes)


def statuses() -> str:
    """Return what each of the three diagrams is worth."""
    return "; ".join(f"{diagram(name).title}: {diagram(name).status}" for name in CHARTS)


@form("chart")
def usable(
    rng: np.random.Generator, families: Iterable[str], states: Mapping[str, str]
) -> Exercise | None:
    """Ask which one of three diagrams may be used for a steel.

    Parameters
    ----------
    families : of which the steel is drawn
    states : mapping of what the piece is, the usual one first, to the use that a diagram would
        have to have
    """
    heat = steel(rng, families)
    piece = [*states][int(rng.random() < 0.3)]
    on_axes = evaluate(heat, [*dict.fromkeys(all_axes())])
    why = {diagram(c).title: _why_not(diagram(c), on_axes, states[piece]) for c in CHARTS}
    fit = [title for title, reason in why.items() if not reason]
    if len(fit) > 1:
        return None
    answer = fit[0] if fit else _NONE
    return Exercise(
        f"Which of these diagrams may be used to tell the phases of {piece} of this steel?",
        {"the steel": heat}, answer, choices=(*why, _NONE),
        mistakes=wrong_ways(why | {_NONE: f"{answer} covers this steel"}, answer),
        solution=tuple(f"{title}: {reason or 'covers it'}" for title, reason in why.items()),
        relations=all_axes(), evidence=statuses(),
    )  # fmt: skip


def _why_not(chart: Diagram, steel_on_axes: Result, use: str) -> str:
    """Say why a diagram may not be used for a steel; '' where it may."""
    if chart.data.use != use:
        return f"its lines are for {chart.data.use}"
    (spot,) = chart.spots(steel_on_axes)
    flags = steel_on_axes.flags[list(chart.axes)].to_numpy(dtype=int)
    unfit = (spot.flag | int(np.bitwise_or.reduce(flags, axis=None))) & _UNFIT
    return Flag(unfit).words() if unfit else ""


def well_inside(
    rng: np.random.Generator, chart: Diagram, families: Sequence[str], field: str, room: float
) -> dict[str, float]:
    """Return a steel that lies in a field of a diagram, and not beside its border.

    Parameters
    ----------
    rng : Generator
    chart : Diagram
    families : of which the steel is drawn
    field : label
    room : float
        How far every border is away, wt%: a point beside a line would be a quarrel, not an
        exercise.
    """
    around = room * np.array([(0, 0), (1, 0), (-1, 0), (0, 1), (0, -1)])
    while True:
        heats = [steel(rng, str(f)) for f in rng.choice([*families], 16)]
        points = np.array([xy(chart, heat) for heat in heats])[:, None] + around
        fields = chart.locate_xy(*points.reshape(-1, 2).T)["region"].to_numpy().reshape(-1, 5)
        fits = np.flatnonzero((fields == field).all(axis=1))
        if len(fits):
            return heats[fits[0]]


@form("chart")
def blind(rng: np.random.Generator, moves: Mapping[str, tuple[float, float]]) -> Exercise:
    """Ask which one of three diagrams does not notice an element, or alone notices it.

    Parameters
    ----------
    moves : mapping of element to the least and most that is added, wt%
    """
    factors = {
        e: [[linear(axis).terms.get(e, 0.0) for axis in diagram(c).axes] for c in CHARTS]
        for e in moves
    }
    # Elements by the one diagram that stands alone with them; first the diagram, by lot.
    alone: dict[int, list[str]] = {}
    for e, own in factors.items():
        seen = [*map(any, own)]
        if sum(seen) in (1, 2):
            alone.setdefault(seen.index(sum(seen) == 1), []).append(e)
    at = int(rng.choice([*alone]))
    element = str(rng.choice(alone[at]))
    amount = float(f"{rng.uniform(*moves[element]):.1g}")

    def says(chromium: float, nickel: float) -> str:
        if not chromium and not nickel:
            return f"{element} stands in neither of its equivalents"
        factor, side = (chromium, "chromium") if chromium else (nickel, "nickel")
        return f"it counts {factor:g}·{element} in the {side} equivalent"

    counted = zip(CHARTS, factors[element], strict=True)
    why = {diagram(name).title: says(*own) for name, own in counted}
    asks = "notices it" if any(factors[element][at]) else "does not notice it"
    answer = [*why][at]
    return Exercise(
        f"A weld metal gets {amount:g} % more {element}. Only one of these diagrams {asks}: which?",
        {}, answer, choices=tuple(why), mistakes=wrong_ways(why, answer),
        solution=tuple(f"{title}: {reason}" for title, reason in why.items()),
        relations=all_axes(), evidence="the formulas of the axes",
    )  # fmt: skip
