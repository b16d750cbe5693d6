"""Air, pitting index, welds and chemicals; water is in `gradekit.service.waters`."""

from __future__ import annotations

from dataclasses import replace

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
from gradekit.service.finding import Finding
from gradekit.service.needs import Service
from gradekit.service.tables import judged, judgement, rows

ANNEX = "EN 1993-1-4, annex A"
INDEX = "PREN at the poorest composition of the window"


# --- air -------------------------------------------------------------------------------------


def air(steel: Candidate, service: Service, reference: Candidate) -> Finding | None:
    """Atmosphere: the class of the place against the class that lists the grade."""
    place = service.atmosphere
    if place is None and service.contact == "atmosphere":
        return Finding("atmosphere", "not assessed", "where it stands is not told", source=ANNEX,
                       remedy="the place, and how far the sea and salted roads are")  # fmt: skip
    if place is None:
        return None
    exposure = classify(place)
    asked, own = CLASSES.index(exposure.crc), class_of(steel.number)
    about = f"{'; '.join(exposure.reasons)}: {exposure.words}"
    barred = excluded_from_pools(place.pool)
    fit = [g for g in grades_of_class()[exposure.crc] if g not in (*barred, reference.number)]
    remedy = f"a grade of class {exposure.crc} or higher, such as {', '.join(fit[:3])}"
    unit, source, status = "class (I = 1 to V = 5)", ANNEX, exposure.status
    if own is None:
        named = f"No class of the annex names {steel.title}"
        return Finding(
            "atmosphere", "not assessed", f"{about}. {named}; a pitting index gives no class",
            None, asked + 1, unit, source, status,
            f"the maker's experience in such places, or {remedy}",
        )  # fmt: skip
    have = CLASSES.index(own)
    listed = f"{about}. {steel.number} is listed in class {own}"
    if steel.number in barred:
        return Finding(
            "atmosphere", "stop", f"{listed}, but excluded above an indoor pool",
            have + 1, asked + 1, unit, source, status, remedy,
        )  # fmt: skip
    if have < asked:
        easier = _easier(service, have)
        return Finding(
            "atmosphere", "stop", f"{listed}, which is lower", have + 1, asked + 1, unit,
            source, status, f"{easier}; or {remedy}" if easier else remedy,
        )  # fmt: skip
    if place.pool != "no" and steel.number in excluded_from_pools("cleaned less often"):
        return Finding(
            "atmosphere", "caution",
            f"{listed}, which covers it, but is excluded above pools that are cleaned less often",
            have + 1, asked + 1, unit, source, status, "an explicit approval for the pool hall",
        )  # fmt: skip
    return Finding(
        "atmosphere", "ok", f"{listed}, which covers it", have + 1, asked + 1, unit, source,
        status,
    )  # fmt: skip


def _easier(service: Service, have: int) -> str:
    """What washing would have to be for the class of the grade to do."""
    place = service.atmosphere or Atmosphere()
    if place.pool == "cleaned less often":
        weekly = classify(replace(place, pool="cleaned at least weekly")).crc
        return "cleaning at least weekly" if CLASSES.index(weekly) <= have else ""
    if place.pool != "no" or place.washing == "cleaned on a plan":
        return ""
    for washing, words in (("cleaned on a plan", "cleaning on a plan"), ("rain", "rain")):
        changed = classify(replace(place, washing=washing))
        if CLASSES.index(changed.crc) <= have and not (washing == "rain" and place.indoors):
            return words if washing != "rain" else "full exposure to washing by rain"
    return ""


# --- pitting index ---------------------------------------------------------------------------


def pitting_index(steel: Candidate, reference: Candidate) -> Finding:
    """Pitting index against the reference, inside one family only."""
    ours, theirs = steel.pitting_index, reference.pitting_index
    if ours is None or theirs is None:
        which = steel if ours is None else reference
        return Finding(
            "pitting index", "not assessed", f"the index is not used for {which.family} steel",
            ours, None, "index", INDEX, "verified",
        )  # fmt: skip
    if steel.family != reference.family:
        return Finding(
            "pitting index", "not assessed",
            f"{ours:.1f} ({steel.family}) and {theirs:.1f} ({reference.family}): the index ranks "
            "steels inside one family, never across families",
            ours, None, "index", INDEX, "verified",
        )  # fmt: skip
    verdict = _against(ours, theirs)
    reason = f"{ours:.1f} against {theirs:.1f} at the poorest composition of each"
    doubtful = max(steel.highest("Mn"), reference.highest("Mn")) > judged("manganese_doubt")
    if doubtful and steel.family != "ferritic":
        own, other = steel.pitting_index_manganese, reference.pitting_index_manganese
        if verdict == "ok" and own < other:
            verdict = "caution"  # the forms lie on both sides of the limit
        reason += f"; with manganese counted (30N − Mn, memory) {own:.1f} against {other:.1f}"
    if steel.free_machining and not reference.free_machining:
        verdict = worst((verdict, "caution"))
        reason += "; sulphides start pits that no index counts"
    return Finding(
        "pitting index", verdict, reason, ours, theirs, "index", INDEX, steel.status,
        "" if verdict == "ok" else "more chromium, molybdenum or nitrogen inside the window",
    )  # fmt: skip


def _against(ours: float, theirs: float) -> Verdict:
    """Less than the index can tell apart is no difference; a few times that is a doubt."""
    short = theirs - ours
    if short <= judged("index_margin"):
        return "ok"
    return "caution" if short <= judged("index_doubt") else "stop"


# --- welds -----------------------------------------------------------------------------------


def as_welded(steel: Candidate, service: Service) -> Finding | None:
    """Sensitisation and toughness of welds that are not annealed."""
    if not service.welded:
        return None
    if service.annealed and not steel.free_machining:
        return _annealed_weld(steel)
    if steel.family in ("martensitic", "precipitation-hardening"):
        return Finding(
            "weld", "stop", "hardens beside the weld and cracks without preheat and temper",
            source="trade practice", remedy="preheat and temper to a qualified procedure",
        )  # fmt: skip
    if steel.free_machining:
        return Finding(
            "weld", "stop", "the sulphur of free-machining steel cracks welds while hot",
            number=steel.most.get("S"), unit="% S", source="trade practice",
            remedy="a grade without added sulphur",
        )  # fmt: skip
    if steel.family == "ferritic":
        return _ferritic_weld(steel, service)
    if steel.family == "duplex":
        return Finding(
            "weld", "caution", "heat input and cooling decide phase balance and sigma phase",
            source="trade practice", remedy="a qualified welding procedure",
        )  # fmt: skip
    if steel.stabilised:
        return Finding("weld", "ok", "stabilised: chromium carbides are held back",
                       source="stabilisation rules", status="memory")  # fmt: skip
    if service.dry_heat:
        return Finding("weld", "ok", "austenitic steel welds; in dry heat carbides do not corrode",
                       source="trade practice", status="memory")  # fmt: skip
    carbon = steel.most.get("C")
    if carbon is None:
        return Finding("weld", "not assessed", "the carbon content is not known")
    row = next(
        r for r in rows("weld_carbon", "process")
        if not r["thickness_max_mm"] or service.thickness_mm <= float(r["thickness_max_mm"])
    )  # fmt: skip
    limit = float(row["carbon_max_pct"])
    verdict: Verdict = "ok" if carbon <= limit else "stop"
    return Finding(
        "weld", verdict,
        f"carbon up to {carbon:g} % against {limit:g} % at {service.thickness_mm:g} mm without "
        "a later anneal",
        carbon, limit, "% C", row["source"], row["status"],
        "" if verdict == "ok" else "a low-carbon or stabilised grade, thinner gauge, an anneal",
    )  # fmt: skip


def _annealed_weld(steel: Candidate) -> Finding:
    """A weld whose carbides, nitrides and phases an anneal or a temper has put right."""
    verdict: Verdict = "ok"
    why = "the anneal dissolves carbides"
    if steel.family in ("martensitic", "precipitation-hardening"):
        verdict, why = "caution", "tempered after welding, but to be preheated against cracks"
    elif steel.family == "ferritic":
        verdict, why = "caution", "the anneal heals the grain boundaries, but not the coarse grain"
    elif steel.family == "duplex":
        why = "solution annealed and quenched, phase balance and sigma phase are put right"
    return Finding("weld", verdict, why, source="trade practice", status="memory",
                   remedy="" if verdict == "ok" else "a qualified welding procedure")  # fmt: skip


def _ferritic_weld(steel: Candidate, service: Service) -> Finding:
    thick = judgement("thick_ferritic")
    heavy = service.thickness_mm > float(thick["value"])
    tough = f"the toughness of a {service.thickness_mm:g} mm ferritic weld needs impact tests"
    if not steel.stabilised and "weldable" not in steel.detailed_family:
        limit = _interstitials(steel)
        both = steel.highest("C") + steel.highest("N") if {"C", "N"} <= set(steel.most) else None
        known = both is not None and limit is not None
        if both is None or limit is None or both > limit:
            asked = f"{both:.3f} % against {limit:g} %" if known else "not limited so far"
            return Finding(
                "weld", "stop",
                "an unstabilised ferritic weld corrodes between grains and turns brittle unless "
                f"C + N is very low ({asked})", both if known else None, limit, "% C + N",
                "trade practice, weld interstitials", "memory",
                "austenitic or duplex steel, or no welding" if heavy
                else "a stabilised grade (Ti, Nb), or no welding",
            )  # fmt: skip
    if heavy:
        return Finding(
            "weld", "not assessed", tough, service.thickness_mm, float(thick["value"]), "mm",
            thick["source"], thick["status"], "thinner gauge; austenitic or duplex steel",
        )  # fmt: skip
    why = "stabilised: no attack between grains is expected" if steel.stabilised else (
        "low interstitials: made to be welded" if "weldable" in steel.detailed_family
        else "C + N low enough without stabilising"
    )  # fmt: skip
    return Finding("weld", "ok", why, source="stabilisation rules", status="memory")


def _interstitials(steel: Candidate) -> float | None:
    """Highest C + N (%) at which an unstabilised weld of this chromium and molybdenum holds."""
    for row in rows("weld_interstitials", "process"):
        low, high = float(row["chromium_min_pct"]), float(row["chromium_max_pct"])
        enough = steel.least.get("Mo", 0.0) >= float(row["molybdenum_min_pct"])
        if low <= steel.least.get("Cr", 0.0) <= high and enough:
            return float(row["c_plus_n_max_pct"])
    return None


# --- chemicals -------------------------------------------------------------------------------


def chemicals(steel: Candidate, service: Service) -> Finding | None:
    """Acids and alkalis: no composition rule answers these."""
    if not service.chemicals:
        return None
    return Finding(
        "chemicals", "not assessed",
        f"{service.chemicals}: needs corrosion data for medium, strength and temperature; no index "
        "of composition answers it", remedy="isocorrosion data or a test in the medium",
        status="", source="scope of this library",
    )  # fmt: skip
