"""Welds that mix: dilution as a sum, as a place on a line, and what it does to ferrite."""

from __future__ import annotations

import numpy as np

from gradekit.diagrams.constitution import diagram
from gradekit.diagrams.placement import Spot
from gradekit.lessons.drawing_lots import steel
from gradekit.lessons.exercise import Exercise, Mistake, Picture
from gradekit.lessons.forms.charts import points_apart, xy
from gradekit.lessons.forms.choices import Case, outcome
from gradekit.lessons.forms.orders import NAMES, different_orders
from gradekit.lessons.slips import apart, clear
from gradekit.lessons.steels import STEELS
from gradekit.lessons.template import Template

_TOPIC = "dilution"
_CHART, _FERRITE = "schaeffler_1949", "ferrite_schaeffler_1949"
_MILD = "mild steel"
_EXACT = "mixing by mass: exact"
_Heat = dict[str, float]


def _mixed(parent: _Heat, wire: _Heat, share: float) -> _Heat:
    """Return the weld metal, share in per cent."""
    part = share / 100
    return {
        e: round(part * parent.get(e, 0.0) + (1 - part) * wire.get(e, 0.0), 4)
        for e in dict.fromkeys([*wire, *parent])
    }


@apart
def _content(rng: np.random.Generator) -> Exercise:
    parent, wire = steel(rng, "18Cr-8Ni"), steel(rng, "weld metal")
    share = float(rng.integers(15, 46))
    element = str(rng.choice(["Cr", "Ni", "Mn"]))
    answer = parent[element] * share / 100 + wire[element] * (1 - share / 100)
    swapped = parent[element] * (1 - share / 100) + wire[element] * share / 100
    mistakes = (
        Mistake(swapped, "you swapped the parts: dilution is the share of parent metal"),
        Mistake((parent[element] + wire[element]) / 2,
                "you took the plain mean; the shares are not equal"),
        Mistake(wire[element], "that is the wire alone"),
        Mistake(parent[element], "that is the parent alone"),
        Mistake(wire[element] * (1 - share / 100), "the parent metal brings some too"),
    )  # fmt: skip
    return Exercise(
        _TOPIC,
        f"A weld of this parent with this wire has {share:g} % dilution. What is its {element} "
        "content (wt%)?",
        {"parent": parent, "wire": wire}, answer, "wt%", 0.02 if element != "Mn" else 0.005,
        mistakes=mistakes,
        solution=(f"{share / 100:g} × {parent[element]:g} + {1 - share / 100:g} × "
                  f"{wire[element]:g} = {answer:.3f}",),
        evidence=_EXACT,
    )  # fmt: skip


def _on_the_line(rng: np.random.Generator) -> Exercise:
    chart, within = diagram(_CHART), 0.8
    while True:
        parent, wire = STEELS[_MILD], steel(rng, "24Cr-13Ni wire")
        share = float(rng.integers(3, 9)) * 5
        ends = {n: xy(chart, h) for n, h in (("parent", parent), ("wire", wire))}
        x, y = xy(chart, _mixed(parent, wire, share))
        other = xy(chart, _mixed(parent, wire, 100 - share))
        mistakes = points_apart(
            {"you went so far from the parent: dilution is the share of parent metal": other,
             "that is the middle; the shares are not equal": xy(chart, _mixed(parent, wire, 50)),
             "you swapped the axes": (y, x)}, (x, y), within)  # fmt: skip
        if mistakes and share != 50:
            break
    return Exercise(
        _TOPIC,
        f"Parent (mild steel) and wire stand on the Schaeffler diagram (a reconstruction). Mark "
        f"the weld metal of {share:g} % dilution.",
        {}, (x, y), "wt%", within, mistakes=mistakes,
        solution=(f"the weld lies on the straight line, {share:g} % of the way from wire to parent",
                  f"({x:.1f}, {y:.1f})"),
        relations=chart.axes, evidence=f"{_EXACT}; {chart.title}: {chart.caution}",
        picture=Picture(_CHART, tuple((n, *at) for n, at in ends.items()),
                        (("wire", *ends["wire"]), (f"{share:g} %", x, y))),
        elsewhere="Every weld lies on the straight line from the wire to the parent.",
    )  # fmt: skip


def _how_much(rng: np.random.Generator) -> Exercise:
    """Which dilution a point between wire and parent stands for."""
    chart, within = diagram(_CHART), 5.0
    parent, wire = STEELS[_MILD], steel(rng, "24Cr-13Ni wire")
    share = float(rng.integers(12, 44))
    points = (("parent", *xy(chart, parent)), ("wire", *xy(chart, wire)),
              ("weld metal", *xy(chart, _mixed(parent, wire, share))))  # fmt: skip
    mistakes = clear(share, (
        Mistake(100 - share, "that is the share of the wire"),
        Mistake(100 * share / (100 - share), "you compared the two parts with each other; the "
                "dilution is a share of the whole line"),
    ), within)  # fmt: skip
    return Exercise(
        _TOPIC,
        "Parent, wire and weld metal stand on the Schaeffler diagram (a reconstruction). How large "
        f"is the dilution, in %? Within {within:g} is right.",
        {}, share, "%", within, mistakes=mistakes,
        solution=("dilution = distance from wire to weld over distance from wire to parent",
                  f"{share:g} %"),
        relations=chart.axes, evidence=_EXACT, picture=Picture(_CHART, points),
    )  # fmt: skip


def _order(rng: np.random.Generator) -> Exercise:
    """Four welds by their chromium, each with a wire and a dilution of its own."""
    while True:
        parent = dict(STEELS[_MILD])
        wires = {n: steel(rng, "24Cr-13Ni wire") for n in NAMES}
        shares = {n: float(rng.integers(2, 10)) * 5 for n in NAMES}
        welds = {n: _mixed(parent, wires[n], shares[n])["Cr"] for n in NAMES}
        order = tuple(sorted(NAMES, key=lambda n: -welds[n]))
        ways = {
            "you began with the lowest": order[::-1],
            "that is the order of the wires alone":
                tuple(sorted(NAMES, key=lambda n: -wires[n]["Cr"])),
            "that is the order of the dilutions": tuple(sorted(NAMES, key=lambda n: -shares[n])),
        }  # fmt: skip
        mistakes = different_orders(ways, order)
        if np.diff(sorted(welds.values())).min() > 0.4 and len({*shares.values()}) == 4:
            if len(mistakes) > 1:
                break
    return Exercise(
        _TOPIC,
        "Four welds on mild steel, each with its own wire and dilution. Put the weld metals in "
        "order of their chromium, the highest first.",
        {f"wire {n}": {e: wires[n][e] for e in ("Cr", "Ni")} for n in NAMES}, order,
        choices=NAMES, mistakes=mistakes,
        solution=tuple(f"{n}: {1 - shares[n] / 100:g} × {wires[n]['Cr']:g} + {shares[n] / 100:g} × "
                       f"{parent['Cr']:g} = {welds[n]:.2f} wt%" for n in order),
        evidence=_EXACT, lines=tuple(f"{n}: wire {n}, dilution {shares[n]:g} %" for n in NAMES),
        elsewhere="Each weld has (1 - dilution) of the chromium of its wire.",
    )  # fmt: skip


def _more(rng: np.random.Generator) -> Case:
    """More of a parent melts in: mild steel takes ferrite away, ferritic steel brings it."""
    chart = diagram(_CHART)
    mild = bool(rng.random() < 0.5)
    while True:
        parent = dict(STEELS[_MILD]) if mild else steel(rng, "17Cr ferritic")
        wire, first = steel(rng, "24Cr-13Ni wire"), float(rng.integers(2, 5)) * 5
        before, after = _spots([_mixed(parent, wire, share) for share in (first, first + 15)])
        if before.region == after.region == "A+F" and min(before.x, after.x) > 18.6:
            break
    kind = "mild steel" if mild else "a 17Cr ferritic steel"
    return Case(
        f"In a weld of {kind} with this wire the dilution goes from {first:g} to {first + 15:g} %.",
        "the ferrite on the Schaeffler diagram (a reconstruction)", {"wire": wire}, before.value,
        after.value, "%",
        rises=("the parent brings chromium and next to no nickel, so the point goes down the "
               "chart, away from austenite",
               "the parent is magnetic, and brings its ferrite along"),
        falls=("the point goes towards mild steel, which has neither, and loses chromium "
               "equivalent faster than the lines of ferrite fall",
               "mild steel brings so much nickel that austenite wins"),
        stays="the wire decides, for it is the richer part",
        relations=(*chart.axes, _FERRITE), evidence=f"{chart.title}: {chart.caution}",
        picture=Picture(_CHART, (), tuple((f"{share:g} %", s.x, s.y) for share, s in
                                          zip((first, first + 15), (before, after), strict=True))),
    )  # fmt: skip


def _spots(metals: list[_Heat]) -> list[Spot]:
    """Return where weld metals lie on the chart, all at once."""
    chart = diagram(_CHART)
    placed = chart.locate_xy(*np.array([xy(chart, metal) for metal in metals]).T)
    return [Spot(*row) for row in placed.itertuples(index=False)]


def _which_change(rng: np.random.Generator) -> Exercise:
    """Which single change gives a dry weld its ferrite back."""
    chart = diagram(_CHART)
    names = ("24Cr-13Ni wire", "18Cr-8Ni wire")
    while True:
        rich = bool(rng.random() < 0.5)
        parent = dict(STEELS[_MILD])
        used, other = names if rich else names[::-1]
        wires = {names[0]: steel(rng, "24Cr-13Ni wire"), names[1]: steel(rng, "weld metal")}
        share, less, more = float(rng.integers(2, 8)) * 5, 15 if rich else 5, 15
        ways = {
            f"{less} points less dilution": (parent, used, share - less),
            f"{more} points more dilution": (parent, used, share + more),
            f"the {other} instead": (parent, other, share),
            "a parent with 0.05 % C instead of its 0.15 %": (parent | {"C": 0.05}, used, share),
        }
        metals = [_mixed(p, wires[w], s) for p, w, s in ((parent, used, share), *ways.values())]
        now, *ends = _spots(metals)
        dry = {n for n, spot in enumerate(ends) if spot.region not in ("A+F", "A")}
        right = [n for n, spot in enumerate(ends) if n not in dry and spot.value >= 4]
        # to the left the lines of ferrite end
        doubtful = any(abs(s.value - 4) < 1 or (s.region == "A+F" and s.x < 18.6)
                       for n, s in enumerate(ends) if n not in dry)  # fmt: skip
        martensite = now.region not in ("A+F", "A")
        if share > less and len(right) == 1 and not doubtful and (martensite or now.value < 3):
            if rich or right == [2]:
                break
    says = {
        words: "then the point lies in a field with martensite" if n in dry
        else f"then {ends[n].value:.1f} % is read" for n, words in enumerate(ways)
    }  # fmt: skip
    answer = [*ways][right[0]]
    read = "it lies in a field with martensite" if martensite else f"{now.value:.1f} % is read"
    return Exercise(
        _TOPIC,
        f"Mild steel is welded with the {used} at {share:g} % dilution. On the Schaeffler "
        f"diagram (a reconstruction) {read}; austenite with at least 4 % ferrite is asked. Which "
        "single change brings it there?",
        {"parent": parent, **wires}, answer, choices=tuple(ways),
        mistakes=tuple(Mistake(w, words) for w, words in says.items() if w != answer),
        solution=tuple(f"{w}: {words}" for w, words in says.items()),
        relations=(*chart.axes, _FERRITE), evidence=f"{chart.title}: {chart.caution}",
    )  # fmt: skip


def _slipped(rng: np.random.Generator) -> Exercise:
    """A worked mixture with one line in which the shares are swapped or forgotten."""
    while True:
        parent, wire = steel(rng, "18Cr-8Ni"), steel(rng, "24Cr-13Ni wire")
        share = float(rng.integers(3, 9)) / 20
        elements = ("Cr", "Ni", "Mn", "Si")
        at = int(rng.integers(len(elements)))
        e = elements[at]
        swapped = (1 - share) * parent[e] + share * wire[e]
        if share != 0.5 and abs(swapped - share * parent[e] - (1 - share) * wire[e]) > 0.05:
            break
    lines = []
    for n, element in enumerate(elements):
        p, w = (1 - share, share) if n == at else (share, 1 - share)
        end = p * parent[element] + w * wire[element]
        lines.append(f"{element}: {p:g} × {parent[element]:g} + {w:g} × {wire[element]:g} = "
                     f"{end:.3f}")  # fmt: skip
    choices = tuple(f"line {n}" for n in range(1, len(lines) + 1))
    return Exercise(
        _TOPIC,
        f"Somebody has worked out a weld metal of {100 * share:g} % dilution. In which line is the "
        "mistake?",
        {"parent": parent, "wire": wire}, choices[at], choices=choices,
        mistakes=tuple(Mistake(c, "parent and wire have their right shares there")
                       for c in choices if c != choices[at]),
        solution=(f"{choices[at]}: the shares are swapped; dilution is the share of parent metal",),
        evidence=_EXACT, lines=tuple(f"{n}. {line}" for n, line in enumerate(lines, start=1)),
    )  # fmt: skip


@apart
def _estimated(rng: np.random.Generator) -> Exercise:
    """About how large the ferrite of a weld is, from the two ends of its line."""
    parent, wire = dict(STEELS[_MILD]), steel(rng, "24Cr-13Ni wire")
    share, element = float(rng.integers(3, 9)) * 5, str(rng.choice(["Cr", "Ni"]))
    answer = _mixed(parent, wire, share)[element]
    within = 0.05 * wire[element]
    mistakes = clear(answer, (
        Mistake(wire[element], "the wire is thinned by the parent"),
        Mistake(wire[element] * share / 100, "that is the share of the parent, taken of the wire"),
        Mistake(wire[element] / 2, "that is half and half"),
    ), within)  # fmt: skip
    return Exercise(
        _TOPIC,
        f"Without a calculator: mild steel, this wire, {share:g} % dilution. About how much "
        f"{element} has the weld metal, in wt%? Within {within:.1f} is right.",
        {"wire": wire}, answer, "wt%", round(within, 1), mistakes=mistakes,
        solution=(f"mild steel brings next to nothing: {100 - share:g} % of {wire[element]:g}",
                  f"{answer:.2f} wt%"),
        evidence=_EXACT,
    )  # fmt: skip


DILUTION_TEMPLATES: tuple[Template, ...] = (
    Template("dilution content", _TOPIC, "compute", _content),
    Template("dilution place", _TOPIC, "place", _on_the_line),
    outcome("dilution more", _TOPIC, _more, 1.0),
    Template("dilution reading", _TOPIC, "read", _how_much),
    Template("dilution change", _TOPIC, "change", _which_change),
    Template("dilution order", _TOPIC, "rank", _order),
    Template("dilution mistake", _TOPIC, "mistake", _slipped),
    Template("dilution estimate", _TOPIC, "estimate", _estimated),
)
