"""Heat and cold: scaling, gases, strength when hot, toughness when cold."""

from __future__ import annotations

from gradekit.core.verdicts import Verdict
from gradekit.service.candidate import Candidate, candidate
from gradekit.service.embrittlement import carbides
from gradekit.service.finding import Finding
from gradekit.service.needs import Service
from gradekit.service.tables import judged, naming, rows
from gradekit.standards.names import filed_grades

_SCALING = "scaling table"


def heat(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Scaling in air, and chromium carbides; what turns steel brittle is `embrittlement`.

    Where the part stands in dry heat, or the present grade is made for heat, and nobody says how
    hot it becomes, that is asked.
    """
    hot = service.temperature_max_C
    if hot is None:
        asked = service.dry_heat or reference.heat_resisting
        if not asked or steel.title == reference.title:
            return None
        why = "how hot the part becomes in dry heat is not given"
        if reference.heat_resisting:
            why = f"{reference.title} is a heat-resisting grade, and how hot the part becomes is "
            why += "not given"
        remedy = "the highest temperature of the metal"
        return Finding("not assessed", why, source=_SCALING, remedy=remedy)
    own = naming(steel.number or steel.name, rows("scaling_temperature"))
    carbides_grow = carbides(steel, service)
    warn = f"; {carbides_grow}" if carbides_grow else ""
    if own is None:
        verdict: Verdict = "ok" if hot <= judged("brittle_from") else "not assessed"
        why = f"no published scaling temperature names {steel.title}{warn}"
        remedy = "a grade with a published scaling temperature"
        return Finding(verdict, why, hot, unit="°C", source=_SCALING, remedy=remedy)
    low, high = float(own["continuous_c"]), float(own["continuous_most_c"])
    near = hot >= low - judged("heat_margin")
    verdict = "stop" if hot > high else "caution" if near or warn else "ok"
    reach = f"{low:g}" if low == high else f"{low:g} to {high:g}"
    why = f"{hot:g} °C against {reach} °C for continuous service in air{warn}"
    remedies = [_hotter(steel, hot, reference)] if near else []
    remedies += ["a stabilised or low-carbon grade"] if warn and verdict != "stop" else []
    remedy, source, status = "; ".join(remedies), own["source"], own["status"]
    return Finding(verdict, why, hot, low, "°C", source, status, remedy)


def _hotter(steel: Candidate, hot: float, reference: Candidate) -> str:
    """The grade of the same family whose published limit is next above a temperature."""
    better = "a grade with a higher scaling temperature"
    table = [r for r in rows("scaling_temperature") if r["numbers"].startswith("1.")]
    known = filed_grades()  # some have a limit for heat and none for contents here
    above = [
        r for r in table if float(r["continuous_c"]) >= hot + judged("heat_margin")
        and (number := r["numbers"].split()[0]) in known and number != reference.number
        and candidate(number).family == steel.family
    ]  # fmt: skip
    if not above:
        return better
    row = min(above, key=lambda r: float(r["continuous_c"]))
    return f"{better}, such as {row['numbers'].split()[0]} (to {row['continuous_c']} °C)"


def cold(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Toughness in the cold, by family."""
    t = service.temperature_min_C
    if t is None or t >= 0:
        return None
    verdict: Verdict
    if steel.family == "austenitic":
        verdict, why = "ok", "austenitic steel has no sudden loss of toughness in the cold"
        if steel.manganese_type and t < judged("manganese_cold"):
            verdict, why = "not assessed", "Cr-Mn-N austenite can turn brittle in deep cold"
    elif steel.family == "duplex":
        least = judged("duplex_cold")
        verdict = "caution" if t >= least else "stop"
        why = f"22Cr duplex is specified by impact tests at {least:g} °C, no lower"
    else:
        verdict = "stop" if t < judged("ferritic_cold") else "not assessed"
        why = f"{steel.family} steel passes from tough to brittle near or below room temperature"
    why = f"{t:g} °C: {why}; impact tests and the code decide"
    source, remedy = "trade practice by family", "an austenitic Cr-Ni grade"
    return Finding(verdict, why, t, unit="°C", source=source, remedy=remedy)


def hot_strength(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Proof strength at temperature and creep: the design code assesses them."""
    hot, austenitic = service.temperature_max_C, steel.family == "austenitic"
    if hot is None:
        return None
    # the family that creeps from lower temperatures is the weaker one when hot
    begins = judged("creeps_from" if austenitic else "creeps_from_ferrite")
    creeps, loaded = hot > begins, service.pressure or service.load_bearing
    if not creeps and not (loaded and hot > judged("hot_strength_from")):
        return None
    what = "creep and scaling" if creeps else "proof strength at temperature"
    why = f"{what} at {hot:g} °C: assessed by the design code: ask for the strength of "
    why += f"{steel.title} in its tables"
    if creeps and not austenitic:
        why += f"; {steel.family} steel creeps much faster than austenitic steel"
    remedy = "the strength at temperature from the material standard of the code"
    return Finding("not assessed", why, hot, begins, "°C", "design codes", "", remedy)


def hot_gas(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """Carburising, nitriding and sulphurous gas: nobody answers these by composition alone."""
    if service.gas == "air":
        return None
    why = f"{service.gas} gas: not assessed, name a specialist; scaling temperatures in air do not "
    why += "hold in it"
    remedy = "a specialist in heat-resisting steel, a test in this gas"
    return Finding("not assessed", why, source="scope of this library", status="", remedy=remedy)
