"""Air, pitting index, welds and chemicals; water is in `gradekit.service.waters`."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from gradekit.core.verdicts import Verdict, worst
from gradekit.service.candidate import Candidate
from gradekit.service.exposure import (
    CLASSES,
    Atmosphere,
    class_of,
    classify,
    excluded_from_pools,
    grades_of_class,
)
from gradekit.service.finding import Finding, within
from gradekit.service.needs import Service
from gradekit.service.tables import judged, judgement, rows

ANNEX = "EN 1993-1-4, annex A"
INDEX = "PREN at the poorest composition of the window"
_PRACTICE, _RULES = "trade practice", "stabilisation rules"
_PROCEDURE = "a qualified welding procedure"


# --- air -------------------------------------------------------------------------------------


def air(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Atmosphere: the class of the place against the class that lists the grade."""
    place = service.atmosphere
    if place is None:
        if service.contact != "atmosphere":
            return None
        remedy = "the place, and how far the sea and salted roads are"
        return Finding("not assessed", "where it stands is not told", source=ANNEX, remedy=remedy)
    exposure = classify(place)
    asked, own = CLASSES.index(exposure.crc), class_of(steel.number)
    barred = excluded_from_pools(place.pool)
    fit = [g for g in grades_of_class()[exposure.crc] if g not in (*barred, reference.number)]
    remedy = f"a grade of class {exposure.crc} or higher, such as {', '.join(fit[:3])}"
    why = f"{'; '.join(exposure.reasons)}: {exposure.words}. "
    have = None if own is None else CLASSES.index(own)
    verdict: Verdict = "stop"
    if have is None:
        verdict = "not assessed"
        why += f"No class of the annex names {steel.title}; a pitting index gives no class"
        remedy = f"the maker's experience in such places, or {remedy}"
    else:
        why += f"{steel.number} is listed in class {own}"
        if steel.number in barred:
            why += ", but excluded above an indoor pool"
        elif have < asked:
            why += ", which is lower"
            easier = _easier(place, have)
            remedy = f"{easier}; or {remedy}" if easier else remedy
        elif place.pool != "no" and steel.number in excluded_from_pools("cleaned less often"):
            verdict = "caution"
            why += ", which covers it, but is excluded above pools that are cleaned less often"
            remedy = "an explicit approval for the pool hall"
        else:
            verdict = "ok"
            why += ", which covers it"
    number = None if have is None else have + 1
    unit = "class (I = 1 to V = 5)"
    return Finding(verdict, why, number, asked + 1, unit, ANNEX, exposure.status, remedy)


def _easier(place: Atmosphere, have: int) -> str:
    """What washing would have to be for the class of the grade to do."""

    def would_do(**changes: Any) -> bool:
        return CLASSES.index(classify(replace(place, **changes)).crc) <= have

    if place.pool == "cleaned less often":
        return "cleaning at least weekly" if would_do(pool="cleaned at least weekly") else ""
    if place.pool != "no" or place.washing == "cleaned on a plan":
        return ""
    if would_do(washing="cleaned on a plan"):
        return "cleaning on a plan"
    rained_on = not place.indoors and would_do(washing="rain")
    return "full exposure to washing by rain" if rained_on else ""


# --- pitting index ---------------------------------------------------------------------------


def pitting_index(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Pitting index against the reference, inside one family only."""
    if service.nothing_wets:
        return None
    ours, theirs = steel.pitting_index, reference.pitting_index
    if ours is None or theirs is None or steel.family != reference.family:
        if ours is None or theirs is None:
            which = steel if ours is None else reference
            why = f"the index is not used for {which.family} steel"
        else:
            why = f"{ours:.1f} ({steel.family}) and {theirs:.1f} ({reference.family}): the index "
            why += "ranks steels inside one family, never across families"
        return Finding("not assessed", why, ours, None, "index", INDEX, "verified")
    # less than the index can tell apart is no difference; a few times that is a doubt
    verdict = within(theirs - ours, judged("index_margin"), judged("index_doubt"))
    why = f"{ours:.1f} against {theirs:.1f} at the poorest composition of each"
    doubtful = max(steel.highest("Mn"), reference.highest("Mn")) > judged("manganese_doubt")
    if doubtful and steel.family != "ferritic":
        own, other = steel.pitting_index_manganese, reference.pitting_index_manganese
        if verdict == "ok" and own < other:
            verdict = "caution"  # the forms lie on both sides of the limit
        why += f"; with manganese counted (30N − Mn, memory) {own:.1f} against {other:.1f}"
    if steel.free_machining and not reference.free_machining:
        verdict = worst((verdict, "caution"))
        why += "; sulphides start pits that no index counts"
    remedy = "more chromium, molybdenum or nitrogen inside the window"
    return Finding(verdict, why, ours, theirs, "index", INDEX, steel.status, remedy)


# --- welds -----------------------------------------------------------------------------------


def as_welded(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Sensitisation and toughness of welds that are not annealed."""
    if not service.welded:
        return None
    if service.annealed and not steel.free_machining:
        return _annealed_weld(steel)
    if steel.hardens:
        why = "hardens beside the weld and cracks without preheat and temper"
        remedy = "preheat and temper to a qualified procedure"
        return Finding("stop", why, source=_PRACTICE, remedy=remedy)
    if steel.free_machining:
        why = "the sulphur of free-machining steel cracks welds while hot"
        sulphur, remedy = steel.most.get("S"), "a grade without added sulphur"
        return Finding("stop", why, sulphur, unit="% S", source=_PRACTICE, remedy=remedy)
    if steel.family == "ferritic":
        return _ferritic_weld(steel, service)
    if steel.family == "duplex":
        why = "heat input and cooling decide phase balance and sigma phase"
        return Finding("caution", why, source=_PRACTICE, remedy=_PROCEDURE)
    if steel.stabilised:
        return Finding("ok", "stabilised: chromium carbides are held back", source=_RULES)
    if service.dry_heat:
        why = "austenitic steel welds; in dry heat carbides do not corrode"
        return Finding("ok", why, source=_PRACTICE)
    carbon, thick = steel.most.get("C"), service.thickness_mm
    if carbon is None:
        return Finding("not assessed", "the carbon content is not known")
    row = next(
        r for r in rows("weld_carbon", "process")
        if not r["thickness_max_mm"] or thick <= float(r["thickness_max_mm"])
    )  # fmt: skip
    limit = float(row["carbon_max_pct"])
    why = f"carbon up to {carbon:g} % against {limit:g} % at {thick:g} mm without a later anneal"
    remedy = "a low-carbon or stabilised grade, thinner gauge, an anneal"
    verdict = within(carbon, limit, limit)
    return Finding(verdict, why, carbon, limit, "% C", row["source"], row["status"], remedy)


def _annealed_weld(steel: Candidate) -> Finding:
    """A weld whose carbides, nitrides and phases an anneal or a temper has put right."""
    verdict: Verdict = "caution"
    if steel.hardens:
        why = "tempered after welding, but to be preheated against cracks"
    elif steel.family == "ferritic":
        why = "the anneal heals the grain boundaries, but not the coarse grain"
    elif steel.family == "duplex":
        verdict = "ok"
        why = "solution annealed and quenched, phase balance and sigma phase are put right"
    else:
        verdict, why = "ok", "the anneal dissolves carbides"
    return Finding(verdict, why, source=_PRACTICE, remedy=_PROCEDURE)


def _ferritic_weld(steel: Candidate, service: Service) -> Finding:
    thick, size = judgement("thick_ferritic"), service.thickness_mm
    most = float(thick["value"])
    weldable = "weldable" in steel.detailed_family
    if not steel.stabilised and not weldable:
        limit = _interstitials(steel)
        both = steel.highest("C") + steel.highest("N") if {"C", "N"} <= set(steel.most) else None
        if both is None or limit is None or both > limit:
            known = both is not None and limit is not None
            asked = f"{both:.3f} % against {limit:g} %" if known else "not limited so far"
            why = "an unstabilised ferritic weld corrodes between grains and turns brittle unless "
            why += f"C + N is very low ({asked})"
            remedy = "a stabilised grade (Ti, Nb), or no welding"
            if size > most:
                remedy = "austenitic or duplex steel, or no welding"
            source, number = "trade practice, weld interstitials", both if known else None
            return Finding("stop", why, number, limit, "% C + N", source, "memory", remedy)
    if size > most:
        why = f"the toughness of a {size:g} mm ferritic weld needs impact tests"
        source, remedy = thick["source"], "thinner gauge; austenitic or duplex steel"
        return Finding("not assessed", why, size, most, "mm", source, thick["status"], remedy)
    if steel.stabilised:
        why = "stabilised: no attack between grains is expected"
    elif weldable:
        why = "low interstitials: made to be welded"
    else:
        why = "C + N low enough without stabilising"
    return Finding("ok", why, source=_RULES)


def _interstitials(steel: Candidate) -> float | None:
    """Highest C + N (%) at which an unstabilised weld of this chromium and molybdenum holds."""
    for row in rows("weld_interstitials", "process"):
        low, high = float(row["chromium_min_pct"]), float(row["chromium_max_pct"])
        enough = steel.least.get("Mo", 0.0) >= float(row["molybdenum_min_pct"])
        if low <= steel.least.get("Cr", 0.0) <= high and enough:
            return float(row["c_plus_n_max_pct"])
    return None


# --- chemicals -------------------------------------------------------------------------------


def chemicals(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Acids and alkalis: no composition rule answers these."""
    if not service.chemicals:
        return None
    why = f"{service.chemicals}: needs corrosion data for medium, strength and temperature; no "
    why += "index of composition answers it"
    source, remedy = "scope of this library", "isocorrosion data or a test in the medium"
    return Finding("not assessed", why, source=source, status="", remedy=remedy)
