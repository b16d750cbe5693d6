"""Waters: chloride at ambient and higher temperature, seawater, chlorine, stress corrosion."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from gradekit.core.verdicts import VERDICTS
from gradekit.service.candidate import Candidate, candidate
from gradekit.service.corrosion import air
from gradekit.service.finding import Finding
from gradekit.service.needs import Service
from gradekit.service.tables import judged, judgement, number, rows

__all__ = ["chlorine", "cracking", "hot_coast", "water"]

# Which EN numbers the trade names of the tables stand for.
NAMED = {
    "304": ("1.4301", "1.4307"),
    "316": ("1.4401", "1.4404", "1.4435", "1.4571"),
    "2205": ("1.4462",),
    "25Cr duplex": ("1.4410", "1.4501", "1.4507"),
    "6Mo": ("1.4547", "1.4529"),
}
# The rungs of ambient water: how the row begins, the steels it names, the one that carries its
# index for steels that are not named.
_LADDER = (
    ("304", NAMED["304"], "1.4301"),
    ("316", NAMED["316"], "1.4401"),
    ("2205", NAMED["2205"], "1.4462"),
    ("super duplex", NAMED["25Cr duplex"] + NAMED["6Mo"], "1.4410"),
)
_PLATES = {"304": NAMED["304"], "316": NAMED["316"], "Ti or 1.4547": ("1.4547",)}
_MARINE = {
    "316": NAMED["316"], "22Cr duplex": NAMED["2205"], "25Cr duplex": NAMED["25Cr duplex"],
    "6Mo": NAMED["6Mo"],
}  # fmt: skip
_SALT = "mg/l chloride"


def water(steel: Candidate, service: Service) -> Finding | None:
    """Chloride in supply water, heat exchangers and seawater."""
    if service.water == "none":
        return None
    if service.water == "seawater":
        return _seawater(steel, service)
    if service.chloride_mg_l is None:
        return Finding("water", "not assessed", "the chloride content of the water is not given",
                       remedy="an analysis of the water", source="chloride tables")  # fmt: skip
    warm = service.water_temperature_C > judged("ambient_water")
    if service.water == "heat exchanger":
        return _exchanger(steel, service)
    if not warm:
        return _ladder(steel, service)
    return _no_better_than(_ladder(steel, service), _exchanger(steel, service))


def _no_better_than(cooler: Finding, found: Finding) -> Finding:
    """What falls short in cooler water is not open in warmer water, where no table reaches."""
    if found.verdict == "not assessed" and cooler.verdict == "stop":
        return replace(cooler, reason=f"falls short in cooler water already: {cooler.reason}")
    return found


def _ladder(steel: Candidate, service: Service) -> Finding:
    chloride = service.chloride_mg_l
    if steel.family in ("ferritic", "martensitic"):
        row = next(r for r in _cases("natural water") if r["grade"].startswith("400 series"))
        plain = ("ferritic 17Cr", "ferritic 13Cr", "ferritic low Cr (weldable)")
        if steel.detailed_family in plain or steel.family == "martensitic":
            return Finding(
                "water", "stop", row["meaning"], chloride, None, _SALT, row["source"],
                row["status"], "1.4301 or 1.4401, by the chloride content",
            )  # fmt: skip
    rung = _rung(steel)
    if rung is None:
        return Finding(
            "water", "not assessed",
            f"no published chloride limit fits {steel.title}; crevices decide", chloride, None,
            _SALT, "Nickel Institute ladder", "memory", "a crevice test in this water",
        )  # fmt: skip
    (name, named, _), row = rung
    sure, most = number(row["conc_min_mg_l"]), number(row["conc_max_mg_l"])
    reach = f"{most:g}" if sure is None else f"{sure:g} to {most:g}"
    why = f"{chloride:g} against {reach} mg/l for {name}, in crevices at ambient temperature"
    verdict = "ok" if chloride <= (sure or most) else "caution"
    verdict = verdict if chloride <= most else "stop"
    status = row["status"]
    if steel.number not in named:
        status = "heuristic"
        why += f"; {steel.title} is not named there, its index is not below that of {name}"
    return Finding(
        "water", verdict, why, chloride, most, _SALT, row["source"], status,
        "" if verdict == "ok" else "a steel of a higher rung, less chloride, no crevices",
    )  # fmt: skip


@cache
def _cases(start: str) -> tuple[dict[str, str], ...]:
    return tuple(r for r in rows("chloride_limits") if r["case"].startswith(start))


def _rung(steel: Candidate) -> tuple | None:
    """The rung that names this steel, else the highest whose steel has no higher index."""
    best = None
    for rung in _LADDER:
        row = next(r for r in _cases("natural water") if r["grade"].startswith(rung[0]))
        if steel.number in rung[1]:
            return rung, row
        base = candidate(rung[2])
        # austenitic and duplex steel share the index and, in this ladder, the rungs
        alike = {base.family, steel.family} <= {"austenitic", "duplex"}
        alike = alike and not steel.manganese_type  # manganese spoils what the index promises
        if alike and steel.pitting_index >= base.pitting_index:
            best = rung, row
    return best


def _exchanger(steel: Candidate, service: Service) -> Finding:
    """Plate material by chloride and temperature, as a maker of heat exchangers tabulates it."""
    order = list(_PLATES)
    chloride, heat = service.chloride_mg_l, service.water_temperature_C
    table = [r for r in _cases("plate heat exchanger") if r["conc_max_mg_l"]]
    column = min((t for r in table if (t := number(r["temperature_c"])) >= heat), default=None)
    where = f"{chloride:g} mg/l chloride at {heat:g} °C"
    source, status = table[0]["source"], table[0]["status"]
    if column is None:
        beyond = Finding(
            "water", "not assessed", f"{where}: hotter than the table of plate materials", chloride,
            None, _SALT, source, status, "a test in this water",
        )  # fmt: skip
        hottest = max(number(r["temperature_c"]) for r in table)
        return _no_better_than(
            _exchanger(steel, replace(service, water_temperature_C=hottest)), beyond
        )
    fitting = [
        (number(r["conc_max_mg_l"]), order.index(r["grade"]), r["grade"])
        for r in table
        if number(r["temperature_c"]) == column and number(r["conc_max_mg_l"]) >= chloride
    ]
    needed = min(fitting)[2] if fitting else order[-1]
    asks = f"{where}: the table asks for {needed} up to {column:g} °C, in oxygenated water"
    rung = next((n for n, numbers in _PLATES.items() if steel.number in numbers), None)
    if rung is None:
        return Finding(
            "water", "not assessed", f"{asks}; it does not name {steel.title}", chloride, None,
            _SALT, source, status, f"{needed}, or a crevice test in this water",
        )  # fmt: skip
    enough = order.index(rung) >= order.index(needed)
    most = max(
        (number(r["conc_max_mg_l"]) for r in table
         if number(r["temperature_c"]) == column and order.index(r["grade"]) <= order.index(rung)),
        default=0.0,
    )  # fmt: skip
    return Finding(
        "water", "ok" if enough else "stop", asks, chloride, most, _SALT, source, status,
        "" if enough else f"{needed}, cooler water or less chloride",
    )  # fmt: skip


def _seawater(steel: Candidate, service: Service) -> Finding:
    # Kovach and Redmond's floors by family, as the row quotes them
    row = next(r for r in _cases("seawater") if r["grade"].startswith("ferritic PREN"))
    words = row["grade"].replace("PREN", "").replace(">=", " ").replace(";", " ").split()
    floors = dict(zip(words[::2], map(float, words[1::2]), strict=True))
    floor = floors.get("superaustenitic" if steel.family == "austenitic" else steel.family)
    source, status = row["source"], row["status"]
    better = "super duplex or 6Mo steel, with crevice tests"
    if floor is None:
        return Finding(
            "water", "not assessed", f"no published floor for {steel.family} steel in seawater",
            source=source, status=status, remedy=better,
        )  # fmt: skip
    low, high = steel.pitting_index, steel.pitting_index_most
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
    table = {r["grade"]: r for r in _cases("free chlorine")}
    rung = next((n for n in table if steel.number in NAMED[n]), None)
    if rung is None:
        row = table["304"]
        return Finding(
            "free chlorine", "not assessed", f"published for 304 and 316, not for {steel.title}",
            got, None, "mg/l", row["source"], row["status"],
        )  # fmt: skip
    row = table[rung]
    limit = number(row["conc_max_mg_l"])
    best = max(number(r["conc_max_mg_l"]) for r in table.values())
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
    if not (pool or (service.water != "none" and salt)):
        return None
    if steel.family in ("martensitic", "precipitation hardening"):
        return Finding(
            "stress corrosion", "not assessed",
            f"{steel.family} steel cracks by hydrogen and chloride according to its hardness",
            source="cautions", status="memory", remedy="tests at the hardness in use",
        )  # fmt: skip
    ordinary = steel.family == "austenitic" and not steel.detailed_family.startswith("super")
    found = []
    if pool:
        found.append(_pool_cracking(steel, service, ordinary))
    if service.water != "none" and salt:
        found.append(_wet_cracking(steel, service.water_temperature_C, ordinary))
    return min(found, key=lambda f: VERDICTS.index(f.verdict))


def _pool_cracking(steel: Candidate, service: Service, ordinary: bool) -> Finding:
    row = judgement("pool_cracking")
    heat = float(row["value"])
    covered = air(steel, service).verdict == "ok"
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


def _wet_cracking(steel: Candidate, heat: float, ordinary: bool) -> Finding:
    table = _cases("SCC austenitic")
    low, high = sorted(number(r["temperature_c"]) for r in table)
    safe = low - judged("cracking_margin")
    source = table[0]["source"]
    better = "duplex, ferritic or 6Mo steel, a cooler wall, no evaporation"
    if ordinary or heat <= safe:
        # where ordinary austenitic steel holds, the others do
        verdict = "ok" if heat <= safe else ("caution" if heat <= high else "stop")
        return Finding(
            "stress corrosion", verdict,
            f"{heat:g} °C against {low:g} to {high:g} °C, the ceilings of 304 and 316; "
            "evaporation concentrates chloride", heat, low, "°C", source, "conflicting",
            "" if verdict == "ok" else better,
        )  # fmt: skip
    row = next(r for r in _cases("evaporating seawater"))
    if steel.family == "duplex":
        tested = number(row["temperature_c"])
        above = heat > tested
        return Finding(
            "stress corrosion", "caution" if above else "ok",
            f"{heat:g} °C against {tested:g} to {number(row['temperature_max_c']):g} °C, where "
            "duplex cracked under evaporating seawater; design limits in use are higher",
            heat, tested, "°C", row["source"], "conflicting",
            "a cooler wall, no evaporation, a test" if above else "",
        )  # fmt: skip
    return Finding(
        "stress corrosion", "caution",
        f"{steel.detailed_family} steel cracks far less readily than 304 or 316; no published "
        f"ceiling is held for it, and those of 304 and 316 are {low:g} to {high:g} °C",
        heat, None, "°C", source, "conflicting", "a test at this temperature",
    )  # fmt: skip


def hot_coast(steel: Candidate, service: Service) -> Finding | None:
    """Warm, uncoated metal in marine air: external stress-corrosion cracking."""
    place, hot = service.atmosphere, service.temperature_max_C
    coast = place is not None and not place.indoors and place.sea_km <= judged("stain_sea_km")
    if not coast or hot is None or hot <= judged("ambient_water"):
        return None
    rung = next((n for n, numbers in _MARINE.items() if steel.number in numbers), None)
    table = {r["grade"]: r for r in _cases("marine atmosphere")}
    if rung is None:
        row = table["316"]
        return Finding(
            "warm in marine air", "not assessed", f"no published ceiling names {steel.title}", hot,
            None, "°C", row["source"], row["status"], "a coating, or a grade that is named",
        )  # fmt: skip
    row = table[rung]
    limit = number(row["temperature_c"])
    return Finding(
        "warm in marine air", "ok" if hot <= limit else "stop",
        f"{hot:g} °C against {limit:g} °C for uncoated {rung} in marine air", hot, limit, "°C",
        row["source"], row["status"], "" if hot <= limit else "a coating, or a higher grade",
    )  # fmt: skip
