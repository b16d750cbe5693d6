"""Waters: chloride by temperature, oxygen and crevice; seawater, free chlorine.

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
from gradekit.core.verdicts import Verdict
from gradekit.relations.evaluate import evaluate
from gradekit.service.candidate import Candidate, candidate
from gradekit.service.finding import Finding, within
from gradekit.service.needs import Service
from gradekit.service.tables import judged, judgement, naming, rows

SALT = "mg/l chloride"
#: The pitting potential whose slopes trade a degree against chloride.
_TRADE = "epit_fit_pren_t_cl"
#: Families that the published remark on chromium steel names.
_PLAIN = ("ferritic 17Cr", "ferritic 13Cr", "ferritic low Cr (weldable)", "ferritic free machining")
_WARMER = "a tenth for each"


def water(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Chloride in supply water, heat exchangers and seawater."""
    if service.water == "none" or service.contact == "atmosphere":
        return None  # in the atmosphere no water stands: the class of the place decides
    if service.water == "seawater":
        return _seawater(steel, service)
    if service.chloride_mg_l is None:
        why, remedy = "the chloride content of the water is not given", "an analysis of the water"
        return Finding("not assessed", why, source="chloride tables", remedy=remedy)
    hottest, heat = judged("chloride_hottest"), service.water_temperature_C
    if heat <= hottest:
        return _chloride(steel, reference, service)
    cooler = _chloride(steel, reference, replace(service, water_temperature_C=hottest))
    if cooler.verdict == "stop":
        return cooler._replace(reason=f"falls short in cooler water already: {cooler.reason}")
    why = f"{heat:g} °C is hotter than the rule reaches ({hottest:g} °C)"
    source, remedy = judgement("chloride_hottest")["source"], "a test in this water"
    return Finding(
        "not assessed", why, service.chloride_mg_l, None, SALT, source, "heuristic", remedy
    )


def _chloride(steel: Candidate, reference: Candidate, service: Service) -> Finding:
    chloride, heat = service.chloride_mg_l or 0.0, service.water_temperature_C
    own, plain = naming(steel.number, cases("crevice")), cases("crevice")[-1]
    source = plain["source"]
    if steel.family == "martensitic" or steel.detailed_family in _PLAIN:
        dried = service.contact == "rinsed and dried"
        why = f"{plain['steels']}: {plain['meaning']}"
        why += "; rinsed and dried, only gaps that stay wet suffer" if dried else ""
        verdict: Verdict = "caution" if dried else "stop"
        remedy, status = _what_helps(service, reference), plain["status"]
        return Finding(verdict, why, chloride, None, SALT, source, status, remedy)
    band = chloride_band(steel, service)
    if band is None:
        why = f"no pitting index places {steel.title} among the steels with a published chloride "
        why += "limit; crevices decide"
        remedy = "a crevice test in this water"
        return Finding("not assessed", why, chloride, None, SALT, source, "memory", remedy)
    sure, most, changed = band
    if own is not None and not changed:
        low = float(own["low"])
        reach = f"{most:g}" if low == most else f"{low:g} to {most:g}"
        why = f"{chloride:g} against {reach} mg/l for {own['steels']}, in crevices at ambient"
        source, status, shown = own["source"], own["status"], most
        if service.contact == "flowing" and low < most:
            why += "; flowing water lays down no deposits: the upper one counts"
    else:
        shown = float(f"{most:.2g}")
        parts = "; ".join([f"as {own['steels']}" if own else "by its pitting index", *changed])
        why = (
            f"{chloride:g} against about {digits(sure, 2)} to {digits(most, 2)} mg/l "
            f"at {heat:g} °C ({parts}), a working rule of this library"
        )
        source, status = judgement("chloride_factor")["source"], "heuristic"
    verdict, remedy = within(chloride, sure, most), _what_helps(service, reference)
    return Finding(verdict, why, chloride, shown, SALT, source, status, remedy)


def chloride_band(
    steel: Candidate, service: Service
) -> tuple[float, float, dict[str, float]] | None:
    """Chloride that surely starts no pits, and that surely does, mg/l; and what moved them.

    The published figures stand at ambient. Each degree above it moves the limit, and the doubt of
    the rule grows with the distance, as fast as the limit falls, up to its factor: so that warmer
    water never bears more, and nothing jumps where the rule begins.
    """
    own = naming(steel.number, cases("crevice"))
    base = _between_the_steels(steel) if own is None else log10(float(own["high"]))
    if base is None:
        return None
    changed, doubt = _changes(steel, service), log10(judged("chloride_factor"))
    limit = base + sum(changed.values())
    under = over = doubt
    if own is not None:
        warmed = -sum(v for k, v in changed.items() if k.startswith(_WARMER))
        grown = min(doubt, warmed) if len(changed) == (warmed > 0) else doubt
        # flowing water lays down no deposits: the upper figure counts
        flows = service.contact == "flowing"
        printed = 0.0 if flows else log10(float(own["high"]) / float(own["low"]))
        under, over = max(printed, grown), grown
    return 10 ** (limit - under), 10 ** (limit + over), changed


def _what_helps(service: Service, reference: Candidate) -> str:
    """The leanest named steel whose limit this water surely keeps, and what else would do."""
    chloride, named = service.chloride_mg_l or 0.0, []
    for row in cases("crevice"):
        numbers = row["numbers"].split()
        band = chloride_band(candidate(numbers[0]), service) if numbers else None
        if band and chloride <= band[0]:
            named = ["the present grade" if reference.number in numbers else row["steels"]]
            break
    easier = ["less chloride"]
    easier += ["cooler water"] if service.water_temperature_C > judged("ambient_water") else []
    easier += ["no crevices"] if service.crevices and service.contact != "rinsed and dried" else []
    return "; ".join([*named, ", ".join(easier)])


def _changes(steel: Candidate, service: Service) -> dict[str, float]:
    """What moves the limit of ambient, aerated water in crevices: words and decades of chloride."""
    decades_of = {}
    ambient = judged("ambient_water")
    if service.water_temperature_C > ambient:
        decades = (service.water_temperature_C - ambient) * _decades_per_degree()
        decades_of[f"{_WARMER} {-1 / _decades_per_degree():.0f} °C above {ambient:g} °C"] = decades
    if service.oxygen_free:
        decades_of["free of oxygen"] = log10(judged("oxygen_free"))
    dried = service.contact == "rinsed and dried"
    if (dried or not service.crevices) and service.water != "heat exchanger":
        decades_of["rinsed and dried" if dried else "without crevices"] = log10(
            judged("open_surface")
        )
    if steel.free_machining:
        decades_of["sulphides start pits"] = log10(judged("sulphides"))
    return decades_of


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
    named = [r for r in cases("crevice") if r["numbers"]]
    return sorted(
        (candidate(r["numbers"].split()[0]).index_in_water or 0.0, log10(float(r["high"])))
        for r in named
    )


@cache
def cases(case: str) -> tuple[dict[str, str], ...]:
    """The published limits of one kind of case, such as 'crevice'."""
    return tuple(r for r in rows("chloride_limits") if r["case"] == case)


def _seawater(steel: Candidate, service: Service) -> Finding:
    row = next((r for r in cases("seawater") if r["steels"] == steel.family), None)
    better = "super duplex or 6Mo steel, with crevice tests"
    if row is None:
        row, why = cases("seawater")[0], f"no published floor for {steel.family} steel in seawater"
        return Finding(
            "not assessed", why, source=row["source"], status=row["status"], remedy=better
        )
    floor, test = float(row["low"]), "a crevice test"
    low = steel.pitting_index or 0.0  # every family of the table uses the index
    high = steel.pitting_index_most or low
    reach = f"{low:.1f}" if high == low else f"{low:.1f} to {high:.1f}"
    why = f"index {reach} against {floor:g} asked of {steel.family} steel in seawater"
    salt, heat = service.chloride_mg_l or 0.0, service.water_temperature_C
    beyond = [f"{salt:g} mg/l chloride is a brine"] if salt > judged("seawater_salt") else []
    beyond += [f"{heat:g} °C"] if heat > judged("ambient_water") else []
    verdict: Verdict = "caution"
    if high < floor:
        verdict, remedy = "stop", better
    elif beyond:
        verdict, remedy = "not assessed", f"{test} in this brine at this temperature"
        why += ", but only at ambient temperature and the salt of the sea: " + " and ".join(beyond)
    else:
        remedy = "" if low >= floor else f"an index of at least {floor:g} in the order, and "
        remedy += test
        why += " at ambient temperature; crevices, chlorination and warmth ask for more"
    return Finding(verdict, why, low, floor, "index", row["source"], row["status"], remedy)


def chlorine(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Free chlorine in water."""
    if service.free_chlorine_mg_l is None:
        return None
    got = service.free_chlorine_mg_l
    table = sorted(cases("free chlorine"), key=lambda r: float(r["high"]))
    row, ours = naming(steel.number, table), ""
    if row is None and (index := steel.index_in_water) is not None:
        # no steel of a higher pitting index bears less; how much more, nobody published
        held = [r for r in table if index >= (candidate(r["numbers"][:6]).index_in_water or 0.0)]
        row = next((r for r in held[::-1] if got <= float(r["high"])), None)
        ours = "; its pitting index is no lower, a working rule of this library"
    if row is None:
        row, why = table[0], f"published for 304 and 316, not for {steel.title}"
        return Finding("not assessed", why, got, None, "mg/l", row["source"], row["status"])
    limit, best = float(row["high"]), table[-1]
    kept = reference.number in best["numbers"].split()
    remedy = "the present grade" if kept else "1.4401 or 1.4404"
    remedy = "less chlorine" if got > float(best["high"]) else f"{remedy}, or less chlorine"
    why = f"{got:g} mg/l against {limit:g} mg/l for {row['steels']}, continuous exposure{ours}"
    status = "heuristic" if ours else row["status"]
    verdict = within(got, limit, limit)
    return Finding(verdict, why, got, limit, "mg/l", row["source"], status, remedy)
