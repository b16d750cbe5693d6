"""The hot mill judged: furnace, ferrite, forces, softening between passes, impurities, cooling.

The passes themselves are worked out in `gradekit.works.hot.hot_schedule`.
"""

from __future__ import annotations

from functools import cache
from itertools import compress
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.aliases import Numbers
from gradekit.core.sources import weakest
from gradekit.families.kinds import CONDITION, MANGANESE
from gradekit.relations.groups import AUSTENITIC, DUPLEX, FERRITIC, is_of
from gradekit.works.hot.flow import flow_of
from gradekit.works.hot.hot_schedule import NEEDS, loads, reheat_range
from gradekit.works.step import Lot
from gradekit.works.tables import Cited, Rule, process_table, rule

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
#: wt% S from which a steel is meant to machine freely.
FREE_MACHINING = 0.15


def checks(lot: Lot) -> None:
    """Judge what the hot mill does with each heat; see `gradekit.works.step`."""
    window = reheat_range(lot.kinds)
    _furnace(lot, window)
    _ferrite(lot, window)
    _mill(lot)
    _softening(lot, window)
    _strip_surface(lot)
    _ductility(lot)
    _impurities(lot)
    _cooling(lot)


def sigma_rate(kind: str, tungsten: float = 0.0) -> Rule | None:
    """Return the cooling rate that keeps sigma below 1 %, None where there is none for the family.

    Examples
    --------
    >>> sigma_rate("duplex, lean").high, sigma_rate("austenitic, Cr-Ni") is None
    (0.3, True)
    """
    rich = is_of(kind, "duplex, super", "duplex, hyper")
    if rich and tungsten >= 0.5:
        return rule("sigma_tungsten")
    if is_of(kind, *DUPLEX):
        return rule("sigma_superduplex" if rich else "sigma_duplex")
    return rule("sigma_superaustenitic") if is_of(kind, "superaustenitic") else None


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
        return rule("recrystallises_rich")
    return rule("recrystallises_316" if molybdenum >= 1.5 else "recrystallises_304")


def judge_sigma(
    lot: Lot, check: str, rate: Cited, source: str = "trade practice", status: str = "memory",
    **words: Any,
) -> Lot:  # fmt: skip
    """Judge a cooling rate against that which keeps sigma below 1 %; return the other heats."""
    rules = [sigma_rate(k, w) for k, w in zip(lot.kinds, lot.amount("W"), strict=True)]
    rich = np.array([r is not None for r in rules], dtype=bool)
    lot.where(rich).judge(check, rate, low=[r.high for r in rules if r], source=source,
                          status=status, **words)  # fmt: skip
    return lot.where(~rich)


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


def _furnace(lot: Lot, window: pd.DataFrame) -> None:
    plant = lot.plant
    most, least = plant.get(_FURNACE, "C"), plant.get(_COLD_FURNACE, "C")
    none = np.where(window["start_max_c"].isna(), "no window for this family", "")
    gap = np.where(none, none, plant.gap(_FURNACE, _COLD_FURNACE))
    used = window["start_max_c"].clip(upper=most)
    status = window["status"].replace("", "memory")
    lot.judge(
        "hottest slab the window and furnace allow", used,
        low=window["start_min_c"].clip(lower=least), unit="°C", source="hot-working windows",
        status=status, gap=gap,
        reason=[f"window {a:.0f} to {b:.0f} °C, furnace {least:.0f} to {most:.0f} °C ({k})"
                for a, b, k in zip(window["start_min_c"], window["start_max_c"], lot.kinds,
                                   strict=True)],
        beyond_reason="furnace and window do not meet",
    )  # fmt: skip
    lowest, usual = window["finish_min_c"], window["finish_max_c"]
    lot.judge(
        "lowest finish against the window", np.where(none, np.nan, plant.get(_FINISH, "C")),
        low=lowest, unit="°C", beyond="caution", status=status,
        source=f"hot-working windows; {plant.cite(_FINISH)}",
        gap=np.where(none, none, plant.gap(_FINISH)),
        reason=[f"usual up to {t:.0f} °C; hotter, the grain stays coarse and ridges"
                if np.isfinite(t) and ferritic else ""
                for t, ferritic in zip(usual, lot.is_of(*FERRITIC), strict=True)],
        beyond_reason=["edges crack or sigma forms below the window: finish at "
                       f"{t:.0f} °C or above" for t in lowest],
    )  # fmt: skip
    loss, hours = rule("scale_loss"), plant.get("reheating.time", "h")
    lot.judge(
        "slab temperature against breakaway scaling", used, high=rule("breakaway"), gap=gap,
        reason=[f"{loss.low:g} to {loss.high:g} % of the metal becomes scale (memory)"
                + (f"; 304L in pure steam would gain {w:.0f} mg/cm² in {hours:g} h, in air far less"
                   if np.isfinite(w) and austenitic else "")
                for w, austenitic in zip(oxide_in_steam(used, hours), lot.is_of(*AUSTENITIC),
                                         strict=True)],
    )  # fmt: skip


def _ferrite(lot: Lot, window: pd.DataFrame) -> None:
    check = "ferrite at rolling temperature"
    # Of Cr-Ni steel the ferrite of the slab, under 'casting', says which cracks at the edges.
    if straight := lot.of("martensitic", "ferritic-martensitic"):
        straight.relation(
            "austenite at rolling temperature", "austenite_max_17cr",
            low=rule("austenite_rolled"),
            # 12Cr steel of two phases is made to hold both
            beyond=np.where(straight.is_of("martensitic"), "caution", "ok"),
            reason="austenite at 1050 to 1100 °C, over 100 means all; the rest is ferrite",
            beyond_reason="ferrite beside austenite, which is harder: watch the edges, finish warm",
        )  # fmt: skip
    lot.of("nickel martensitic", "precipitation-hardening").state(
        check, "not assessed", "no relation of ferrite to temperature for this family; needed: "
        "point counts on samples quenched from 1100 to 1250 °C", unit="%",
    )  # fmt: skip
    slope = rule("ferrite_slope_crmnn")
    lot.of(*MANGANESE).state(
        check, "not assessed",
        f"one high-nitrogen alloy gains {slope.low:g} % ferrite a degree, 3 % at 1100 °C and 30 % "
        "at 1300 °C; no composition form: keep the slab cool, take a dilatometer or quench samples",
        slope.source, slope.status, unit="%",
    )  # fmt: skip
    if duplex := lot.of(*DUPLEX):
        name, furnace = "ferrite_duplex_anchored", lot.plant.line(_FURNACE, "C")
        hot = window.loc[duplex.index, "start_max_c"].clip(upper=furnace.value)
        duplex.relation(
            check, name, duplex.evaluate(name, temperature_C=hot), gap=furnace.gap,
            reason=[f"at {t:.0f} °C, the hottest slab; no limit is published" for t in hot],
        )  # fmt: skip
    lot.of(*FERRITIC).state(
        check, "ok", "ferritic when rolled, austenite apart (see Ac1 under annealing)",
        "family of the steel", "heuristic",
    )  # fmt: skip


def _mill(lot: Lot) -> None:
    plant, measured = lot.plant, lot.conditions.get("peak_stress_MPa")
    thick = lot.condition("hot_band_mm", plant.get(_THIN, "mm")).value
    lot.judge(
        "thickness of the hot strip", thick, low=plant.line(_THIN, "mm"),
        high=plant.line(_THICK, "mm"), gap=plant.gap(_THIN, _THICK),
    )  # fmt: skip
    flows = flow_of(lot.heats, lot.kinds, measured)
    missing, no_exit = plant.gap(*NEEDS), plant.gap(_THIN)
    gaps = [
        f.gap or missing or (no_exit if np.isnan(t) else "")
        for f, t in zip(flows, thick, strict=True)
    ]
    load_of = pd.DataFrame(np.nan, lot.index, ["share", "force", "torque"])
    live = np.array([not gap for gap in gaps], dtype=bool)
    if live.any():
        load, passes = loads(list(compress(flows, live)), lot.kinds[live], plant, thick[live])
        heaviest = (np.nanmax(passes[k], axis=1) for k in ("force_MN", "torque_kNm"))
        load_of[live] = np.column_stack([load, *heaviest])
    common: dict[str, Any] = dict(
        source=f"hyperbolic sine with Zener-Hollomon, McQueen and Ryan; {plant.cite(*NEEDS)}",
        status=weakest(*(f.status for f in flows)), gap=gaps, doubts=[f.doubt for f in flows],
        reason=[f"constants of {f.name}; peak stress and highest speed, an upper bound"
                for f in flows],
    )  # fmt: skip
    untried = "compress samples of this steel before the mill relies on it"
    count = plant.get("hot_mill.passes_max", "1")
    many = f"of {count:.0f} passes" if np.isfinite(count) else "of all passes"
    lot.judge(f"share of the mill's limits {many}", load_of["share"], high=1.0,
              near=np.where(lot.is_of(*MANGANESE) & (measured is None), untried, ""),
              beyond_reason="the passes do not reach the thickness: roll thicker, hotter or "
              "narrower", **common)  # fmt: skip
    lot.judge("force of the heaviest pass", load_of["force"], unit="MN",
              high=plant.get("hot_mill.force_max", "MN"), **common)  # fmt: skip
    lot.judge("torque of the heaviest pass", load_of["torque"], unit="kN m",
              high=plant.get("hot_mill.torque_max", "kN m"), **common)  # fmt: skip


def _softening(lot: Lot, window: pd.DataFrame) -> None:
    check = "last pass against recrystallisation between passes"
    alloy = zip(lot.kinds, lot.amount("Mo"), lot.amount("Nb"), strict=True)
    each = [softens_from(*one) for one in alloy]
    have = np.array([r is not None for r in each], dtype=bool)
    lot.where(~have).state(
        check, "not assessed", "no temperature is published here for this family; needed: "
        "double-hit compression tests", unit="°C",
    )  # fmt: skip
    rules, finish = [r for r in each if r], lot.plant.line(_FINISH, "C")
    last = window["finish_min_c"][have].clip(lower=finish.value)
    lot.where(have).judge(
        check, last, low=[r.low for r in rules], unit="°C", beyond="ok",
        source="trade practice", status="memory", gap=finish.gap,
        reason=[f"softens between passes from {r.low:.0f} to {r.high:.0f} °C" for r in rules],
        beyond_reason="as is usual in strip: strain adds up over the last passes, which take more "
        "force, and the anneal makes the elongated grain new",
    )  # fmt: skip


def _ductility(lot: Lot) -> None:
    """Sulphur and oxygen that calcium and cerium do not hold, where two phases or much alloy crack.

    Says nothing of how ferrite and austenite share the strain.
    """
    part = lot.of(*DUPLEX, *MANGANESE, "superaustenitic")
    held = 0.8 * part.amount("Ca") + 0.3 * part.amount("Ce")
    test = "reduction of area in hot tensile tests from 900 to 1250 °C decides"
    part.judge(
        "hot ductility at the edges", 1e4 * (part["S"] + part["O"] - held),
        high=rule("free_sulphur_oxygen"), beyond="caution",
        gap=[f"{gap}; needed: oxygen of the strip by melt extraction (30 to 60 ppm are usual), and "
             f"{test}" if gap else "" for gap in part.unknown("S", "O")],
        reason=f"S + O - 0.8 Ca - 0.3 Ce, made for duplex and high-alloy austenitic steel; {test}",
        doubts=np.where(part.is_of(*MANGANESE), "no index was made for Cr-Mn-N steel", ""),
        beyond_reason="edges crack: calcium or cerium, longer slag contact, little change of "
        "ferrite between the passes",
    )  # fmt: skip


def _strip_surface(lot: Lot) -> None:
    """What shows on the strip: ridges and sticking of ferrite, cracks by copper under the scale."""
    lot.of(*FERRITIC).state(
        "ridging and sticking", "caution",
        "ridges when drawn (roping): a hot-band anneal (bell below Ac1 for 430, continuous for "
        "stabilised steel), fine equiaxed slab, a heavy last pass; soft strip with thin scale "
        "sticks to the rolls from 17 Cr up: lubricate, keep rolls smooth",
        "trade practice", "memory",
    )  # fmt: skip
    poor = lot.where(lot.amount("Ni") < rule("copper_nickel").most)
    plain, austenitic = rule("copper_index"), rule("copper_index_austenitic")
    poor.judge(
        "copper and tin at low nickel",
        poor.amount("Cu") + 10.0 * poor.amount("Sn") - poor.amount("Ni"),
        high=np.where(poor.is_of(*AUSTENITIC), austenitic.most, plain.most), unit="wt%",
        beyond="caution", source=plain.source, status=plain.status, gap=poor.unknown("Cu"),
        reason="Cu + 10 Sn - Ni: what gathers under the scale and melts between the grains",
        beyond_reason="hot shortness: less copper and tin, nickel of half the copper or more, a "
        "short and lean furnace",
    )  # fmt: skip


_MACHINING = (
    "sulphur is asked for, so that the steel machines freely: manganese over sulphur, under "
    "'casting', and trial slabs decide"
)


def _impurities(lot: Lot) -> None:
    limits, manganese = _residual_limits(), lot.is_of(*MANGANESE)
    place = dict.fromkeys(("austenitic", *MANGANESE), "304") | {"austenitic, Mo": "316L"}
    place |= dict.fromkeys(("superaustenitic", *DUPLEX), "superaustenitic and duplex")
    steels = [place.get(k) or place.get(k.partition(", ")[0], "") for k in lot.kinds]
    for element in ("S", "Pb", "Bi"):
        general = limits.get((element, "general"), np.nan)
        limit = [limits.get((element, steel), general) for steel in steels]
        # Sulphur that is asked for has no limit; the other words are of sulphur too.
        sulphur = element == "S"
        free = sulphur & (lot.amount("S") >= FREE_MACHINING)
        none = np.where(np.isnan(limit), "no practical limit for this family", "")
        lot.judge(
            f"{element} against edge cracks", lot.content(element), high=limit, beyond="caution",
            source="trade practice", status="memory", gap=np.where(free, _MACHINING, none),
            doubts=np.where(sulphur & manganese, "no figure for Cr-Mn-N steel; that of 304 serves",
                            ""),
            reason=["a patent on Cr-Ni-Mo strip allows 0.006 S with Ce above Ca"
                    if sulphur and kind == "austenitic, Mo" else "" for kind in lot.kinds],
            beyond_reason="hot shortness; calcium or rare-earth treatment, cleaner charge",
        )  # fmt: skip


@cache
def _residual_limits() -> dict[tuple[str, str], float]:
    """Return the highest wt% by element and kind of steel."""
    rows = process_table("residual_limits")
    return rows.set_index(["element", "for_steels"])["max_high_pct"].to_dict()


def _cooling(lot: Lot) -> None:
    check = "sigma on the run-out table"
    plain = judge_sigma(
        lot, check, lot.plant.line(_RUN_OUT, "C/s"),
        reason="cooling rate that keeps sigma below 1 % between 1000 and 600 °C",
        beyond_reason="sigma embrittles the coil before it is annealed: it may break",
    )  # fmt: skip
    # One relation, so the plain steels are judged by it and say that it ranks only.
    if austenitic := plain.of(*AUSTENITIC):
        name, end = "sigma_eq_hull_1973", rule("sigma_equivalent")
        austenitic.judge(
            "sigma equivalent on slow cooling", austenitic.evaluate(name).values[name],
            high=rule("sigma_equivalent_coil"), beyond="caution", source=name,
            reason="figure of a coil, which cools in hours; held at 600 to 1000 °C for weeks, "
            f"trouble from {end.low:g} to {end.high:g} up",
            beyond_reason="no slow cooling, no hot coils stacked; the anneal dissolves it",
        )  # fmt: skip
    none = plain.of(*FERRITIC, "")
    none.where((none.amount("Cr") >= 20.0) | (none.kinds == "")).state(
        check, "not assessed", "no cooling rate is published here for this family; fastest at 800 "
        "to 850 °C, and only in high chromium", unit="°C/s",
    )  # fmt: skip
    check, brittle = "475 °C on coil cooling", lot.of(*DUPLEX, *FERRITIC)
    poor = brittle.where(brittle["Cr"] < rule("chromium_475").least)
    poor.state(check, "ok", "too little chromium to embrittle while a coil cools", "trade practice",
             "memory")  # fmt: skip
    brittle.but(poor).state(
        check, "caution",
        "ferrite embrittles at 250 to 550 °C; a coil cools through that in hours; no index of "
        "composition exists. Spray the coil cold or uncoil warm; the anneal cures it",
        "review", "verified",
    )  # fmt: skip
