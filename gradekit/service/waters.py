"""Waters: chloride by temperature, oxygen and crevice; seawater, chlorine, stress corrosion.

The rule of this library for chloride: published limits of crevice attack at ambient temperature,
read between their steels by pitting index; each degree above ambient counts as much chloride as the
pitting potential of the catalogue trades for it. A working rule, status heuristic, good to a
factor that every finding names.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise
from math import log10

from gradekit.core.markup import number as digits
from gradekit.core.verdicts import VERDICTS, Verdict
from gradekit.relations.evaluate import evaluate
from gradekit.service.candidate import Candidate, candidate
from gradekit.service.corrosion import air
from gradekit.service.finding import Finding
from gradekit.service.needs import Service
from gradekit.service.tables import judged, judgement, rows

__all__ = ["chlorine", "cracking", "hot_coast", "water"]

_SALT = "mg/l chloride"
#: The pitting potential whose slopes trade a degree against chloride.
_TRADE = "epit_fit_pren_t_cl"
#: Families that the published remark on chromium steel names.
_PLAIN = ("ferritic 17Cr", "ferritic 13Cr", "ferritic low Cr (weldable)", "ferritic free machining")
_EASIER = "less chloride, cooler water, no crevices"


def water(steel: Candidate, service: Service) -> Finding | None:
    """Chloride in supply water, heat exchangers and seawater."""
    if service.water == "none" or service.contact == "atmosphere":
        return None  # in the atmosphere no water stands: the class of the place decides
    if service.water == "seawater":
        return _seawater(steel, service)
    if service.chloride_mg_l is None:
        return Finding("water", "not assessed", "the chloride content of the water is not given",
                       remedy="an analysis of the water", source="chloride tables")  # fmt: skip
    hottest = judged("chloride_hottest")
    if service.water_temperature_C > hottest:
        cooler = _chloride(steel, replace(service, water_temperature_C=hottest))
        if cooler.verdict == "stop":
            return replace(cooler, reason=f"falls short in cooler water already: {cooler.reason}")
        return Finding(
            "water", "not assessed", f"{service.water_temperature_C:g} °C is hotter than the rule "
            f"reaches ({hottest:g} °C)", service.chloride_mg_l, None, _SALT,
            judgement("chloride_hottest")["source"], "heuristic", "a test in this water",
        )  # fmt: skip
    return _chloride(steel, service)


def _chloride(steel: Candidate, service: Service) -> Finding:
    chloride, heat = service.chloride_mg_l or 0.0, service.water_temperature_C
    own = next((r for r in _cases("crevice") if steel.number in r["numbers"].split()), None)
    plain = _cases("crevice")[-1]
    if steel.family == "martensitic" or steel.detailed_family in _PLAIN:
        dried = service.contact == "rinsed and dried"
        why = f"{plain['steels']}: {plain['meaning']}"
        why += "; rinsed and dried, only gaps that stay wet suffer" if dried else ""
        return Finding("water", "caution" if dried else "stop", why, chloride,
                       None, _SALT, plain["source"], plain["status"],
                       "1.4301 or 1.4401, by the chloride content")  # fmt: skip
    changed = _changes(steel, service)
    if own is not None and not changed:
        sure, most = float(own["low"]), float(own["high"])
        reach = f"{most:g}" if sure == most else f"{sure:g} to {most:g}"
        why = f"{chloride:g} against {reach} mg/l for {own['steels']}, in crevices at ambient"
        source, status, shown = own["source"], own["status"], most
        if service.contact == "flowing" and sure < most:
            sure, why = most, f"{why}; flowing water lays down no deposits: the upper one counts"
    else:
        base = _between_the_steels(steel) if own is None else log10(float(own["high"]))
        if base is None:
            return Finding("water", "not assessed", f"no pitting index places {steel.title} among "
                           "the steels with a published chloride limit; crevices decide", chloride,
                           None, _SALT, plain["source"], "memory",
                           "a crevice test in this water")  # fmt: skip
        limit = 10 ** (base + sum(changed.values()))
        doubt = judged("chloride_factor")
        sure, most = limit / doubt, limit * doubt
        shown = float(f"{limit:.2g}")
        named = f"as {own['steels']}" if own else "by its pitting index"
        parts = "; ".join([named, *changed])
        why = (
            f"{chloride:g} against about {digits(limit, 2)} mg/l at {heat:g} °C ({parts}), "
            f"a working rule of this library good to a factor of {doubt:g}"
        )
        source, status = judgement("chloride_factor")["source"], "heuristic"
    verdict: Verdict = "ok" if chloride <= sure else "caution" if chloride <= most else "stop"
    return Finding("water", verdict, why, chloride, shown, _SALT, source, status,
                   "" if verdict == "ok" else _what_helps(service))  # fmt: skip


def _what_helps(service: Service) -> str:
    """The leanest named steel whose limit this water keeps, and what else would do."""
    for row in _cases("crevice"):
        if row["numbers"]:
            there = candidate(row["numbers"].split()[0])
            limit = float(row["high"]) * 10 ** sum(_changes(there, service).values())
            if limit >= (service.chloride_mg_l or 0.0):
                return f"{row['steels']}; {_EASIER}"
    return _EASIER


def _changes(steel: Candidate, service: Service) -> dict[str, float]:
    """What moves the limit of ambient, aerated water in crevices: words and decades of chloride."""
    found = {}
    ambient = judged("ambient_water")
    if service.water_temperature_C > ambient:
        decades = (service.water_temperature_C - ambient) * _decades_per_degree()
        found[f"a tenth for each {-1 / _decades_per_degree():.0f} °C above {ambient:g} °C"] = (
            decades
        )
    if service.oxygen_free:
        found["free of oxygen"] = log10(judged("oxygen_free"))
    dried = service.contact == "rinsed and dried"
    if (dried or not service.crevices) and service.water != "heat exchanger":
        found["rinsed and dried" if dried else "without crevices"] = log10(judged("open_surface"))
    if steel.free_machining:
        found["sulphides start pits"] = log10(judged("sulphides"))
    return found


@cache
def _decades_per_degree() -> float:
    """How many decades of chloride a degree is worth in pitting potential; negative."""
    conditions = {"temperature_C": [40.0, 41.0, 40.0], "chloride_M": [0.01, 0.01, 0.1]}
    steel = {e: [content] * 3 for e, content in {"Cr": 18.0, "Mo": 0.0, "N": 0.05}.items()}
    here, warmer, saltier = evaluate(steel, _TRADE, **conditions).values[_TRADE]
    return float((warmer - here) / (here - saltier))


def _between_the_steels(steel: Candidate) -> float | None:
    """Decimal logarithm of the chloride limit at ambient, read by index between the named steels;
    below the lowest the first stretch goes on, above the highest its limit holds."""
    index = steel.index_in_water
    if index is None:
        return None
    points = _index_points()
    for (low, at_low), (high, at_high) in pairwise(points):
        if index <= high:
            return at_low + (index - low) * (at_high - at_low) / (high - low)
    return points[-1][1]


@cache
def _index_points() -> list[tuple[float, float]]:
    named = [r for r in _cases("crevice") if r["numbers"]]
    return sorted(
        (candidate(r["numbers"].split()[0]).index_in_water or 0.0, log10(float(r["high"])))
        for r in named
    )


@cache
def _cases(case: str) -> tuple[dict[str, str], ...]:
    return tuple(r for r in rows("chloride_limits") if r["case"] == case)


def _named(case: str, steel: Candidate) -> dict[str, str] | None:
    return next((r for r in _cases(case) if steel.number in r["numbers"].split()), None)


def _seawater(steel: Candidate, service: Service) -> Finding:
    row = next((r for r in _cases("seawater") if r["steels"] == steel.family), None)
    better = "super duplex or 6Mo steel, with crevice tests"
    if row is None:
        return Finding("water", "not assessed", f"no published floor for {steel.family} steel in "
                       "seawater", source=_cases("seawater")[0]["source"],
                       status=_cases("seawater")[0]["status"], remedy=better)  # fmt: skip
    floor, source, status = float(row["low"]), row["source"], row["status"]
    low = steel.pitting_index or 0.0  # every family of the table uses the index
    high = steel.pitting_index_most or low
    reach = f"{low:.1f}" if high == low else f"{low:.1f} to {high:.1f}"
    asked = f"index {reach} against {floor:g} asked of {steel.family} steel in seawater"
    if high < floor:
        return Finding("water", "stop", asked, low, floor, "index", source, status, better)
    salt, heat = service.chloride_mg_l or 0.0, service.water_temperature_C
    beyond = [f"{salt:g} mg/l chloride is a brine"] if salt > judged("seawater_salt") else []
    beyond += [f"{heat:g} °C"] if heat > judged("ambient_water") else []
    if beyond:
        return Finding(
            "water", "not assessed",
            f"{asked}, but only at ambient temperature and the salt of the sea: "
            f"{' and '.join(beyond)}", low, floor, "index", source, status,
            "a crevice test in this brine at this temperature",
        )  # fmt: skip
    order = "" if low >= floor else f"an index of at least {floor:g} in the order, and "
    return Finding(
        "water", "caution",
        f"{asked} at ambient temperature; crevices, chlorination and warmth ask for more",
        low, floor, "index", source, status, f"{order}a crevice test",
    )  # fmt: skip


def chlorine(steel: Candidate, service: Service) -> Finding | None:
    """Free chlorine in water."""
    if service.free_chlorine_mg_l is None:
        return None
    got = service.free_chlorine_mg_l
    table = _cases("free chlorine")
    row = _named("free chlorine", steel)
    if row is None:
        row = table[0]
        return Finding(
            "free chlorine", "not assessed", f"published for 304 and 316, not for {steel.title}",
            got, None, "mg/l", row["source"], row["status"],
        )  # fmt: skip
    rung = row["steels"]
    limit = float(row["high"])
    best = max(float(r["high"]) for r in table)
    remedy = "less chlorine" if got > best else "1.4401 or 1.4404, or less chlorine"
    return Finding(
        "free chlorine", "ok" if got <= limit else "stop",
        f"{got:g} mg/l against {limit:g} mg/l for {rung}, continuous exposure", got, limit, "mg/l",
        row["source"], row["status"], "" if got <= limit else remedy,
    )  # fmt: skip


# --- stress corrosion ------------------------------------------------------------------------


def cracking(steel: Candidate, service: Service) -> Finding | None:
    """Chloride stress-corrosion cracking in water and above pools."""
    pool = service.atmosphere is not None and service.atmosphere.pool != "no"
    salt = bool(service.chloride_mg_l) or service.water == "seawater"
    wet = salt and service.water != "none" and service.contact != "atmosphere"
    if not (pool or wet):
        return None
    if steel.family in ("martensitic", "precipitation-hardening"):
        return Finding(
            "stress corrosion", "not assessed",
            f"{steel.family} steel cracks by hydrogen and chloride according to its hardness",
            source="cautions", status="memory", remedy="tests at the hardness in use",
        )  # fmt: skip
    ordinary = steel.family == "austenitic" and not steel.detailed_family.startswith("super")
    found = []
    if pool:
        found.append(_pool_cracking(steel, service, ordinary))
    if wet:
        found.append(_wet_cracking(steel, service, ordinary))
    return min(found, key=lambda f: VERDICTS.index(f.verdict))


def _pool_cracking(steel: Candidate, service: Service, ordinary: bool) -> Finding:
    row = judgement("pool_cracking")
    heat = float(row["value"])
    there = air(steel, service)
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
    heat = service.water_temperature_C
    row = _cases("stress corrosion")[0]
    low, high = float(row["low"]), float(row["high"])
    safe = low - judged("cracking_margin")
    source, better = row["source"], "duplex, ferritic or 6Mo steel, a cooler wall, no evaporation"
    if ordinary or heat <= safe:
        # where ordinary austenitic steel holds, the others do
        verdict: Verdict = "ok" if heat <= safe else ("caution" if heat <= high else "stop")
        why = (
            f"{heat:g} °C against {low:g} to {high:g} °C, the ceilings of 304 and 316; "
            "evaporation concentrates chloride"
        )
        if verdict == "stop" and _never_dry(service):
            found = water(steel, service)
            if found is not None and found.verdict in ("ok", "caution"):
                verdict = "caution"
                why += "; always wetted and within the chloride limit of pits, where cracks start"
        return Finding("stress corrosion", verdict, why, heat, low, "°C", source, "conflicting",
                       "" if verdict == "ok" else better)  # fmt: skip
    row = _cases("stress corrosion")[1]
    tested = float(row["low"])
    if steel.family == "duplex":
        # the test dried drops of sea water: water that never dries and keeps the limit of pits is
        # what duplex steel is taken for
        found = water(steel, service) if _never_dry(service) else None
        above = heat > tested and not (found is not None and found.verdict == "ok")
        wet = heat > tested and not above
        held = "; here it never dries and keeps the limit of pits" if wet else ""
        return Finding(
            "stress corrosion", "caution" if above else "ok",
            f"{heat:g} °C against {tested:g} to {float(row['high']):g} °C, where duplex steel "
            f"{row['meaning']}{held}", heat, tested, "°C", row["source"], "conflicting",
            "a cooler wall, no evaporation, a test" if above else "",
        )  # fmt: skip
    # nothing was read that names a ceiling: up to boiling it is the accepted answer to cracking
    boiling = heat > judged("chloride_hottest")
    return Finding(
        "stress corrosion", "caution" if boiling else "ok",
        f"{steel.detailed_family} steel is what is taken where 304 and 316 crack; no published "
        f"ceiling is held for it, and those of 304 and 316 are {low:g} to {high:g} °C",
        heat, None, "°C", source, "memory", "a test at this temperature" if boiling else "",
    )  # fmt: skip


def _never_dry(service: Service) -> bool:
    """Whether the water neither dries on the steel nor boils there."""
    wetted = service.contact in ("immersed", "flowing")
    return wetted and service.water_temperature_C <= judged("chloride_hottest")


def hot_coast(steel: Candidate, service: Service) -> Finding | None:
    """Warm, uncoated metal in marine air: external stress-corrosion cracking."""
    place, hot = service.atmosphere, service.temperature_max_C
    coast = place is not None and not place.indoors and place.sea_km <= judged("stain_sea_km")
    if not coast or hot is None or hot <= judged("ambient_water"):
        return None
    row = _named("marine air", steel)
    if row is None:
        row = _cases("marine air")[0]
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
