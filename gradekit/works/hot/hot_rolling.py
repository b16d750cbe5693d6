"""The hot mill judged: furnace, ferrite, forces, softening between passes, impurities, cooling.

The passes themselves are worked out in `gradekit.works.hot.hot_schedule`.
"""

from __future__ import annotations

from functools import cache
from itertools import compress
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, Numbers
from gradekit.core.sources import weakest
from gradekit.families.kinds import CONDITION, MANGANESE, kinds_of
from gradekit.heats.columns import amount, column, each_heat, unknown
from gradekit.relations.evaluate import evaluate_batch
from gradekit.relations.groups import AUSTENITIC, DUPLEX, FERRITIC, is_of, those_of
from gradekit.works.hot.flow import flow_of
from gradekit.works.hot.hot_schedule import NEEDS, loads, reheat_range, schedule_gap
from gradekit.works.plant import Plant
from gradekit.works.row import Row
from gradekit.works.step import judge, judge_relation, said_rows, unassessed
from gradekit.works.tables import Rule, process_table, rule

STEP = "hot rolling"
CONDITIONS = CONDITION | {
    "hot_band_mm": "thickness of the hot strip, mm; else the thinnest that the works rolls",
    "peak_stress_MPa": "measured peak hot flow stress at 1000 °C and 1/s, MPa",
}
_FURNACE, _COLD_FURNACE = "reheating.temperature_max", "reheating.temperature_min"
_FINISH, _THIN, _THICK = (
    f"hot_mill.{k}" for k in ("finish_temperature_min", "exit_thickness_min", "exit_thickness_max")
)
_RUN_OUT = "hot_mill.run_out_cooling_rate"
_TABLE = "strip_rules"
#: wt% S from which a steel is meant to machine freely.
FREE_MACHINING = 0.15


def checks(
    heats: pd.DataFrame,
    plant: Plant,
    *,
    family: Given = None,
    hot_band_mm: Given = None,
    peak_stress_MPa: Given = None,
) -> list[Row]:
    """Judge what the hot mill does with each heat; see `gradekit.works.step`."""
    kinds = kinds_of(heats, family)
    window = reheat_range(kinds)
    thick = (
        pd.Series(plant.get(_THIN, "mm"), heats.index)
        if hot_band_mm is None
        else each_heat(hot_band_mm, heats, "hot_band_mm")
    )
    return [
        *_furnace(heats, plant, kinds, window),
        *_ferrite(heats, plant, kinds, window),
        *_mill(heats, plant, kinds, thick, peak_stress_MPa),
        *_softening(heats, plant, kinds, window),
        *_strip_surface(heats, kinds),
        *_ductility(heats, kinds),
        *_impurities(heats, kinds),
        *_cooling(heats, plant, kinds),
    ]


def sigma_rate(kind: str, tungsten: float = 0.0) -> Rule | None:
    """Return the cooling rate that keeps sigma below 1 %, None where there is none for the family.

    Examples
    --------
    >>> sigma_rate("duplex, lean").high, sigma_rate("austenitic, Cr-Ni") is None
    (0.3, True)
    """
    rich = is_of(kind, "duplex, super", "duplex, hyper")
    if rich and tungsten >= 0.5:
        return rule("sigma_tungsten", _TABLE)
    if is_of(kind, *DUPLEX):
        return rule("sigma_superduplex" if rich else "sigma_duplex", _TABLE)
    return rule("sigma_superaustenitic", _TABLE) if is_of(kind, "superaustenitic") else None


def softens_from(kind: str, molybdenum: float, niobium: float) -> Rule | None:
    """Return the temperature from which a steel recrystallises between passes.

    Examples
    --------
    >>> softens_from("austenitic, Cr-Ni", 0.2, 0).high
    1000.0
    """
    if not is_of(kind, *AUSTENITIC):
        return None
    if niobium >= 0.1 or molybdenum > 3:
        return rule("recrystallises_rich", _TABLE)
    return rule("recrystallises_316" if molybdenum >= 1.5 else "recrystallises_304", _TABLE)


def oxide_in_steam(temperature_C: Numbers, hours: Numbers) -> np.ndarray:
    """Return the weight gained by 304L in steam, mg/cm²; air gains far less.

    Notes
    -----
    W²/t = 2.4e12 exp(-84300/(1.987 T)), verified; exponent of the constant as read.

    Examples
    --------
    >>> round(float(oxide_in_steam(1100, 1)), 1)
    18.2
    """
    kelvin = np.asarray(temperature_C, dtype=float) + 273.15
    return np.sqrt(2.4e12 * np.exp(-84300.0 / (1.987 * kelvin)) * 3600.0 * np.asarray(hours))


def _furnace(heats, plant: Plant, kinds: pd.Series, window: pd.DataFrame) -> list[Row]:
    most, least = plant.get(_FURNACE, "C"), plant.get(_COLD_FURNACE, "C")
    none = np.where(window["start_max_c"].isna(), "no window for this family", "")
    gap = pd.Series(np.where(none, none, plant.gap(_FURNACE, _COLD_FURNACE)), heats.index)
    no_finish = pd.Series(np.where(none, none, plant.gap(_FINISH)), heats.index)
    used = window["start_max_c"].clip(upper=most)
    lowest = window["start_min_c"].clip(lower=least)
    rows = []
    for status in sorted(set(window["status"])):
        part = window[window["status"] == status]
        i = part.index
        rows += judge(
            STEP, "hottest slab the window and furnace allow", used[i], low=lowest, unit="°C",
            source="hot-working windows", status=status or "memory", gap=gap,
            reason=[f"window {a:.0f} to {b:.0f} °C, furnace {least:.0f} to {most:.0f} °C ({k})"
                    for a, b, k in zip(part["start_min_c"], part["start_max_c"], kinds[i],
                                       strict=True)],
            beyond_reason="furnace and window do not meet",
        )  # fmt: skip
        rows += judge(
            STEP, "lowest finish against the window", part["finish_min_c"] * 0
            + plant.get(_FINISH, "C"), low=part["finish_min_c"], unit="°C", beyond="caution",
            source=f"hot-working windows; {plant.cite(_FINISH)}", status=status or "memory",
            gap=no_finish,
            reason=[f"usual up to {t:.0f} °C; hotter, the grain stays coarse and ridges"
                    if np.isfinite(t) and is_of(k, *FERRITIC) else ""
                    for t, k in zip(part["finish_max_c"], kinds[i], strict=True)],
            beyond_reason=["edges crack or sigma forms below the window: finish at "
                           f"{t:.0f} °C or above" for t in part["finish_min_c"]],
        )  # fmt: skip
    limit, loss = rule("breakaway", _TABLE), rule("scale_loss", _TABLE)
    hours = plant.get("reheating.time", "h")
    rows += judge(
        STEP, "slab temperature against breakaway scaling", used, high=limit.high, unit="°C",
        source=limit.source, status=limit.status, gap=gap,
        reason=[f"{loss.low:g} to {loss.high:g} % of the metal becomes scale (memory)"
                + (f"; 304L in pure steam would gain {w:.0f} mg/cm² in {hours:g} h, in air far less"
                   if np.isfinite(w) and is_of(k, *AUSTENITIC) else "")
                for w, k in zip(oxide_in_steam(used, hours), kinds, strict=True)],
    )  # fmt: skip
    return rows


def _ferrite(
    heats: pd.DataFrame, plant: Plant, kinds: pd.Series, window: pd.DataFrame
) -> list[Row]:
    check, rows = "ferrite at rolling temperature", []
    # Of Cr-Ni steel the ferrite of the slab, under 'casting', says which cracks at the edges.
    straight = those_of(kinds, "martensitic", "ferritic-martensitic")
    if len(straight):
        name, limit = "austenite_max_17cr", rule("austenite_rolled", _TABLE)
        result = evaluate_batch(heats.loc[straight], name)
        rows += judge_relation(
            STEP, "austenite at rolling temperature", result, name, low=limit.low,
            # 12Cr steel of two phases is made to hold both
            beyond=["caution" if k.startswith("martensitic") else "ok" for k in kinds[straight]],
            limit_status=limit.status,
            reason="austenite at 1050 to 1100 °C, over 100 means all; the rest is ferrite",
            beyond_reason="ferrite beside austenite, which is harder: watch the edges, finish warm",
        )  # fmt: skip
    hard = those_of(kinds, "nickel martensitic", "precipitation-hardening")
    rows += unassessed(
        STEP, check, hard, "no relation of ferrite to temperature for this family; needed: point "
        "counts on samples quenched from 1100 to 1250 °C", unit="%",
    )  # fmt: skip
    manganese = those_of(kinds, *MANGANESE)
    slope = rule("ferrite_slope_crmnn", _TABLE)
    rows += unassessed(
        STEP, check, manganese,
        f"one high-nitrogen alloy gains {slope.low:g} % ferrite a degree, 3 % at 1100 °C and 30 % "
        "at 1300 °C; no composition form: keep the slab cool, take a dilatometer or quench samples",
        unit="%", source=slope.source, status=slope.status,
    )  # fmt: skip
    duplex = those_of(kinds, *DUPLEX)
    if len(duplex):
        hot = window.loc[duplex, "start_max_c"].clip(upper=plant.get(_FURNACE, "C"))
        result = evaluate_batch(heats.loc[duplex], "ferrite_duplex_anchored", temperature_C=hot)
        rows += judge_relation(
            STEP, check, result, "ferrite_duplex_anchored", gap=plant.gap(_FURNACE),
            reason=[f"at {t:.0f} °C, the hottest slab; no limit is published" for t in hot],
        )  # fmt: skip
    ferritic = those_of(kinds, *FERRITIC)
    words = "ferritic when rolled, austenite apart (see Ac1 under annealing)"
    return rows + said_rows(STEP, check, ferritic, "ok", words, "family of the steel", "heuristic")


def _mill(heats, plant: Plant, kinds: pd.Series, thick: pd.Series, peak: Given) -> list[Row]:
    rows = judge(
        STEP, "thickness of the hot strip", thick, low=plant.get(_THIN, "mm"),
        high=plant.get(_THICK, "mm"), unit="mm", source=plant.cite(_THIN), status="",
        gap=plant.gap(_THIN, _THICK),
    )  # fmt: skip
    flows = flow_of(heats, kinds, peak)
    missing = schedule_gap(plant)
    unknown_exit = plant.gap(_THIN)
    gaps = [
        f.gap or missing or (unknown_exit if np.isnan(t) else "")
        for f, t in zip(flows, thick, strict=True)
    ]
    load_of = pd.DataFrame(np.nan, heats.index, ["share", "force", "torque"])
    live = np.array([not gap for gap in gaps], dtype=bool)
    if live.any():
        load, passes = loads(list(compress(flows, live)), kinds[live], plant, thick[live])
        heaviest = (np.nanmax(passes[k], axis=1) for k in ("force_MN", "torque_kNm"))
        load_of[live] = np.column_stack([load, *heaviest])
    status = weakest(*(f.status for f in flows)) if flows else "memory"
    count = plant.get("hot_mill.passes_max", "1")
    reason = [
        f"constants of {f.name}; peak stress and highest speed, an upper bound" for f in flows
    ]
    common: dict[str, Any] = dict(
        source=f"hyperbolic sine with Zener-Hollomon, McQueen and Ryan; {plant.cite(*NEEDS)}",
        status=status, gap=gaps, doubts=[f.doubt for f in flows], reason=reason,
    )  # fmt: skip
    untried = "compress samples of this steel before the mill relies on it"
    near = [untried if k in MANGANESE and peak is None else "" for k in kinds]
    many = f"of {count:.0f} passes" if np.isfinite(count) else "of all passes"
    rows += judge(STEP, f"share of the mill's limits {many}", load_of["share"], high=1.0, unit="1",
                  near=near, beyond_reason="the passes do not reach the thickness: roll thicker, "
                  "hotter or narrower", **common)  # fmt: skip
    rows += judge(STEP, "force of the heaviest pass", load_of["force"], unit="MN",
                  high=plant.get("hot_mill.force_max", "MN"), **common)  # fmt: skip
    return rows + judge(STEP, "torque of the heaviest pass", load_of["torque"], unit="kN m",
                        high=plant.get("hot_mill.torque_max", "kN m"), **common)  # fmt: skip


def _softening(heats, plant: Plant, kinds: pd.Series, window: pd.DataFrame) -> list[Row]:
    check = "last pass against recrystallisation between passes"
    mo, nb = (amount(heats, e) for e in ("Mo", "Nb"))
    each = [softens_from(*x) for x in zip(kinds, mo, nb, strict=True)]
    have = np.array([r is not None for r in each], dtype=bool)
    rows = unassessed(
        STEP, check, heats.index[~have],
        "no temperature is published here for this family; needed: double-hit compression tests",
        unit="°C",
    )  # fmt: skip
    known = heats.index[have]
    if not len(known):
        return rows
    rules = [r for r in each if r]
    last = window["finish_min_c"][known].clip(lower=plant.get(_FINISH, "C"))
    return rows + judge(
        STEP, check, last, low=[r.low for r in rules], unit="°C", beyond="ok",
        source="trade practice", status="memory", gap=plant.gap(_FINISH),
        reason=[f"softens between passes from {r.low:.0f} to {r.high:.0f} °C" for r in rules],
        beyond_reason="as is usual in strip: strain adds up over the last passes, which take more "
        "force, and the anneal makes the elongated grain new",
    )  # fmt: skip


def _ductility(heats: pd.DataFrame, kinds: pd.Series) -> list[Row]:
    """Sulphur and oxygen that calcium and cerium do not hold, where two phases or much alloy crack.

    Says nothing of how ferrite and austenite share the strain.
    """
    part = those_of(kinds, *DUPLEX, *MANGANESE, "superaustenitic")
    if not len(part):
        return []
    steels, limit = heats.loc[part], rule("free_sulphur_oxygen", _TABLE)
    held = 0.8 * amount(steels, "Ca") + 0.3 * amount(steels, "Ce")
    index = 1e4 * (column(steels, "S") + column(steels, "O") - held)
    test = "reduction of area in hot tensile tests from 900 to 1250 °C decides"
    return judge(
        STEP, "hot ductility at the edges", index, high=limit.high, unit="ppm", beyond="caution",
        source=limit.source, status=limit.status,
        gap=[f"{gap}; needed: oxygen of the strip by melt extraction (30 to 60 ppm are usual), and "
             f"{test}" if gap else "" for gap in unknown(steels, "S", "O")],
        reason=f"S + O - 0.8 Ca - 0.3 Ce, made for duplex and high-alloy austenitic steel; {test}",
        doubts=["no index was made for Cr-Mn-N steel" if k in MANGANESE else "" for k in
                kinds[part]],
        beyond_reason="edges crack: calcium or cerium, longer slag contact, little change of "
        "ferrite between the passes",
    )  # fmt: skip


def _strip_surface(heats: pd.DataFrame, kinds: pd.Series) -> list[Row]:
    """What shows on the strip: ridges and sticking of ferrite, cracks by copper under the scale."""
    words = (
        "ridges when drawn (roping): a hot-band anneal (bell below Ac1 for 430, continuous for "
        "stabilised steel), fine equiaxed slab, a heavy last pass; soft strip with thin scale "
        "sticks to the rolls from 17 Cr up: lubricate, keep rolls smooth"
    )
    rows = said_rows(STEP, "ridging and sticking", those_of(kinds, *FERRITIC), "caution", words,
                     "trade practice", "memory")  # fmt: skip
    poor = heats.index[amount(heats, "Ni") < rule("copper_nickel", _TABLE).high]
    if not len(poor):
        return rows
    part = heats.loc[poor]
    index = pd.Series(amount(part, "Cu") + 10.0 * amount(part, "Sn") - amount(part, "Ni"), poor)
    plain, austenitic = rule("copper_index", _TABLE), rule("copper_index_austenitic", _TABLE)
    of_each = [austenitic if is_of(k, *AUSTENITIC) else plain for k in kinds[poor]]
    return rows + judge(
        STEP, "copper and tin at low nickel", index, high=[r.high for r in of_each], unit="wt%",
        beyond="caution", source=plain.source, status=plain.status, gap=unknown(part, "Cu"),
        reason="Cu + 10 Sn - Ni: what gathers under the scale and melts between the grains",
        beyond_reason="hot shortness: less copper and tin, nickel of half the copper or more, a "
        "short and lean furnace",
    )  # fmt: skip


_MACHINING = (
    "sulphur is asked for, so that the steel machines freely: manganese over sulphur, under "
    "'casting', and trial slabs decide"
)


def _impurities(heats: pd.DataFrame, kinds: pd.Series) -> list[Row]:
    limits = _residual_limits()
    machining = amount(heats, "S") >= FREE_MACHINING
    place = dict.fromkeys(("austenitic", *MANGANESE), "304") | {"austenitic, Mo": "316L"}
    place |= dict.fromkeys(("superaustenitic", *DUPLEX), "superaustenitic and duplex")
    rows = []
    for element in ("S", "Pb", "Bi"):
        general = limits.get((element, "general"), np.nan)
        limit = [
            limits.get((element, place.get(kind) or place.get(family, "")), general)
            for kind in kinds
            for family in [kind.partition(", ")[0]]
        ]
        sulphur = element == "S"
        like = "no figure for Cr-Mn-N steel; that of 304 serves" if sulphur else ""
        patent = "a patent on Cr-Ni-Mo strip allows 0.006 S with Ce above Ca" if sulphur else ""
        rows += judge(
            STEP, f"{element} against edge cracks", column(heats, element), high=limit, unit="wt%",
            source="trade practice", status="memory", beyond="caution",
            doubts=[like if kind in MANGANESE else "" for kind in kinds],
            gap=[gap or (_MACHINING if sulphur and free else
                         "no practical limit for this family" if np.isnan(x) else "")
                 for gap, x, free in zip(unknown(heats, element), limit, machining, strict=True)],
            reason=[patent if kind == "austenitic, Mo" else "" for kind in kinds],
            beyond_reason="hot shortness; calcium or rare-earth treatment, cleaner charge",
        )  # fmt: skip
    return rows


@cache
def _residual_limits() -> dict[tuple[str, str], float]:
    """Return the highest wt% by element and kind of steel."""
    rows = process_table("residual_limits")
    return rows.set_index(["element", "for_steels"])["max_high_pct"].to_dict()


def _cooling(heats: pd.DataFrame, plant: Plant, kinds: pd.Series) -> list[Row]:
    check = "sigma on the run-out table"
    tungsten = amount(heats, "W")
    rules = [sigma_rate(k, w) for k, w in zip(kinds, tungsten, strict=True)]
    have = np.array([r is not None for r in rules], dtype=bool)
    rows = []
    if have.any():
        known = heats.index[have]
        rows += judge(
            STEP, check, pd.Series(plant.get(_RUN_OUT, "C/s"), known), unit="°C/s",
            low=[r.high for r in rules if r], gap=plant.gap(_RUN_OUT),
            source=f"trade practice; {plant.cite(_RUN_OUT)}", status="memory",
            reason="cooling rate that keeps sigma below 1 % between 1000 and 600 °C",
            beyond_reason="sigma embrittles the coil before it is annealed: it may break",
        )  # fmt: skip
    # One relation, so the plain steels are judged by it and say that it ranks only.
    plain = those_of(kinds[~have], *AUSTENITIC)
    if len(plain):
        sigma = evaluate_batch(heats.loc[plain], "sigma_eq_hull_1973").values["sigma_eq_hull_1973"]
        end, coil = rule("sigma_equivalent", _TABLE), rule("sigma_equivalent_coil", _TABLE)
        rows += judge(
            STEP, "sigma equivalent on slow cooling", sigma, high=coil.high, unit="wt%",
            beyond="caution", source="sigma_eq_hull_1973", status="memory",
            reason=f"figure of a coil, which cools in hours; held at 600 to 1000 °C for weeks, "
            f"trouble from {end.low:g} to {end.high:g} up",
            beyond_reason="no slow cooling, no hot coils stacked; the anneal dissolves it",
        )  # fmt: skip
    none = those_of(kinds[~have], *FERRITIC, "")
    none = none[(amount(heats.loc[none], "Cr") >= 20.0) | (kinds[none] == "").to_numpy()]
    rows += unassessed(
        STEP, check, none, "no cooling rate is published here for this family; fastest at 800 to "
        "850 °C, and only in high chromium", unit="°C/s",
    )  # fmt: skip
    brittle = those_of(kinds, *DUPLEX, *FERRITIC)
    poor = brittle[column(heats, "Cr")[brittle].to_numpy() < rule("chromium_475", _TABLE).low]
    words = "too little chromium to embrittle while a coil cools"
    rows += said_rows(STEP, "475 °C on coil cooling", poor, "ok", words, "trade practice", "memory")
    brittle = brittle.difference(poor, sort=False)
    words = (
        "ferrite embrittles at 250 to 550 °C; a coil cools through that in hours; no index of "
        "composition exists. Spray the coil cold or uncoil warm; the anneal cures it"
    )
    return rows + said_rows(
        STEP, "475 °C on coil cooling", brittle, "caution", words, "review", "verified"
    )
