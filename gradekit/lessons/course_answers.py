"""What the course asks, computed on the spot from the catalogue and the diagrams."""

from __future__ import annotations

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from gradekit.core.markup import number
from gradekit.diagrams.criteria import criteria
from gradekit.lessons.answer import Answer, room_words
from gradekit.lessons.known_limits import factor_limits
from gradekit.lessons.slips import linear, sides, value
from gradekit.lessons.steels import STEELS
from gradekit.relations.declaration import Linear
from gradekit.relations.evaluate import evaluate
from gradekit.relations.topics import CATALOGUE
from gradekit.works.anneal.duplex_phases import NITROGEN_WAYS, duplex_phases
from gradekit.works.cold.martensite import kinetics, md30_forms, strain_of
from gradekit.works.cold.martensite import martensite as share_of_martensite
from gradekit.works.plant import typical_plant


def _ends(values: ArrayLike) -> tuple[float, float]:
    array = np.asarray(values)
    return float(np.nanmin(array)), float(np.nanmax(array))


def _nickel_equivalents(element: str) -> list[str]:
    """Those for the axis of a diagram that weigh an element; one with chromium in it ranks."""
    return [
        r.name for r in CATALOGUE.values()
        if isinstance(r, Linear) and r.quantity == "nickel equivalent"
        and {element, "Ni"} <= r.terms.keys() and "Cr" not in r.terms
    ]  # fmt: skip


def equivalents_answer() -> Answer:
    """What 0.05 % of carbon is worth in nickel."""
    amount = 0.05
    names = _nickel_equivalents("C")
    terms = {n: linear(n).terms for n in names}
    shown = pd.DataFrame(
        {e: {n: t.get(e, 0.0) / t["Ni"] for n, t in terms.items()} for e in ("C", "N", "Mn", "Cu")}
    ).rename_axis("relation")
    stands = amount * shown["C"]
    return Answer(
        float(stands["ni_eq_schaeffler_1949"]), *_ends(stands), "% Ni",
        "A coefficient says how much nickel one per cent of an element stands for. Each was fitted "
        "to welds or heats of its own, and what was not varied there got no coefficient, or one "
        "that was guessed.",
        "the published nickel equivalents",
        shown, "How much nickel one per cent stands for", tuple(names),
        exact="ni_eq_schaeffler_1949",
    )  # fmt: skip


def one_element_answer() -> Answer:
    """What 0.05 % more nitrogen does to a ferrite number."""
    names = ["ferrite_wrc_1992", "ferrite_delong_1973"]
    before = STEELS["weld metal"]
    both = pd.DataFrame([before, before | {"N": before["N"] + 0.05}], index=["before", "after"])
    result = evaluate(both, names)
    shown = result.values.T.assign(change=lambda t: t["after"] - t["before"])
    change = shown["change"]
    shown["± of a level"] = off = result.standard_error.T.max(axis=1)
    return Answer(
        float(change.iloc[0]), *_ends(change), "FN",
        "Nitrogen moves the point straight up, across the lines of equal ferrite. It is the "
        "cheapest way to lose ferrite, and the easiest to do by accident: air in the arc adds it. "
        f"A level is good to ± {number(float(off.max()), 2)} FN. In a difference on one diagram "
        "what both readings have wrong alike drops out. How much is left is not known, so the "
        "range is only what lies between the diagrams; if each reading erred on its own, and "
        f"nothing dropped out, it would be ± {number(float(off.max() * np.sqrt(2)), 2)} FN.",
        f"{len(names)} diagrams; the catalogue has no figure for the error of a difference",
        shown, "Ferrite number before and after 0.05 % more nitrogen", tuple(names),
        other_way="the change goes the other way",
    )  # fmt: skip


def solidification_answer() -> Answer:
    """How much nickel makes austenite freeze first."""
    steel, rows, used = STEELS["weld metal"], {}, []
    for criterion in criteria():
        if len(criterion.bands) != 2:
            continue
        chromium, nickel = sides(criterion.relation)
        x, y = (value(steel, n) for n in (chromium, nickel))
        limit = criterion.bands[0].upper
        rows[criterion.title] = {
            "ratio": x / y, "limit": limit,
            "nickel to add, %": (x / limit - y) / linear(nickel).terms["Ni"],
            "status": criterion.bands[0].status,
        }  # fmt: skip
        used += [criterion.relation, chromium, nickel]
    shown = pd.DataFrame.from_dict(rows, orient="index").rename_axis("criterion")
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


def families_answer() -> Answer:
    """What carbon is worth in chromium, and the index of each family."""
    own = {
        "17Cr ferritic": "ferrite_factor_kaltenhauser_1971", "13Cr martensitic": "ms_finkler_1996",
        "22Cr duplex": "ferrite_duplex_anchored", "18Cr-8Ni": "md30_angel_1954",
    }  # fmt: skip
    names = list(own.values())
    indices = evaluate(pd.DataFrame({k: STEELS[k] for k in own}).T, names, temperature_C=1050)
    shown = pd.DataFrame(
        {
            "index": [CATALOGUE[n].title for n in names],
            "value": [indices.values.at[k, n] for k, n in own.items()],
            "unit": [CATALOGUE[n].unit for n in names],
            "all four, in this order": [
                ", ".join(number(v, 3) for v in indices.values.loc[k]) for k in own
            ],
        },
        index=pd.Index(own, name="steel"),
    )
    factor = linear(names[0]).terms
    _, free = factor_limits()
    worth = -0.05 * factor["C"] / factor["Cr"]
    return Answer(
        worth, worth, worth, "% Cr",
        f"In the ferrite factor carbon counts {-factor['C'] / factor['Cr']:g} times as much as "
        "chromium, and against it: it makes austenite in the heat of the weld. Titanium counts "
        f"{factor['Ti'] / factor['Cr']:g} times, for it ties carbon and nitrogen up. Each family "
        f"has its own index: the ferrite factor (above {free:g} a 17Cr weld stays ferrite), the "
        "start of martensite Ms, the ferrite of an annealed duplex, and Md30. An index outside "
        "its family is a number and no more.",
        "one relation, from memory: no second one to set beside it",
        shown, "Four steels by the index of their own family, and by all four", tuple(names),
    )  # fmt: skip


def nitrogen_answer() -> Answer:
    """How much nitrogen stands in for four per cent of nickel."""
    taken = 4.0
    names = _nickel_equivalents("N")
    needs = pd.Series(
        {n: taken * linear(n).terms["Ni"] / linear(n).terms["N"] for n in names},
        name="nitrogen for 4 % nickel, wt%",
    )
    steel = STEELS["18Cr-8Ni"]
    swapped = steel | {"Ni": steel["Ni"] - taken, "N": steel["N"] + float(needs["ni_eq_wrc_1992"])}
    room = evaluate(swapped, "n_margin_castable").values.iloc[0, 0]
    verdict = "it casts" if room >= 0 else "it would boil in the mould"
    return Answer(
        float(needs["ni_eq_wrc_1992"]), *_ends(needs), "% N",
        f"With that much nitrogen the 18Cr-8Ni steel would hold {room_words(float(room))} (a "
        f"working rule): {verdict}. Manganese in such steels is there "
        "to hold nitrogen in the melt.",
        "the published weights of nitrogen against nickel",
        needs.to_frame().rename_axis("relation"), "What four per cent of nickel are worth",
        ("ni_eq_wrc_1992", "n_margin_castable"),
        "The other weights: sources in the chapter 'equivalents'", "ni_eq_wrc_1992",
    )  # fmt: skip


def mill_temperature() -> float:
    """Return the temperature of a strip in an ordinary cold mill, °C."""
    return typical_plant().get("cold_mill.strip_temperature", "C")


def martensite_answer() -> Answer:
    """How much martensite cold rolling makes: a band, which four forms and their error leave."""
    steel, reduction, grain, warm = STEELS["18Cr-8Ni"], 40.0, 8, mill_temperature()
    forms = md30_forms(pd.DataFrame([steel], index=["18Cr-8Ni"]), grain).iloc[0]
    nohara = CATALOGUE["md30_nohara_1977"]
    error, strain = float(nohara.error_at(np.asarray(0.0))), strain_of(reduction)

    def share(at: float, off: float = 0.0) -> np.ndarray:
        return 100 * share_of_martensite(strain, at, forms.to_numpy() + off)

    shown = pd.DataFrame(
        {
            "Md30, °C": forms, f"at {warm:g} °C, %": share(warm),
            "at the lower end, %": share(warm, -error), "at the upper end, %": share(warm, error),
            "held at 20 °C, %": share(20.0),
        }
    ).rename_axis("relation")  # fmt: skip
    cold = " to ".join(number(x, 2) for x in _ends(share(20.0)))
    return Answer(
        float(shown.loc["md30_nohara_1977", f"at {warm:g} °C, %"]),
        *_ends([*share(warm, -error), *share(warm, error)]), "% martensite",
        f"Rolling warms the strip, and {warm - 20:g} °C decide: held at 20 °C the same forms give "
        f"{cold} %, which no mill sees. The four do not agree where it begins, each errs by some "
        f"{error:g} °C ({nohara.error_basis}), and the kinetics are a working rule that nobody has "
        "published for a composition. So a works measures martensite (magnetically) and trusts no "
        "formula; a guess is judged against the band.",
        f"four published Md30, each ± {error:g} °C",
        shown, f"Martensite after {reduction:g} % cold rolling, by a working rule",
        tuple(forms.index), f"Kinetics: {kinetics()}; grain size ASTM {grain:g}; strip of "
        f"{warm:g} °C: {typical_plant().cite('cold_mill.strip_temperature')}", band=True,
    )  # fmt: skip


def duplex_answer() -> Answer:
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
        float(shown.loc["nitrogen saturated, factor 16", "gap"]), *_ends(shown["gap"]),
        "points",
        "Chromium and molybdenum go to the ferrite, nickel and nitrogen to the austenite. The "
        f"weaker phase pits first{weaker_phase(shown['gap'])}",
        "three ways of sharing nitrogen, two factors of nitrogen in the austenite",
        shown, "Pitting index of both phases after 1050 °C",
        ("ferrite_duplex_anchored", "pren_16n", "pren_30n"),
        "Partition ratios of duplex reviews, recalled (memory); nitrogen conflicting",
        other_way="then the austenite would be the one with more",
    )  # fmt: skip


def weaker_phase(gap: pd.Series) -> str:
    """Say which phase has the lower index, ferrite less austenite given for each assumption."""
    least, most = (number(x, 2) for x in _ends(gap.abs()))
    matters = "how nitrogen is shared and weighed"
    if (gap > 0).all() or (gap < 0).all():
        phase = "austenite" if (gap > 0).all() else "ferrite"
        return (
            f". In all {len(gap)} rows that is the {phase}; {matters} says by how much, from "
            f"{least} to {most} points."
        )
    ferrite = int((gap < 0).sum())
    return (
        f", and which one that is depends on {matters}: the ferrite in {ferrite} of {len(gap)} "
        "rows, in the others the austenite."
    )


def pitting_answer() -> Answer:
    """What molybdenum is worth in nitrogen."""
    names = ["pren_16n", "pren_30n"]
    factors = {n: linear(n).terms["N"] for n in names}
    needs = {n: linear(n).terms["Mo"] / factors[n] for n in names}
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
        shown, "Four steels by both indices", tuple(names), exact="pren_16n",
    )  # fmt: skip
