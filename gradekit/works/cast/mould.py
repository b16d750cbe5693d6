"""The slab caster: temperatures, first phase, hot cracking, slab ferrite, titanium nitride."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike
from gradekit.core.flags import Flag
from gradekit.diagrams.solidification import Solidification
from gradekit.families.kinds import CONDITION, MANGANESE
from gradekit.heats.batch import as_batch
from gradekit.relations.evaluate import Result, evaluate_batch
from gradekit.relations.groups import (
    AUSTENITIC,
    DUPLEX,
    FERRITIC,
    MARTENSITIC,
    STAYS_AUSTENITE,
)
from gradekit.relations.topics import CATALOGUE
from gradekit.relations.topics.works import TIN_ALLOWANCE
from gradekit.works.hot.hot_rolling import FREE_MACHINING, judge_sigma
from gradekit.works.row import short
from gradekit.works.step import Lot
from gradekit.works.tables import rule

STEP = "casting"
CONDITIONS = CONDITION
CAUTIONS = (
    "Liquid steel and moisture explode: dry and preheat mould, tundish, tools and additions.",
    "A break-out kills: the works' own rules on superheat, speed and mould level decide, not an "
    "estimate of the liquidus.",
)
_LIQUIDUS, _SOLIDUS = "liquidus_aymard_extended", "solidus_takeuchi_extended"
_SLAB = ("ferrite_slab_ratio_cu", "ferrite_slab_ratio", "ferrite_delta_cal_slab")
_WELD = "ferrite_wrc_1992"
# How a slab of these families behaves when it gets cold.
_BRITTLE = {
    FERRITIC: "coarse ferrite is notch-brittle below about 150 °C: cool slowly, grind and cut "
    "warm, charge hot where it can be",
    (*MARTENSITIC, "precipitation-hardening, martensitic"): "turns to martensite and cracks: cool "
    "slowly in a hood or pit, charge hot or anneal before it is cold",
    ("ferritic-martensitic",): "martensite in part: cool slowly, charge hot where it can be",
}
# Indices of Cr-Mn-Cu-N steel with the limit and the name of each.
_INDICES = {
    "ferrite_index_fi1_us6056917": ("low_nickel_fi1", "ferrite index of Cr-Mn-Cu-N steel"),
    "martensite_index_si_us6056917": ("low_nickel_si", "martensite index of Cr-Mn-Cu-N steel"),
}
_COMPLETE = [
    n for n in CATALOGUE.quantities()["liquidus"] if {"N", "Mo"} <= set(CATALOGUE[n].elements)
]
_OUT = int(Flag.BELOW_RANGE | Flag.ABOVE_RANGE)
_HOT, _COLD = "caster.superheat_max", "caster.superheat_min"
# Families that the window of slab ferrite is meant for.
_STRIP = tuple(f"austenitic, {sub}" for sub in ("Cr-Ni", "Mo", "Cr-Mn-N", "low-nickel"))
_ALUMINA = "depressions and nozzle clogging by alumina"
_UNSOURCED = {
    "star cracks": "no limit on copper picked up from the mould or on residuals has a source here; "
    "needed: the works' own inspection against copper, tin and mould wear",
    _ALUMINA: "no relation to composition has a source here; "
    "needed: the works' own records of mould powder, aluminium and casting speed",
}


def casting_temperatures(heats: HeatsLike) -> pd.DataFrame:
    """Return liquidus by every form, solidus and freezing range.

    Parameters
    ----------
    heats : anything `as_batch` takes
        Compositions in wt%.

    Returns
    -------
    DataFrame, °C
        `liquidus` (preferred form; beyond its range of carbon the next), `lowest` and `highest` of
        the forms that count nitrogen and molybdenum, without which one reads too high, `solidus`
        (of the same elements; a working rule, a real slab is solid 20 to 50 °C lower),
        `freezing_range` between the two.

    Raises
    ------
    InputError
        Heats that cannot be read (see `as_batch`).

    Examples
    --------
    >>> heat = {"C": 0.02, "Si": 0.4, "Mn": 1.6, "Cr": 22.3, "Ni": 5.6, "Mo": 3.1, "N": 0.17}
    >>> casting_temperatures(heat)[["liquidus", "solidus"]].round().values.tolist()
    [[1443.0, 1395.0]]
    """
    return _freezing(as_batch(heats))


def _freezing(batch: pd.DataFrame) -> pd.DataFrame:
    """Return what `casting_temperatures` does, of a checked batch."""
    result = evaluate_batch(batch, [*_COMPLETE, _SOLIDUS])
    solid = result.values[_SOLIDUS].to_numpy()
    inside = (result.flags[_COMPLETE].to_numpy() & _OUT) == 0
    forms = result.values[_COMPLETE].where(inside | ~inside.any(axis=1, keepdims=True))
    ordered = forms[[_LIQUIDUS, *(n for n in _COMPLETE if n != _LIQUIDUS)]]
    liquid = ordered.bfill(axis=1).iloc[:, 0].to_numpy()
    return pd.DataFrame(
        {
            "liquidus": liquid,
            "lowest": np.fmin.reduce(forms.to_numpy(), axis=1),
            "highest": np.fmax.reduce(forms.to_numpy(), axis=1),
            "solidus": solid,
            "freezing_range": liquid - solid,
        },
        index=batch.index,
    )


def checks(lot: Lot) -> None:
    """Judge what happens in the mould; see `gradekit.works.step`."""
    modes, melt = Solidification(lot.heats), _freezing(lot.heats)
    forms, slab, result = _slab(lot)
    _temperatures(lot, melt)
    _first_phase(lot, modes)
    _impurities(lot, modes, slab)
    _slab_ferrite(lot, result, forms, slab, modes)
    _slab_cooling(lot)
    _low_nickel(lot)
    _titanium(lot, melt)
    _additions(lot)
    limit = rule("aluminium_cast")
    # Aluminium as an alloy: what it does to nozzle and mould powder, every caster knows.
    rich = lot.where(lot.amount("Al") > limit.most)
    rich.judge(
        _ALUMINA, rich.content("Al"), high=limit, beyond="caution",
        beyond_reason="so much aluminium takes oxygen from air, slag and mould powder: alumina "
        "clogs the nozzle, the powder thickens; shrouded stream, calcium, powder of low silica, "
        "or ingots",
    )  # fmt: skip
    for check, needed in _UNSOURCED.items():
        (lot.but(rich) if check == _ALUMINA else lot).state(check, "not assessed", needed)


def _temperatures(lot: Lot, melt: pd.DataFrame) -> None:
    plant = lot.plant
    gap, cited = plant.gap(_HOT, _COLD), plant.cite(_HOT)
    hot, cold = plant.get(_HOT, "C"), plant.get(_COLD, "C")
    liquidus, carbon = CATALOGUE[_LIQUIDUS], lot.amount("C")
    unmade = carbon > liquidus.ranges["C"][1]
    unsolid = carbon > CATALOGUE[_SOLIDUS].ranges["C"][1]
    usual, own = rule("superheat"), rule("superheat_ferritic")
    trade = [own if ferritic else usual for ferritic in lot.is_of(*FERRITIC)]
    lot.judge(
        "superheat window against the liquidus forms", melt["highest"] - melt["lowest"],
        high=hot - cold, unit="°C", beyond="caution", status=liquidus.status,
        source=f"{', '.join(_COMPLETE)}; {cited}",
        gap=lot.unknown("C", "Cr", "Ni", otherwise=gap),
        reason=[
            f"liquidus {t:.0f} °C ±{liquidus.error:g}, so pour at {t + cold:.0f} to {t + hot:.0f} "
            "°C; " + (f"{_LIQUIDUS} is out of its range of carbon; " if far else "")
            + "measure it once" for t, far in zip(melt["liquidus"], unmade, strict=True)
        ],
        beyond_reason="the forms differ by more than the window is wide",
    )  # fmt: skip
    lot.judge(
        "superheat of the caster", [min(t.most, hot) - max(t.least, cold) for t in trade], low=0.0,
        unit="°C", beyond="caution", source=f"{usual.source}; {cited}", status=usual.status,
        gap=gap,
        reason=[f"width that {cold:g} to {hot:g} °C of the works shares with the usual "
                f"{t.low:g} to {t.high:g} of {k or 'stainless'} steel"
                for t, k in zip(trade, lot.kinds, strict=True)],
        beyond_reason="the works pours hotter or colder than the trade",
    )  # fmt: skip
    drop, c, mo = (rule(k) for k in ("solidus_drop", "segregates_carbon", "segregates_molybdenum"))
    lot.judge(
        "centre segregation", np.maximum(carbon / c.most, lot.amount("Mo") / mo.most), high=1.0,
        beyond="caution", source=c.source, status=c.status, gap=lot.unknown("C"),
        reason=[f"largest share of {c.high:g} C and {mo.high:g} Mo; freezes from {a:.0f} "
                + ("°C down, to where is not known with so much carbon" if far else
                   f"to {b:.0f} °C, a real slab {drop.low:g} to {drop.high:g} °C lower")
                for a, b, far in zip(melt["liquidus"], melt["solidus"], unsolid, strict=True)],
        beyond_reason="carbides or sigma in the middle of the slab: low superheat, soft reduction, "
        "long soaking; look at the centre of a slice",
    )  # fmt: skip


def _first_phase(lot: Lot, modes: Solidification) -> None:
    """Neither phase is wrong; what counts is whether the criteria leave it open."""
    # Hammar and Svensson's steels were austenitic and duplex; Schaeffler's chart spans all.
    own = modes.speaks("cr_ni_ratio_hammar")
    name = own.map({True: "cr_ni_ratio_hammar", False: "cr_ni_ratio_schaeffler"})
    verdicts, reasons = [], []
    by_heat = modes.modes.rename(columns=modes.titles).to_dict("index")
    for heat, first in modes.first.items():
        words = "; ".join(f"{mode} by {title}" for title, mode in by_heat[heat].items() if mode)
        if first == "disputed":
            verdict, lead = "caution", "the criteria dispute the first phase, and so every limit"
        elif first == "not assessed":
            verdict, lead = "not assessed", modes.agreement[heat]
        else:
            verdict, lead = "ok", f"{first} first by every criterion that can be read"
        verdicts.append(verdict)
        reasons.append(f"{lead}: {words}")
    lot.state(
        "first phase", verdicts, reasons,
        [f"{n} and others, {short('suutala_1983', 'suutala_1980')}" for n in name], "conflicting",
        value=[float(modes.ratios.at[heat, n]) for heat, n in name.items()], limit="criteria agree",
    )  # fmt: skip


def _impurities(lot: Lot, modes: Solidification, ferrite: pd.Series) -> None:
    """Hot cracks of steel that is austenite when cold; others crack for other reasons."""
    # Sulphur that a free-machining steel asks for is judged by its manganese.
    part = lot.of(*AUSTENITIC, *DUPLEX)
    part = part.where(part.amount("S") < FREE_MACHINING)
    if not part:
        return
    judged = modes.impurities.loc[part.index]
    above, slab = rule("p_plus_s_ferrite"), rule("p_plus_s_austenite")
    austenite = judged["limit"].notna()
    weld = [rule(f"austenitic_{name}").high for name in ("phosphorus", "sulphur")]
    part.judge(
        "P + S against the first phase", judged["P + S"],
        high=np.where(austenite, slab.most, above.most), unit="wt%", beyond="caution",
        status=above.status, source=judged["source"].iloc[0],
        gap=part.unknown("P", "S", "Cr", "Ni"),
        reason=[f"Schaeffler ratio {r:.2f}: " + (f"austenite first, figure of the slab; a weld "
                f"without filler cracks from P + S {w:g} up, full austenite from P {weld[0]:g} or "
                f"S {weld[1]:g}" if a else "ferrite first, no limit in practice up to 0.04 or 0.05")
                for r, a, w in zip(judged["ratio"], austenite, judged["limit"], strict=True)],
        beyond_reason="hot cracks become likely: cleaner charge, or a few per cent ferrite",
    )  # fmt: skip
    full = (modes.first[part.index] == "austenite") & (ferrite[part.index] <= 0)
    full, niobium = part.where(full & (part.amount("Nb") > 0)), rule("austenitic_niobium")
    full.judge(
        "niobium of fully austenitic steel", full.content("Nb"), high=niobium, beyond="caution",
        beyond_reason=f"hot cracks in slab and weld; {niobium.note}",
    )  # fmt: skip


def _slab(lot: Lot) -> tuple[pd.DataFrame, pd.Series, Result]:
    """Return slab ferrite by every form that holds, the one that is shown, and what all say.

    Forms outside their range are heard only where none is inside. The slab forms count 0.5 Mn and
    30 N, as holds for Cr-Ni steel; Cr-Mn-N steel is read on the WRC-1992 diagram, which leaves
    manganese out, as its first phase is.
    """
    result, slab, manganese = lot.evaluate([*_SLAB, _WELD]), list(_SLAB), lot.is_of(*MANGANESE)
    forms = result.values
    forms.loc[manganese, slab] = np.nan
    forms.loc[~manganese, _WELD] = np.nan
    inside = (result.flags[slab].to_numpy() & _OUT) == 0
    forms[slab] = forms[slab].where(inside | ~inside.any(axis=1, keepdims=True))
    return forms, forms.bfill(axis=1).iloc[:, 0].rename(_SLAB[0]), result


def _slab_ferrite(
    lot: Lot, result: Result, forms: pd.DataFrame, shown: pd.Series, modes: Solidification
) -> None:
    """The window for austenitic strip; other slabs are not measured by it."""
    window, strip = rule("slab_ferrite"), lot.of(*_STRIP)
    strip = strip.where(strip.amount("S") < FREE_MACHINING)
    if not strip:
        return
    shown, forms = shown[strip.index], forms.loc[strip.index]
    by = forms.notna().idxmax(axis=1)
    strip.judge(
        "slab ferrite", shown, low=window, high=window, beyond="caution", forms=forms,
        status="conflicting",
        source=f"the slab forms that hold, of Cr-Mn-N steel {_WELD} (FN, about equal up to 8)",
        reason=[f"by {n}" for n in by],
        doubts=[result.words(h, n) if result.flags.at[h, n] & _OUT else "" for h, n in by.items()],
        gap=np.where(modes.first[strip.index] == "austenite",
                     "no ferrite is meant here: phosphorus and sulphur count instead", ""),
        beyond_reason=np.where(
            shown < window.low, "little or no ferrite: sulphur and phosphorus must be low",
            "edge cracks grow longer, most at low carbon and nitrogen"),
    )  # fmt: skip


def _slab_cooling(lot: Lot) -> None:
    """What a slab of two hundred millimetres becomes while it cools in air."""
    at, thick = 800.0, lot.plant.line("caster.slab_thickness", "mm")
    # Both faces radiate: 2 e s T^4 over density, heat capacity and thickness.
    rate = 2.0 * 0.8 * 5.67e-8 * (at + 273.15) ** 4 / (7850.0 * 650.0 * thick.value / 1000.0)
    rest = judge_sigma(
        lot, "sigma in the cooling slab", replace(thick, value=rate, unit="°C/s"),
        "radiation of both faces", "heuristic", beyond="caution",
        reason=f"a single slab in still air at {at:.0f} °C; stacked it cools ten times slower",
        beyond_reason="sigma makes the slab brittle: no stack, charge hot or cool with water, no "
        "blows; the furnace dissolves it",
    )  # fmt: skip
    for part, verdict, words in (
        *((lot.of(*group), "caution", words) for group, words in _BRITTLE.items()),
        (rest.of(*AUSTENITIC, *STAYS_AUSTENITE), "ok",
         "tough at every temperature: cooled in air, ground cold or charged hot"),
    ):  # fmt: skip
        check = "slab cooling and hot charging"
        part.state(check, verdict, words, "trade practice", "memory")


def _low_nickel(lot: Lot) -> None:
    """Indices of Cr-Mn-Cu-N steel, for heats inside their range only."""
    result = lot.evaluate(list(_INDICES))
    known = result.values.notna().to_numpy() & ((result.flags.to_numpy() & _OUT) == 0)
    inside = lot.where(known.all(axis=1))
    if not inside:
        return
    for name, (key, check) in _INDICES.items():
        inside.relation(
            check, name, result, high=rule(key), beyond="caution",
            beyond_reason="beyond the window claimed for hot rolling",
        )  # fmt: skip


def _titanium(lot: Lot, melt: pd.DataFrame) -> None:
    """Nitride in the bath clogs, nitride while the steel freezes gives the fine grain wanted."""
    lot = lot.where(lot.amount("Ti") > 0)
    if not lot:
        return
    name, onset, most = (
        "tin_margin_casting", "tin_onset_inoue_activities", "n_max_tin_inoue_activities",
    )  # fmt: skip
    result = lot.evaluate([name, onset])
    t, ti, n = result.values[onset], lot["Ti"], lot["N"]
    liquidus, solidus = (melt.loc[lot.index, end] for end in ("liquidus", "solidus"))
    where = np.select(
        [t > liquidus + TIN_ALLOWANCE, t > liquidus, t > solidus],
        ["in the bath", "just above the liquidus, where some clusters form",
         "while the steel freezes, the usual and wanted nuclei of fine grain"],
        "in the solid, fine and harmless",
    )  # fmt: skip
    held, hold = (
        lot.evaluate(most, temperature_C=liquidus + above).values[most]
        for above in (0.0, TIN_ALLOWANCE)
    )
    lot.judge(
        "titanium nitride clusters on the surface", nitride_clusters(ti, n, ti * held),
        high=rule("tin_clusters"), beyond="caution", status="memory", source=most,
        gap=lot.unknown("N"),
        reason="nitride that forms before the steel freezes, if all of it does",
        beyond_reason="clusters rise, stick in the mould powder and roll out as streaks: grind the "
        "slab, look at it before a polished or bright finish; less nitrogen, niobium for titanium",
    )  # fmt: skip
    lot.relation(
        "titanium nitride before casting", name, result, low=0.0, beyond="caution",
        reason=[f"forms from {x:.0f} °C down, {w} (liquidus {a:.0f}, solidus {b:.0f} °C)"
                for x, w, a, b in zip(t, where, liquidus, solidus, strict=True)],
        beyond_reason=[f"nozzles clog, clusters become stringers and surface defects: nitrogen at "
                       f"most {n:.3f} wt% with this titanium, or part of it as niobium"
                       for n in hold],
    )  # fmt: skip


def nitride_clusters(ti: pd.Series, n: pd.Series, product: pd.Series) -> pd.Series:
    """Return TiN that brings titanium and nitrogen, wt%, down to their product, kg/t."""
    mass = 47.867 / 14.007  # titanium that a part of nitrogen takes
    middle = ti + mass * n
    taken = (middle - np.sqrt((middle**2 - 4.0 * mass * (ti * n - product)).clip(lower=0.0))) / (
        2.0 * mass
    )
    return 10.0 * (1.0 + mass) * taken.clip(lower=0.0)


def _additions(lot: Lot) -> None:
    helps, boron = rule("boron"), lot.where(lot.amount("B") > 0)
    boron.judge(
        "boron", boron.content("B"), high=helps, beyond="caution",
        reason=f"{1e4 * helps.least:.0f} to {1e4 * helps.most:.0f} ppm help hot working",
        beyond_reason="low-melting borides",
    )  # fmt: skip
    machining = lot.where(lot.amount("S") >= FREE_MACHINING)
    if austenitic := machining.of(*AUSTENITIC):
        austenitic.relation(
            "ferrite of free-machining steel", _SLAB[0], high=rule("free_machining_ferrite"),
            beyond="caution",
        )  # fmt: skip
    machining.judge(
        "Mn to S of free-machining steel", machining["Mn"] / machining["S"],
        low=rule("free_machining_mn_s"), beyond="caution", gap=machining.unknown("Mn"),
        beyond_reason="sulphides rich in chromium, or iron sulphide at the grain boundaries: less "
        "ductile hot, harder to machine",
    )  # fmt: skip
