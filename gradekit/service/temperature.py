"""Heat and cold: scaling, gases, strength when hot, toughness when cold."""

from __future__ import annotations

from gradekit.core.verdicts import Verdict
from gradekit.service.candidate import Candidate, candidate
from gradekit.service.embrittlement import carbides
from gradekit.service.finding import Finding
from gradekit.service.needs import Service
from gradekit.service.tables import judged, rows
from gradekit.standards.names import filed_grades


def heat(steel: Candidate, service: Service, reference: Candidate) -> Finding | None:
    """Scaling in air, and chromium carbides; what turns steel brittle is `embrittlement`."""
    if service.temperature_max_C is None:
        return None
    hot = service.temperature_max_C
    own = _scaling(steel.number or steel.name)
    warn = carbides(steel, service)
    warn = f"; {warn}" if warn else ""
    if own is None:
        cool = judged("brittle_from")
        word: Verdict = "ok" if hot <= cool else "not assessed"
        return Finding(
            "heat", word, f"no published scaling temperature names {steel.title}{warn}", hot,
            unit="°C", source="scaling table", status="memory",
            remedy="" if word == "ok" else "a grade with a published scaling temperature",
        )  # fmt: skip
    low, high = float(own["continuous_c"]), float(own["continuous_most_c"])
    near = hot >= low - judged("heat_margin")
    verdict: Verdict = "stop" if hot > high else "caution" if near or warn else "ok"
    reach = f"{low:g}" if low == high else f"{low:g} to {high:g}"
    return Finding(
        "heat", verdict, f"{hot:g} °C against {reach} °C for continuous service in air{warn}", hot,
        low, "°C", own["source"], own["status"], "; ".join(filter(None, (
            _hotter(steel, hot, reference) if near else "",
            "a stabilised or low-carbon grade" if warn and verdict != "stop" else "",
        ))),
    )  # fmt: skip


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


def _scaling(number: str) -> dict[str, str] | None:
    """The row of the scaling table that lists a number."""
    table = rows("scaling_temperature")
    return next((r for r in table if number in r["numbers"].split()), None)


def cold(steel: Candidate, service: Service) -> Finding | None:
    """Toughness in the cold, by family."""
    if service.temperature_min_C is None or service.temperature_min_C >= 0:
        return None
    t = service.temperature_min_C
    source = "trade practice by family"
    if steel.family == "austenitic":
        verdict: Verdict
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
    return Finding(
        "cold", verdict, f"{t:g} °C: {why}; impact tests and the code decide", t, unit="°C",
        source=source, status="memory",
        remedy="" if verdict == "ok" else "an austenitic Cr-Ni grade",
    )  # fmt: skip


def hot_strength(steel: Candidate, service: Service) -> Finding | None:
    """Proof strength at temperature and creep: the design code assesses them."""
    hot = service.temperature_max_C
    if hot is None:
        return None
    # the family that creeps from lower temperatures is the weaker one when hot
    begins = judged("creeps_from" if steel.family == "austenitic" else "creeps_from_ferrite")
    creeps = hot > begins
    loaded = service.pressure or service.load_bearing
    if not creeps and not (loaded and hot > judged("hot_strength_from")):
        return None
    what = "creep and scaling" if creeps else "proof strength at temperature"
    weak = "" if steel.family == "austenitic" or not creeps else (
        f"; {steel.family} steel creeps much faster than austenitic steel")  # fmt: skip
    return Finding(
        "hot strength", "not assessed",
        f"{what} at {hot:g} °C: assessed by the design code: ask for the strength of {steel.title} "
        f"in its tables{weak}", hot, begins, unit="°C", source="design codes", status="",
        remedy="the strength at temperature from the material standard of the code",
    )  # fmt: skip


def hot_gas(steel: Candidate, service: Service) -> Finding | None:
    """Carburising, nitriding and sulphurous gas: nobody answers these by composition alone."""
    if service.gas == "air":
        return None
    return Finding(
        "hot gas", "not assessed",
        f"{service.gas} gas: not assessed, name a specialist; scaling temperatures in air do not "
        "hold in it",
        source="scope of this library", status="",
        remedy="a specialist in heat-resisting steel, a test in this gas",
    )  # fmt: skip
