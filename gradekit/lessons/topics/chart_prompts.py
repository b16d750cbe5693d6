"""Questions of the text that are read from a diagram, or from its two sums."""

from __future__ import annotations

import numpy as np

from gradekit.diagrams.constitution import diagram
from gradekit.diagrams.criteria import limits
from gradekit.diagrams.dilution import weld
from gradekit.lessons.exercise import Exercise, Mistake, wrong_ways
from gradekit.lessons.forms.charts import CHARTS, all_axes, statuses
from gradekit.lessons.forms.choices import moved
from gradekit.lessons.known_limits import impurity_limit
from gradekit.lessons.slips import linear, value
from gradekit.lessons.steels import STEELS, clean


def both_sums() -> Exercise:
    """Which element stands in both of Schaeffler's sums."""
    chromium, nickel = linear("cr_eq_schaeffler_1949"), linear("ni_eq_schaeffler_1949")
    both = [e for e in chromium.terms if e in nickel.terms]
    none = "none of them"
    choices = ("C", "Si", "Mn", "Mo", "Nb", none)
    alone = {
        e: f"{e} stands in the {'chromium' if e in chromium.terms else 'nickel'} equivalent alone"
        for e in choices[:-1] if e not in both
    }  # fmt: skip
    answer = both[0] if both else none
    return Exercise(
        "Which element moves both of Schaeffler's sums?", {}, answer, choices=choices,
        mistakes=wrong_ways(alone, answer),
        solution=(f"chromium equivalent: {chromium.formula}", f"nickel equivalent: "
                  f"{nickel.formula}", f"in both: {', '.join(both) or 'no element'}"),
        relations=(chromium.name, nickel.name),
    )  # fmt: skip


def on_two_charts(element: str, amount: float) -> Exercise:
    """What an element does to the ferrite number on two diagrams."""
    heat = clean("weld metal")
    readings = {n: f"ferrite_{n}" for n in ("delong_1973", "wrc_1992")}
    by = {n: value(moved(heat, element, amount), r) - value(heat, r) for n, r in readings.items()}
    return Exercise(
        f"The weld metal gets {amount:g} % more {element}. By how much does its ferrite number "
        "change on the DeLong diagram (a fall is negative)? Within 0.5 FN is right.",
        {"weld metal": heat}, by["delong_1973"], "FN", 0.5,
        mistakes=(Mistake(by["wrc_1992"], "that is WRC-1992"),
                  Mistake(amount, "that is the amount itself")),
        solution=tuple(f"{diagram(n).title}: {x:+.2f} FN" for n, x in by.items()),
        relations=tuple(readings.values()),
    )  # fmt: skip


def without_nitrogen() -> Exercise:
    """On how many diagrams a lean-nickel steel shows ferrite once its nitrogen is out."""
    before = clean("lean nickel")

    def told(heat: dict[str, float]) -> dict[str, tuple[bool, str]]:
        spots = {diagram(c).title: diagram(c).spots(heat)[0] for c in CHARTS}
        return {title: (bool(s.region) and s.value > 0, f"{s.value:.1f} in field {s.region}"
                        if s.region else "beside the chart, which counts as not read")
                for title, s in spots.items()}  # fmt: skip

    first, then = told(before), told(before | {"N": 0.0})
    counts = ("0 of 3", "1 of 3", "2 of 3", "3 of 3")
    shown = [title for title, (read, _) in then.items() if read]
    answer = counts[len(shown)]
    fewer = f"on the {' and the '.join(shown)} it is read, also without nitrogen"
    more = "count only what is read on the chart, and not beside it"
    return Exercise(
        "All the nitrogen is taken out of the lean-nickel steel. On how many of the three diagrams "
        "is ferrite read then?",
        {"lean nickel": before}, answer, choices=counts,
        mistakes=wrong_ways({c: fewer if c < answer else more for c in counts}, answer),
        solution=tuple(f"{title}: {words}; with its nitrogen {first[title][1]}"
                       for title, (_, words) in then.items()),
        relations=all_axes(), evidence=statuses(),
    )  # fmt: skip


def other_wire() -> Exercise:
    """At which dilution a leaner wire fails, and on which side."""
    joint = weld(STEELS["mild steel"], STEELS["18Cr-8Ni"], STEELS["weld metal"], steps=1001)
    placed, share = joint.placed, 100 * joint.line.index.to_numpy(dtype=float)
    bad = ((placed["value"] < 3) | (placed["region"] == "")).to_numpy()
    at = int(np.argmax(bad))
    why = ("its line leaves the chart" if placed["region"].iloc[at] == ""
           else f"less than 3 FN, in field {placed['region'].iloc[at]}")  # fmt: skip
    rich = weld(STEELS["mild steel"], STEELS["18Cr-8Ni"], STEELS["23Cr-13Ni wire"], steps=1001)
    kept = rich.keeps(3, 100)
    longer = 100 * kept[1] if kept else 0.0
    answer = float(share[at])
    return Exercise(
        "The wire is the weld metal instead of 23Cr-13Ni. From which dilution, in %, is less than "
        "3 FN read, or nothing, on WRC-1992? Within 3 is right.",
        {}, answer, "%", 3.0,
        mistakes=(Mistake(longer, "so far goes the 23Cr-13Ni wire"),
                  Mistake(100 - answer, "that is the share of the wire")),
        solution=(f"from {answer:.1f} % on: {why}", f"with the 23Cr-13Ni wire: {longer:.1f} %"),
        relations=joint.diagram.axes, evidence=f"{joint.diagram.title}: {joint.diagram.caution}",
    )  # fmt: skip


def into_the_band() -> Exercise:
    """What a weld needs once nickel has brought austenite first."""
    steel, more, relation = STEELS["weld metal"], 3.5, "cr_ni_ratio_schaeffler"
    (limit, below), status = impurity_limit(), limits().loc["s15", "status"]
    ratio = value(moved(steel, "Ni", more), relation)
    most, loose, nothing = (f"P + S of at most {limit:g} %", "P + S of at most 0.05 %",
                            "nothing: it is sound as it is")  # fmt: skip
    if ratio < below:
        answer, wrong = most, {
            loose: "so much was never a limit: above the switch none is needed, below it less",
            nothing: f"that holds above a ratio of {below:g}: work out the ratio with the new "
            "nickel",
        }  # fmt: skip
    else:
        none = f"above a ratio of {below:g} there is no limit in practice"
        answer, wrong = nothing, {most: none, loose: none}
    return Exercise(
        f"The weld metal gets {more:g} % more nickel. What does it need to stay free of hot "
        "cracks?",
        {"weld metal": steel}, answer, choices=(most, loose, nothing),
        mistakes=wrong_ways(wrong, answer),
        solution=(f"ratio of Schaeffler's equivalents: {ratio:.2f}",
                  f"below {below:g} austenite is first, and there the limit of P + S holds "
                  f"({status})"),
        relations=(relation,), evidence=f"limit of P + S: {status}",
    )  # fmt: skip
