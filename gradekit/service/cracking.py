"""Stress-corrosion cracking by chloride: in water, above pools, on warm metal by the sea.

In water two bands must come together: the temperature at which a family cracks, and the chloride at
which pits begin, from which cracks start, less what drying concentrates. Neither alone is a stop,
and each passes through a caution as wide as its evidence.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf

from gradekit.core.markup import number as digits
from gradekit.core.verdicts import VERDICTS, Verdict
from gradekit.service.candidate import Candidate, candidate
from gradekit.service.corrosion import air
from gradekit.service.finding import Finding, within
from gradekit.service.needs import Service
from gradekit.service.tables import judged, judgement, naming
from gradekit.service.waters import SALT, cases, chloride_band


def cracking(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Chloride stress-corrosion cracking in water and above pools."""
    pool = service.atmosphere is not None and service.atmosphere.pool != "no"
    wet = service.water != "none" and service.contact != "atmosphere"
    if not (pool or wet):
        return None
    if steel.hardens:
        why = f"{steel.family} steel cracks by hydrogen and chloride according to its hardness"
        return Finding(
            "not assessed", why, source="cautions", remedy="tests at the hardness in use"
        )
    ordinary = steel.family == "austenitic" and not steel.detailed_family.startswith("super")
    findings = [_pool_cracking(steel, service, ordinary)] if pool else []
    findings += [_wet_cracking(steel, service, ordinary)] if wet else []
    return min(findings, key=lambda f: VERDICTS.index(f.verdict))


def _pool_cracking(steel: Candidate, service: Service, ordinary: bool) -> Finding:
    row = judgement("pool_cracking")
    heat = float(row["value"])
    there = air(steel, steel, service)
    covered = there is not None and there.verdict == "ok"
    verdict: Verdict = "caution"
    if not ordinary:
        why = f"{steel.detailed_family} steel cracks far less readily, but not never, under load"
    elif covered and not service.load_bearing:
        verdict = "ok"
        why = "the class list covers it where it is cleaned; under load, as a hanger or a "
        why += f"fastener, it cracks from about {heat:g} °C"
    else:
        verdict = "caution" if covered or not service.load_bearing else "stop"
        why = "above indoor pools ordinary austenitic steel cracks from about "
        why += f"{heat:g} °C, under load"
    remedy = "an explicit approval for load-bearing parts above pools"
    return Finding(verdict, why, None, heat, "°C", row["source"], "conflicting", remedy)


def _wet_cracking(steel: Candidate, service: Service, ordinary: bool) -> Finding:
    """Both must come together: the heat at which a family cracks, and chloride that starts it."""
    hot, salty = _by_heat(steel, service, ordinary), _by_chloride(steel, service, ordinary)
    if hot.verdict == "ok":
        return hot
    if salty is None:
        why = f"{hot.reason}; the chloride of the water is not given"
        return hot._replace(verdict="not assessed", reason=why, remedy="an analysis of the water")
    better, worse = sorted((hot, salty), key=lambda f: -VERDICTS.index(f.verdict))
    return better._replace(reason=f"{better.reason}; {worse.reason}")


def _by_heat(steel: Candidate, service: Service, ordinary: bool) -> Finding:
    """The band of temperature in which a family begins to crack where there is chloride."""
    heat = service.water_temperature_C
    row, tested = cases("stress corrosion")[:2]
    low, high = float(row["low"]), float(row["high"])
    safe = low - judged("cracking_margin")
    begins: float | None = low
    status = "conflicting"
    if ordinary or heat <= safe:
        # where ordinary austenitic steel holds, the others do
        why = f"{heat:g} °C against {low:g} to {high:g} °C, the ceilings of 304 and 316"
        if not service.stressed and heat > safe:
            high += judged("cracking_unstressed")
            why += f"; no weld, forming or load is said, so a stop only above {high:g} °C"
        verdict = within(heat, safe, high)
        remedy = "duplex, ferritic or 6Mo steel, a cooler wall, no evaporation"
    elif steel.family == "duplex":
        row = tested
        begins, high = float(row["low"]), float(row["high"])
        why = f"{heat:g} °C against {begins:g} to {high:g} °C, where duplex steel {row['meaning']}"
        verdict, remedy = within(heat, begins, inf), "a cooler wall, no evaporation, a test"
    else:
        # nothing was read that names a ceiling: up to boiling it is the accepted answer to cracking
        why = f"{steel.detailed_family} steel is what is taken where 304 and 316 crack; no "
        why += f"published ceiling is held for it, and those of 304 and 316 are {low:g} to "
        why += f"{high:g} °C"
        verdict = within(heat, judged("chloride_hottest"), inf)
        begins, status, remedy = None, "memory", "a test at this temperature"
    return Finding(verdict, why, heat, begins, "°C", row["source"], status, remedy)


def _by_chloride(steel: Candidate, service: Service, ordinary: bool) -> Finding | None:
    """Cracks start from pits: the limits of pits in this water, less what drying concentrates.

    None where the chloride is not known.
    """
    chloride = service.chloride_mg_l
    if chloride is None:
        if service.water != "seawater":
            return None
        chloride = judged("seawater_salt")
    hottest = judged("chloride_hottest")
    asked = replace(service, water_temperature_C=min(service.water_temperature_C, hottest))
    # a steel that resists cracking bears at least what 304 bears
    bands = [b for s in (steel, candidate("1.4301")) if (b := chloride_band(s, asked))]
    sure, most = max(b[0] for b in bands), max(b[1] for b in bands)
    many, least = judged("dries_most"), judged("dries_least")
    dries = service.contact == "splashed and drying"
    if dries or service.water == "heat exchanger":  # under deposits, too
        up = many
    # the water line of a tank dries, which is enough for ordinary austenitic steel
    elif service.contact == "rinsed and dried" or (service.contact == "immersed" and ordinary):
        up = least
    else:
        up = 1.0
    sure, most = sure / up, most / (least if dries else 1.0)
    verdict = within(chloride, sure, most)
    if verdict == "ok" and service.water_temperature_C > hottest:
        verdict = "caution"  # it boils in gaps
    drying = f"drying concentrates up to {up:g} times; " if up > 1.0 else ""
    why = (
        f"{chloride:g} mg/l chloride against {digits(sure, 2)} to {digits(most, 2)} mg/l, where "
        f"the pits begin from which it cracks; {drying}a working rule of this library"
    )
    shown, source = float(f"{most:.2g}"), judgement("chloride_factor")["source"]
    remedy = "less chloride, a cooler wall, no drying on the steel"
    return Finding(verdict, why, chloride, shown, SALT, source, "heuristic", remedy)


def hot_coast(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Warm, uncoated metal in marine air: external stress-corrosion cracking."""
    place, hot = service.atmosphere, service.temperature_max_C
    coast = place is not None and not place.indoors and place.sea_km <= judged("stain_sea_km")
    if not coast or hot is None or hot <= judged("ambient_water"):
        return None
    table = cases("marine air")
    verdict: Verdict = "not assessed"
    row, limit = naming(steel.number, table), None
    if row is None:
        row, why = table[0], f"no published ceiling names {steel.title}"
        remedy = "a coating, or a grade that is named"
    else:
        limit = float(row["high"])
        why = f"{hot:g} °C against {limit:g} °C for uncoated {row['steels']} in marine air"
        verdict, remedy = within(hot, limit, limit), "a coating, or a higher grade"
    return Finding(verdict, why, hot, limit, "°C", row["source"], row["status"], remedy)
