"""Product form, strength, forming, magnetism, heat and cold, surface, contact, codes, cost."""

from __future__ import annotations

import math

from gradekit.core.sources import weakest
from gradekit.core.verdicts import Verdict, worst
from gradekit.service.candidate import Candidate
from gradekit.service.finding import Finding
from gradekit.service.needs import Service
from gradekit.service.tables import cell_number, judged, judgement, rows


def product_form(steel: Candidate, service: Service) -> Finding | None:
    """Castings have grades of their own, which are not rolled."""
    cast = service.form == "casting"
    if steel.how != "casting" and not cast:
        return None
    source, status = "casting standards (ASTM A351, EN 10283)", "memory"
    if steel.how == "casting" and cast:
        return Finding("product form", "ok", f"{steel.name} is a casting grade", source=source)
    if not cast:
        return Finding(
            "product form", "stop", f"{steel.name} is a casting grade: it is not made as "
            f"{service.form}", source=source, status=status,
            remedy=f"the wrought grade {steel.number}, or a casting",
        )  # fmt: skip
    if steel.is_heat:
        return Finding(
            "product form", "not assessed", "whether the heat was made for casting is not told",
            source=source, status=status, remedy="the casting standard of the order",
        )  # fmt: skip
    there = [
        r["name"] for r in rows("other_names", "grades")
        if r["number"] == steel.number and r["how"] == "casting"
    ]  # fmt: skip
    return Finding(
        "product form", "stop", f"{steel.title} is a wrought grade; a casting is ordered as a "
        "casting grade", source=source, status=status,
        remedy=" or ".join(there) if there else "a casting grade, named by a foundry",
    )  # fmt: skip


def strength(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Minimum proof strength of the form and thickness, against the reference."""
    if service.temper or service.form == "spring strip":
        return None  # the temper decides the strength, not the annealed minimum
    if service.form == "casting":
        return Finding(
            "proof strength", "not assessed", f"no minimum of castings is held for {steel.name}",
            source="casting standards (ASTM A351, EN 10283)", status="memory",
            remedy="the minimum of the casting standard",
        )  # fmt: skip
    own = steel.properties(service.form, service.thickness_mm)
    theirs = reference.properties(service.form, service.thickness_mm)
    size = f"{service.form}, {service.thickness_mm:g} mm"
    if own is None or own["rp02"] is None:
        # ferritic steel is standardised as strip; of the others the tables hold only a part
        strip_only = steel.family == "ferritic" and service.form == "plate" and steel.inside
        thin = "the tables list it as strip only: welds and plate of ferritic steel lose toughness"
        return Finding(
            "product form", "stop" if strip_only else "not assessed",
            f"no minimum properties of {steel.title} as {size} are held"
            + (f"; {thin}" if strip_only else ""),
            source="EN 10088 and ASTM property tables", status="memory",
            remedy="another thickness or form, or properties agreed with the maker",
        )  # fmt: skip
    if theirs is None or theirs["rp02"] is None:
        return Finding(
            "proof strength", "not assessed",
            f"no minimum of {reference.title} as {size} is held to compare with",
            own["rp02"], unit="MPa", source=own["standard"], status=own["status"],
        )  # fmt: skip
    got, asked = own["rp02"], theirs["rp02"]
    reason, status = f"minimum Rp0.2 {got:g} against {asked:g} MPa ({size})", own["status"]
    verdict: Verdict = "ok"
    hot = service.temperature_max_C
    creeps = hot is not None and hot > judged("creeps_from")
    if got < asked and creeps and not (service.load_bearing or service.pressure):
        reason += f"; at {hot:g} °C creep decides, not this minimum"
    elif got < asked:
        # how short is too short is no standard's word but ours
        margin = judged("proof_margin")
        carries = service.load_bearing or service.pressure
        verdict = "stop" if carries and got < margin * asked else "caution"
        reason += f"; by a working rule of this library more than {100 - 100 * margin:g} % less "
        reason += "is a stop where it carries load or pressure, else a caution"
        status = weakest(status, judgement("proof_margin")["status"])
    thicker = f"a section {asked / got * 100 - 100:.0f} % thicker in tension"
    return Finding(
        "proof strength", verdict, reason, got, asked, "MPa", own["standard"], status,
        "" if verdict == "ok" else thicker,
    )  # fmt: skip


def _ours(less: str) -> str:
    """What a margin of our own is worth, in words."""
    return f"up to {less} less is a caution by a working rule of this library"


def forming(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Bending by elongation and radius; drawing by elongation, which tells stretch alone."""
    if service.forming in ("none", "machining"):
        return None
    if service.temper:
        return Finding(
            "forming", "not assessed",
            f"elongation as annealed says nothing of {service.temper}; the bend radius of that "
            "temper decides", source="EN 10151", status="",
            remedy="a bend test of the temper, along and across the rolling direction",
        )  # fmt: skip
    own = steel.properties(service.form, service.thickness_mm) or {}
    theirs = reference.properties(service.form, service.thickness_mm) or {}
    got, now = own.get("elongation"), theirs.get("elongation")
    if got is None or now is None:
        return Finding(
            "forming", "not assessed", "no minimum elongation is held for this form and thickness",
            source="EN 10088 and ASTM property tables",
            remedy="a bend test" if service.forming == "bending" else "a drawing trial",
        )  # fmt: skip
    if service.forming == "bending":
        return _bending(own, now)
    return _drawing(steel, own, now, service.forming)


def _bending(own: dict, now: float) -> Finding:
    """A fold strains its outside by 1 / (1 + 2 r/t): less elongation asks for a larger radius."""
    got, free, least = own["elongation"], judged("bend_loss"), judgement("bend_least")
    asked = max(now - free, 0.0)
    verdict: Verdict = "ok" if got >= asked else "caution"
    if got < min(float(least["value"]), asked):
        verdict = "stop"
    reason = (
        f"minimum elongation {got:g} against {now:g} % of the present grade; by a working rule of "
        f"this library bending bears {free:g} points less, so {asked:g} % is asked"
    )
    remedy = ""
    if verdict != "ok":
        radius = max((judged("bend_flat") / got - 1.0) / 2.0, 0.5)
        radius = math.ceil(2.0 * radius) / 2.0
        reason += f"; below {float(least['value']):g} % a fold is likely to crack"
        remedy = (
            f"an inside radius of at least {radius:g} times the thickness, folded across the "
            "rolling direction; a bend test"
        )
    status = weakest(own["status"], judgement("bend_loss")["status"])
    return Finding("forming", verdict, reason, got, asked, "%", own["standard"], status, remedy)


def _drawing(steel: Candidate, own: dict, now: float, how: str) -> Finding:
    got, rule = own["elongation"], judgement("draw_loss_most")
    loss, most = now - got, float(rule["value"])
    reason = f"minimum elongation {got:g} against {now:g} % of the present grade"
    status = weakest(own["status"], rule["status"]) if loss > 0 else own["status"]
    verdict: Verdict = "ok" if loss <= 0 else ("caution" if loss <= most else "stop")
    remedies = []
    if loss > 0:
        reason += f" for {how}; {_ours(f'{most:g} points')}"
        remedies = ["a shallower shape, an intermediate anneal, a drawing trial"]
    if how == "deep drawing" and steel.family == "ferritic" and verdict == "stop":
        # elongation measures stretch; the strain ratio by which a cup is drawn is not held
        verdict, status = "caution", "memory"
        reason += "; ferritic steel is drawn as deep but stretches little, so the shape decides"
        remedies = ["a drawing trial of the shape: drawn without stretching, round corners"]
    low, high = steel.md30 or (None, None)
    if steel.manganese_type and (high is None or high > judged("stable_md30")):
        verdict = worst((verdict, "caution"))
        status = weakest(status, judgement("stable_md30")["status"])
        known = "no form of Md30 was made from such steel" if high is None else (
            f"Md30 between {low:.0f} and {high:.0f} °C by published form at the least stable "
            "composition"
        )  # fmt: skip
        reason += f"; {known}: delayed cracking of deep cups is found by a cup test"
        remedies.append("a cup test for delayed cracking, an anneal soon after drawing")
    return Finding("forming", verdict, reason, got, now, "%", own["standard"], status,
                   "; ".join(remedies))  # fmt: skip


def machining(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """How a steel turns beside the present grade, by its kind."""
    if service.forming != "machining" and not reference.free_machining:
        return None  # a free-machining grade was chosen for it, whatever is asked
    own, now = (_machined(s) for s in (steel, reference))
    got, asked = float(own["rank"]), float(now["rank"])
    verdict: Verdict = "ok" if got >= asked else "caution"
    reason = f"{own['why']} (rank {got:g} of 5 by kind, the present grade {asked:g})"
    return Finding(
        "machining", verdict, reason, got, asked, "rank", own["source"], own["status"],
        "" if verdict == "ok" else "sulphur held at 0.015 to 0.030 % in the order, other tools and "
        "speeds",
    )  # fmt: skip


def _machined(steel: Candidate) -> dict[str, str]:
    if steel.free_machining:
        return rows("machinability")[0]
    kinds = (steel.family, steel.detailed_family)
    return next(r for r in rows("machinability") if any(k.startswith(r["kind"]) for k in kinds)
                or r["kind"] in steel.detailed_family)  # fmt: skip


def magnetism(steel: Candidate, service: Service) -> Finding | None:
    """Magnetic response asked for or not wanted."""
    if service.magnetism == "any":
        return None
    wanted = service.magnetism == "magnetic"
    source, status = "structure of the family; S20910 stays at permeability 1.004", "verified"
    if steel.attracted:
        return Finding(
            "magnetism", "ok" if wanted else "stop", f"{steel.family} steel is magnetic",
            source=source, status=status, remedy="" if wanted else "a stable austenitic grade",
        )  # fmt: skip
    if wanted:
        return Finding(
            "magnetism", "stop", "austenitic steel is hardly attracted by a magnet",
            source=source, status=status, remedy="a ferritic grade",
        )  # fmt: skip
    if steel.md30 is None and steel.least.get("Ni", 0.0) >= judged("stable_nickel"):
        return Finding(
            "magnetism", "ok", "not magnetic: its nickel keeps austenite in cold forming too",
            source="structure of the family", status="memory",
        )  # fmt: skip
    if steel.md30 is None:
        formed = service.forming != "none"
        return Finding(
            "magnetism", "caution" if formed else "ok",
            "not magnetic as annealed; no form of Md30 was made from such steel, which says how "
            "much turns to martensite in cold forming", source="structure of the family",
            status="memory",
            remedy="a more stable grade, or an anneal after forming" if formed else "",
        )  # fmt: skip
    low, high = steel.md30
    worked = service.forming != "none"
    stable = high < judged("stable_md30")
    verdict: Verdict = "ok" if stable or not worked else "caution"
    return Finding(
        "magnetism", verdict,
        f"not magnetic as annealed; cold forming turns part to martensite: Md30 {low:.0f} to "
        f"{high:.0f} °C by published form at the least stable composition",
        high, judged("stable_md30"), "°C", "Md30 relations of the catalogue", "heuristic",
        "" if verdict == "ok" else "a more stable grade, or an anneal after forming",
    )  # fmt: skip


def surface_finish(steel: Candidate, service: Service) -> Finding | None:
    """Roughness of the finish against a place near the sea."""
    if service.finish is None:
        return None
    table = rows("finishes", "process")
    own = [
        r for r in table
        if service.finish in r["en_code"].split("/") or service.finish == r["astm_code"]
    ]  # fmt: skip
    if not own:
        return Finding(
            "finish", "not assessed", f"no finish {service.finish} in the table of finishes",
            source="EN 10088-2", remedy="a code of EN 10088-2, such as 2B",
        )  # fmt: skip
    route = " or ".join(r["route"] for r in own)
    status = next((r["status"] for r in own if r["status"] != "verified"), "verified")
    top = max((float(r["ra_max_um"]) for r in own if r["ra_max_um"]), default=None)
    if top is None:
        return Finding(
            "finish", "not assessed", f"{service.finish}: {route}; no roughness published",
            source="EN 10088-2", status=status, remedy="a roughness agreed in the order",
        )  # fmt: skip
    reason = f"{service.finish}: {route}, Ra up to {top:g} µm"
    place = service.atmosphere
    near, far = judged("stain_sea_km"), judged("stain_sea_far_km")
    if place is None or place.indoors or place.sea_km > far:
        return Finding(
            "finish", "ok", reason, top, None, "µm Ra", "EN 10088-2", status
        )  # fmt: skip
    fine = judged("fine_ra")
    verdict: Verdict
    if top <= fine:
        verdict, reason = "ok", f"{reason}: smooth enough near the sea if it is cleaned"
    else:
        verdict = "caution"  # a stain spoils the looks first, and the class of the grade decides
        reason += (
            f": rougher than {fine:g} µm holds salt and stains, usual to {near:g} km from the surf "
            f"and seen to {far:g} km"
        )
    return Finding(
        "finish", verdict, reason, top, fine, "µm Ra", judgement("fine_ra")["source"], status,
        "" if verdict == "ok" else "2B, 2R, or a 2K polish with a clean cut",
    )  # fmt: skip


def skin(steel: Candidate, service: Service, reference: Candidate) -> Finding | None:
    """Nickel release: judged by sulphur and by tests, never by nickel content."""
    if service.skin_contact == "none":
        return None
    table = rows("nickel_release")
    medium = "post" if service.skin_contact == "pierced posts" else "skin"
    limit = next(
        cell_number(r["release_ug_cm2_week"]) for r in table
        if r["material"] == "limit" and r["medium"].startswith(medium)
    )  # fmt: skip
    unit, decides = "µg/cm² per week", "EN 1811 on the finished article decides"
    clean = next(r for r in table if r["sulphur_max_wt_pct"] and r["verdict"] == "pass")
    most = float(clean["sulphur_max_wt_pct"])
    others = ", ".join(n for n in ("1.4404", "1.4301") if n != reference.number)
    remedy = f"{others} or a ferritic grade with S up to {most:g} % in the order"
    named = "201" if steel.manganese_type else ("303" if steel.free_machining else "")
    if steel.manganese_type and "201" not in steel.grade.common:
        return Finding(
            "skin contact", "not assessed",
            f"a 201-type steel failed although low in nickel; no test of {steel.title} is held; "
            f"{decides}", None, limit, unit, clean["source"], "verified", remedy,
        )  # fmt: skip
    if named:
        own = [r for r in table if r["material"] == named and r["verdict"] == "fail"]
        row = max(own, key=lambda r: float(r["release_ug_cm2_week"]))
        why = "although low in nickel" if named == "201" else "through its sulphides"
        return Finding(
            "skin contact", "stop",
            f"{named} released {row['release_ug_cm2_week']} {why}; {decides}",
            cell_number(row["release_ug_cm2_week"]), limit, unit, row["source"], row["status"],
            remedy,
        )  # fmt: skip
    if steel.family not in ("austenitic", "ferritic"):
        return Finding(
            "skin contact", "not assessed", f"no release is published for it; {decides}", None,
            limit, unit, clean["source"], "verified", remedy,
        )  # fmt: skip
    sulphur = steel.most.get("S")
    low = sulphur is not None and sulphur <= most
    tail = "" if low else (
        "; the sulphur of this steel is not known" if sulphur is None
        else f"; here S may reach {sulphur:g} %"
    )  # fmt: skip
    return Finding(
        "skin contact", "ok" if low else "caution",
        f"{clean['material']} with S up to {most:g} % released less than "
        f"{clean['release_ug_cm2_week']}{tail}; {decides}",
        cell_number(clean["release_ug_cm2_week"]), limit, unit, clean["source"], clean["status"],
        "" if low else f"sulphur limited to {most:g} % in the order",
    )  # fmt: skip


def food(steel: Candidate, service: Service) -> Finding | None:
    """Food contact is proved on the article."""
    if not service.food_contact:
        return None
    return Finding(
        "food contact", "not assessed",
        "compliance is proved on the finished article and surface (EU 1935/2004, national lists, "
        "metal-release tests)", source="Regulation (EC) 1935/2004", status="",
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
        Finding(name, "not assessed", f"a code decides: {words}", source="codes", status="",
                remedy="the code in force and the engineer responsible")
        for name, wanted, words in asked
        if wanted
    ]  # fmt: skip
