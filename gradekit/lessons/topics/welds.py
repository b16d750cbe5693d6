"""Welds that mix: dilution as a sum, as a place on a line, and what it does to ferrite."""

from __future__ import annotations

import numpy as np

from gradekit.diagrams.constitution import diagram
from gradekit.diagrams.placement import Spot
from gradekit.lessons.drawing_lots import steel
from gradekit.lessons.exercise import Exercise, Mistake, Picture, wrong_ways
from gradekit.lessons.forms.charts import xy
from gradekit.lessons.forms.choices import outcome, wrong_line
from gradekit.lessons.forms.orders import NAMES, different_orders, falling
from gradekit.lessons.slips import apart
from gradekit.lessons.steels import STEELS
from gradekit.lessons.template import form, on_topic

_CHART, _FERRITE = "schaeffler_1949", "ferrite_schaeffler_1949"
_MILD = "mild steel"
_EXACT = "mixing by mass: exact"
_LINES_END = 18.6  # chromium equivalent, to the left of which the lines of ferrite end
_Heat = dict[str, float]


def _mixed(parent: _Heat, wire: _Heat, share: float) -> _Heat:
    """Return the weld metal, share in per cent."""
    part = share / 100
    return {
        e: round(part * parent.get(e, 0.0) + (1 - part) * wire.get(e, 0.0), 4)
        for e in dict.fromkeys([*wire, *parent])
    }


@form("compute")
@apart
def _content(rng: np.random.Generator) -> Exercise:
    """What a weld metal holds of an element."""
    parent, wire = steel(rng, "18Cr-8Ni"), steel(rng, "weld metal")
    share = float(rng.integers(15, 46))
    element = str(rng.choice(["Cr", "Ni", "Mn"]))
    p, w, rest = parent[element], wire[element], 1 - share / 100
    answer = p * share / 100 + w * rest
    return Exercise(
        f"A weld of this parent with this wire has {share:g} % dilution. What is its {element} "
        "content (wt%)?",
        {"parent": parent, "wire": wire}, answer, "wt%", 0.02 if element != "Mn" else 0.005,
        mistakes=(
            Mistake(p * rest + w * share / 100,
                    "you swapped the parts: dilution is the share of parent metal"),
            Mistake((p + w) / 2, "you took the plain mean; the shares are not equal"),
            Mistake(w, "that is the wire alone"), Mistake(p, "that is the parent alone"),
            Mistake(w * rest, "the parent metal brings some too"),
        ),
        solution=(f"{share / 100:g} × {p:g} + {rest:g} × {w:g} = {answer:.3f}",),
        evidence=_EXACT,
    )  # fmt: skip


@form("place")
def _on_the_line(rng: np.random.Generator) -> Exercise | None:
    """Where a weld lies on the line between its wire and its parent."""
    chart = diagram(_CHART)
    parent, wire = STEELS[_MILD], steel(rng, "24Cr-13Ni wire")
    share = float(rng.integers(3, 9)) * 5
    if share == 50:  # the middle, which is one of the mistakes
        return None
    ends = {n: xy(chart, h) for n, h in (("parent", parent), ("wire", wire))}
    (x, y), other, middle = (
        xy(chart, _mixed(parent, wire, s)) for s in (share, 100 - share, 50)
    )  # fmt: skip
    return Exercise(
        f"Parent (mild steel) and wire stand on the Schaeffler diagram (a reconstruction). Mark "
        f"the weld metal of {share:g} % dilution.",
        {}, (x, y), "wt%", 0.8,
        mistakes=(
            Mistake(other, "you went so far from the parent: dilution is the share of parent "
                    "metal"),
            Mistake(middle, "that is the middle; the shares are not equal"),
            Mistake((y, x), "you swapped the axes"),
        ),
        solution=(f"the weld lies on the straight line, {share:g} % of the way from wire to parent",
                  f"({x:.1f}, {y:.1f})"),
        relations=chart.axes, evidence=f"{_EXACT}; {chart.title}: {chart.caution}",
        picture=Picture(_CHART, tuple((n, *at) for n, at in ends.items()),
                        (("wire", *ends["wire"]), (f"{share:g} %", x, y))),
        elsewhere="Every weld lies on the straight line from the wire to the parent.",
    )  # fmt: skip


@form("read")
def _how_much(rng: np.random.Generator) -> Exercise:
    """Which dilution a point between wire and parent stands for."""
    chart = diagram(_CHART)
    parent, wire = STEELS[_MILD], steel(rng, "24Cr-13Ni wire")
    share = float(rng.integers(12, 44))
    metals = {"parent": parent, "wire": wire, "weld metal": _mixed(parent, wire, share)}
    return Exercise(
        "Parent, wire and weld metal stand on the Schaeffler diagram (a reconstruction). How large "
        "is the dilution, in %? Within 5 is right.",
        {}, share, "%", 5.0,
        mistakes=(
            Mistake(100 - share, "that is the share of the wire"),
            Mistake(100 * share / (100 - share), "you compared the two parts with each other; the "
                    "dilution is a share of the whole line"),
        ),
        solution=("dilution = distance from wire to weld over distance from wire to parent",
                  f"{share:g} %"),
        relations=chart.axes, evidence=_EXACT,
        picture=Picture(_CHART, tuple((n, *xy(chart, metal)) for n, metal in metals.items())),
    )  # fmt: skip


@form("rank")
def _order(rng: np.random.Generator) -> Exercise | None:
    """Four welds by their chromium, each with a wire and a dilution of its own."""
    parent = STEELS[_MILD]
    wires = {n: steel(rng, "24Cr-13Ni wire") for n in NAMES}
    shares = {n: float(rng.integers(2, 10)) * 5 for n in NAMES}
    welds = {n: _mixed(parent, wires[n], shares[n])["Cr"] for n in NAMES}
    order = falling(welds)
    ways = {
        "you began with the lowest": order[::-1],
        "that is the order of the wires alone": falling({n: wires[n]["Cr"] for n in NAMES}),
        "that is the order of the dilutions": falling(shares),
    }
    mistakes = different_orders(ways, order)
    too_close = np.diff(sorted(welds.values())).min() <= 0.4
    if too_close or len({*shares.values()}) < 4 or len(mistakes) < 2:
        return None
    return Exercise(
        "Four welds on mild steel, each with its own wire and dilution. Put the weld metals in "
        "order of their chromium, the highest first.",
        {f"wire {n}": {e: wires[n][e] for e in ("Cr", "Ni")} for n in NAMES}, order,
        choices=NAMES, mistakes=mistakes,
        solution=tuple(f"{n}: {1 - shares[n] / 100:g} × {wires[n]['Cr']:g} + {shares[n] / 100:g} × "
                       f"{parent['Cr']:g} = {welds[n]:.2f} wt%" for n in order),
        evidence=_EXACT, lines=tuple(f"{n}: wire {n}, dilution {shares[n]:g} %" for n in NAMES),
        elsewhere="Each weld has (1 - dilution) of the chromium of its wire.",
    )  # fmt: skip


@form("reason")
def _more(rng: np.random.Generator) -> Exercise | None:
    """More of a parent melts in: mild steel takes ferrite away, ferritic steel brings it."""
    chart = diagram(_CHART)
    mild = bool(rng.random() < 0.5)
    while True:
        parent = STEELS[_MILD] if mild else steel(rng, "17Cr ferritic")
        wire, first = steel(rng, "24Cr-13Ni wire"), float(rng.integers(2, 5)) * 5
        before, after = _spots([_mixed(parent, wire, share) for share in (first, first + 15)])
        if before.region == after.region == "A+F" and min(before.x, after.x) > _LINES_END:
            break
    kind = "mild steel" if mild else "a 17Cr ferritic steel"
    return outcome(
        rng, f"In a weld of {kind} with this wire the dilution goes from {first:g} to "
        f"{first + 15:g} %.",
        "the ferrite on the Schaeffler diagram (a reconstruction)", {"wire": wire},
        (before.value, after.value), "%", 1.0,
        rises=("the parent brings chromium and next to no nickel, so the point goes down the "
               "chart, away from austenite",
               "the parent is magnetic, and brings its ferrite along"),
        falls=("the point goes towards mild steel, which has neither, and loses chromium "
               "equivalent faster than the lines of ferrite fall",
               "mild steel brings so much nickel that austenite wins"),
        stays="the wire decides, for it is the richer part",
        relations=(*chart.axes, _FERRITE), evidence=f"{chart.title}: {chart.caution}",
        picture=Picture(_CHART, (), ((f"{first:g} %", before.x, before.y),
                                     (f"{first + 15:g} %", after.x, after.y))),
    )  # fmt: skip


def _spots(metals: list[_Heat]) -> list[Spot]:
    """Return where weld metals lie on the chart, all at once."""
    chart = diagram(_CHART)
    placed = chart.locate_xy(*np.array([xy(chart, metal) for metal in metals]).T)
    return [Spot(*row) for row in placed.itertuples(index=False)]


@form("change")
def _which_change(rng: np.random.Generator) -> Exercise | None:
    """Which single change gives a dry weld its ferrite back."""
    chart, parent = diagram(_CHART), STEELS[_MILD]
    names = ("24Cr-13Ni wire", "18Cr-8Ni wire")
    rich = bool(rng.random() < 0.5)
    used, other = names if rich else names[::-1]
    wires = {names[0]: steel(rng, "24Cr-13Ni wire"), names[1]: steel(rng, "weld metal")}
    share, less, more = float(rng.integers(2, 8)) * 5, 15 if rich else 5, 15
    if share <= less:
        return None
    ways = {
        f"{less} points less dilution": (parent, used, share - less),
        f"{more} points more dilution": (parent, used, share + more),
        f"the {other} instead": (parent, other, share),
        "a parent with 0.05 % C instead of its 0.15 %": (parent | {"C": 0.05}, used, share),
    }
    metals = [_mixed(p, wires[w], s) for p, w, s in ((parent, used, share), *ways.values())]
    now, *ends = _spots(metals)
    wet = {words: s for words, s in zip(ways, ends, strict=True) if s.region in ("A+F", "A")}
    right = [words for words, spot in wet.items() if spot.value >= 4]
    doubtful = any(abs(s.value - 4) < 1 or (s.region == "A+F" and s.x < _LINES_END)
                   for s in wet.values())  # fmt: skip
    martensite = now.region not in ("A+F", "A")
    if len(right) != 1 or doubtful or not (martensite or now.value < 3):
        return None
    (answer,) = right
    if not rich and answer != f"the {other} instead":
        return None
    says = {
        words: f"then {wet[words].value:.1f} % is read" if words in wet
        else "then the point lies in a field with martensite" for words in ways
    }  # fmt: skip
    read = "it lies in a field with martensite" if martensite else f"{now.value:.1f} % is read"
    return Exercise(
        f"Mild steel is welded with the {used} at {share:g} % dilution. On the Schaeffler "
        f"diagram (a reconstruction) {read}; austenite with at least 4 % ferrite is asked. Which "
        "single change brings it there?",
        {"parent": parent, **wires}, answer, choices=tuple(ways),
        mistakes=wrong_ways(says, answer),
        solution=tuple(f"{words}: {end}" for words, end in says.items()),
        relations=(*chart.axes, _FERRITE), evidence=f"{chart.title}: {chart.caution}",
    )  # fmt: skip


@form("mistake")
def _slipped(rng: np.random.Generator) -> Exercise | None:
    """A worked mixture with one line in which the shares are swapped."""
    parent, wire = steel(rng, "18Cr-8Ni"), steel(rng, "24Cr-13Ni wire")
    share = float(rng.integers(3, 9)) / 20
    elements = ("Cr", "Ni", "Mn", "Si")
    at = int(rng.integers(len(elements)))
    lines = []
    for n, e in enumerate(elements):
        p, w = (1 - share, share) if n == at else (share, 1 - share)
        end, other = p * parent[e] + w * wire[e], w * parent[e] + p * wire[e]
        if n == at and abs(end - other) <= 0.05:
            return None
        lines.append(f"{e}: {p:g} × {parent[e]:g} + {w:g} × {wire[e]:g} = {end:.3f}")
    return wrong_line(
        f"Somebody has worked out a weld metal of {100 * share:g} % dilution.",
        {"parent": parent, "wire": wire},
        dict.fromkeys(lines, "parent and wire have their right shares there"), at,
        "the shares are swapped; dilution is the share of parent metal", evidence=_EXACT,
    )  # fmt: skip


@form("estimate")
@apart
def _estimated(rng: np.random.Generator) -> Exercise:
    """About how much of an element a weld has, from its wire alone."""
    parent, wire = STEELS[_MILD], steel(rng, "24Cr-13Ni wire")
    share, element = float(rng.integers(3, 9)) * 5, str(rng.choice(["Cr", "Ni"]))
    answer, content = _mixed(parent, wire, share)[element], wire[element]
    within = round(0.05 * content, 1)
    return Exercise(
        f"Without a calculator: mild steel, this wire, {share:g} % dilution. About how much "
        f"{element} has the weld metal, in wt%? Within {within:.1f} is right.",
        {"wire": wire}, answer, "wt%", within,
        mistakes=(
            Mistake(content, "the wire is thinned by the parent"),
            Mistake(content * share / 100, "that is the share of the parent, taken of the wire"),
            Mistake(content / 2, "that is half and half"),
        ),
        solution=(f"mild steel brings next to nothing: {100 - share:g} % of {content:g}",
                  f"{answer:.2f} wt%"),
        evidence=_EXACT,
    )  # fmt: skip


DILUTION_TEMPLATES = on_topic(
    "dilution",
    _content("dilution content"),
    _on_the_line("dilution place"),
    _more("dilution more"),
    _how_much("dilution reading"),
    _which_change("dilution change"),
    _order("dilution order"),
    _slipped("dilution mistake"),
    _estimated("dilution estimate"),
)
