"""The slab caster: temperatures, first phase, hot cracking, slab ferrite, titanium nitride."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, HeatsLike
from gradekit.core.flags import Flag
from gradekit.core.verdicts import Verdict
from gradekit.diagrams.solidification import Solidification
from gradekit.families.kinds import CONDITION, MANGANESE, kinds_of
from gradekit.heats.batch import as_batch
from gradekit.heats.columns import amount, column, unknown
from gradekit.relations.evaluate import Result, evaluate_batch
from gradekit.relations.groups import (
    AUSTENITIC,
    DUPLEX,
    FERRITIC,
    MARTENSITIC,
    STAYS_AUSTENITE,
    is_of,
    those_of,
)
from gradekit.relations.topics import CATALOGUE
from gradekit.relations.topics.works import TIN_ALLOWANCE
from gradekit.works.hot.hot_rolling import FREE_MACHINING, sigma_rate
from gradekit.works.plant import Plant
from gradekit.works.row import Row, short
from gradekit.works.step import judge, judge_relation, said_rows, unassessed
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
_INDICES = ("ferrite_index_fi1_us6056917", "martensite_index_si_us6056917")
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


def checks(heats: pd.DataFrame, plant: Plant, *, family: Given = None) -> list[Row]:
    """Judge what happens in the mould; see `gradekit.works.step`."""
    modes, kinds = Solidification(heats), kinds_of(heats, family)
    forms, slab, told = _slab(heats, kinds)
    rows = [
        *_temperatures(heats, plant, kinds),
        *_first_phase(heats, modes),
        *_impurities(heats, modes, slab, kinds),
        *_slab_ferrite(told, forms, slab, modes, kinds),
        *_slab_cooling(heats, plant, kinds),
        *_low_nickel(heats),
        *_titanium(heats),
        *_additions(heats, kinds),
    ]
    rich = heats.index[amount(heats, "Al") > rule("aluminium_cast").high]
    rows += _aluminium(heats.loc[rich])
    for check, needed in _UNSOURCED.items():
        told = rich if check == _ALUMINA else rich[:0]
        rows += unassessed(STEP, check, heats.index.difference(told, sort=False), needed)
    return rows


def _temperatures(heats: pd.DataFrame, plant: Plant, kinds: pd.Series) -> list[Row]:
    melt = _freezing(heats)
    gap = plant.gap(_HOT, _COLD)
    hot, cold = plant.get(_HOT, "C"), plant.get(_COLD, "C")
    liquidus, carbon = CATALOGUE[_LIQUIDUS], amount(heats, "C")
    unmade = carbon > liquidus.ranges["C"][1]
    unsolid = carbon > CATALOGUE[_SOLIDUS].ranges["C"][1]
    usual, own = rule("superheat"), rule("superheat_ferritic")
    trade = [own if is_of(kind, *FERRITIC) else usual for kind in kinds]
    reasons = [
        f"liquidus {t:.0f} °C ±{liquidus.error:g}, so pour at {t + cold:.0f} to {t + hot:.0f} °C; "
        + (f"{_LIQUIDUS} is out of its range of carbon; " if far else "")
        + "measure it once"
        for t, far in zip(melt["liquidus"], unmade, strict=True)
    ]
    rows = judge(
        STEP, "superheat window against the liquidus forms", melt["highest"] - melt["lowest"],
        high=hot - cold, unit="°C", beyond="caution", status=liquidus.status,
        source=f"{', '.join(_COMPLETE)}; {plant.cite(_HOT)}",
        gap=unknown(heats, "C", "Cr", "Ni", otherwise=gap), reason=reasons,
        beyond_reason="the forms differ by more than the window is wide",
    )  # fmt: skip
    shared = pd.Series([min(t.most, hot) - max(t.least, cold) for t in trade], heats.index)
    rows += judge(
        STEP, "superheat of the caster", shared, low=0.0, unit="°C", beyond="caution",
        source=f"{usual.source}; {plant.cite(_HOT)}", status=usual.status, gap=gap,
        reason=[f"width that {cold:g} to {hot:g} °C of the works shares with the usual "
                f"{t.low:g} to {t.high:g} of {k or 'stainless'} steel"
                for t, k in zip(trade, kinds, strict=True)],
        beyond_reason="the works pours hotter or colder than the trade",
    )  # fmt: skip
    drop, rich = rule("solidus_drop"), {"C": "segregates_carbon", "Mo": "segregates_molybdenum"}
    use = pd.DataFrame({e: amount(heats, e) / rule(k).high for e, k in rich.items()}, heats.index)
    return rows + judge(
        STEP, "centre segregation", use.max(axis=1), high=1.0, unit="1", beyond="caution",
        source=rule("segregates_carbon").source, status=rule("segregates_carbon").status,
        gap=unknown(heats, "C"),
        reason=[f"largest share of {rule('segregates_carbon').high:g} C and "
                f"{rule('segregates_molybdenum').high:g} Mo; freezes from {a:.0f} "
                + ("°C down, to where is not known with so much carbon" if far else
                   f"to {b:.0f} °C, a real slab {drop.low:g} to {drop.high:g} °C lower")
                for a, b, far in zip(melt["liquidus"], melt["solidus"], unsolid, strict=True)],
        beyond_reason="carbides or sigma in the middle of the slab: low superheat, soft reduction, "
        "long soaking; look at the centre of a slice",
    )  # fmt: skip


def _first_phase(heats: pd.DataFrame, modes: Solidification) -> list[Row]:
    """Neither phase is wrong; what counts is whether the criteria leave it open."""
    # Hammar and Svensson's steels were austenitic and duplex; Schaeffler's chart spans all.
    usual = modes.speaks("cr_ni_ratio_hammar")
    name = usual.map({True: "cr_ni_ratio_hammar", False: "cr_ni_ratio_schaeffler"})
    said = modes.modes.rename(columns=modes.titles).to_dict("index")
    rows = []
    verdict: Verdict
    for heat, first in modes.first.items():
        words = "; ".join(f"{mode} by {title}" for title, mode in said[heat].items() if mode)
        if first == "disputed":
            verdict, lead = "caution", "the criteria dispute the first phase, and so every limit"
        elif first == "not assessed":
            verdict, lead = "not assessed", modes.agreement[heat]
        else:
            verdict, lead = "ok", f"{first} first by every criterion that can be read"
        rows.append(
            Row(
                heat, STEP, "first phase", float(modes.ratios.at[heat, name[heat]]),
                "criteria agree", "1", float("nan"), verdict, f"{lead}: {words}",
                f"{name[heat]} and others, {short('suutala_1983', 'suutala_1980')}", "conflicting",
            )
        )  # fmt: skip
    return rows


def _impurities(heats, modes: Solidification, ferrite: pd.Series, kinds: pd.Series) -> list[Row]:
    """Hot cracks of steel that is austenite when cold; others crack for other reasons."""
    # Sulphur that a free-machining steel asks for is judged by its manganese.
    part = those_of(kinds, *AUSTENITIC, *DUPLEX)
    part = part[(amount(heats.loc[part], "S") < FREE_MACHINING).tolist()]
    if not len(part):
        return []
    heats, ferrite, first = heats.loc[part], ferrite[part], modes.first[part]
    judged, above, slab = (
        modes.impurities.loc[part], rule("p_plus_s_ferrite"), rule("p_plus_s_austenite"),
    )  # fmt: skip
    austenite = judged["limit"].notna()
    weld = [rule(f"austenitic_{name}").high for name in ("phosphorus", "sulphur")]
    rows = judge(
        STEP, "P + S against the first phase", judged["P + S"],
        high=np.where(austenite, slab.most, above.most), unit="wt%", beyond="caution",
        status=above.status, source=judged["source"].iloc[0],
        gap=unknown(heats, "P", "S", "Cr", "Ni"),
        reason=[f"Schaeffler ratio {r:.2f}: " + (f"austenite first, figure of the slab; a weld "
                f"without filler cracks from P + S {w:g} up, full austenite from P {weld[0]:g} or "
                f"S {weld[1]:g}" if a else "ferrite first, no limit in practice up to 0.04 or 0.05")
                for r, a, w in zip(judged["ratio"], austenite, judged["limit"], strict=True)],
        beyond_reason="hot cracks become likely: cleaner charge, or a few per cent ferrite",
    )  # fmt: skip
    full = heats[((first == "austenite") & (ferrite <= 0)).to_numpy() & (amount(heats, "Nb") > 0)]
    niobium = rule("austenitic_niobium")
    return rows + judge(
        STEP, "niobium of fully austenitic steel", column(full, "Nb"), high=niobium.high,
        unit="wt%", beyond="caution", source=niobium.source, status=niobium.status,
        beyond_reason=f"hot cracks in slab and weld; {niobium.note}",
    )  # fmt: skip


def _slab(heats: pd.DataFrame, kinds: pd.Series) -> tuple[pd.DataFrame, pd.Series, Result]:
    """Return slab ferrite by every form that holds, the one that is shown, and what all say.

    Forms outside their range are heard only where none is inside. The slab forms count 0.5 Mn and
    30 N, as holds for Cr-Ni steel; Cr-Mn-N steel is read on the WRC-1992 diagram, which leaves
    manganese out, as its first phase is.
    """
    result = evaluate_batch(heats, [*_SLAB, _WELD])
    forms, slab = result.values, list(_SLAB)
    manganese = np.array([kind in MANGANESE for kind in kinds], dtype=bool)
    forms.loc[manganese, slab] = np.nan
    forms.loc[~manganese, _WELD] = np.nan
    inside = (result.flags[slab].to_numpy() & _OUT) == 0
    forms[slab] = forms[slab].where(inside | ~inside.any(axis=1, keepdims=True))
    return forms, forms.bfill(axis=1).iloc[:, 0].rename(_SLAB[0]), result


def _slab_ferrite(told: Result, forms, shown, modes: Solidification, kinds: pd.Series) -> list[Row]:
    """The window for austenitic strip; other slabs are not measured by it."""
    window, strip = rule("slab_ferrite"), those_of(kinds, *_STRIP)
    strip = strip[(amount(told.heats.loc[strip], "S") < FREE_MACHINING).tolist()]
    shown, forms = shown[strip], forms.loc[strip]
    by = forms.notna().idxmax(axis=1) if len(forms) else pd.Series(dtype=object)
    doubts = [told.words(h, n) if told.flags.at[h, n] & _OUT else "" for h, n in by.items()]
    return judge(
        STEP, "slab ferrite", shown, low=window.low, high=window.high, beyond="caution", unit="%",
        forms=forms, status="conflicting", limit_status=window.status,
        source=f"the slab forms that hold, of Cr-Mn-N steel {_WELD} (FN, about equal up to 8); "
        f"{window.source}", reason=[f"by {n}" for n in by], doubts=doubts,
        gap=(modes.first[strip] == "austenite").map(
            {True: "no ferrite is meant here: phosphorus and sulphur count instead", False: ""}
        ),
        beyond_reason=[
            "little or no ferrite: sulphur and phosphorus must be low" if x < window.low else
            "edge cracks grow longer, most at low carbon and nitrogen"
            for x in shown
        ],
    )  # fmt: skip


def _slab_cooling(heats: pd.DataFrame, plant: Plant, kinds: pd.Series) -> list[Row]:
    """What a slab of two hundred millimetres becomes while it cools in air."""
    at, check = 800.0, "sigma in the cooling slab"
    thick = plant.get("caster.slab_thickness", "mm")
    # Both faces radiate: 2 e s T^4 over density, heat capacity and thickness.
    rate = 2.0 * 0.8 * 5.67e-8 * (at + 273.15) ** 4 / (7850.0 * 650.0 * thick / 1000.0)
    rules = [sigma_rate(k, w) for k, w in zip(kinds, amount(heats, "W"), strict=True)]
    rich = heats.index[[r is not None for r in rules]]
    rows = judge(
        STEP, check, pd.Series(rate, rich), low=[r.high for r in rules if r], unit="°C/s",
        beyond="caution", status="heuristic", gap=plant.gap("caster.slab_thickness"),
        source=f"radiation of both faces; {plant.cite('caster.slab_thickness')}",
        reason=f"a single slab in still air at {at:.0f} °C; stacked it cools ten times slower",
        beyond_reason="sigma makes the slab brittle: no stack, charge hot or cool with water, no "
        "blows; the furnace dissolves it",
    ) if len(rich) else []  # fmt: skip
    for group, words in _BRITTLE.items():
        part = those_of(kinds, *group)
        rows += said_rows(STEP, "slab cooling and hot charging", part, "caution", words,
                          "trade practice", "memory")  # fmt: skip
    plain = those_of(kinds, *AUSTENITIC, *STAYS_AUSTENITE).difference(rich, sort=False)
    return rows + said_rows(
        STEP, "slab cooling and hot charging", plain, "ok",
        "tough at every temperature: cooled in air, ground cold or charged hot", "trade practice",
        "memory",
    )  # fmt: skip


def _low_nickel(heats: pd.DataFrame) -> list[Row]:
    """Indices of Cr-Mn-Cu-N steel, for heats inside their range only."""
    result = evaluate_batch(heats, list(_INDICES))
    known = result.values.notna().to_numpy() & ((result.flags.to_numpy() & _OUT) == 0)
    inside = heats.index[known.all(axis=1)]
    if inside.empty:
        return []
    rows = []
    for name, key, words in (
        (_INDICES[0], "low_nickel_fi1", "ferrite index of Cr-Mn-Cu-N steel"),
        (_INDICES[1], "low_nickel_si", "martensite index of Cr-Mn-Cu-N steel"),
    ):
        limit = rule(key)
        rows += judge_relation(
            STEP, words, result, name, heats=inside, high=limit.high, beyond="caution",
            limit_status=limit.status, beyond_reason="beyond the window claimed for hot rolling",
        )  # fmt: skip
    return rows


def _titanium(heats: pd.DataFrame) -> list[Row]:
    """Nitride in the bath clogs, nitride while the steel freezes gives the fine grain wanted."""
    with_ti = heats[column(heats, "Ti") > 0]
    if with_ti.empty:
        return []
    name, onset, most = (
        "tin_margin_casting", "tin_onset_inoue_activities", "n_max_tin_inoue_activities",
    )  # fmt: skip
    result = evaluate_batch(with_ti, [name, onset])
    t, melt = result.values[onset], casting_temperatures(with_ti)
    liquidus, solidus = melt["liquidus"], melt["solidus"]
    where = np.select(
        [t > liquidus + TIN_ALLOWANCE, t > liquidus, t > solidus],
        ["in the bath", "just above the liquidus, where some clusters form",
         "while the steel freezes, the usual and wanted nuclei of fine grain"],
        "in the solid, fine and harmless",
    )  # fmt: skip
    hold = evaluate_batch(with_ti, most, temperature_C=liquidus + TIN_ALLOWANCE).values[most]
    ti, n = column(with_ti, "Ti"), column(with_ti, "N")
    held = evaluate_batch(with_ti, most, temperature_C=liquidus).values[most]
    limit = rule("tin_clusters")
    rows = judge(
        STEP, "titanium nitride clusters on the surface", nitride_clusters(ti, n, ti * held),
        unit="kg/t", high=limit.high, beyond="caution", status="memory", limit_status=limit.status,
        source=f"{most}; {limit.source}", gap=unknown(with_ti, "N"),
        reason="nitride that forms before the steel freezes, if all of it does",
        beyond_reason="clusters rise, stick in the mould powder and roll out as streaks: grind the "
        "slab, look at it before a polished or bright finish; less nitrogen, niobium for titanium",
    )  # fmt: skip
    return rows + judge_relation(
        STEP, "titanium nitride before casting", result, name, low=0.0, beyond="caution",
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


def _aluminium(heats: pd.DataFrame) -> list[Row]:
    """Aluminium as an alloy: what it does to nozzle and mould powder, every caster knows."""
    limit = rule("aluminium_cast")
    return judge(
        STEP, _ALUMINA, column(heats, "Al"), high=limit.high, unit="wt%", beyond="caution",
        source=limit.source, status=limit.status,
        beyond_reason="so much aluminium takes oxygen from air, slag and mould powder: alumina "
        "clogs the nozzle, the powder thickens; shrouded stream, calcium, powder of low silica, "
        "or ingots",
    )  # fmt: skip


def _additions(heats: pd.DataFrame, kinds: pd.Series) -> list[Row]:
    rows = []
    boron, help_ = heats[column(heats, "B") > 0], rule("boron")
    if len(boron):
        rows += judge(
            STEP, "boron", boron["B"], high=help_.high, unit="wt%", beyond="caution",
            source=help_.source, status=help_.status,
            reason=f"{1e4 * help_.least:.0f} to {1e4 * help_.most:.0f} ppm help hot working",
            beyond_reason="low-melting borides",
        )  # fmt: skip
    machining = heats[column(heats, "S") >= FREE_MACHINING]
    if len(machining):
        ferrite, ratio = rule("free_machining_ferrite"), rule("free_machining_mn_s")
        austenitic = machining.loc[those_of(kinds[machining.index], *AUSTENITIC)]
        rows += judge_relation(
            STEP, "ferrite of free-machining steel", evaluate_batch(austenitic, _SLAB[0]), _SLAB[0],
            high=ferrite.high, beyond="caution", limit_status=ferrite.status,
        )  # fmt: skip
        rows += judge(
            STEP, "Mn to S of free-machining steel", column(machining, "Mn") / machining["S"],
            low=ratio.low, unit="1", beyond="caution", source=ratio.source, status=ratio.status,
            gap=unknown(machining, "Mn"), beyond_reason="sulphides rich in chromium, or iron "
            "sulphide at the grain boundaries: less ductile hot, harder to machine",
        )  # fmt: skip
    return rows
