"""Annealing and pickling judged: the window, the grain, the phases at the anneal.

Cooling from the anneal is in `gradekit.works.anneal.cooling`, the bath in
`gradekit.works.anneal.pickling`.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd

from gradekit.families.kinds import CONDITION
from gradekit.relations.evaluate import Result
from gradekit.relations.groups import AUSTENITIC, DUPLEX, FERRITIC, HARDENABLE
from gradekit.relations.topics import CATALOGUE
from gradekit.works.anneal.cooling import cooling, hardening
from gradekit.works.anneal.duplex_phases import equal_temperature, pitting_indices
from gradekit.works.anneal.grain_growth import grain_after, temperature_for_grain
from gradekit.works.anneal.pickling import CAUTIONS as CAUTIONS
from gradekit.works.anneal.pickling import bath
from gradekit.works.step import Lot
from gradekit.works.tables import process_table, rule

STEP = "annealing and pickling"
CONDITIONS = CONDITION | {
    "grade": "number or name of the grade whose usual anneal and rules apply, as '1.4301'",
    "grain_start_um": "grain size when growth begins, recrystallised, µm; else of the plant",
    "grain_max_um": "largest grain size that the strip may have, µm; else of the plant table",
    "anneal_C": "strip temperature of the anneal, °C; else the hottest usual for the family",
}
_HOT, _COLD = "anneal.temperature_max", "anneal.temperature_min"
_LENGTH, _FAST = "anneal.furnace_length", "anneal.line_speed_max"
# Each phase that the anneal must dissolve: relation, families, elements that must be there. The
# relation of sigma is for austenitic steel only, ±40 °C.
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


def checks(lot: Lot) -> None:
    """Judge what the anneal and the bath do with each heat; see `gradekit.works.step`."""
    solvi = lot.evaluate([relation for _, relation, _, _ in _SOLVI])
    used = _used(lot)
    _window(lot, solvi)
    _grain(lot, used, solvi)
    _usual(lot)
    _duplex(lot.of(*DUPLEX), used)
    hardening(lot)
    cooling(lot)
    bath(lot)


def usual_anneal(grade: str) -> pd.DataFrame:
    """Return the usual heat treatments of a grade; empty where the tables have none.

    Examples
    --------
    >>> usual_anneal("1.4301")[["temperature_min_c", "temperature_max_c"]].values.tolist()
    [[1000.0, 1100.0]]
    """
    rows = process_table("anneal_temperatures")
    return rows[rows["grade"].str.lower() == str(grade).strip().lower()]


def _used(lot: Lot) -> pd.Series:
    """Return the strip temperature at which grain and phases are judged."""
    if "anneal_C" in lot.conditions:
        return lot.condition("anneal_C").value
    tables = _hottest_usual()
    usual = [tables.get(kind, tables.get(kind.partition(", ")[0], np.nan)) for kind in lot.kinds]
    return pd.Series(np.minimum(usual, lot.plant.get(_HOT, "C")), lot.index)


@cache
def _hottest_usual() -> dict[str, float]:
    rows = process_table("anneal_temperatures").drop_duplicates("grade").set_index("grade")
    usual = {"austenitic general": AUSTENITIC, "2205": DUPLEX,
             "1.4410": ("duplex, super", "duplex, hyper")}  # fmt: skip
    most = rows["temperature_max_c"]
    return {kind: float(most[name]) for name, group in usual.items() for kind in group}


def _window(lot: Lot, solvi: Result) -> None:
    hot = lot.plant.line(_HOT, "C")
    for phase, relation, group, needs in _SOLVI:
        part, bound = lot.of(*group), phase == "Fe3Nb3C"
        if group is FERRITIC:
            part = part.where(part.amount("Nb") > 0)
        if part:
            part.relation(
                f"{phase} dissolved at the hottest strip", relation, solvi, high=hot,
                # a stabilised steel is meant to keep its carbon bound
                beyond="ok" if bound else "caution", reason=f"solvus; needs {', '.join(needs)}",
                beyond_reason="carbon stays bound, as is meant; the niobium that holds it adds no "
                "strength when hot, and titanium binds carbon before it" if bound else
                f"{phase} stays in the strip, or forms in the furnace",
            )  # fmt: skip
    duplex = lot.of(*DUPLEX)
    grade, top = ([_DUPLEX_SIGMA[kind][k] for kind in duplex.kinds] for k in (0, 1))
    duplex.judge(
        "sigma dissolved at the hottest strip", top, high=hot, source="sigma solvus by grade",
        status="memory",
        reason=[f"upper end of the figure for {g}; no composition form holds" for g in grade],
    )  # fmt: skip
    plain = lot.of(*FERRITIC)
    plain.where(plain.amount("Nb") <= 0).state(
        "carbides and nitrides dissolved", "not assessed",
        "ferritic steel without niobium: no solvus of chromium carbide or nitride in ferrite is at "
        "hand; needed: published solubility, or the usual anneal of the grade", unit="°C",
    )  # fmt: skip


def _grain(lot: Lot, used: pd.Series, solvi: Result) -> None:
    plant, energy, check = lot.plant, rule("grain_q"), "grain after the anneal"
    gap = plant.gap(_LENGTH, _FAST, _HOT)
    seconds = 60.0 * plant.get(_LENGTH, "m") / plant.get(_FAST, "m/min")
    austenitic = lot.of(*AUSTENITIC)
    # What hardens gets its grain when it is hardened, not in the soft anneal.
    lot.but(austenitic, lot.of(*HARDENABLE)).state(
        check, "not assessed", "the growth law is for austenitic steel; needed: growth of this "
        "family. Ferritic steel coarsens above about 1000 °C (verified)", unit="µm",
    )  # fmt: skip
    if not austenitic:
        return
    start = austenitic.condition("grain_start_um", plant.get("anneal.grain_start", "um"))
    largest = austenitic.condition("grain_max_um", plant.get("anneal.grain_max", "um"))
    gap = "; ".join(filter(None, [start.gap, largest.gap])) or gap
    d0, most, at = start.value, largest.value, used[austenitic.index]
    austenitic.judge(
        check, grain_after(d0, at, seconds), high=most, unit="µm", beyond="caution",
        source="grain growth law", status="heuristic", gap=gap,
        reason=[f"{seconds:.0f} s at {t:.0f} °C, the quickest pass; the energy is known to "
                f"±{0.5 * (energy.most - energy.least):.0f} kJ/mol" for t in at],
        beyond_reason="run quicker or cooler",
    )  # fmt: skip
    upper = np.minimum(temperature_for_grain(d0, seconds, most), plant.get(_HOT, "C"))
    floor = _dissolved(austenitic, solvi)
    width = upper - floor
    narrow = rule("anneal_narrow").least
    unsure = np.nanmax([CATALOGUE[r].error for _, r, _, _ in _SOLVI if CATALOGUE[r].error])
    austenitic.judge(
        "width of the anneal window", width, low=0.0, unit="°C",
        # sooner than its own error a solvus stops nothing
        beyond=np.where(width < -unsure, "stop", "caution"),
        source="solvus of M23C6 and sigma; grain growth law",
        status="memory" if np.isnan(floor).all() else "conflicting", gap=gap,
        near=np.where(width < narrow, f"narrow: furnaces hold ±{narrow / 2:g} °C", ""),
        reason=[f"from {a:.0f} °C, where the last phase dissolves, to {b:.0f} °C, by grain or "
                "furnace" if np.isfinite(a) and np.isfinite(b) else ""
                for a, b in zip(floor, upper, strict=True)],
        beyond_reason="no temperature both dissolves and keeps the grain fine",
    )  # fmt: skip


def _dissolved(lot: Lot, solvi: Result) -> np.ndarray:
    """Return from where the last phase of austenitic steel is dissolved, °C; NaN where no solvus is
    known."""
    each = [
        np.where(np.all([lot.amount(e) > 0 for e in needs], axis=0),
                 solvi.values[relation].reindex(lot.index), np.nan)
        for _, relation, group, needs in _SOLVI
        if group is AUSTENITIC
    ]  # fmt: skip
    return np.fmax.reduce(each)


def _usual(lot: Lot) -> None:
    check, asked, plant = "usual anneal of the grade", lot.word("grade"), lot.plant
    if asked is None:
        needed = "grade is not given: the number of the grade whose usual anneal applies"
        lot.state(check, "not assessed", needed, unit="°C")
        return
    for name in sorted(set(asked)):
        part, usual = lot.where(asked == name), usual_anneal(name)
        usual = usual[usual["treatment"] != "harden"]
        if usual.empty:
            needed = f"the tables have no anneal of '{name}'"
            part.state(check, "not assessed", needed, unit="°C")
            continue
        row = usual.iloc[0]
        least, most = (float(row[f"temperature_{end}_c"]) for end in ("min", "max"))
        part.judge(
            check, min(most, plant.get(_HOT, "C")), low=max(least, plant.get(_COLD, "C")),
            unit="°C", source=f"{row['source']}; {plant.cite(_HOT)}", status=row["status"],
            gap=plant.gap(_HOT, _COLD),
            reason=f"{name}: {least:.0f} to {most:.0f} °C; the value is the hottest that both "
            "grade and furnace allow",
            beyond_reason="the furnace does not meet it",
        )  # fmt: skip


def _duplex(lot: Lot, used: pd.Series) -> None:
    check, name, at = "ferrite at the anneal", "ferrite_duplex_anchored", used[lot.index]
    lot.where(at.isna()).state(
        check, "not assessed", "no strip temperature: anneal_C is not given and the plant table "
        "has no anneal.temperature_max", unit="%",
    )  # fmt: skip
    lot, at = lot.where(at.notna()), at.dropna()
    if not lot:
        return
    band = rule("ferrite_band")
    result = lot.evaluate(name, temperature_C=at)
    lot.relation(
        check, name, result, low=band, high=band, beyond="caution",
        reason=[f"at {t:.0f} °C; a band for 22Cr steel" for t in at],
        beyond_reason="more than 60 % points to nitrides, less than 40 % to sigma and low strength",
    )  # fmt: skip
    both = pitting_indices(lot.heats, at)
    ferrite, austenite = both["PREN ferrite"], both["PREN austenite"]
    equal = equal_temperature(lot.heats, "saturated")
    lot.judge(
        "pitting index, austenite less ferrite", austenite - ferrite, status="conflicting",
        source="partition table; pren_16n; ferrite saturated with nitrogen",
        gap=np.where(result.values[name].isna(), "the ferrite at the anneal has no value", ""),
        reason=[f"ferrite {f:.1f}, austenite {a:.1f} at {t:.0f} °C, "
                + ("equal at no temperature from 1000 to 1250 °C" if np.isnan(e) else
                   f"equal at {e:.0f} °C") + "; pits begin in the weaker phase"
                for f, a, t, e in zip(ferrite, austenite, at, equal, strict=True)],
    )  # fmt: skip
