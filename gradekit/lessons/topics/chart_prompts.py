"""Questions of the text that are read from a diagram, or from its two sums."""

from __future__ import annotations

import numpy as np

from gradekit.diagrams.constitution import diagram
from gradekit.diagrams.criteria import limits
from gradekit.diagrams.dilution import weld
from gradekit.lessons.exercise import Exercise, Mistake
from gradekit.lessons.forms.amounts import evidence_of
from gradekit.lessons.forms.charts import CHARTS
from gradekit.lessons.forms.choices import moved
from gradekit.lessons.slips import linear, value
from gradekit.lessons.steels import STEELS


def both_sums() -> Exercise:
    """Which element stands in both of Schaeffler's sums."""
    chromium, nickel = linear("cr_eq_schaeffler_1949"), linear("ni_eq_schaeffler_1949")
    both = [e for e in chromium.terms if e in nickel.terms]
    none = "none of them"
    choices = ("C", "Si", "Mn", "Mo", "Nb", none)
    side = {e: "chromium" if e in chromium.terms else "nickel" for e in choices[:-1]}
    return Exercise(
        "", "Which element moves both of Schaeffler's sums?", {}, both[0] if both else none,
        choices=choices, kind="estimate",
        mistakes=tuple(Mistake(e, f"{e} stands in the {s} equivalent alone")
                       for e, s in side.items() if e not in both),
        solution=(f"chromium equivalent: {chromium.formula}", f"nickel equivalent: "
                  f"{nickel.formula}", f"in both: {', '.join(both) or 'no element'}"),
        relations=(chromium.name, nickel.name), evidence=evidence_of(chromium.name, nickel.name),
    )  # fmt: skip


def on_two_charts(element: str, amount: float) -> Exercise:
    """What an element does to the ferrite number on two diagrams."""
    heat = STEELS["weld metal"]
    readings = {n: f"ferrite_{n}" for n in ("delong_1973", "wrc_1992")}
    by = {n: value(moved(heat, element, amount), r) - value(heat, r) for n, r in readings.items()}
    answer = by["delong_1973"]
    slips = {by["wrc_1992"]: "that is WRC-1992", amount: "that is the amount itself"}
    return Exercise(
        "",
        f"The weld metal gets {amount:g} % more {element}. By how much does its ferrite number "
        "change on the DeLong diagram (a fall is negative)? Within 0.5 FN is right.",
        {"weld metal": {e: x for e, x in heat.items() if e not in ("P", "S")}}, answer, "FN", 0.5,
        kind="estimate",
        mistakes=tuple(Mistake(x, w) for x, w in slips.items() if abs(x - answer) > 1.0),
        solution=tuple(f"{diagram(n).title}: {x:+.2f} FN" for n, x in by.items()),
        relations=tuple(readings.values()), evidence=evidence_of(*readings.values()),
    )  # fmt: skip


def without_nitrogen() -> Exercise:
    """On how many diagrams a lean-nickel steel shows ferrite once its nitrogen is out."""
    before = STEELS["lean nickel"]
    after = before | {"N": 0.0}

    def told(heat: dict[str, float]) -> dict[str, tuple[bool, str]]:
        spots = {diagram(c).title: diagram(c).spots(heat)[0] for c in CHARTS}
        return {title: (bool(s.region) and s.value > 0, f"{s.value:.1f} in field {s.region}"
                        if s.region else "beside the chart, which counts as not read")
                for title, s in spots.items()}  # fmt: skip

    first, then = told(before), told(after)
    counts = ("0 of 3", "1 of 3", "2 of 3", "3 of 3")
    shown = [title for title, (read, _) in then.items() if read]
    answer = counts[len(shown)]
    fewer = f"on the {' and the '.join(shown)} it is read, also without nitrogen"
    wrong = {c: fewer if c < answer else "count only what is read on the chart, and not beside it"
             for c in counts if c != answer}  # fmt: skip
    return Exercise(
        "",
        "All the nitrogen is taken out of the lean-nickel steel. On how many of the three diagrams "
        "is ferrite read then?",
        {"lean nickel": {e: x for e, x in before.items() if e not in ("P", "S")}}, answer,
        choices=counts, kind="estimate",
        mistakes=tuple(Mistake(c, words) for c, words in wrong.items()),
        solution=tuple(f"{title}: {words}; with its nitrogen {first[title][1]}"
                       for title, (_, words) in then.items()),
        relations=tuple(a for c in CHARTS for a in diagram(c).axes),
        evidence="; ".join(f"{diagram(c).title}: {diagram(c).status}" for c in CHARTS),
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
        "",
        "The wire is the weld metal instead of 23Cr-13Ni. From which dilution, in %, is less than "
        "3 FN read, or nothing, on WRC-1992? Within 3 is right.",
        {}, answer, "%", 3.0, kind="estimate",
        mistakes=tuple(m for m in (Mistake(longer, "so far goes the 23Cr-13Ni wire"),
                                   Mistake(100 - answer, "that is the share of the wire"))
                       if abs(float(m.value) - answer) > 6),
        solution=(f"from {answer:.1f} % on: {why}", f"with the 23Cr-13Ni wire: {longer:.1f} %"),
        relations=joint.diagram.axes, evidence=f"{joint.diagram.title}: {joint.diagram.caution}",
    )  # fmt: skip


def into_the_band() -> Exercise:
    """What a weld needs once nickel has brought austenite first."""
    steel, more, relation = STEELS["weld metal"], 3.5, "cr_ni_ratio_schaeffler"
    row = limits().loc["s15"]
    below = float(str(row["given"]).partition("<")[2])
    ratio = value(moved(steel, "Ni", more), relation)
    ways = (f"P + S of at most {row['upper']:g} %", "P + S of at most 0.05 %",
            "nothing: it is sound as it is")  # fmt: skip
    wrong = {
        ways[1]: "so much was never a limit: above the switch none is needed, below it less",
        ways[2]: f"that holds above a ratio of {below:g}: work out the ratio with the new nickel",
    } if ratio < below else {
        ways[0]: f"above a ratio of {below:g} there is no limit in practice",
        ways[1]: f"above a ratio of {below:g} there is no limit in practice",
    }  # fmt: skip
    return Exercise(
        "",
        f"The weld metal gets {more:g} % more nickel. What does it need to stay free of hot "
        "cracks?",
        {"weld metal": {e: x for e, x in steel.items() if x}},
        ways[0] if ratio < below else ways[2], choices=ways, kind="estimate",
        mistakes=tuple(Mistake(w, words) for w, words in wrong.items()),
        solution=(f"ratio of Schaeffler's equivalents: {ratio:.2f}",
                  f"below {below:g} austenite is first, and there the limit of P + S holds "
                  f"({row['status']})"),
        relations=(relation,), evidence=f"limit of P + S: {row['status']}",
    )  # fmt: skip
