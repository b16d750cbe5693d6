"""Questions on a diagram: read it, mark a place on it, and know when to leave it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from gradekit.core.flags import Flag
from gradekit.diagrams.constitution import Diagram, diagram
from gradekit.lessons.drawing_lots import steel
from gradekit.lessons.exercise import Exercise, Mistake, Picture
from gradekit.lessons.forms.amounts import steps
from gradekit.lessons.slips import linear, value
from gradekit.lessons.template import Template
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


def points_apart(
    ways: Mapping[str, tuple[float, float]], right: tuple[float, float], within: float
) -> tuple[Mistake, ...]:
    """Return the mistakes that end at another point than the right one.

    Examples
    --------
    >>> points_apart({"a": (1, 2), "b": (2.1, 1)}, (2, 1), 0.2)
    (Mistake(value=(1, 2), words='a'),)
    """
    return tuple(
        Mistake(end, words) for words, end in ways.items()
        if max(abs(end[0] - right[0]), abs(end[1] - right[1])) > 2 * within
    )  # fmt: skip


def place(
    name: str, topic: str, chart_name: str, families: Iterable[str], within: float
) -> Template:
    """Return a template that asks to mark a steel on a diagram.

    Parameters
    ----------
    name, topic : str
    chart_name : name of a diagram
    families : of which the steel is drawn
    within : float
        How far the mark may be off on either axis, wt%.
    """

    def make(rng: np.random.Generator) -> Exercise:
        chart = diagram(chart_name)
        x_axis, y_axis = chart.data.x, chart.data.y
        while True:
            heat = steel(rng, families)
            x, y = xy(chart, heat)
            ways = {
                "you swapped the axes: the chromium equivalent lies along the bottom": (y, x),
                "those are chromium and nickel themselves; the other elements count too": (
                    heat["Cr"], heat["Ni"]),
            }  # fmt: skip
            for term, factor in linear(chart.axes[1]).terms.items():
                if abs(factor * heat.get(term, 0.0)) > 2 * within:
                    ways[f"you left out {factor:g}·{term} on the nickel side"] = (
                        x, y - factor * heat.get(term, 0.0))  # fmt: skip
            mistakes = points_apart(ways, (x, y), within)
            inside = x_axis.low < x < x_axis.high and y_axis.low < y < y_axis.high
            if inside and mistakes:
                break
        return Exercise(
            topic,
            f"Mark this steel on the diagram: {chart.title}. Work out both equivalents first, "
            f"{linear(chart.axes[0]).formula} and {linear(chart.axes[1]).formula}.",
            {"the steel": heat}, (x, y), "wt%", within, mistakes=mistakes,
            solution=(*steps(heat, chart.axes[0]), *steps(heat, chart.axes[1])),
            relations=chart.axes, evidence=f"{chart.title}: {chart.caution}",
            picture=Picture(chart_name, (), path_of(chart, heat)),
            elsewhere="Work out both equivalents once more.",
        )  # fmt: skip

    return Template(name, topic, "place", make)


def read_chart(
    name: str, topic: str, chart_name: str, families: Iterable[str],
    ends: tuple[float, float], within: float,
) -> Template:  # fmt: skip
    """Return a template that asks for the reading at a point of a diagram.

    Parameters
    ----------
    name, topic : str
    chart_name : name of a diagram
    families : of which the steel is drawn
    ends : (least, most) reading that is asked
    within : float
        What an eye may be off.
    """

    def make(rng: np.random.Generator) -> Exercise:
        chart = diagram(chart_name)
        reading, axes = f"ferrite_{chart_name}", (chart.data.x, chart.data.y)
        while True:
            heat = steel(rng, families)
            x, y = xy(chart, heat)
            read_off = value(heat, reading)
            inside = axes[0].low < x < axes[0].high and axes[1].low < y < axes[1].high
            if ends[0] < read_off < ends[1] and inside:
                break
        lines = [v for v, _ in chart.iso_lines]
        ways = [
            Mistake(y, "that is the nickel equivalent, read off the side"),
            Mistake(x, "that is the chromium equivalent, read off the bottom"),
            *(Mistake(v, f"that is the line {v:g}: the point lies on its side of "
                      f"{'less' if read_off < v else 'more'} ferrite") for v in lines),
        ]  # fmt: skip
        mistakes = tuple(
            m for m in ways if abs(float(m.value) - read_off) > 2 * within
        )  # fmt: skip
        below = max((v for v in lines if v <= read_off), default=lines[0])
        above = min((v for v in lines if v > read_off), default=lines[-1])
        return Exercise(
            topic,
            f"Read the {chart.data.quantity} of the marked weld metal off the diagram: "
            f"{chart.title}. Within {within:g} {chart.data.unit} is right.",
            {}, read_off, chart.data.unit, within, mistakes=mistakes,
            solution=(f"the point ({x:.1f}, {y:.1f}) lies between the lines {below:g} and "
                      f"{above:g}", f"read: {read_off:.1f} {chart.data.unit}"),
            relations=(*chart.axes, reading), evidence=f"{chart.title}: {chart.caution}",
            picture=Picture(chart_name, (("weld metal", x, y),)),
        )  # fmt: skip

    return Template(name, topic, "read", make)


def usable(name: str, topic: str, families: Iterable[str], states: Mapping[str, str]) -> Template:
    """Return a template that asks which one of three diagrams may be used for a steel.

    Parameters
    ----------
    name, topic : str
    families : of which the steel is drawn
    states : mapping of what the piece is, the usual one first, to the use that a diagram would
        have to have
    """

    def make(rng: np.random.Generator) -> Exercise:
        while True:
            heat = steel(rng, families)
            piece = [*states][int(rng.random() < 0.3)]
            on_axes = evaluate(heat, [*dict.fromkeys(a for c in CHARTS for a in diagram(c).axes)])
            why = {diagram(c).title: _why_not(diagram(c), on_axes, states[piece]) for c in CHARTS}
            fit = [title for title, reason in why.items() if not reason]
            if len(fit) <= 1:
                break
        answer = fit[0] if fit else _NONE
        wrong = {title: reason for title, reason in why.items() if title != answer}
        if fit:
            wrong[_NONE] = f"{answer} covers this steel"
        return Exercise(
            topic,
            f"Which of these diagrams may be used to tell the phases of {piece} of this steel?",
            {"the steel": heat}, answer, choices=(*why, _NONE),
            mistakes=tuple(Mistake(title, reason) for title, reason in wrong.items()),
            solution=tuple(f"{title}: {reason or 'covers it'}" for title, reason in why.items()),
            relations=tuple(a for c in CHARTS for a in diagram(c).axes),
            evidence="; ".join(f"{diagram(c).title}: {diagram(c).status}" for c in CHARTS),
        )  # fmt: skip

    return Template(name, topic, "chart", make)


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


def blind(name: str, topic: str, moves: Mapping[str, tuple[float, float]]) -> Template:
    """Return a template that asks which one of three diagrams does not notice an element.

    Parameters
    ----------
    name, topic : str
    moves : mapping of element to the least and most that is added, wt%
    """

    def make(rng: np.random.Generator) -> Exercise:
        titles = [diagram(c).title for c in CHARTS]
        noticed = {
            e: [any(e in linear(a).terms for a in diagram(c).axes) for c in CHARTS] for e in moves
        }
        # Elements by the one diagram that stands alone with them; first the diagram, by lot.
        alone: dict[int, list[str]] = {}
        for e, seen in noticed.items():
            if sum(seen) in (1, 2):
                alone.setdefault(seen.index(sum(seen) == 1), []).append(e)
        at = int(rng.choice([*alone]))
        element = str(rng.choice(alone[at]))
        amount = float(f"{rng.uniform(*moves[element]):.1g}")
        notices, answer = noticed[element][at], titles[at]
        counts = {
            title: [linear(a).terms.get(element, 0.0) for a in diagram(c).axes]
            for title, c in zip(titles, CHARTS, strict=True)
        }
        side = ("chromium", "nickel")
        why = {
            title: next((f"it counts {k:g}·{element} in the {side[at]} equivalent"
                         for at, k in enumerate(factors) if k),
                        f"{element} stands in neither of its equivalents")
            for title, factors in counts.items()
        }  # fmt: skip
        asks = "notices it" if notices else "does not notice it"
        return Exercise(
            topic,
            f"A weld metal gets {amount:g} % more {element}. Only one of these diagrams {asks}: "
            "which?",
            {}, answer, choices=tuple(counts),
            mistakes=tuple(Mistake(t, reason) for t, reason in why.items() if t != answer),
            solution=tuple(f"{title}: {reason}" for title, reason in why.items()),
            relations=tuple(a for c in CHARTS for a in diagram(c).axes),
            evidence="the formulas of the axes",
        )  # fmt: skip

    return Template(name, topic, "chart", make)
