"""Product form, strength, forming, magnetism, heat and cold, surface, contact, codes, cost."""

from __future__ import annotations

import math

from gradekit.core.sources import weakest
from gradekit.core.verdicts import Verdict, worst
from gradekit.service.candidate import Candidate
from gradekit.service.finding import Finding, within
from gradekit.service.needs import Service
from gradekit.service.tables import cell_number, judged, judgement, rows

_CASTINGS = "casting standards (ASTM A351, EN 10283)"
_PROPERTIES = "EN 10088 and ASTM property tables"


def product_form(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Castings have grades of their own, which are not rolled."""
    cast, made_for_it = service.form == "casting", steel.how == "casting"
    if not cast and not made_for_it:
        return None
    verdict: Verdict = "stop"
    if cast and made_for_it:
        verdict, why, remedy = "ok", f"{steel.name} is a casting grade", ""
    elif made_for_it:
        why = f"{steel.name} is a casting grade: it is not made as {service.form}"
        remedy = f"the wrought grade {steel.number}, or a casting"
    elif steel.is_heat:
        verdict, why = "not assessed", "whether the heat was made for casting is not told"
        remedy = "the casting standard of the order"
    else:
        why = f"{steel.title} is a wrought grade; a casting is ordered as a casting grade"
        there = [
            r["name"] for r in rows("other_names", "grades")
            if r["number"] == steel.number and r["how"] == "casting"
        ]  # fmt: skip
        remedy = " or ".join(there) or "a casting grade, named by a foundry"
    return Finding(verdict, why, source=_CASTINGS, remedy=remedy)


def held_form(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Whether the tables hold minimum properties of the form and thickness that is asked for."""
    if not _annealed(service) or steel.minimum("rp02", service) is not None:
        return None
    why = f"no minimum properties of {steel.title} as {_size(service)} are held"
    remedy = "another thickness or form, or properties agreed with the maker"
    # ferritic steel is standardised as strip; of the others the tables hold only a part
    plate = service.form == "plate" and steel.family == "ferritic" and steel.inside
    strip_only = plate and not steel.listed_as("plate")
    if strip_only:
        why += "; the tables list it as strip only: welds and plate of ferritic steel lose "
        why += "toughness"
    verdict: Verdict = "stop" if strip_only else "not assessed"
    return Finding(verdict, why, source=_PROPERTIES, remedy=remedy)


def strength(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Minimum proof strength of the form and thickness, against the reference."""
    if service.form == "casting" and not service.temper:
        why = f"no minimum of castings is held for {steel.name}"
        remedy = "the minimum of the casting standard"
        return Finding("not assessed", why, source=_CASTINGS, remedy=remedy)
    own = steel.properties(service.form, service.thickness_mm)
    if not _annealed(service) or own is None or own["rp02"] is None:
        return None  # the temper decides, or `held_form` says that there is none
    got, asked = own["rp02"], reference.minimum("rp02", service)
    source, status = own["standard"], own["status"]
    if asked is None:
        why = f"no minimum of {reference.title} as {_size(service)} is held to compare with"
        return Finding("not assessed", why, got, None, "MPa", source, status)
    why = f"minimum Rp0.2 {got:g} against {asked:g} MPa ({_size(service)})"
    verdict: Verdict = "ok"
    hot = service.temperature_max_C
    carries = service.load_bearing or service.pressure
    if got < asked and not carries and hot is not None and hot > judged("creeps_from"):
        why += f"; at {hot:g} °C creep decides, not this minimum"
    elif got < asked:
        # how short is too short is no standard's word but ours
        margin = judged("proof_margin")
        verdict = "stop" if carries and got < margin * asked else "caution"
        why += f"; by a working rule of this library more than {100 - 100 * margin:g} % less is a "
        why += "stop where it carries load or pressure, else a caution"
        status = weakest(status, judgement("proof_margin")["status"])
    remedy = f"a section {asked / got * 100 - 100:.0f} % thicker in tension"
    return Finding(verdict, why, got, asked, "MPa", source, status, remedy)


def _annealed(service: Service) -> bool:
    """Whether the annealed minima of the tables speak of what is ordered."""
    return not service.temper and service.form not in ("spring strip", "casting")


def _size(service: Service) -> str:
    return f"{service.form}, {service.thickness_mm:g} mm"


def forming(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Bending by elongation and radius; drawing by elongation, which tells stretch alone."""
    if service.forming in ("none", "machining"):
        return None
    bends = service.forming == "bending"
    if service.temper:
        why = f"elongation as annealed says nothing of {service.temper}; the bend radius of that "
        why += "temper decides"
        remedy = "a bend test of the temper, along and across the rolling direction"
        return Finding("not assessed", why, source="EN 10151", status="", remedy=remedy)
    now = reference.minimum("elongation", service)
    own = steel.properties(service.form, service.thickness_mm)
    if own is None or own["elongation"] is None or now is None:
        why = "no minimum elongation is held for this form and thickness"
        remedy = "a bend test" if bends else "a drawing trial"
        return Finding("not assessed", why, source=_PROPERTIES, remedy=remedy)
    return _bending(own, now) if bends else _drawing(steel, own, now, service.forming)


def _bending(own: dict, now: float) -> Finding:
    """A fold strains its outside by 1 / (1 + 2 r/t): less elongation asks for a larger radius."""
    got, free, least = own["elongation"], judged("bend_loss"), judged("bend_least")
    asked = max(now - free, 0.0)
    verdict: Verdict = "ok" if got >= asked else "stop" if got < least else "caution"
    why = (
        f"minimum elongation {got:g} against {now:g} % of the present grade; by a working rule of "
        f"this library bending bears {free:g} points less, so {asked:g} % is asked"
    )
    why += "" if verdict == "ok" else f"; below {least:g} % a fold is likely to crack"
    radius = math.ceil(max(judged("bend_flat") / got - 1.0, 1.0)) / 2.0
    remedy = (
        f"an inside radius of at least {radius:g} times the thickness, folded across the "
        "rolling direction; a bend test"
    )
    status = weakest(own["status"], judgement("bend_loss")["status"])
    return Finding(verdict, why, got, asked, "%", own["standard"], status, remedy)


def _drawing(steel: Candidate, own: dict, now: float, how: str) -> Finding:
    got, most, status = own["elongation"], judged("draw_loss_most"), own["status"]
    verdict = within(now - got, 0.0, most)
    why = f"minimum elongation {got:g} against {now:g} % of the present grade"
    remedies = []
    if verdict != "ok":
        status = weakest(status, judgement("draw_loss_most")["status"])
        why += f" for {how}; up to {most:g} points less is a caution by a working rule of this "
        why += "library"
        remedies = ["a shallower shape, an intermediate anneal, a drawing trial"]
    if how == "deep drawing" and steel.family == "ferritic" and verdict == "stop":
        # elongation measures stretch; the strain ratio by which a cup is drawn is not held
        verdict, status = "caution", "memory"
        why += "; ferritic steel is drawn as deep but stretches little, so the shape decides"
        remedies = ["a drawing trial of the shape: drawn without stretching, round corners"]
    if steel.manganese_type and not steel.stays_austenite:
        verdict = worst((verdict, "caution"))
        status = weakest(status, judgement("stable_md30")["status"])
        known = "no form of Md30 was made from such steel"
        if steel.md30 is not None:
            low, high = steel.md30
            known = f"Md30 between {low:.0f} and {high:.0f} °C by published form at the least "
            known += "stable composition"
        why += f"; {known}: delayed cracking of deep cups is found by a cup test"
        remedies.append("a cup test for delayed cracking, an anneal soon after drawing")
    remedy = "; ".join(remedies)
    return Finding(verdict, why, got, now, "%", own["standard"], status, remedy)


def machining(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """How a steel turns beside the present grade, by its kind."""
    if service.forming != "machining" and not reference.free_machining:
        return None  # a free-machining grade was chosen for it, whatever is asked
    own, now = (_machined(s) for s in (steel, reference))
    got, asked = float(own["rank"]), float(now["rank"])
    verdict: Verdict = "ok" if got >= asked else "caution"
    why = f"{own['why']} (rank {got:g} of 5 by kind, the present grade {asked:g})"
    remedy = "sulphur held at 0.015 to 0.030 % in the order, other tools and speeds"
    return Finding(verdict, why, got, asked, "rank", own["source"], own["status"], remedy)


def _machined(steel: Candidate) -> dict[str, str]:
    if steel.free_machining:
        return rows("machinability")[0]
    kinds = (steel.family, steel.detailed_family)
    return next(r for r in rows("machinability") if any(k.startswith(r["kind"]) for k in kinds)
                or r["kind"] in steel.detailed_family)  # fmt: skip


def magnetism(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Magnetic response asked for or not wanted."""
    if service.magnetism == "any":
        return None
    wanted, formed = service.magnetism == "magnetic", service.forming != "none"
    source = "structure of the family"
    if wanted or steel.attracted:
        verdict: Verdict = "ok" if wanted == steel.attracted else "stop"
        why, remedy = f"{steel.family} steel is magnetic", "a stable austenitic grade"
        if not steel.attracted:
            why, remedy = "austenitic steel is hardly attracted by a magnet", "a ferritic grade"
        source += "; S20910 stays at permeability 1.004"
        return Finding(verdict, why, source=source, status="verified", remedy=remedy)
    remedy = "a more stable grade, or an anneal after forming"
    verdict = "caution" if formed and not steel.stays_austenite else "ok"
    if steel.md30 is None:
        if steel.least.get("Ni", 0.0) >= judged("stable_nickel"):
            why = "not magnetic: its nickel keeps austenite in cold forming too"
            return Finding("ok", why, source=source)
        why = "not magnetic as annealed; no form of Md30 was made from such steel, which says how "
        why += "much turns to martensite in cold forming"
        return Finding(verdict, why, source=source, remedy=remedy)
    low, high = steel.md30
    why = f"not magnetic as annealed; cold forming turns part to martensite: Md30 {low:.0f} to "
    why += f"{high:.0f} °C by published form at the least stable composition"
    source, stable = "Md30 relations of the catalogue", judged("stable_md30")
    return Finding(verdict, why, high, stable, "°C", source, "heuristic", remedy)


def surface_finish(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Roughness of the finish against a place near the sea."""
    finish, source = service.finish, "EN 10088-2"
    if finish is None:
        return None
    own = [
        r for r in rows("finishes", "process")
        if finish in r["en_code"].split("/") or finish == r["astm_code"]
    ]  # fmt: skip
    if not own:
        why = f"no finish {finish} in the table of finishes"
        remedy = "a code of EN 10088-2, such as 2B"
        return Finding("not assessed", why, source=source, remedy=remedy)
    why = f"{finish}: {' or '.join(r['route'] for r in own)}"
    status = next((r["status"] for r in own if r["status"] != "verified"), "verified")
    top = max((float(r["ra_max_um"]) for r in own if r["ra_max_um"]), default=None)
    if top is None:
        why, remedy = f"{why}; no roughness published", "a roughness agreed in the order"
        return Finding("not assessed", why, source=source, status=status, remedy=remedy)
    why += f", Ra up to {top:g} µm"
    place, near, far = service.atmosphere, judged("stain_sea_km"), judged("stain_sea_far_km")
    if place is None or place.indoors or place.sea_km > far:
        return Finding("ok", why, top, None, "µm Ra", source, status)
    fine = judged("fine_ra")
    # a stain spoils the looks first, and the class of the grade decides: never a stop
    verdict = within(top, fine, math.inf)
    if verdict == "ok":
        why += ": smooth enough near the sea if it is cleaned"
    else:
        why += f": rougher than {fine:g} µm holds salt and stains, usual to {near:g} km from the "
        why += f"surf and seen to {far:g} km"
    source, remedy = judgement("fine_ra")["source"], "2B, 2R, or a 2K polish with a clean cut"
    return Finding(verdict, why, top, fine, "µm Ra", source, status, remedy)


def skin(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Nickel release: judged by sulphur and by tests, never by nickel content."""
    if service.skin_contact == "none":
        return None
    table = rows("nickel_release")
    medium = "post" if service.skin_contact == "pierced posts" else "skin"
    limit = next(
        cell_number(r["release_ug_cm2_week"]) for r in table
        if r["material"] == "limit" and r["medium"].startswith(medium)
    )  # fmt: skip
    row = next(r for r in table if r["sulphur_max_wt_pct"] and r["verdict"] == "pass")
    most, sulphur = float(row["sulphur_max_wt_pct"]), steel.most.get("S")
    others = ", ".join(n for n in ("1.4404", "1.4301") if n != reference.number)
    remedy = f"{others} or a ferritic grade with S up to {most:g} % in the order"
    verdict: Verdict = "not assessed"
    told, status = None, "verified"
    named = "201" if steel.manganese_type else "303" if steel.free_machining else ""
    if steel.manganese_type and "201" not in steel.grade.common:
        why = f"a 201-type steel failed although low in nickel; no test of {steel.title} is held"
    elif named:
        failed = [r for r in table if r["material"] == named and r["verdict"] == "fail"]
        row = max(failed, key=lambda r: float(r["release_ug_cm2_week"]))
        verdict, told, status = "stop", row["release_ug_cm2_week"], row["status"]
        why = f"{named} released {told} "
        why += "although low in nickel" if named == "201" else "through its sulphides"
    elif steel.family not in ("austenitic", "ferritic"):
        why = "no release is published for it"
    else:
        verdict, told, status = "caution", row["release_ug_cm2_week"], row["status"]
        why = f"{row['material']} with S up to {most:g} % released less than {told}"
        remedy = f"sulphur limited to {most:g} % in the order"
        if sulphur is None:
            why += "; the sulphur of this steel is not known"
        elif sulphur > most:
            why += f"; here S may reach {sulphur:g} %"
        else:
            verdict = "ok"
    why, number = f"{why}; EN 1811 on the finished article decides", cell_number(told or "")
    unit = "µg/cm² per week"
    return Finding(verdict, why, number, limit, unit, row["source"], status, remedy)


def food(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Food contact is proved on the article."""
    if not service.food_contact:
        return None
    why = "compliance is proved on the finished article and surface (EU 1935/2004, national lists, "
    why += "metal-release tests)"
    source, remedy = "Regulation (EC) 1935/2004", "a release test on the finished article"
    return Finding("not assessed", why, source=source, status="", remedy=remedy)


#: What a code or an authority decides, whatever the composition: the field of a service, and why.
CODES = {
    "pressure": "PED, ASME, EN 13445 need qualified material and procedure",
    "sour": "ISO 15156 needs qualified material and hardness limits",
    "load_bearing": "the design code and a licensed engineer decide",
}


def by_code(what: str, steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Name the code that decides, where the service asks for one of `CODES`."""
    if not getattr(service, what):
        return None
    why, remedy = f"a code decides: {CODES[what]}", "the code in force and the engineer responsible"
    return Finding("not assessed", why, source="codes", status="", remedy=remedy)
