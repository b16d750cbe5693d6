"""What freezes first: ratios of equivalents, modes, and the limit that belongs to each."""

from __future__ import annotations

import numpy as np

from gradekit.diagrams.constitution import diagram
from gradekit.diagrams.criteria import Criterion, criteria
from gradekit.lessons.drawing_lots import steel
from gradekit.lessons.exercise import Exercise, Mistake, Picture
from gradekit.lessons.forms.amounts import evidence_of
from gradekit.lessons.forms.charts import path_of, well_inside, xy
from gradekit.lessons.forms.choices import Case, change, moved, outcome
from gradekit.lessons.forms.orders import rank
from gradekit.lessons.slips import apart, clear, linear, value
from gradekit.lessons.template import Template
from gradekit.relations.topics import CATALOGUE

_TOPIC = "solidification mode"
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


def _sides(ratio: str) -> tuple[str, str]:
    """Return the names of the two equivalents of a ratio."""
    chromium, nickel = CATALOGUE[ratio].formula.split("/")
    return chromium.strip(), nickel.strip()


@apart
def _ratio(rng: np.random.Generator) -> Exercise:
    heat = steel(rng, ["18Cr-8Ni", "CrNiMo"])
    answer = value(heat, _HAMMAR)
    chromium, nickel = (CATALOGUE[name] for name in _sides(_HAMMAR))
    creq, nieq = value(heat, chromium.name), value(heat, nickel.name)
    mistakes = (
        Mistake(nieq / creq, "you turned the ratio over"),
        Mistake(value(heat, _SCHAEFFLER), "those are Schaeffler's equivalents; this limit belongs "
                "to Hammar-Svensson's"),
        Mistake(creq - nieq, "asked is the ratio, not the difference"),
    )  # fmt: skip
    return Exercise(
        _TOPIC,
        f"What is the ratio of Hammar-Svensson's equivalents, {chromium.formula} over "
        f"{nickel.formula}?",
        {"the steel": heat}, answer, "", 0.005, mistakes=mistakes,
        solution=(f"{creq:.3f} / {nieq:.3f} = {answer:.3f}",), relations=(_HAMMAR,),
        evidence=evidence_of(_HAMMAR),
    )  # fmt: skip


def _mode(rng: np.random.Generator) -> Exercise:
    """Ask for the mode that a ratio stands for."""
    rule = _rule("schaeffler_bands")
    mode = str(rng.choice(list(_FREEZE)))
    while True:
        heat = steel(rng, _FREEZE[mode])
        ratio = value(heat, rule.relation)
        near = (ratio - _MARGIN, ratio, ratio + _MARGIN)
        if all(_word(rule, r) == mode for r in near):
            break
    names = _sides(_SCHAEFFLER)
    over, under = (value(heat, name) for name in names)
    bands = [f"{b.word} up to {b.upper:g}" for b in rule.bands if np.isfinite(b.upper)]
    return Exercise(
        _TOPIC,
        "In which mode does this steel freeze by the ratio of Schaeffler's equivalents, "
        f"{CATALOGUE[names[0]].formula} over {CATALOGUE[names[1]].formula}: "
        f"{', '.join(bands)}, {rule.bands[-1].word} above?",
        {"the steel": heat}, mode, choices=tuple(b.word for b in rule.bands),
        mistakes=_mode_slips(rule, heat, over, under, mode),
        solution=(f"chromium equivalent: {over:.3f}", f"nickel equivalent: {under:.3f}",
                  f"{over:.3f} / {under:.3f} = {ratio:.3f}: {mode}"),
        relations=(rule.relation,),
        evidence=f"{rule.title}: {', '.join(sorted({b.status for b in rule.bands}))}",
        elsewhere=f"The ratio of this steel is {ratio:.2f}: compare yours, then the limits.",
    )  # fmt: skip


def _word(rule: Criterion, ratio: float) -> str:
    band = rule.band(ratio)
    return band.word if band else ""


def _mode_slips(
    rule: Criterion, heat: dict, over: float, under: float, right: str
) -> tuple[Mistake, ...]:
    """The slips that end in another mode."""
    ways = {
        "you turned the ratio over": under / over,
        "you used Hammar-Svensson's equivalents": value(heat, _HAMMAR),
        "you used DeLong's equivalents": value(heat, "cr_eq_delong_1973")
        / value(heat, "ni_eq_delong_1973"),
    }
    for at, name in enumerate(_sides(_SCHAEFFLER)):
        for term, factor in linear(name).terms.items():
            if term in ("Cr", "Ni"):
                continue
            part = factor * heat.get(term, 0.0)
            shown = term if factor == 1 else f"{factor:g}·{term}"
            ways[f"you left out {shown}"] = (
                over / (under - part) if at else (over - part) / under
            )  # fmt: skip
    ends = {words: _word(rule, ratio) for words, ratio in ways.items()}
    return tuple(Mistake(end, words) for words, end in ends.items() if end not in ("", right))


def _first(rng: np.random.Generator) -> Exercise:
    """Which limit belongs to a ratio, and which phase is first by it."""
    rules = {
        "slowly, in an ingot": (_HAMMAR, "Hammar-Svensson's", "hammar_slow"),
        "fast, in an arc weld": (_HAMMAR, "Hammar-Svensson's", "hammar_fast"),
        "in a coated-electrode weld": (_SCHAEFFLER, "Schaeffler's", "schaeffler_switch"),
    }
    limits = {n: _rule(n).bands[0].upper for _, _, n in rules.values()}
    how = str(rng.choice([*rules]))
    relation, author, name = rules[how]
    ferrite = bool(rng.random() < 0.5)
    while True:
        heat = steel(rng, [*_WELDS, "CrNiMoN"])
        ratio = value(heat, relation)
        away = min(abs(ratio - limit) for limit in limits.values()) > _MARGIN
        if away and (ratio > limits[name]) == ferrite:
            break

    def says(limit: float) -> str:
        first = "austenite" if ratio < limit else "ferrite"
        return f"{first} first: the ratio lies {'below' if ratio < limit else 'above'} {limit:g}"

    owners = {n: key for key, (_, _, n) in rules.items()}
    authors = {n: author for _, author, n in rules.values()}
    answer = says(limits[name])
    wrong = {says(limit): f"{limit:g} is the limit of {authors[n]} ratio for a steel that freezes "
             f"{owners[n]}" for n, limit in limits.items() if n != name}  # fmt: skip
    return Exercise(
        _TOPIC,
        f"A steel has {ratio:.2f} by the ratio of {author} equivalents, and freezes {how}. What "
        "freezes first?",
        {"the steel": heat}, answer, choices=tuple(sorted([answer, *wrong])),
        mistakes=tuple(Mistake(w, words) for w, words in wrong.items()),
        solution=(f"{_rule(name).title}: {limits[name]:g}", answer), relations=(relation,),
        evidence=f"{_rule(name).title}: {_rule(name).bands[0].status}",
    )  # fmt: skip


def _field_of_mode(rng: np.random.Generator) -> Exercise:
    """Read the mode of a marked point off the chart that has fields of modes."""
    chart = diagram("wrc_1992")
    mode = str(rng.choice(["A", "AF", "FA"]))
    families = {"A": ["CrNiMoN"], "AF": ["CrNiMo"], "FA": _WELDS}[mode]
    heat = well_inside(rng, chart, families, mode, 0.2)
    x, y = xy(chart, heat)
    after = {"A": "austenite alone", "AF": "austenite first, then ferrite",
             "FA": "ferrite first, then austenite", "F": "ferrite alone"}  # fmt: skip
    choices = tuple(after.values())
    return Exercise(
        _TOPIC,
        f"How does the marked weld metal freeze, by the fields of this diagram? {chart.title}.",
        {}, after[mode], choices=choices,
        mistakes=tuple(
            Mistake(words, f"the point does not lie in field {field}, and the first letter of a "
                    "field is what freezes first")
            for field, words in after.items() if field != mode),
        solution=(f"({x:.1f}, {y:.1f}) lies in field {mode}", after[mode]), relations=chart.axes,
        evidence=f"{chart.title}: {chart.caution}",
        picture=Picture("wrc_1992", (("weld metal", x, y),), path_of(chart, heat)),
    )  # fmt: skip


def _picked_up(rng: np.random.Generator) -> Case:
    """A weld metal that gets an element, and what that does to hot cracking."""
    # nitrogen and nickel lower the ratio, chromium and silicon raise it
    element, amount = [("N", 0.06), ("Ni", 2.0), ("Cr", 1.5), ("Si", 0.8)][rng.integers(4)]
    heat = steel(rng, "weld metal")
    after = moved(heat, element, amount)
    limit = _rule("hammar_fast").bands[0].upper
    films = "phosphorus and sulphur stay in the last films of melt, where it cracks"
    return Case(
        f"A weld metal gets {amount:g} % more {element}. Its ratio of Hammar-Svensson's "
        f"equivalents has the limit {limit:g} for fast welds.",
        "the ratio", {"the weld metal": heat}, value(heat, _HAMMAR), value(after, _HAMMAR), "",
        rises=(f"{element} makes ferrite; above the limit ferrite freezes first and takes up "
               "phosphorus and sulphur",
               f"{element} makes ferrite; above the limit {films}"),
        falls=(f"{element} makes austenite; below the limit austenite freezes first, and {films}",
               f"{element} makes austenite; below the limit it takes up phosphorus and sulphur"),
        stays=f"{element} counts on both sides alike", relations=(_HAMMAR,),
    )  # fmt: skip


def _slipped(rng: np.random.Generator) -> Exercise:
    """A worked ratio with one wrong line."""
    names = _sides(_HAMMAR)
    while True:
        heat = steel(rng, _WELDS)
        creq, nieq = (value(heat, n) for n in names)
        at = int(rng.integers(3))
        wrong = [value(heat, "cr_eq_schaeffler_1949"), value(heat, "ni_eq_schaeffler_1949")]
        shown = [wrong[0] if at == 0 else creq, wrong[1] if at == 1 else nieq]
        ratio = shown[1] / shown[0] if at == 2 else shown[0] / shown[1]
        if min(abs(creq - wrong[0]), abs(nieq - wrong[1])) > 0.15:
            break
    said = ("those are Schaeffler's weights of chromium's side",
            "those are Schaeffler's weights of nickel's side, without nitrogen",
            "the ratio is turned over")[at]  # fmt: skip
    lines = (
        f"1. chromium equivalent: {shown[0]:.2f}", f"2. nickel equivalent: {shown[1]:.2f}",
        f"3. ratio, chromium over nickel: {ratio:.3f}",
    )  # fmt: skip
    choices = ("line 1", "line 2", "line 3")
    fine = "what stands there follows from the steel and the lines above"
    return Exercise(
        _TOPIC,
        "Somebody has worked out the ratio of Hammar-Svensson's equivalents, "
        f"{CATALOGUE[names[0]].formula} over {CATALOGUE[names[1]].formula}. In which line is the "
        "mistake?",
        {"the steel": heat}, choices[at], choices=choices,
        mistakes=tuple(Mistake(c, fine) for c in choices if c != choices[at]),
        solution=(f"{choices[at]}: {said}", f"{creq:.2f} / {nieq:.2f} = {creq / nieq:.3f}"),
        relations=(_HAMMAR, *names), evidence=evidence_of(_HAMMAR), lines=lines,
    )  # fmt: skip


def _estimated(rng: np.random.Generator) -> Exercise:
    """About how much nickel is missing before austenite freezes first."""
    limit, within = _rule("hammar_fast").bands[0].upper, 0.4
    names = _sides(_HAMMAR)
    while True:
        heat = steel(rng, "weld metal")
        creq, nieq = (value(heat, n) for n in names)
        answer = creq / limit - nieq
        if 1.0 < answer < 4.0:
            break
    mistakes = clear(answer, (
        Mistake(creq - limit * nieq, "that is what chromium has too much; divide it by the limit"),
        Mistake(creq / limit, "that is the nickel equivalent at the limit; take away what there "
                "is"),
        Mistake(creq / nieq - limit, "that is how far the ratio is off, not the nickel"),
    ), within)  # fmt: skip
    return Exercise(
        _TOPIC,
        f"This weld metal has a chromium equivalent of {creq:.1f} and a nickel equivalent of "
        f"{nieq:.1f} (Hammar-Svensson). About how much nickel, in wt%, may be added until the "
        f"ratio falls to {limit:g}? Within {within:g} is right.",
        {"the weld metal": heat}, answer, "wt%", within, mistakes=mistakes,
        solution=(f"{creq:.2f} / {limit:g} - {nieq:.2f} = {answer:.2f} wt%",),
        relations=(_HAMMAR,), evidence=f"{_rule('hammar_fast').title}: "
        f"{_rule('hammar_fast').bands[0].status}",
    )  # fmt: skip


_LIMIT = _rule("hammar_fast").bands[0].upper

SOLIDIFICATION_TEMPLATES: tuple[Template, ...] = (
    Template("freezing ratio", _TOPIC, "compute", _ratio),
    Template("freezing mode", _TOPIC, "compute", _mode),
    outcome("freezing picked up", _TOPIC, _picked_up, 0.05),
    Template("freezing field", _TOPIC, "read", _field_of_mode),
    Template("freezing limit", _TOPIC, "chart", _first),
    change("freezing change", _TOPIC, _HAMMAR, _WELDS, (_LIMIT, None),
           [("Cr", 0.8), ("Ni", -0.5), ("N", -0.03), ("Mo", 0.5), ("Si", 0.4), ("C", 0.01),
            ("Ni", 0.6), ("Cr", -0.8), ("Mn", 1.0), ("Si", -0.2)], 0.02, state="this weld metal"),
    rank("freezing order", _TOPIC, _HAMMAR, ("weld metal", "18Cr-8Ni", "CrNiMo", "25Cr-20Ni"), 0.05,
         by=("Cr", "cr_eq_hammar_1979", "ni_eq_hammar_1979", _SCHAEFFLER)),
    Template("freezing mistake", _TOPIC, "mistake", _slipped),
    Template("freezing estimate", _TOPIC, "estimate", _estimated),
)  # fmt: skip
