"""Product form, strength, forming, magnetism, heat and cold, surface, contact, codes, cost."""

from __future__ import annotations

import re

from gradekit.service.candidate import Candidate
from gradekit.service.finding import Finding
from gradekit.service.needs import Service
from gradekit.service.tables import number, rows
from gradekit.sources import REFERENCE

__all__ = ["codes", "cold", "finish", "food", "forming", "heat", "magnetism", "skin", "strength"]

SENSITIVE_RA = 0.5  # µm: above it ground steel stains near coasts (EN 10088-2 asks it of 2K)
NICKEL_SULPHUR = 0.007  # % S up to which 304, 316L and 430 released almost no nickel


def strength(steel: Candidate, reference: Candidate, service: Service) -> Finding:
    """Minimum proof strength of the form and thickness, against the reference."""
    own = steel.properties(service.form, service.thickness_mm)
    theirs = reference.properties(service.form, service.thickness_mm)
    size = f"{service.form}, {service.thickness_mm:g} mm"
    if own is None:
        return Finding(
            "product form", "falls short",
            f"the tables hold no minimum properties of {steel.number} as {size}: the standard "
            "may not cover it", source="EN 10088, ASTM property tables", status="memory",
            remedy="another thickness or form, or properties agreed with the maker",
        )  # fmt: skip
    if theirs is None:
        return Finding(
            "proof strength", "not assessed", f"the reference has no listed minimum as {size}",
            own["rp02"], unit="MPa", source=own["standard"], status=own["status"],
        )  # fmt: skip
    verdict = "meets" if own["rp02"] >= theirs["rp02"] else "falls short"
    near = own["rp02"] >= 0.95 * theirs["rp02"]
    verdict = "marginal" if verdict == "falls short" and near else verdict
    more = f"{theirs['rp02'] / own['rp02'] * 100 - 100:.0f} % thicker section in tension"
    return Finding(
        "proof strength", verdict,
        f"minimum Rp0.2 {own['rp02']:g} against {theirs['rp02']:g} MPa ({size})", own["rp02"],
        theirs["rp02"], "MPa", own["standard"], own["status"], "" if verdict == "meets" else more,
    )  # fmt: skip


def forming(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Elongation as the measure of stretch; delayed cracking where austenite is not stable."""
    if service.forming == "none":
        return None
    own = steel.properties(service.form, service.thickness_mm)
    theirs = reference.properties(service.form, service.thickness_mm)
    if own is None or theirs is None:
        return Finding(
            "forming", "not assessed", "no listed elongation for this form and thickness"
        )
    got, asked = own["elongation"], theirs["elongation"]
    loss = asked - got
    bends = service.forming == "bending"
    verdict = "meets" if loss <= (15 if bends else 0) else (
        "marginal" if loss <= (25 if bends else 5) else "falls short"
    )  # fmt: skip
    reason = f"minimum elongation {got:g} against {asked:g} % for {service.forming}"
    if not bends and steel.family == "ferritic" and verdict == "falls short":
        reason += "; ferritic steel draws well but stretches little, so the shape decides"
    if not bends and steel.manganese_type and verdict == "meets":
        low, high = steel.md30 or (float("nan"), float("nan"))
        verdict = "marginal"
        reason += (
            f"; Md30 between {low:.0f} and {high:.0f} °C by published form at the least stable "
            "composition: delayed cracking of deep cups needs a cup test"
        )
    return Finding(
        "forming", verdict, reason, got, asked, "%", own["standard"], own["status"],
        "" if verdict == "meets" else "a shallower shape, an intermediate anneal, a drawing trial",
    )  # fmt: skip


def magnetism(steel: Candidate, service: Service) -> Finding | None:
    """Magnetic response asked for or not wanted."""
    if service.magnetism == "any":
        return None
    attracts = steel.family != "austenitic"
    wanted = service.magnetism == "magnetic"
    source, status = "structure of the family; S20910 stays at permeability 1.004", "verified"
    if attracts:
        return Finding(
            "magnetism", "meets" if wanted else "falls short", f"{steel.family} steel is magnetic",
            source=source, status=status, remedy="" if wanted else "a stable austenitic grade",
        )  # fmt: skip
    if wanted:
        return Finding(
            "magnetism", "falls short", "austenitic steel is hardly attracted by a magnet",
            source=source, status=status, remedy="a ferritic grade",
        )  # fmt: skip
    low, high = steel.md30
    worked = service.forming != "none"
    stable = high < -20
    verdict = "meets" if stable or not worked else "marginal"
    return Finding(
        "magnetism", verdict,
        f"not magnetic as annealed; cold forming turns part to martensite: Md30 {low:.0f} to "
        f"{high:.0f} °C by published form at the least stable composition",
        high, -20.0, "°C", "Md30 relations of the catalogue", "heuristic",
        "" if verdict == "meets" else "a more stable grade, or an anneal after forming",
    )  # fmt: skip


def heat(steel: Candidate, service: Service) -> Finding | None:
    """Scaling in air, and the temperatures that make ferritic and duplex steel brittle."""
    if service.temperature_max_C is None:
        return None
    hot = service.temperature_max_C
    if steel.family == "duplex":
        row = next(r for r in rows("scaling_temperature") if r["grade"].startswith("duplex"))
        limit = number(row["continuous_max_c"])
        return Finding(
            "heat", "meets" if hot <= limit else "falls short",
            f"{hot:g} °C against {limit:g} °C, the limit against 475 °C embrittlement", hot, limit,
            "°C", row["source"], row["status"], "" if hot <= limit else "an austenitic grade",
        )  # fmt: skip
    own = [r for r in rows("scaling_temperature") if _names(r["grade"], steel)]
    brittle = steel.family in ("ferritic", "martensitic") and hot > 250
    warn = "; 250 to 550 °C embrittles it in time, 475 °C fastest" if brittle else ""
    if not own:
        verdict = "meets" if hot <= 250 else "not assessed"
        return Finding(
            "heat", verdict, f"no published scaling temperature names {steel.number}{warn}", hot,
            unit="°C", source="scaling table", status="memory",
        )  # fmt: skip
    limits = sorted(number(r["continuous_max_c"]) for r in own if r["continuous_max_c"])
    low, high = limits[0], limits[-1]
    status = own[0]["status"] if low == high else "conflicting"
    verdict = "meets" if hot <= low else ("marginal" if hot <= high else "falls short")
    if brittle and verdict == "meets":
        verdict = "marginal"
    reach = f"{low:g}" if low == high else f"{low:g} to {high:g}"
    return Finding(
        "heat", verdict, f"{hot:g} °C against {reach} °C for continuous service in air{warn}", hot,
        low, "°C", own[0]["source"], status,
        "" if verdict == "meets" else "a heat-resisting grade",
    )  # fmt: skip


def _names(label: str, steel: Candidate) -> bool:
    """Whether a row of the scaling table names this grade, by EN number or by its bare number."""
    words = set(re.split(r"[\s,/()]+", label))
    return steel.number in words or any(n in words for n in re.split(r"[\s/]+", steel.grade.common))


def cold(steel: Candidate, service: Service) -> Finding | None:
    """Toughness in the cold, by family."""
    if service.temperature_min_C is None or service.temperature_min_C >= 0:
        return None
    t = service.temperature_min_C
    source = "trade practice by family"
    if steel.family == "austenitic":
        verdict, why = "meets", "austenitic steel has no sudden loss of toughness in the cold"
        if steel.manganese_type and t < -50:
            verdict, why = "not assessed", "Cr-Mn-N austenite can turn brittle in deep cold"
    elif steel.family == "duplex":
        verdict = "marginal" if t >= -46 else "falls short"
        why = "22Cr duplex is specified by impact tests at -46 °C, no lower"
    else:
        verdict = "falls short" if t < -20 else "not assessed"
        why = f"{steel.family} steel passes from tough to brittle near or below room temperature"
    return Finding(
        "cold", verdict, f"{t:g} °C: {why}; impact tests and the code decide", t, unit="°C",
        source=source, status="memory",
        remedy="" if verdict == "meets" else "an austenitic Cr-Ni grade",
    )  # fmt: skip


def finish(steel: Candidate, service: Service) -> Finding | None:
    """Roughness of the finish against a place near the sea."""
    if service.finish is None:
        return None
    import csv

    path = REFERENCE / "process" / "finishes.csv"
    with open(path, encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    row = next((r for r in table if service.finish in r["en_code"].split("/")), None)
    if row is None:
        row = next((r for r in table if service.finish == r["astm_code"]), None)
    if row is None:
        return Finding("finish", "not assessed", f"no finish {service.finish} in EN 10088-2")
    top = number(row["ra_max_um"])
    if top is None:
        return Finding(
            "finish", "not assessed", f"{service.finish}: {row['route']}; no roughness published",
            source="EN 10088-2", status=row["status"],
        )  # fmt: skip
    place = service.atmosphere
    coast = place is not None and not place.indoors and place.sea_km <= 10
    if not coast:
        return Finding(
            "finish", "meets", f"{service.finish}: {row['route']}, Ra up to {top:g} µm", top,
            unit="µm Ra", source="EN 10088-2", status=row["status"],
        )  # fmt: skip
    fine = top <= SENSITIVE_RA
    return Finding(
        "finish", "meets" if fine else "falls short",
        f"{service.finish}, Ra up to {top:g} µm: rougher than {SENSITIVE_RA:g} µm holds salt and "
        "stains near the sea" if not fine else
        f"{service.finish}, Ra up to {top:g} µm, smooth enough near the sea if cleaned",
        top, SENSITIVE_RA, "µm Ra", "EN 10088-2 (2K), corrosion chapter", row["status"],
        "" if fine else "2B, 2R, or a 2K polish with a clean cut",
    )  # fmt: skip


def skin(steel: Candidate, service: Service) -> Finding | None:
    """Nickel release: judged by sulphur and by tests, never by nickel content."""
    if service.skin_contact == "none":
        return None
    table = rows("nickel_release")
    limit = next(
        number(r["release_ug_cm2_week"])
        for r in table
        if r["material"] == "limit"
        and r["medium"].startswith("post" if service.skin_contact == "pierced posts" else "skin")
    )
    unit, decides = "µg/cm² per week", "EN 1811 on the finished article decides"
    if steel.manganese_type:
        row = next(r for r in table if r["material"] == "201")
        return Finding(
            "skin contact", "falls short",
            f"a 201-type steel released {row['release_ug_cm2_week']} although low in nickel; "
            f"{decides}", number(row["release_ug_cm2_week"]), limit, unit, row["source"],
            row["status"], "1.4404, 1.4301 or a ferritic grade with S up to 0.007 %",
        )  # fmt: skip
    if steel.free_machining:
        row = next(r for r in table if r["material"] == "303")
        return Finding(
            "skin contact", "falls short", f"sulphur-bearing steel fails; {decides}",
            number(row["release_ug_cm2_week"]), limit, unit, row["source"], row["status"],
            "a grade with S up to 0.007 %",
        )  # fmt: skip
    row = table[0]
    sulphur = steel.most.get("S")
    low = sulphur is not None and sulphur <= NICKEL_SULPHUR
    if steel.family in ("austenitic", "ferritic"):
        tail = (
            "" if low else f"; order S up to {NICKEL_SULPHUR:g} %, the window allows {sulphur:g} %"
        )
        return Finding(
            "skin contact", "meets" if low else "marginal",
            f"{row['material']} with S up to {NICKEL_SULPHUR:g} % released less than "
            f"{row['release_ug_cm2_week']}{tail}; {decides}",
            number(row["release_ug_cm2_week"]), limit, unit, row["source"], row["status"],
            "" if low else f"sulphur limited to {NICKEL_SULPHUR:g} % in the order",
        )  # fmt: skip
    return Finding("skin contact", "not assessed", f"no release is published; {decides}",
                   limit=limit, unit=unit)  # fmt: skip


def food(steel: Candidate, service: Service) -> Finding | None:
    """Food contact is proved on the article."""
    if not service.food_contact:
        return None
    return Finding(
        "food contact", "not assessed",
        "compliance is proved on the finished article and surface (EU 1935/2004, national lists, "
        "metal-release tests)", source="Regulation (EC) 1935/2004", status="verified",
        remedy="a release test on the finished article",
    )  # fmt: skip


def codes(steel: Candidate, service: Service) -> list[Finding]:
    """What a code or an authority decides, whatever the composition."""
    asked = [
        ("pressure", service.pressure, "PED, ASME, EN 13445 need qualified material and procedure"),
        ("sour service", service.sour, "ISO 15156 needs qualified material and hardness limits"),
        ("load bearing", service.load_bearing, "the design code and a licensed engineer decide"),
    ]
    return [
        Finding(name, "not assessed", f"a code decides: {words}", source="codes", status="verified",
                remedy="the code in force and the engineer responsible")
        for name, wanted, words in asked
        if wanted
    ]  # fmt: skip
