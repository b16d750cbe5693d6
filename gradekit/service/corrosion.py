"""Air, water, chlorine, stress-corrosion cracking, welds and chemicals."""

from __future__ import annotations

from gradekit.service.candidate import Candidate
from gradekit.service.exposure import (
    CLASSES,
    class_of,
    classify,
    excluded_from_pools,
    grades_of_class,
)
from gradekit.service.finding import Finding
from gradekit.service.needs import Service
from gradekit.service.tables import number, rows

__all__ = ["air", "chemicals", "chlorine", "cracking", "pitting_index", "water", "weld"]

ANNEX = "EN 1993-1-4, annex A"
# Highest carbon for welding without a later anneal, by thickness: (up to mm, wt%), from memory.
WELD_CARBON = ((2.0, 0.08), (5.0, 0.06), (6.0, 0.05), (float("inf"), 0.030))
# Ladder of fresh water: the named grade of each rung and its member that carries the index.
LADDER = (("304", "1.4301"), ("316", "1.4401"), ("2205", "1.4462"), ("super duplex", "1.4410"))


def air(steel: Candidate, service: Service) -> Finding | None:
    """Atmosphere: the class of the place against the class that lists the grade."""
    if service.atmosphere is None:
        return None
    place = classify(service.atmosphere)
    own = class_of(steel.number)
    asked = CLASSES.index(place.crc)
    examples = ", ".join(grades_of_class()[place.crc][:3])
    about = "; ".join(place.reasons) + f": {place.words}"
    if service.atmosphere.pool == "no":
        about = f"{about}"
    else:
        about = f"{place.reasons[0]}: class {place.crc}"
    remedy = f"a grade of class {place.crc} or higher, such as {examples}"
    if own is None:
        index = f"its pitting index is {steel.pitting_index:.1f}"
        return Finding(
            "atmosphere", "not assessed",
            f"{about}. No class of the annex names {steel.number}; {index}, which ranks steels of "
            "one family and gives no class",
            number=steel.pitting_index, unit="index", source=ANNEX, status="memory", remedy=remedy,
        )  # fmt: skip
    have = CLASSES.index(own)
    if service.atmosphere.pool != "no":
        barred = {g for c in CLASSES[asked : have + 1] for g in _barred(c)}
        if steel.number in barred:
            return Finding(
                "atmosphere", "falls short",
                f"{about}. {steel.number} is of class {own}, but excluded above indoor pools",
                have + 1, asked + 1, "class", ANNEX, "memory",
                "a grade of the class that is not excluded",
            )  # fmt: skip
    verdict = "meets" if have >= asked else "falls short"
    changed = ""
    if have < asked:
        changed = _easier(service, own) or remedy
        if _easier(service, own):
            changed = f"{changed}; or {remedy}"
    said = "covers it" if have >= asked else "is lower"
    return Finding(
        "atmosphere", verdict, f"{about}. {steel.number} is listed in class {own}, which {said}",
        have + 1, asked + 1, "class", ANNEX, "memory", changed,
    )  # fmt: skip


def _barred(crc: str) -> tuple[str, ...]:
    return excluded_from_pools(crc) if crc in ("III", "IV", "V") else ()


def _easier(service: Service, own: str) -> str:
    """What washing would have to be for the class of the grade to do."""
    place = service.atmosphere
    if place is None or place.pool != "no" or place.washing != "none":
        return ""
    from dataclasses import replace

    for washing in ("cleaning regime", "rain"):
        if CLASSES.index(classify(replace(place, washing=washing)).crc) <= CLASSES.index(own):
            return "a specified cleaning regime" if washing == "cleaning regime" else "rain washing"
    return ""


def pitting_index(steel: Candidate, reference: Candidate) -> Finding:
    """Pitting index against the reference, inside one family only."""
    ours, theirs = steel.pitting_index, reference.pitting_index
    if steel.family != reference.family:
        return Finding(
            "pitting index", "not assessed",
            f"{ours:.1f} ({steel.family}) and {theirs:.1f} ({reference.family}): the index ranks "
            "steels inside one family, never across families",
            ours, theirs, "index", "PREN, poorest composition of the window", "verified",
        )  # fmt: skip
    verdict = "meets" if ours >= theirs else ("marginal" if ours >= theirs - 1.0 else "falls short")
    doubt = ""
    if verdict == "meets" and max(steel.most.get("Mn", 0.0), steel.least.get("Mn", 0.0)) > 3:
        verdict, doubt = "marginal", "; manganese above 3 % lowers what the index promises"
    return Finding(
        "pitting index", verdict,
        f"{ours:.1f} against {theirs:.1f} at the poorest composition of each{doubt}",
        ours, theirs, "index", "PREN, poorest composition of the window", steel.status,
        "" if verdict == "meets" else "more chromium, molybdenum or nitrogen inside the window",
    )  # fmt: skip


def water(steel: Candidate, service: Service) -> Finding | None:
    """Chloride in supply water, heat exchangers and seawater."""
    if service.water == "none":
        return None
    if service.water == "seawater":
        return _seawater(steel)
    if service.chloride_mg_l is None:
        return Finding("water", "not assessed", "the chloride content of the water is not given")
    if service.water == "heat exchanger" or service.water_temperature_C > 30:
        return _exchanger(steel, service)
    return _ladder(steel, service)


def _ladder(steel: Candidate, service: Service) -> Finding:
    chloride = service.chloride_mg_l
    if steel.family in ("ferritic", "martensitic"):
        row = next(r for r in rows("chloride_limits") if r["grade"].startswith("400 series"))
        listed = steel.detailed_family in ("ferritic 17Cr", "ferritic low Cr (weldable)") or (
            steel.family == "martensitic"
        )
        return Finding(
            "water", "falls short" if listed else "not assessed",
            f"{row['meaning']}" if listed
            else f"no published chloride limit names {steel.number}; crevices decide",
            limit=chloride, unit="mg/l chloride", source=row["source"], status=row["status"],
            remedy="1.4301 or 1.4401 by chloride content",
        )  # fmt: skip
    rung, limit, row = _rung(steel)
    if rung is None:
        return Finding(
            "water", "not assessed", f"no rung of the ladder fits {steel.number}", limit=chloride,
            unit="mg/l chloride", source="Nickel Institute ladder", status="memory",
        )  # fmt: skip
    exact = steel.number in rung[1]
    verdict = "meets" if chloride <= limit else "falls short"
    why = (
        f"{chloride:g} mg/l against {limit:g} mg/l for {rung[0]} in crevices at ambient temperature"
    )
    if not exact and verdict == "meets":
        verdict = "marginal"
        why += f"; {steel.number} is not named there, its index is not below that of {rung[0]}"
    return Finding(
        "water", verdict, why, chloride, limit, "mg/l chloride", row["source"],
        row["status"] if exact else "heuristic",
        "" if verdict != "falls short" else "a higher rung of the ladder, or less chloride",
    )  # fmt: skip


def _rung(steel: Candidate):
    """The highest rung whose named grade is not above this steel in its family's index."""
    from gradekit.service.candidate import candidate

    named = {
        "304": ("304", ("1.4301", "1.4307"), "304"),
        "316": ("316", ("1.4401", "1.4404", "1.4435"), "316"),
        "2205": ("2205", ("1.4462",), "2205"),
        "super duplex": (
            "super duplex",
            ("1.4410", "1.4501", "1.4507", "1.4547", "1.4529"),
            "super",
        ),
    }
    best = None
    for rung, member in LADDER:
        base = candidate(member)
        own = steel.number in named[rung][1]
        near = base.family == steel.family or {base.family, steel.family} == {
            "austenitic",
            "duplex",
        }
        if own or (near and steel.pitting_index >= base.pitting_index):
            row = next(
                r
                for r in rows("chloride_limits")
                if r["case"] == "natural water, crevice" and r["grade"].startswith(named[rung][2])
            )
            limit = number(row["conc_max_mg_l"])
            best = (named[rung], limit, row)
    return best if best else (None, None, None)


def _exchanger(steel: Candidate, service: Service) -> Finding:
    """Plate material by chloride and temperature, as a maker of heat exchangers tabulates it."""
    order = ["304", "316", "Ti or 1.4547"]
    chloride, heat = service.chloride_mg_l, service.water_temperature_C
    table = [r for r in rows("chloride_limits") if r["case"].startswith("plate heat exchanger")]
    warm = sorted({number(r["temperature_c"]) for r in table})
    at = next((t for t in warm if t >= heat), None)
    where = f"{chloride:g} mg/l chloride at {heat:g} °C"
    source, status = table[0]["source"], table[0]["status"]
    if at is None:
        return Finding(
            "water", "not assessed", f"{where}: hotter than the table of plate materials",
            source=source, status=status,
        )  # fmt: skip
    fitting = [r for r in table if number(r["temperature_c"]) == at and r["conc_max_mg_l"]]
    row = next(
        (
            r
            for r in sorted(fitting, key=lambda r: number(r["conc_max_mg_l"]))
            if number(r["conc_max_mg_l"]) >= chloride
        ),
        None,
    )
    needed = row["grade"] if row else order[-1]
    rung = next((n for n, numbers in _NAMED.items() if steel.number in numbers), None)
    if rung is None:
        return Finding(
            "water", "not assessed",
            f"{where}: the table asks for {needed} and does not name {steel.number}",
            chloride, unit="mg/l chloride", source=source, status=status,
            remedy=f"{needed}",
        )  # fmt: skip
    enough = order.index(rung) >= order.index(needed)
    return Finding(
        "water", "meets" if enough else "falls short",
        f"{where}: the table asks for {needed}, in oxygenated water with crevices",
        chloride, unit="mg/l chloride", source=source, status=status,
        remedy="" if enough else f"{needed}, cooler or softer water",
    )  # fmt: skip


_NAMED = {
    "304": ("1.4301", "1.4307"),
    "316": ("1.4401", "1.4404", "1.4435", "1.4571"),
    "Ti or 1.4547": ("1.4547",),
}


def _seawater(steel: Candidate) -> Finding:
    # Kovach and Redmond's floors by family; the row is read as quoted.
    floors = {"ferritic": 35.0, "duplex": 40.0, "austenitic": 45.0}
    row = next(r for r in rows("chloride_limits") if r["grade"].startswith("ferritic PREN"))
    floor = floors.get(steel.family)
    if floor is None:
        return Finding(
            "water", "falls short", f"{steel.family} steel in seawater has no published floor",
            source=row["source"], status=row["status"], remedy="super duplex or 6Mo austenitic",
        )  # fmt: skip
    index = steel.pitting_index
    verdict = "marginal" if index >= floor else "falls short"
    return Finding(
        "water", verdict,
        f"index {index:.1f} against {floor:g} asked of {steel.family} steel in seawater at ambient "
        "temperature; crevices, chlorination and warmth ask for more",
        index, floor, "index", row["source"], row["status"],
        "" if verdict == "marginal" else "super duplex or 6Mo steel, and crevice tests",
    )  # fmt: skip


def chlorine(steel: Candidate, service: Service) -> Finding | None:
    """Free chlorine in water."""
    if service.free_chlorine_mg_l is None:
        return None
    got = service.free_chlorine_mg_l
    table = {r["grade"]: r for r in rows("chloride_limits") if r["case"] == "free chlorine"}
    rung = next((n for n in ("304", "316") if steel.number in _NAMED[n]), None)
    if rung is None:
        return Finding(
            "free chlorine", "not assessed", f"published for 304 and 316, not for {steel.number}",
            got, unit="mg/l", source="Nickel Institute, ASSDA", status="verified",
        )  # fmt: skip
    row = table[rung]
    limit = number(row["conc_max_mg_l"])
    return Finding(
        "free chlorine", "meets" if got <= limit else "falls short",
        f"{got:g} mg/l against {limit:g} mg/l, continuous exposure", got, limit, "mg/l",
        row["source"], row["status"], "" if got <= limit else "316 (5 mg/l), or less chlorine",
    )  # fmt: skip


def cracking(steel: Candidate, service: Service) -> Finding | None:
    """Chloride stress-corrosion cracking."""
    pool = service.atmosphere is not None and service.atmosphere.pool != "no"
    wet = service.water != "none" and (service.chloride_mg_l or service.water == "seawater")
    if not (pool or wet):
        return None
    heat = service.water_temperature_C if wet else 25.0
    ceilings = [r for r in rows("chloride_limits") if r["case"].startswith("SCC austenitic")]
    ceiling = min(number(r["temperature_c"]) for r in ceilings)
    source = ceilings[0]["source"]
    ordinary = steel.family == "austenitic" and not steel.detailed_family.startswith("super")
    if not ordinary:
        return Finding(
            "stress corrosion", "marginal",
            f"{steel.detailed_family} steel cracks far less readily than 304 or 316, but not never",
            heat, unit="°C", source=source, status="conflicting",
        )  # fmt: skip
    if pool:
        return Finding(
            "stress corrosion", "falls short" if service.load_bearing else "marginal",
            "above indoor pools ordinary austenitic steel cracks from about 25 °C under load",
            heat, 25.0, "°C", source, "conflicting",
            "grades with explicit approval for the pool hall",
        )  # fmt: skip
    verdict = "meets" if heat < ceiling - 10 else ("marginal" if heat < ceiling else "falls short")
    return Finding(
        "stress corrosion", verdict,
        f"{heat:g} °C against a ceiling of {ceiling:g} to 60 °C; evaporation concentrates chloride",
        heat, ceiling, "°C", source, "conflicting",
        "" if verdict == "meets" else "duplex, ferritic or 6Mo steel, or a cooler wall",
    )  # fmt: skip


def weld(steel: Candidate, service: Service) -> Finding | None:
    """Sensitisation of welds that are not annealed."""
    if not service.welded:
        return None
    carbon = steel.most.get("C")
    size = f"{service.thickness_mm:g} mm"
    if steel.family == "ferritic" and not steel.stabilised:
        return Finding(
            "weld", "falls short",
            "an unstabilised ferritic weld corrodes between grains and turns brittle unless C + N "
            "is far below this window", carbon, unit="% C", source="trade practice, weld carbon",
            status="memory", remedy="a stabilised grade (Ti, Nb), or no welding",
        )  # fmt: skip
    if steel.family == "ferritic" and service.thickness_mm > 3:
        return Finding(
            "weld", "not assessed",
            f"stabilised, so no intergranular attack is expected, but the toughness of a {size} "
            "ferritic weld needs impact tests", unit="% C", number=carbon,
            source="stabilisation rules", status="memory", remedy="thinner gauge, or austenitic or "
            "duplex steel",
        )  # fmt: skip
    if steel.family in ("martensitic", "precipitation hardening"):
        return Finding(
            "weld", "falls short", "hardens beside the weld and cracks without preheat and temper",
            source="trade practice", remedy="preheat and temper to a qualified procedure",
        )  # fmt: skip
    if steel.family == "duplex":
        return Finding(
            "weld", "marginal", "heat input and cooling decide phase balance and sigma",
            source="trade practice", remedy="a qualified welding procedure",
        )  # fmt: skip
    if steel.stabilised:
        return Finding("weld", "meets", "stabilised: chromium carbides are held back",
                       source="stabilisation rules", status="memory")  # fmt: skip
    limit = next(c for up_to, c in WELD_CARBON if service.thickness_mm <= up_to)
    if carbon is None:
        return Finding("weld", "not assessed", "carbon is not known")
    verdict = "meets" if carbon <= limit else "falls short"
    return Finding(
        "weld", verdict,
        f"carbon up to {carbon:g} % against {limit:g} % for {size} without anneal", carbon, limit,
        "% C", "trade practice, weld carbon", "memory",
        "" if verdict == "meets" else "a low-carbon or stabilised grade, or an anneal",
    )  # fmt: skip


def chemicals(steel: Candidate, service: Service) -> Finding | None:
    """Acids and alkalis: no composition rule answers these."""
    if not service.chemicals:
        return None
    return Finding(
        "chemicals", "not assessed",
        f"{service.chemicals}: needs corrosion data for medium, strength and temperature; no index "
        "of composition answers it", remedy="isocorrosion data or a test in the medium",
        status="verified", source="scope of this library",
    )  # fmt: skip
