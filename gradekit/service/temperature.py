"""Heat and cold: scaling, embrittlement, gases, strength when hot, toughness when cold."""

from __future__ import annotations

from gradekit.core.verdicts import Verdict
from gradekit.service.candidate import Candidate
from gradekit.service.finding import Finding
from gradekit.service.needs import Service
from gradekit.service.tables import judged, rows

__all__ = ["cold", "heat", "hot_gas", "hot_strength"]


def heat(steel: Candidate, service: Service) -> Finding | None:
    """Scaling in air, and the temperatures that make ferritic and duplex steel brittle."""
    if service.temperature_max_C is None:
        return None
    hot = service.temperature_max_C
    if steel.family == "duplex":
        row = next(r for r in rows("scaling_temperature") if r["numbers"] == "duplex")
        limit = float(row["continuous_c"])
        return Finding(
            "heat", "ok" if hot <= limit else "stop",
            f"{hot:g} °C against {limit:g} °C, the limit against 475 °C embrittlement", hot, limit,
            "°C", row["source"], row["status"], "" if hot <= limit else "an austenitic grade",
        )  # fmt: skip
    own = _scaling(steel.number or steel.name)
    cool = judged("brittle_from")
    brittle = steel.family in ("ferritic", "martensitic") and hot > cool
    carbides = (
        steel.family == "austenitic" and not steel.stabilised and not service.dry_heat
        and judged("carbide_from") <= hot <= judged("carbide_to")
        and steel.highest("C") > judged("carbide_free")
    )  # fmt: skip
    sigma = next(r for r in rows("strip_rules", "process") if r["id"] == "sigma_range")
    rich = steel.least.get("Cr", 0.0) >= judged("sigma_chromium")
    brittles = rich and float(sigma["low"]) <= hot < float(sigma["high"]) - judged("sigma_fades")
    warn = "; 250 to 550 °C embrittles it in time, 475 °C fastest" if brittle else ""
    warn += "; sigma phase makes it brittle when cold again" if brittles else ""
    warn += "; chromium carbides grow at this temperature and open it to attack" if carbides else ""
    if own is None:
        found: Verdict = "ok" if hot <= cool else "not assessed"
        return Finding(
            "heat", found, f"no published scaling temperature names {steel.title}{warn}", hot,
            unit="°C", source="scaling table", status="memory",
            remedy="" if found == "ok" else "a grade with a published scaling temperature",
        )  # fmt: skip
    low, high = float(own["continuous_c"]), float(own["continuous_most_c"])
    verdict: Verdict
    near = hot > low - judged("heat_margin")
    verdict = "stop" if hot > high else "caution" if near else "ok"
    if (brittle or brittles or carbides) and verdict == "ok":
        verdict = "caution"
    reach = f"{low:g}" if low == high else f"{low:g} to {high:g}"
    return Finding(
        "heat", verdict, f"{hot:g} °C against {reach} °C for continuous service in air{warn}", hot,
        low, "°C", own["source"], own["status"],
        "" if verdict == "ok" else "; ".join(filter(None, (
            "a grade with a higher scaling temperature" if near else "",
            "an austenitic grade" if brittle else "",
            "no blows and no load while cold, or a grade with less chromium" if brittles else "",
            "a stabilised or low-carbon grade" if carbides else "",
        ))),
    )  # fmt: skip


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
        f"{what} at {hot:g} °C: assessed by the design code, whose tables give the strength of "
        f"{steel.title}{weak}", hot, begins, unit="°C", source="design codes", status="",
        remedy="the strength at temperature from the material standard of the code",
    )  # fmt: skip


def hot_gas(steel: Candidate, service: Service) -> Finding | None:
    """Carburising, nitriding and sulphurous gas: nobody answers these by composition alone."""
    if service.gas == "air":
        return None
    return Finding(
        "hot gas", "not assessed",
        f"{service.gas} gas: needs a specialist; scaling temperatures in air do not hold in it",
        source="scope of this library", status="",
        remedy="a specialist in heat-resisting steel, a test in this gas",
    )  # fmt: skip
