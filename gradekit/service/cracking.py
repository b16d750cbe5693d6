"""Stress-corrosion cracking by chloride: in water, above pools, on warm metal by the sea.

In water two bands must come together: the temperature at which a family cracks, and the chloride at
which pits begin, from which cracks start, less what drying concentrates. Neither alone is a stop,
and each passes through a caution as wide as its evidence.
"""

from __future__ import annotations

from dataclasses import replace

from gradekit.core.markup import number as digits
from gradekit.core.verdicts import VERDICTS, Verdict
from gradekit.service.candidate import Candidate, candidate
from gradekit.service.corrosion import air
from gradekit.service.finding import Finding
from gradekit.service.needs import Service
from gradekit.service.tables import judged, judgement
from gradekit.service.waters import SALT, case_naming, cases, chloride_band


def cracking(steel: Candidate, service: Service) -> Finding | None:
    """Chloride stress-corrosion cracking in water and above pools."""
    pool = service.atmosphere is not None and service.atmosphere.pool != "no"
    wet = service.water != "none" and service.contact != "atmosphere"
    if not (pool or wet):
        return None
    if steel.family in ("martensitic", "precipitation-hardening"):
        return Finding(
            "stress corrosion", "not assessed",
            f"{steel.family} steel cracks by hydrogen and chloride according to its hardness",
            source="cautions", status="memory", remedy="tests at the hardness in use",
        )  # fmt: skip
    ordinary = steel.family == "austenitic" and not steel.detailed_family.startswith("super")
    findings = []
    if pool:
        findings.append(_pool_cracking(steel, service, ordinary))
    if wet:
        findings.append(_wet_cracking(steel, service, ordinary))
    return min(findings, key=lambda f: VERDICTS.index(f.verdict))


def _pool_cracking(steel: Candidate, service: Service, ordinary: bool) -> Finding:
    row = judgement("pool_cracking")
    heat = float(row["value"])
    there = air(steel, service, steel)
    covered = there is not None and there.verdict == "ok"
    if ordinary and covered and not service.load_bearing:
        return Finding(
            "stress corrosion", "ok", f"the class list covers it where it is cleaned; under load, "
            f"as a hanger or a fastener, it cracks from about {heat:g} °C", None, heat, "°C",
            row["source"], "conflicting",
        )  # fmt: skip
    if ordinary:
        barred = service.load_bearing and not covered
        why = f"above indoor pools ordinary austenitic steel cracks from about {heat:g} °C"
    else:
        barred = False
        why = f"{steel.detailed_family} steel cracks far less readily, but not never"
    return Finding(
        "stress corrosion", "stop" if barred else "caution", f"{why}, under load",
        None, heat, "°C", row["source"], "conflicting",
        "an explicit approval for load-bearing parts above pools",
    )  # fmt: skip


def _wet_cracking(steel: Candidate, service: Service, ordinary: bool) -> Finding:
    """Both must come together: the heat at which a family cracks, and chloride that starts it."""
    hot, salty = _by_heat(steel, service, ordinary), _by_chloride(steel, service, ordinary)
    if salty is None or hot.verdict == "ok":
        unknown = salty is None and hot.verdict != "ok"
        more = "; the chloride of the water is not given" if unknown else ""
        verdict: Verdict = "not assessed" if unknown else hot.verdict
        remedy = "an analysis of the water" if unknown else hot.remedy
        return replace(hot, verdict=verdict, reason=hot.reason + more, remedy=remedy)
    if VERDICTS.index(salty.verdict) > VERDICTS.index(hot.verdict):
        return replace(salty, reason=f"{salty.reason}; {hot.reason}")
    return replace(hot, reason=f"{hot.reason}; {salty.reason}")


def _by_heat(steel: Candidate, service: Service, ordinary: bool) -> Finding:
    """The band of temperature in which a family begins to crack where there is chloride."""
    heat = service.water_temperature_C
    row = cases("stress corrosion")[0]
    low, high = float(row["low"]), float(row["high"])
    safe = low - judged("cracking_margin")
    better = "duplex, ferritic or 6Mo steel, a cooler wall, no evaporation"
    if ordinary or heat <= safe:
        # where ordinary austenitic steel holds, the others do
        why = f"{heat:g} °C against {low:g} to {high:g} °C, the ceilings of 304 and 316"
        if not service.stressed and heat > safe:
            high += judged("cracking_unstressed")
            why += f"; no weld, forming or load is said, so a stop only above {high:g} °C"
        verdict: Verdict = "ok" if heat <= safe else ("caution" if heat <= high else "stop")
        return Finding("stress corrosion", verdict, why, heat, low, "°C", row["source"],
                       "conflicting", "" if verdict == "ok" else better)  # fmt: skip
    if steel.family == "duplex":
        row = cases("stress corrosion")[1]
        tested = float(row["low"])
        above = heat > tested
        return Finding(
            "stress corrosion", "caution" if above else "ok",
            f"{heat:g} °C against {tested:g} to {float(row['high']):g} °C, where duplex steel "
            f"{row['meaning']}", heat, tested, "°C", row["source"], "conflicting",
            "a cooler wall, no evaporation, a test" if above else "",
        )  # fmt: skip
    # nothing was read that names a ceiling: up to boiling it is the accepted answer to cracking
    boiling = heat > judged("chloride_hottest")
    return Finding(
        "stress corrosion", "caution" if boiling else "ok",
        f"{steel.detailed_family} steel is what is taken where 304 and 316 crack; no published "
        f"ceiling is held for it, and those of 304 and 316 are {low:g} to {high:g} °C",
        heat, None, "°C", row["source"], "memory", "a test at this temperature" if boiling else "",
    )  # fmt: skip


def _by_chloride(steel: Candidate, service: Service, ordinary: bool) -> Finding | None:
    """Cracks start from pits: the limits of pits in this water, less what drying concentrates.

    None where the chloride is not known.
    """
    chloride = service.chloride_mg_l
    if chloride is None and service.water != "seawater":
        return None
    chloride = judged("seawater_salt") if chloride is None else chloride
    hottest = judged("chloride_hottest")
    asked = replace(service, water_temperature_C=min(service.water_temperature_C, hottest))
    # a steel that resists cracking bears at least what 304 bears
    bands = [b for s in (steel, candidate("1.4301")) if (b := chloride_band(s, asked))]
    sure, most = max(b[0] for b in bands), max(b[1] for b in bands)
    many, least = judged("dries_most"), judged("dries_least")
    dries = service.contact == "splashed and drying"
    # the water line of a tank dries, which is enough for ordinary austenitic steel
    up = least if service.contact == "immersed" and ordinary else 1.0
    if dries or service.water == "heat exchanger":  # under deposits, too
        up = many
    elif service.contact == "rinsed and dried":
        up = least
    down = least if dries else 1.0
    sure, most = sure / up, most / down
    verdict: Verdict = "ok" if chloride <= sure else "caution" if chloride <= most else "stop"
    if verdict == "ok" and service.water_temperature_C > hottest:
        verdict = "caution"  # it boils in gaps
    drying = f"drying concentrates up to {up:g} times; " if up > 1.0 else ""
    return Finding(
        "stress corrosion", verdict,
        f"{chloride:g} mg/l chloride against {digits(sure, 2)} to {digits(most, 2)} mg/l, where "
        f"the pits begin from which it cracks; {drying}a working rule of this library",
        chloride, float(f"{most:.2g}"), SALT, judgement("chloride_factor")["source"], "heuristic",
        "" if verdict == "ok" else "less chloride, a cooler wall, no drying on the steel",
    )  # fmt: skip


def hot_coast(steel: Candidate, service: Service) -> Finding | None:
    """Warm, uncoated metal in marine air: external stress-corrosion cracking."""
    place, hot = service.atmosphere, service.temperature_max_C
    coast = place is not None and not place.indoors and place.sea_km <= judged("stain_sea_km")
    if not coast or hot is None or hot <= judged("ambient_water"):
        return None
    row = case_naming("marine air", steel)
    if row is None:
        row = cases("marine air")[0]
        return Finding(
            "warm in marine air", "not assessed", f"no published ceiling names {steel.title}", hot,
            None, "°C", row["source"], row["status"], "a coating, or a grade that is named",
        )  # fmt: skip
    rung = row["steels"]
    limit = float(row["high"])
    return Finding(
        "warm in marine air", "ok" if hot <= limit else "stop",
        f"{hot:g} °C against {limit:g} °C for uncoated {rung} in marine air", hot, limit, "°C",
        row["source"], row["status"], "" if hot <= limit else "a coating, or a higher grade",
    )  # fmt: skip
