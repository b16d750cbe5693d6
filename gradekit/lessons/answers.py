"""What the course asks, computed on the spot from the catalogue and the diagrams."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.diagram import diagram
from gradekit.dilution import Weld, weld
from gradekit.evaluate import evaluate
from gradekit.html import number
from gradekit.lessons.answer import Answer
from gradekit.relations import CATALOGUE
from gradekit.route.duplex_phases import NITROGEN_WAYS, duplex_phases
from gradekit.route.martensite import kinetics, md30_forms, strain_of
from gradekit.route.martensite import martensite as share_of_martensite
from gradekit.solidification_criteria import criteria, limits

__all__ = [
    "STEELS",
    "course_weld",
    "dilution",
    "duplex",
    "equivalents",
    "families",
    "fields",
    "martensite",
    "nitrogen",
    "one_element",
    "pitting",
    "solidification",
]

#: Invented steels of the course, wt%.
STEELS: dict[str, dict[str, float]] = {
    "18Cr-8Ni": {"C": 0.04, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "Mo": 0.2, "N": 0.05,
                 "Cu": 0.3, "Nb": 0.01, "P": 0.03, "S": 0.003},
    "lean nickel": {"C": 0.05, "Si": 0.4, "Mn": 7.5, "Cr": 17.2, "Ni": 4.4, "Mo": 0.2, "N": 0.17,
                    "Cu": 0.3, "Nb": 0.01, "P": 0.03, "S": 0.003},
    "weld metal": {"C": 0.02, "Si": 0.5, "Mn": 1.6, "Cr": 19.6, "Ni": 10.0, "Mo": 0.2, "N": 0.05,
                   "Cu": 0.1, "Nb": 0.01, "P": 0.02, "S": 0.008},
    "23Cr-13Ni wire": {"C": 0.015, "Si": 0.5, "Mn": 1.6, "Cr": 23.5, "Ni": 13.0, "Mo": 0.1,
                       "N": 0.06, "Cu": 0.1, "Nb": 0.01},
    "mild steel": {"C": 0.15, "Si": 0.3, "Mn": 1.1, "Cr": 0.05, "Ni": 0.05, "Mo": 0.01, "N": 0.005,
                   "Cu": 0.05, "Nb": 0.0},
    "17Cr ferritic": {"C": 0.04, "Si": 0.4, "Mn": 0.5, "Cr": 16.4, "Ni": 0.2, "Mo": 0.02,
                      "N": 0.03, "Cu": 0.1, "Ti": 0.0},
    "13Cr martensitic": {"C": 0.21, "Si": 0.4, "Mn": 0.5, "Cr": 13.2, "Ni": 0.3, "Mo": 0.05,
                         "N": 0.02, "Cu": 0.1, "Ti": 0.0},
    "22Cr duplex": {"C": 0.02, "Si": 0.4, "Mn": 1.5, "Cr": 22.3, "Ni": 5.6, "Mo": 3.1, "N": 0.17,
                    "Cu": 0.2, "Ti": 0.0},
    "17Cr-12Ni-2Mo": {"C": 0.02, "Si": 0.5, "Mn": 1.2, "Cr": 16.8, "Ni": 10.6, "Mo": 2.1,
                      "N": 0.05, "Cu": 0.3},
}  # fmt: skip


def course_weld() -> Weld:
    """Return the weld of the course: mild steel to 18Cr-8Ni with a 23Cr-13Ni wire."""
    return weld(STEELS["mild steel"], STEELS["18Cr-8Ni"], STEELS["23Cr-13Ni wire"], steps=1001)


def _ends(values: object) -> tuple[float, float]:
    return float(np.nanmin(values)), float(np.nanmax(values))


def _nickel_equivalents(element: str) -> list[str]:
    """Those for the axis of a diagram that weigh an element; one with chromium in it ranks."""
    found = []
    for relation in CATALOGUE.values():
        terms = getattr(relation, "terms", {})
        if relation.quantity == "nickel equivalent" and {element, "Ni"} <= set(terms):
            if "Cr" not in terms:
                found.append(relation.name)
    return found


def equivalents() -> Answer:
    """What 0.05 % of carbon is worth in nickel."""
    amount = 0.05
    names = _nickel_equivalents("C")
    terms = {n: CATALOGUE[n].terms for n in names}
    shown = pd.DataFrame(
        {e: {n: t.get(e, 0.0) / t["Ni"] for n, t in terms.items()} for e in ("C", "N", "Mn", "Cu")}
    ).rename_axis("relation")
    stands = amount * shown["C"]
    return Answer(
        float(stands["ni_eq_schaeffler_1949"]), *_ends(stands), "% Ni",
        "A coefficient says how much nickel one per cent of an element stands for. Each was fitted "
        "to welds or heats of its own, and what was not varied there got no coefficient, or one "
        "that was guessed.",
        "what the published nickel equivalents give",
        shown, "How much nickel one per cent stands for", tuple(names),
    )  # fmt: skip


def one_element() -> Answer:
    """What 0.05 % more nitrogen does to a ferrite number."""
    names = ["ferrite_wrc_1992", "ferrite_delong_1973"]
    before = STEELS["weld metal"]
    both = pd.DataFrame([before, before | {"N": before["N"] + 0.05}], index=["before", "after"])
    result = evaluate(both, names)
    shown = result.values.T.assign(change=lambda t: t["after"] - t["before"])
    change = shown["change"]
    errors = result.standard_error.T.max(axis=1)
    reach = float(errors.max())
    return Answer(
        float(change.iloc[0]), float(change.min() - reach), float(change.max() + reach), "FN",
        "Nitrogen moves the point straight up, across the lines of equal ferrite. It is the "
        "cheapest way to lose ferrite, and the easiest to do by accident: air in the arc adds it.",
        "both diagrams and the tolerance of a reading",
        shown, "Ferrite number before and after 0.05 % more nitrogen", tuple(names),
    )  # fmt: skip


def fields() -> Answer:
    """On how many diagrams one steel shows ferrite."""
    steel, rows = STEELS["lean nickel"], {}
    for name in ("schaeffler_1949", "delong_1973", "wrc_1992"):
        chart = diagram(name)
        spot = chart.locate(steel).iloc[0]
        rows[chart.title] = {
            "field": str(spot["region"]) or "outside the chart",
            "reading": spot["value"], "±": spot["tolerance"], "unit": chart.data.unit,
        }  # fmt: skip
    shown = pd.DataFrame(rows).T.rename_axis("diagram")
    shown[["reading", "±"]] = shown[["reading", "±"]].astype(float)
    some = shown["reading"] > 0
    sure = shown["reading"] > shown["±"]
    axes = tuple(dict.fromkeys(a for n in ("schaeffler_1949", "delong_1973", "wrc_1992")
                               for a in diagram(n).axes))  # fmt: skip
    return Answer(
        float(some.sum()), float(sure.sum()), float((shown["reading"] + shown["±"] > 0).sum()),
        "of 3 diagrams",
        "Schaeffler's chart leaves nitrogen out, DeLong's counts it, WRC-1992 counts it less and "
        "leaves manganese out. Believe the one whose own steels were like yours: for 4 % "
        "manganese and more, none of the three.",
        "surely above zero to possibly above zero, within the tolerance of each reading",
        shown, "The lean-nickel steel on three diagrams", axes,
    )  # fmt: skip


def dilution() -> Answer:
    """Up to which dilution the weld of the course keeps 3 FN."""
    joint = course_weld()
    placed = joint.placed
    dilution = 100 * joint.line.index.to_numpy(dtype=float)
    value, off = (placed[c].to_numpy(dtype=float) for c in ("value", "tolerance"))

    def last(keeps: np.ndarray) -> float:
        return float(dilution[keeps].max()) if keeps.any() else 0.0

    some = placed.iloc[:601:100].copy()
    some.index = pd.Index([f"{d:.0f} %" for d in dilution[:601:100]], name="dilution")
    kept = joint.keeps()
    between = (
        "No dilution keeps 3 to 8 FN" if kept is None
        else f"3 to 8 FN are kept from {100 * kept[0]:.0f} to {100 * kept[1]:.0f} % dilution"
    )  # fmt: skip
    return Answer(
        last(value >= 3), last(value - off >= 3), last((value > 0) & (value + off >= 3)),
        "% dilution",
        f"Every weld of the joint lies on the straight line from the wire to the mixture of both "
        f"parents. {between}; beyond, austenite without ferrite may crack hot, and further on "
        "martensite waits.",
        "the tolerance of the diagram",
        some[["x", "y", "region", "value", "tolerance"]].astype({"region": str}),
        "Along the line on the WRC-1992 diagram (x, y in wt%, value in FN)",
        joint.diagram.axes, f"{joint.diagram.title}: {joint.diagram.caution}",
    )  # fmt: skip


def solidification() -> Answer:
    """How much nickel makes austenite freeze first."""
    steel, rows, used = STEELS["weld metal"], {}, []
    for criterion in criteria():
        if len(criterion.bands) != 2:
            continue
        ratio = CATALOGUE[criterion.relation]
        chromium, nickel = _equivalents_of(criterion.relation)
        x, y = (float(evaluate(steel, n).values.iloc[0, 0]) for n in (chromium, nickel))
        limit = criterion.bands[0].upper
        rows[criterion.title] = {
            "ratio": x / y, "limit": limit,
            "nickel to add, %": (x / limit - y) / CATALOGUE[nickel].terms["Ni"],
            "status": criterion.bands[0].status,
        }  # fmt: skip
        used += [ratio.name, chromium, nickel]
    shown = pd.DataFrame(rows).T.rename_axis("criterion").astype({"ratio": float, "limit": float})
    shown["nickel to add, %"] = shown["nickel to add, %"].astype(float)
    room = shown["nickel to add, %"]
    return Answer(
        float(room.median()), *_ends(room), "% Ni",
        "As long as ferrite freezes first it takes up phosphorus and sulphur and leaves no film of "
        "melt between the grains. Once austenite is first, P + S decide. Each limit belongs to its "
        "own ratio; the switch depends on how fast the weld freezes.",
        "each criterion with its own equivalents",
        shown, "How far the weld metal is from freezing as austenite first",
        tuple(dict.fromkeys(used)),
    )  # fmt: skip


def _equivalents_of(ratio: str) -> tuple[str, str]:
    """Return the two equivalents that a ratio is made of."""
    chromium, nickel = CATALOGUE[ratio].formula.split("/")
    return chromium.strip(), nickel.strip()


def families() -> Answer:
    """What carbon is worth in chromium, and the index of each family."""
    own = {
        "17Cr ferritic": "ferrite_factor_kaltenhauser_1971", "13Cr martensitic": "ms_self_1984",
        "22Cr duplex": "ferrite_duplex_annealed", "18Cr-8Ni": "md30_angel_1954",
    }  # fmt: skip
    names = list(own.values())
    found = evaluate(pd.DataFrame({k: STEELS[k] for k in own}).T, names, temperature_C=1050)
    shown = pd.DataFrame(
        {
            "index": [CATALOGUE[n].title for n in names],
            "value": [found.values.at[k, n] for k, n in own.items()],
            "unit": [CATALOGUE[n].unit for n in names],
            "all four, in this order": [
                ", ".join(number(v, 3) for v in found.values.loc[k]) for k in own
            ],
        },
        index=pd.Index(own, name="steel"),
    )
    factor = CATALOGUE[names[0]].terms
    known = limits()
    of_17cr = (known["relation"] == names[0]) & known["meaning"].str.startswith("430")
    free = known.loc[of_17cr, "lower"].item()
    value = -0.05 * factor["C"] / factor["Cr"]
    return Answer(
        value, value, value, "% Cr",
        f"Each family has its own index: the ferrite factor (above {free:g} a 17Cr weld stays "
        "ferrite), the start of martensite Ms, the ferrite of an annealed duplex, and Md30. An "
        "index outside its family is a number and no more.",
        "one relation, from memory: no second one to set beside it",
        shown, "Four steels by the index of their own family, and by all four", tuple(names),
    )  # fmt: skip


def nitrogen() -> Answer:
    """How much nitrogen stands in for four per cent of nickel."""
    taken = 4.0
    names = _nickel_equivalents("N")
    needs = pd.Series(
        {n: taken * CATALOGUE[n].terms["Ni"] / CATALOGUE[n].terms["N"] for n in names},
        name="nitrogen for 4 % nickel, wt%",
    )
    steel = STEELS["18Cr-8Ni"]
    swapped = steel | {"Ni": steel["Ni"] - taken, "N": steel["N"] + float(needs["ni_eq_wrc_1992"])}
    room = evaluate(swapped, "n_margin_castable").values.iloc[0, 0]
    verdict = "it casts without pores" if room >= 0 else "it would boil in the mould"
    return Answer(
        float(needs["ni_eq_wrc_1992"]), *_ends(needs), "% N",
        f"With that much nitrogen the 18Cr-8Ni steel has {number(float(room), 2)} % of room below "
        f"what casts without pores (a working rule): {verdict}. Manganese in such steels is there "
        "to hold nitrogen in the melt.",
        "the published weights of nitrogen against nickel",
        needs.to_frame().rename_axis("relation"), "What four per cent of nickel are worth",
        ("ni_eq_wrc_1992", "n_margin_castable"),
        "The other weights: sources in the chapter 'equivalents'",
    )  # fmt: skip


def martensite() -> Answer:
    """How much martensite cold rolling makes."""
    steel, reduction, grain = STEELS["18Cr-8Ni"], 40.0, 8
    forms = md30_forms(pd.DataFrame([steel], index=["18Cr-8Ni"]), grain).iloc[0]
    strain = strain_of(reduction)
    share = 100 * share_of_martensite(strain, 20.0, forms.to_numpy())
    warm = 100 * share_of_martensite(strain, 80.0, forms.to_numpy())
    shown = pd.DataFrame(
        {"Md30, °C": forms, "at 20 °C, %": share, "at 80 °C, %": warm}
    ).rename_axis("relation")  # fmt: skip
    return Answer(
        float(shown.loc["md30_nohara_1977", "at 20 °C, %"]), *_ends(share), "% martensite",
        "The same sheet, the same roll, 60 °C warmer: far less martensite. And the four "
        "relations do not agree where it begins, so a works measures it (magnetically) and does "
        "not trust a formula.",
        "four published Md30 relations",
        shown, f"Martensite after {reduction:g} % cold rolling, by a working rule",
        tuple(forms.index), f"Kinetics: {kinetics()}; grain size ASTM {grain:g}",
    )  # fmt: skip


def duplex() -> Answer:
    """How far the pitting indices of two phases lie apart."""
    steel, rows = STEELS["22Cr duplex"], {}
    for way in NITROGEN_WAYS:
        for factor in (16, 30):
            one = duplex_phases(steel, (1050.0,), nitrogen=way, factor=factor).table.iloc[0]
            rows[f"nitrogen {way}, factor {factor}"] = {
                "ferrite": one["PREN ferrite"], "austenite": one["PREN austenite"],
                "gap": one["PREN ferrite"] - one["PREN austenite"],
            }  # fmt: skip
    shown = pd.DataFrame(rows).T.rename_axis("assumption")
    return Answer(
        float(shown.loc["nitrogen measured, factor 16", "gap"]), *_ends(shown["gap"]),
        "points",
        "Chromium and molybdenum go to the ferrite, nickel and nitrogen to the austenite. The "
        "weaker phase pits first, and which one that is depends on how nitrogen is shared and "
        "weighed: the gap can all but close.",
        "three ways of sharing nitrogen, two factors of nitrogen in the austenite",
        shown, "Pitting index of both phases after 1050 °C",
        ("ferrite_duplex_annealed", "pren_16n", "pren_30n"),
        "Partition ratios of duplex reviews, recalled (memory); nitrogen conflicting",
    )  # fmt: skip


def pitting() -> Answer:
    """What molybdenum is worth in nitrogen."""
    names = ["pren_16n", "pren_30n"]
    factors = {n: CATALOGUE[n].terms["N"] for n in names}
    needs = {n: CATALOGUE[n].terms["Mo"] / factors[n] for n in names}
    kinds = ["18Cr-8Ni", "lean nickel", "17Cr-12Ni-2Mo", "22Cr duplex"]
    shown = evaluate(pd.DataFrame({k: STEELS[k] for k in kinds}).T, names).values
    return Answer(
        needs["pren_16n"], *_ends(list(needs.values())), "% N",
        f"The factor of nitrogen is a matter of convention: {factors['pren_16n']:g} in most "
        f"standards, {factors['pren_30n']:g} in others. An index ranks steels "
        "in a test. Weld, finish, crevice, deposit and temperature decide in "
        "service, and no index qualifies a steel for pressure, sour service, food, the body or "
        "parts above pools.",
        "the two factors of nitrogen in use",
        shown, "Four steels by both indices", tuple(names),
    )  # fmt: skip
