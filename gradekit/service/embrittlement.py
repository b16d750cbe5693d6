"""What heat does to toughness in time: 475 °C, sigma phase, and open grain boundaries."""

from __future__ import annotations

from math import exp, log

from gradekit.core.markup import number as digits
from gradekit.core.verdicts import Verdict
from gradekit.service.candidate import Candidate
from gradekit.service.finding import Finding
from gradekit.service.needs import Service
from gradekit.service.tables import cell_number, judged, judgement, rows

_KELVIN = 273.15
_SLOW = 300.0  # °C, where the second published time was found
_WIDE = 50.0  # °C to either side of the nose for which its time is taken


def embrittlement(steel: Candidate, reference: Candidate, service: Service) -> Finding | None:
    """475 °C and sigma phase by temperature and time, by what was published of such steel."""
    hot, cool = service.temperature_max_C, judged("brittle_from")
    if hot is None or hot <= cool:
        return None
    if steel.family == "duplex" and (service.hot_hours is None or service.pressure):
        row = next(r for r in rows("scaling_temperature") if r["numbers"] == "duplex")
        why = f"{hot:g} °C against {cool:g} °C, the limit of pressure equipment of duplex steel "
        why += "against 475 °C embrittlement and sigma phase"
        source, remedy = row["source"], "an austenitic grade"
        return Finding("stop", why, hot, cool, "°C", source, row["status"], remedy)
    own = [r for r in rows("embrittlement") if _is_of(steel, r)]
    there = next((r for r in own if float(r["from_c"]) <= hot < float(r["to_c"])), None)
    if there is not None:
        return _in_time(there, hot, service.hot_hours)
    why = f"nothing is known to embrittle {steel.title} at {hot:g} °C"
    near = next((r for r in own if hot >= float(r["to_c"])), None)
    if near is None:
        return Finding("ok", why, source="reviews of embrittlement")
    why += f"; cool fast below {near['to_c']} °C: {near['what']}"
    return Finding("ok", why, source=near["source"], status=near["status"])


def _in_time(row: dict[str, str], hot: float, hours: float | None) -> Finding:
    caution, stop = cell_number(row["caution_h"]) or 0.0, cell_number(row["stop_h"])
    factor, how = _slower(row, hot)
    verdict: Verdict
    if hours is None:
        verdict = "caution" if stop is None else "stop"
        why = f"{hot:g} °C for years: {row['what']}"
        figures = (hot, float(row["from_c"]), "°C")
    else:
        reached = stop is not None and hours >= stop * factor
        verdict = "stop" if reached else "caution" if hours >= caution * _least(row, hot) else "ok"
        why = f"{digits(hours, 3)} h at {hot:g} °C: {row['what']}{how}"
        figures = (hours, (caution if stop is None else stop) * factor, "h")
    remedy = "an austenitic grade"
    remedy += " with less chromium and molybdenum" if row["phase"] == "sigma" else ""
    status = "heuristic" if how else row["status"]
    return Finding(verdict, why, *figures, row["source"], status, remedy)


def _slower(row: dict[str, str], hot: float) -> tuple[float, str]:
    """How many times longer than at the nose it takes, and by what that is said."""
    nose = cell_number(row["nose_c"])
    if nose is None:
        return 1.0, ""
    if row["phase"] != "sigma":
        times = _by_475(hot)
        return times, "" if times == 1 or hot == _SLOW else (
            f"; straight between these two, about {digits(10 * times, 2)} h at {hot:g} °C"
        )  # fmt: skip
    if abs(hot - nose) <= _WIDE:
        return 1.0, ""
    times = judged("away_from_nose")
    return times, (
        f"; away from {nose:g} °C it takes longer: not assessed from what time on, taken as "
        f"{times:g} times"
    )


def _least(row: dict[str, str], hot: float) -> float:
    """As `_slower`, on the safe side: a doubt begins with the time of the nose."""
    return _by_475(hot) if row["phase"] == "475 °C" and row["nose_c"] else 1.0


def _by_475(hot: float) -> float:
    """Time against that at 475 °C on the line of ln(time) over 1/T through 10 h and 10 000 h."""
    at, nose, slow = (t + _KELVIN for t in (hot, 475.0, _SLOW))
    return exp(log(1000.0) * (1 / at - 1 / nose) / (1 / slow - 1 / nose)) if at < nose else 1.0


def _is_of(steel: Candidate, row: dict[str, str]) -> bool:
    if row["numbers"]:
        return steel.number in row["numbers"].split()
    kind, chromium = row["kind"], steel.least.get("Cr", 0.0)
    if kind == "super-austenitic":
        return steel.family == "austenitic" and steel.detailed_family.startswith("super")
    if kind == "chromium-rich":
        return steel.family != "duplex" and chromium >= judged("sigma_chromium")
    if kind == "molybdenum":
        return steel.family == "austenitic" and steel.molybdenum_type
    if kind == "ferritic":
        return steel.family == kind and chromium >= judged("brittle_chromium")
    return steel.family == kind


def carbides(steel: Candidate, service: Service) -> str:
    """Say that chromium carbides open the grain boundaries in this heat and time, or ''."""
    from gradekit.works.anneal.cooling import nose_time

    hot, carbon = service.temperature_max_C, steel.highest("C")
    if (
        hot is None or steel.family != "austenitic" or steel.stabilised or service.dry_heat
        or not judged("carbide_from") <= hot <= judged("carbide_to")
        or carbon <= judged("carbide_free")
    ):  # fmt: skip
        return ""
    grow = "chromium carbides grow at this temperature and open it to attack"
    if service.hot_hours is None:
        return grow
    nose = float(nose_time([min(carbon, 0.08)])[0]) / 3600
    row = judgement("carbide_factor")
    if service.hot_hours * float(row["value"]) < nose:
        return ""
    return f"{grow}, in {digits(nose * 60, 2)} minutes at the quickest"
