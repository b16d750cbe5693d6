"""What freezes first: ratios of equivalents, modes, and the limit that belongs to each."""

from __future__ import annotations

import numpy as np

from gradekit.diagrams.constitution import diagram
from gradekit.diagrams.criteria import Criterion, criteria
from gradekit.lessons.drawing_lots import steel
from gradekit.lessons.exercise import Exercise, Mistake, Picture, wrong_ways
from gradekit.lessons.forms.charts import path_of, well_inside, xy
from gradekit.lessons.forms.choices import FOLLOWS, change, moved, outcome, wrong_line
from gradekit.lessons.forms.orders import rank
from gradekit.lessons.slips import apart, ends_elsewhere, linear, sides, value, weighed
from gradekit.lessons.template import evidence_of, form, on_topic
from gradekit.relations.topics import CATALOGUE

_HAMMAR, _SCHAEFFLER = "cr_ni_ratio_hammar", "cr_ni_ratio_schaeffler"
_WELDS = ["weld metal", "18Cr-8Ni", "CrNiMo"]
# Families of which some steels freeze in a mode, by Schaeffler's ratio.
_FREEZE = {
    "A": ("25Cr-20Ni",),
    "AF": ("CrNiMo", "18Cr-8Ni"),
    "FA": ("18Cr-8Ni", "weld metal"),
    "F": ("duplex", "weld metal"),
}
_MARGIN = 0.02


def _rule(name: str) -> Criterion:
    return next(c for c in criteria() if c.name == name)


def _limit(name: str) -> float:
    """Return the ratio at which what freezes first changes by a criterion of two bands."""
    return _rule(name).bands[0].upper


def _worth(name: str) -> str:
    rule = _rule(name)
    return f"{rule.title}: {', '.join(sorted({band.status for band in rule.bands}))}"


def _over(ratio: str) -> str:
    """Return a ratio with both of its sums."""
    chromium, nickel = (CATALOGUE[name].formula for name in sides(ratio))
    return f"{chromium} over {nickel}"


@form("compute")
@apart
def _ratio(rng: np.random.Generator) -> Exercise:
    """What the ratio of two equivalents is."""
    heat = steel(rng, ["18Cr-8Ni", "CrNiMo"])
    answer = value(heat, _HAMMAR)
    creq, nieq = (value(heat, name) for name in sides(_HAMMAR))
    return Exercise(
        f"What is the ratio of Hammar-Svensson's equivalents, {_over(_HAMMAR)}?",
        {"the steel": heat}, answer, "", 0.005,
        mistakes=(
            Mistake(nieq / creq, "you turned the ratio over"),
            Mistake(value(heat, _SCHAEFFLER), "those are Schaeffler's equivalents; this limit "
                    "belongs to Hammar-Svensson's"),
            Mistake(creq - nieq, "asked is the ratio, not the difference"),
        ),
        solution=(f"{creq:.3f} / {nieq:.3f} = {answer:.3f}",), relations=(_HAMMAR,),
    )  # fmt: skip


@form("compute")
def _mode(rng: np.random.Generator) -> Exercise:
    """Ask for the mode that a ratio stands for."""
    rule = _rule("schaeffler_bands")
    mode = str(rng.choice(list(_FREEZE)))
    while True:
        heat = steel(rng, _FREEZE[mode])
        ratio = value(heat, rule.relation)
        if {_word(rule, ratio + off) for off in (-_MARGIN, 0.0, _MARGIN)} == {mode}:
            break
    over, under = (value(heat, name) for name in sides(_SCHAEFFLER))
    bands = [f"{b.word} up to {b.upper:g}" for b in rule.bands if np.isfinite(b.upper)]
    return Exercise(
        "In which mode does this steel freeze by the ratio of Schaeffler's equivalents, "
        f"{_over(_SCHAEFFLER)}: {', '.join(bands)}, {rule.bands[-1].word} above?",
        {"the steel": heat}, mode, choices=tuple(b.word for b in rule.bands),
        mistakes=_mode_slips(rule, heat, over, under, mode),
        solution=(f"chromium equivalent: {over:.3f}", f"nickel equivalent: {under:.3f}",
                  f"{over:.3f} / {under:.3f} = {ratio:.3f}: {mode}"),
        relations=(rule.relation,), evidence=_worth(rule.name),
        elsewhere=f"The ratio of this steel is {ratio:.2f}: compare yours, then the limits.",
    )  # fmt: skip


def _word(rule: Criterion, ratio: float) -> str:
    band = rule.band(ratio)
    return band.word if band else ""


def _mode_slips(
    rule: Criterion, heat: dict, over: float, under: float, right: str
) -> tuple[Mistake, ...]:
    """The slips that end in another mode."""
    chromium, nickel = (value(heat, f"{side}_eq_delong_1973") for side in ("cr", "ni"))
    ways = {
        "you turned the ratio over": under / over,
        "you used Hammar-Svensson's equivalents": value(heat, _HAMMAR),
        "you used DeLong's equivalents": chromium / nickel,
    }
    for at, name in enumerate(sides(_SCHAEFFLER)):
        for term, factor in linear(name).terms.items():
            if term not in ("Cr", "Ni"):
                part = factor * heat.get(term, 0.0)
                left = over / (under - part) if at else (over - part) / under
                ways[f"you left out {weighed(term, factor)}"] = left
    return ends_elsewhere({words: _word(rule, ratio) for words, ratio in ways.items()}, right)


# How a steel freezes: the ratio by which it is judged, whose it is, and the criterion.
_WAYS = {
    "slowly, in an ingot": (_HAMMAR, "Hammar-Svensson's", "hammar_slow"),
    "fast, in an arc weld": (_HAMMAR, "Hammar-Svensson's", "hammar_fast"),
    "in a coated-electrode weld": (_SCHAEFFLER, "Schaeffler's", "schaeffler_switch"),
}


@form("chart")
def _first(rng: np.random.Generator) -> Exercise:
    """Which limit belongs to a ratio, and which phase is first by it."""
    how = str(rng.choice([*_WAYS]))
    relation, author, name = _WAYS[how]
    ferrite = bool(rng.random() < 0.5)
    while True:
        heat = steel(rng, [*_WELDS, "CrNiMoN"])
        ratio = value(heat, relation)
        away = min(abs(ratio - _limit(other)) for *_, other in _WAYS.values()) > _MARGIN
        if away and (ratio > _limit(name)) == ferrite:
            break

    def says(limit: float) -> str:
        first, lies = ("austenite", "below") if ratio < limit else ("ferrite", "above")
        return f"{first} first: the ratio lies {lies} {limit:g}"

    answer = says(_limit(name))
    why = {
        says(_limit(other)): f"{_limit(other):g} is the limit of {whose} ratio for a steel that "
        f"freezes {freezing}" for freezing, (_, whose, other) in _WAYS.items()
    }  # fmt: skip
    return Exercise(
        f"A steel has {ratio:.2f} by the ratio of {author} equivalents, and freezes {how}. What "
        "freezes first?",
        {"the steel": heat}, answer, choices=tuple(sorted(why)), mistakes=wrong_ways(why, answer),
        solution=(f"{_rule(name).title}: {_limit(name):g}", answer), relations=(relation,),
        evidence=_worth(name),
    )  # fmt: skip


@form("read")
def _field_of_mode(rng: np.random.Generator) -> Exercise:
    """Read the mode of a marked point off the chart that has fields of modes."""
    chart = diagram("wrc_1992")
    mode = str(rng.choice(["A", "AF", "FA"]))
    families = {"A": ["CrNiMoN"], "AF": ["CrNiMo"], "FA": _WELDS}[mode]
    heat = well_inside(rng, chart, families, mode, 0.2)
    x, y = xy(chart, heat)
    freezes = {"A": "austenite alone", "AF": "austenite first, then ferrite",
               "FA": "ferrite first, then austenite", "F": "ferrite alone"}  # fmt: skip
    why = {
        words: f"the point does not lie in field {field}, and the first letter of a field is what "
        "freezes first" for field, words in freezes.items()
    }  # fmt: skip
    return Exercise(
        f"How does the marked weld metal freeze, by the fields of this diagram? {chart.title}.",
        {}, freezes[mode], choices=tuple(why), mistakes=wrong_ways(why, freezes[mode]),
        solution=(f"({x:.1f}, {y:.1f}) lies in field {mode}", freezes[mode]),
        relations=chart.axes, evidence=f"{chart.title}: {chart.caution}",
        picture=Picture("wrc_1992", (("weld metal", x, y),), path_of(chart, heat)),
    )  # fmt: skip


@form("reason")
def _picked_up(rng: np.random.Generator) -> Exercise | None:
    """A weld metal that gets an element, and what that does to hot cracking."""
    # nitrogen and nickel lower the ratio, chromium and silicon raise it
    element, amount = [("N", 0.06), ("Ni", 2.0), ("Cr", 1.5), ("Si", 0.8)][rng.integers(4)]
    heat = steel(rng, "weld metal")
    after = moved(heat, element, amount)
    films = "phosphorus and sulphur stay in the last films of melt, where it cracks"
    return outcome(
        rng, f"A weld metal gets {amount:g} % more {element}. Its ratio of Hammar-Svensson's "
        f"equivalents has the limit {_limit('hammar_fast'):g} for fast welds.",
        "the ratio", {"the weld metal": heat}, (value(heat, _HAMMAR), value(after, _HAMMAR)), "",
        0.05,
        rises=(f"{element} makes ferrite; above the limit ferrite freezes first and takes up "
               "phosphorus and sulphur",
               f"{element} makes ferrite; above the limit {films}"),
        falls=(f"{element} makes austenite; below the limit austenite freezes first, and {films}",
               f"{element} makes austenite; below the limit it takes up phosphorus and sulphur"),
        stays=f"{element} counts on both sides alike", relations=(_HAMMAR,),
    )  # fmt: skip


@form("mistake")
def _slipped(rng: np.random.Generator) -> Exercise | None:
    """A worked ratio with one wrong line."""
    names = sides(_HAMMAR)
    heat = steel(rng, _WELDS)
    right = [value(heat, n) for n in names]
    at = int(rng.integers(3))
    wrong = [value(heat, f"{side}_eq_schaeffler_1949") for side in ("cr", "ni")]
    if min(abs(a - b) for a, b in zip(right, wrong, strict=True)) <= 0.15:
        return None
    over, under = (wrong[n] if n == at else right[n] for n in range(2))
    ratio = under / over if at == 2 else over / under
    lines = (
        f"chromium equivalent: {over:.2f}", f"nickel equivalent: {under:.2f}",
        f"ratio, chromium over nickel: {ratio:.3f}",
    )  # fmt: skip
    fault = ("those are Schaeffler's weights of chromium's side",
            "those are Schaeffler's weights of nickel's side, without nitrogen",
            "the ratio is turned over")[at]  # fmt: skip
    creq, nieq = right
    return wrong_line(
        "Somebody has worked out the ratio of Hammar-Svensson's equivalents, "
        f"{_over(_HAMMAR)}.",
        {"the steel": heat}, dict.fromkeys(lines, FOLLOWS), at, fault,
        (f"{creq:.2f} / {nieq:.2f} = {creq / nieq:.3f}",), (_HAMMAR, *names),
        evidence_of(_HAMMAR),
    )  # fmt: skip


@form("estimate")
def _estimated(rng: np.random.Generator) -> Exercise | None:
    """About how much nickel is missing before austenite freezes first."""
    limit, within, heat = _limit("hammar_fast"), 0.4, steel(rng, "weld metal")
    creq, nieq = (value(heat, n) for n in sides(_HAMMAR))
    answer = creq / limit - nieq
    if not 1.0 < answer < 4.0:
        return None
    return Exercise(
        f"This weld metal has a chromium equivalent of {creq:.1f} and a nickel equivalent of "
        f"{nieq:.1f} (Hammar-Svensson). About how much nickel, in wt%, may be added until the "
        f"ratio falls to {limit:g}? Within {within:g} is right.",
        {"the weld metal": heat}, answer, "wt%", within,
        mistakes=(
            Mistake(creq - limit * nieq, "that is what chromium has too much; divide it by the "
                    "limit"),
            Mistake(creq / limit, "that is the nickel equivalent at the limit; take away what "
                    "there is"),
            Mistake(creq / nieq - limit, "that is how far the ratio is off, not the nickel"),
        ),
        solution=(f"{creq:.2f} / {limit:g} - {nieq:.2f} = {answer:.2f} wt%",),
        relations=(_HAMMAR,), evidence=_worth("hammar_fast"),
    )  # fmt: skip


SOLIDIFICATION_TEMPLATES = on_topic(
    "solidification mode",
    _ratio("freezing ratio"),
    _mode("freezing mode"),
    _picked_up("freezing picked up"),
    _field_of_mode("freezing field"),
    _first("freezing limit"),
    change("freezing change", _HAMMAR, _WELDS, (_limit("hammar_fast"), np.inf),
           [("Cr", 0.8), ("Ni", -0.5), ("N", -0.03), ("Mo", 0.5), ("Si", 0.4), ("C", 0.01),
            ("Ni", 0.6), ("Cr", -0.8), ("Mn", 1.0), ("Si", -0.2)], 0.02, state="this weld metal"),
    rank("freezing order", _HAMMAR, ("weld metal", "18Cr-8Ni", "CrNiMo", "25Cr-20Ni"), 0.05,
         by=("Cr", "cr_eq_hammar_1979", "ni_eq_hammar_1979", _SCHAEFFLER)),
    _slipped("freezing mistake"),
    _estimated("freezing estimate"),
)  # fmt: skip
