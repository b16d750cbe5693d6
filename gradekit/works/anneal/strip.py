"""Annealing and pickling judged: the window, the grain, the phases at the anneal.

Cooling from the anneal is in `gradekit.works.anneal.cooling`, the bath in
`gradekit.works.anneal.pickling`.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given
from gradekit.families.kinds import CONDITION, kinds_of, words_each
from gradekit.heats.columns import amount, column, each_heat
from gradekit.relations.evaluate import Result, evaluate_batch
from gradekit.relations.groups import AUSTENITIC, DUPLEX, FERRITIC, HARDENABLE, is_of, those_of
from gradekit.relations.topics import CATALOGUE
from gradekit.works.anneal.cooling import cooling, hardening
from gradekit.works.anneal.duplex_phases import equal_temperature, pitting_indices
from gradekit.works.anneal.grain_growth import grain_after, temperature_for_grain
from gradekit.works.anneal.pickling import CAUTIONS as CAUTIONS
from gradekit.works.anneal.pickling import bath
from gradekit.works.plant import Plant
from gradekit.works.row import Row
from gradekit.works.step import judge, judge_relation, unassessed
from gradekit.works.tables import process_table, rule

STEP = "annealing and pickling"
CONDITIONS = CONDITION | {
    "grade": "number or name of the grade whose usual anneal and rules apply, as '1.4301'",
    "grain_start_um": "grain size when growth begins, recrystallised, µm; else of the plant",
    "grain_max_um": "largest grain size that the strip may have, µm; else of the plant table",
    "anneal_C": "strip temperature of the anneal, °C; else the hottest usual for the family",
}
_TABLE = "strip_rules"
_HOT, _COLD = "anneal.temperature_max", "anneal.temperature_min"
_LENGTH, _FAST, _SLOW = "anneal.furnace_length", "anneal.line_speed_max", "anneal.line_speed_min"
# Each phase that the anneal must dissolve: relation, families, elements that must be there.
_SOLVI = (
    ("M23C6", "m23c6_solvus_deighton", AUSTENITIC, ("C",)),
    ("sigma", "sigma_solvus_rechsteiner_1994", AUSTENITIC, ("Cr", "Ni")),
    ("Laves", "laves_solvus_fujita_2003", FERRITIC, ("Nb",)),
    ("Fe3Nb3C", "fe3nb3c_solvus_fujita_2003", FERRITIC, ("Nb", "C")),
)
_DUPLEX_SIGMA = {
    **dict.fromkeys(("duplex", "duplex, lean", "duplex, standard"), ("2205", 975.0)),
    **dict.fromkeys(("duplex, super", "duplex, hyper"), ("S32750", 1040.0)),
}


def checks(
    heats: pd.DataFrame,
    plant: Plant,
    *,
    family: Given = None,
    grade: Given = None,
    grain_start_um: Given = None,
    grain_max_um: Given = None,
    anneal_C: Given = None,
) -> list[Row]:
    """Judge what the anneal and the bath do with each heat; see `gradekit.works.step`."""
    kinds = kinds_of(heats, family)
    used = _used(heats, plant, kinds, anneal_C)
    solvi = evaluate_batch(heats, [relation for _, relation, _, _ in _SOLVI])
    lower = solvus(solvi, kinds)
    return [
        *_window(heats, plant, kinds, solvi),
        *_grain(heats, plant, kinds, used, lower, grain_start_um, grain_max_um),
        *_usual(heats, plant, grade),
        *_duplex(heats, kinds, used),
        *hardening(STEP, heats, plant, kinds),
        *cooling(STEP, heats, plant, kinds),
        *bath(STEP, heats, plant, kinds),
    ]


def solvus(solvi: Result, kinds: pd.Series) -> pd.DataFrame:
    """Return the solvus of each phase that the anneal of a family must dissolve, °C.

    Parameters
    ----------
    solvi : Result
        Holding the relations of all phases.
    kinds : Series
        Families of its heats.

    Returns
    -------
    DataFrame
        Columns `M23C6 sigma Laves Fe3Nb3C`; NaN where the phase does not concern the family or its
        element is not there. The sigma relation is for austenitic steel only, +-40 °C.
    """
    columns = {}
    for phase, relation, group, needs in _SOLVI:
        there = [amount(solvi.heats, e) > 0 for e in needs]
        there.append(np.array([is_of(kind, *group) for kind in kinds], dtype=bool))
        columns[phase] = np.where(np.all(there, axis=0), solvi.values[relation], np.nan)
    return pd.DataFrame(columns, index=kinds.index)


def usual_anneal(grade: str) -> pd.DataFrame:
    """Return the usual heat treatments of a grade; empty where the tables have none.

    Examples
    --------
    >>> usual_anneal("1.4301")[["temperature_min_c", "temperature_max_c"]].values.tolist()
    [[1000.0, 1100.0]]
    """
    rows = process_table("anneal_temperatures")
    return rows[rows["grade"].str.lower() == str(grade).strip().lower()]


def _used(heats: pd.DataFrame, plant: Plant, kinds: pd.Series, given: Given) -> pd.Series:
    """Return the strip temperature at which grain and phases are judged."""
    if given is not None:
        return each_heat(given, heats, "anneal_C")
    tables = _hottest_usual()
    usual = [tables.get(kind, tables.get(kind.partition(", ")[0], np.nan)) for kind in kinds]
    return pd.Series(np.minimum(usual, plant.get(_HOT, "C")), heats.index)


@cache
def _hottest_usual() -> dict[str, float]:
    rows = process_table("anneal_temperatures").drop_duplicates("grade").set_index("grade")
    usual = {"austenitic general": AUSTENITIC, "2205": DUPLEX,
             "1.4410": ("duplex, super", "duplex, hyper")}  # fmt: skip
    most = rows["temperature_max_c"]
    return {kind: float(most[name]) for name, group in usual.items() for kind in group}


def _window(heats, plant: Plant, kinds: pd.Series, solvi: Result) -> list[Row]:
    rows: list[Row] = []
    hot = plant.get(_HOT, "C")
    for phase, relation, group, needs in _SOLVI:
        part = those_of(kinds, *group)
        if not len(part) or (phase in ("Laves", "Fe3Nb3C") and "Nb" not in heats):
            continue
        if phase in ("Laves", "Fe3Nb3C"):
            part = part[(heats.loc[part, "Nb"].fillna(0.0) > 0).to_numpy()]
            if not len(part):
                continue
        bound = phase == "Fe3Nb3C"
        rows += judge_relation(
            STEP, f"{phase} dissolved at the hottest strip", solvi, relation, heats=part, high=hot,
            # a stabilised steel is meant to keep its carbon bound
            beyond="ok" if bound else "caution", gap=plant.gap(_HOT), limit_source=plant.cite(_HOT),
            reason=f"solvus; needs {', '.join(needs)}",
            beyond_reason="carbon stays bound, as is meant; the niobium that holds it adds no "
            "strength when hot, and titanium binds carbon before it" if bound else
            f"{phase} stays in the strip, or forms in the furnace",
        )  # fmt: skip
    duplex = those_of(kinds, *DUPLEX)
    if len(duplex):
        top = kinds[duplex].map({k: v[1] for k, v in _DUPLEX_SIGMA.items()})
        rows += judge(
            STEP, "sigma dissolved at the hottest strip", top, high=hot, unit="°C",
            source=f"sigma solvus by grade; {plant.cite(_HOT)}", status="memory",
            gap=plant.gap(_HOT),
            reason=[f"upper end of the figure for {_DUPLEX_SIGMA[k][0]}; no composition form holds"
                    for k in kinds[duplex]],
        )  # fmt: skip
    plain = those_of(kinds, *FERRITIC)
    if len(plain):
        plain = plain[(column(heats, "Nb")[plain].fillna(0.0) <= 0).to_numpy()]
    return rows + unassessed(
        STEP, "carbides and nitrides dissolved", plain,
        "ferritic steel without niobium: no solvus of chromium carbide or nitride in ferrite is at "
        "hand; needed: published solubility, or the usual anneal of the grade", unit="°C",
    )  # fmt: skip


def _grain(heats, plant, kinds, used, lower, start, largest) -> list[Row]:
    gap = plant.gap(_LENGTH, _FAST, _HOT)
    seconds = 60.0 * plant.get(_LENGTH, "m") / plant.get(_FAST, "m/min")
    energy = rule("grain_q", _TABLE)
    start = plant.get("anneal.grain_start", "um") if start is None else start
    largest = plant.get("anneal.grain_max", "um") if largest is None else largest
    names = [n for n, v in (("grain_start_um", start), ("grain_max_um", largest))
             if np.all(pd.isna(v))]  # fmt: skip
    missing = f"{' and '.join(names)} not given" if names else ""
    austenitic = those_of(kinds, *AUSTENITIC)
    # What hardens gets its grain when it is hardened, not in the soft anneal.
    hard = those_of(kinds, *HARDENABLE)
    others = heats.index.difference(austenitic, sort=False).difference(hard, sort=False)
    needed = (
        "the growth law is for austenitic steel; needed: growth of this family. Ferritic steel "
        "coarsens above about 1000 °C (verified)"
    )
    rows = unassessed(STEP, "grain after the anneal", others, needed, unit="µm")
    if not len(austenitic):
        return rows
    part = heats.loc[austenitic]
    d0 = each_heat(start, part, "grain_start_um")
    most = each_heat(largest, part, "grain_max_um")
    at = used[austenitic]
    grain = pd.Series(grain_after(d0, at, seconds), austenitic)
    rows += judge(
        STEP, "grain after the anneal", grain, high=most, unit="µm", beyond="caution",
        source="grain growth law", status="heuristic", gap=missing or gap,
        reason=[f"{seconds:.0f} s at {t:.0f} °C, the quickest pass; the energy is known to "
                f"±{0.5 * (energy.most - energy.least):.0f} kJ/mol" for t in at],
        beyond_reason="run quicker or cooler",
    )  # fmt: skip
    top = pd.Series(temperature_for_grain(d0, seconds, most), austenitic)
    upper = top.clip(upper=plant.get(_HOT, "C"))
    floor = lower.loc[austenitic].max(axis=1)
    narrow = rule("anneal_narrow", _TABLE).least
    width = upper - floor
    unsure = np.nanmax([CATALOGUE[r].error for _, r, _, _ in _SOLVI if CATALOGUE[r].error])
    status = "conflicting" if floor.notna().any() else "memory"
    return rows + judge(
        STEP, "width of the anneal window", width, low=0.0, unit="°C",
        # sooner than its own error a solvus stops nothing
        beyond=["stop" if w < -unsure else "caution" for w in width],
        source="solvus of M23C6 and sigma; grain growth law", status=status, gap=missing or gap,
        near=pd.Series(np.where(width < narrow, f"narrow: furnaces hold ±{narrow / 2:g} °C", ""),
                       austenitic),
        reason=[f"from {a:.0f} °C, where the last phase dissolves, to {b:.0f} °C, by grain or "
                "furnace" if np.isfinite(a) and np.isfinite(b) else ""
                for a, b in zip(floor, upper, strict=True)],
        beyond_reason="no temperature both dissolves and keeps the grain fine",
    )  # fmt: skip


def _usual(heats: pd.DataFrame, plant: Plant, grade: Given) -> list[Row]:
    check = "usual anneal of the grade"
    if grade is None:
        needed = "grade is not given: the number of the grade whose usual anneal applies"
        return unassessed(STEP, check, heats.index, needed, unit="°C")
    rows = []
    for name, group in words_each(grade, heats, "grade").groupby(words_each(grade, heats, "grade")):
        usual = usual_anneal(name)
        usual = usual[usual["treatment"] != "harden"]
        i = group.index
        if usual.empty:
            rows += unassessed(STEP, check, i, f"the tables have no anneal of '{name}'", unit="°C")
            continue
        row = usual.iloc[0]
        reach = min(float(row["temperature_max_c"]), plant.get(_HOT, "C"))
        rows += judge(
            STEP, check, pd.Series(reach, i), low=max(float(row["temperature_min_c"]),
                                                       plant.get(_COLD, "C")), unit="°C",
            source=f"{row['source']}; {plant.cite(_HOT)}", status=row["status"],
            gap=plant.gap(_HOT, _COLD),
            reason=f"{name}: {row['temperature_min_c']:.0f} to {row['temperature_max_c']:.0f} °C; "
            "the value is the hottest that both grade and furnace allow",
            beyond_reason="the furnace does not meet it",
        )  # fmt: skip
    return rows


def _duplex(heats: pd.DataFrame, kinds: pd.Series, used: pd.Series) -> list[Row]:
    part = those_of(kinds, *DUPLEX)
    cold = part[used[part].isna().to_numpy()]
    rows = unassessed(
        STEP, "ferrite at the anneal", cold, "no strip temperature: anneal_C is not given and the "
        "plant table has no anneal.temperature_max", unit="%",
    )  # fmt: skip
    part = part.drop(cold)
    if not len(part):
        return rows
    steels, at, name = heats.loc[part], used[part], "ferrite_duplex_anchored"
    band = rule("ferrite_band", _TABLE)
    result = evaluate_batch(steels, name, temperature_C=at)
    rows += judge_relation(
        STEP, "ferrite at the anneal", result, name, low=band.low, high=band.high,
        beyond="caution", limit_source=band.source,
        reason=[f"at {t:.0f} °C; a band for 22Cr steel" for t in at],
        beyond_reason="more than 60 % points to nitrides, less than 40 % to sigma and low strength",
    )  # fmt: skip
    both = pitting_indices(steels, at)
    gap = both["PREN austenite"] - both["PREN ferrite"]
    equal = equal_temperature(steels, "saturated")
    return rows + judge(
        STEP, "pitting index, austenite less ferrite", gap, unit="1", status="conflicting",
        source="partition table; pren_16n; ferrite saturated with nitrogen",
        gap=result.values[name].isna().map({True: "the ferrite at the anneal has no value",
                                           False: ""}),
        reason=[f"ferrite {f:.1f}, austenite {a:.1f} at {t:.0f} °C, "
                + ("equal at no temperature from 1000 to 1250 °C" if np.isnan(e) else
                   f"equal at {e:.0f} °C") + "; pits begin in the weaker phase"
                for f, a, t, e in zip(both["PREN ferrite"], both["PREN austenite"], at, equal,
                                      strict=True)],
    )  # fmt: skip
