"""What customers ask next: figures of the steels side by side, whatever was compared."""

from __future__ import annotations

import math

import pandas as pd

from gradekit.core.flags import OUT, Flag
from gradekit.diagrams.dilution import weld
from gradekit.relations.evaluate import evaluate
from gradekit.service.candidate import Candidate
from gradekit.service.needs import Service
from gradekit.service.tables import naming, rows
from gradekit.standards.tables import rows_of
from gradekit.standards.typical import typical_contents

_DILUTION = 0.30  # of the weld metal that is parent steel: what arc welding of sheet usually gives
# Whose physical properties stand for a family; the dearer kinds are named first.
_LIKE = (
    ("super-austenitic", "1.4539"), ("heat-resisting austenitic", "1.4845"), ("CrNiMo", "1.4404"),
    ("CrMn", "1.4372"), ("austenitic", "1.4301"), ("duplex super", "1.4410"),
    ("duplex lean", "1.4162"), ("duplex", "1.4462"), ("PH", "1.4542"), ("martensitic", "1.4021"),
    ("ferritic", "1.4016"),
)  # fmt: skip


def physical(steel: Candidate) -> dict[str, str]:
    """Return the row of physical properties of a steel, or of the steel that stands for its family.

    Returns
    -------
    dict
        As texts: `density_kg_m3`, `conductivity_w_mk`, `expansion_1e6_per_k` (20 to 100 °C) ...,
        and `like`: the number whose figures these are.
    """
    table = {r["grade"]: r for r in rows("physical")}
    words = steel.detailed_family
    if steel.family == "austenitic" and steel.molybdenum_type:
        words += " CrNiMo"
    for word, stands in ((steel.number, steel.number), *_LIKE):
        if word and stands in table and (word == stands or word in words):
            own = table[stands] | {"like": stands}
            if not own["expansion_1e6_per_k"]:
                own["expansion_1e6_per_k"] = next(
                    (r["expansion_1e6_per_k"] for r in rows("physical_by_family")
                     if r["note"].startswith(stands)), "",
                )  # fmt: skip
            return own
    return table["1.4301"] | {"like": "1.4301"}


def filler(steel: Candidate) -> dict[str, str]:
    """Return the filler metal that is usual for a steel and the ferrite that it gives.

    Returns
    -------
    dict
        `filler`, `ferrite` (FN on the WRC-1992 chart at 30 % dilution; '' where the chart does not
        speak of the weld), `status`, `source`.
    """
    words = steel.detailed_family
    if steel.hardens:
        return {"filler": "like the parent, to a procedure", "ferrite": "", "status": "memory"}
    if steel.family == "duplex":
        kind = next((f"duplex {k}" for k in ("super", "lean") if k in words), "duplex")
    elif steel.family == "ferritic":
        kind = "ferritic"
    elif words.startswith("super"):
        kind = "superaustenitic"
    elif steel.heat_resisting:
        kind = "heat-resisting"
    elif steel.manganese_type:
        kind = "austenitic CrMn"
    else:
        kind = "austenitic Mo" if steel.molybdenum_type else "austenitic"
        kind += " stabilised" if steel.stabilised else ""
    row = next(r for r in rows("fillers") if r["for"] == kind)
    return {"ferrite": _ferrite(steel, row)} | {k: row[k] for k in ("filler", "status", "source")}


def _ferrite(steel: Candidate, row: dict[str, str]) -> str:
    wire = {e: float(row[e]) for e in "C Si Mn Cr Ni Mo N Nb Cu".split() if row[e]}
    if not wire or steel.family not in ("austenitic", "duplex"):
        return ""
    plate = _typical(steel)
    metal = weld(plate, plate, wire).at(_DILUTION)
    value = evaluate(metal, "ferrite_wrc_1992").values.iloc[0, 0]
    return f"{value:.0f} FN" if math.isfinite(value) else "off the chart"


def _typical(steel: Candidate) -> dict[str, float]:
    if steel.is_heat:
        return {e: (low + steel.most[e]) / 2 for e, low in steel.least.items()}
    return typical_contents(steel.grade.windows[0])


def names_elsewhere(steel: Candidate) -> dict[str, str]:
    """Return the names of a grade in other standards, by system; those that are near say so."""
    by_system: dict[str, list[str]] = {"EN": [steel.grade.name], "UNS": list(steel.grade.uns),
                                   "common": [steel.grade.common]}  # fmt: skip
    for row in rows_of("other_names"):
        if row["number"] == steel.grade.number and row["how"] != "fastener":
            about = "" if row["how"] == "same" else f" ({row['how']})"
            by_system.setdefault(row["system"], []).append(row["name"] + about)
    return {system: ", ".join(filter(None, names)) for system, names in by_system.items()}


def figures(steels: tuple[Candidate, ...], service: Service) -> pd.DataFrame:
    """Return what is asked next of steels, a row a figure and a column a steel.

    Parameters
    ----------
    steels : tuple of Candidate
    service : Service
        Whose form and thickness the strengths and the weight are for.

    Returns
    -------
    DataFrame of texts
        A cell that nobody holds says so. Typical values hold for nine heats in ten, a star says
        that the steel lies beyond the heats measured. Minimum values are the standard's; density,
        expansion and conductivity are of the grade or, as named, of the steel that stands for its
        family; the ferrite is that of a typical analysis at 30 % dilution.
    """
    columns: dict[str, dict[str, str]] = {steel.name: {} for steel in steels}
    for at in dict.fromkeys([20.0, service.temperature_max_C or 20.0]):
        where = "" if at == 20.0 else f" at {at:g} °C"
        for quantity, (sign, unit, key) in _STRENGTHS.items():
            typical = _typical_values(steels, service, quantity, at)
            for steel, value in zip(steels, typical, strict=True):
                least = _CODE if where else _told(steel.minimum(key, service), "").strip()
                row = f"{sign}{where}, {unit}, least / typical"
                columns[steel.name][row] = f"{least} / {value}"
    return pd.DataFrame({s.name: columns[s.name] | _column(s, service, steels[0]) for s in steels})


#: Of a strength: its sign, unit, and the row of minimum values.
_STRENGTHS = {
    "proof_strength": ("Rp0.2", "MPa", "rp02"),
    "tensile_strength": ("Rm", "MPa", "rm"),
    "elongation": ("A", "%", "elongation"),
}
_CODE = "ask the code"


def _typical_values(
    steels: tuple[Candidate, ...], service: Service, quantity: str, at: float
) -> list[str]:
    """Typical values with their nine-in-ten interval where measured heats support them; a star
    where the steel lies beyond those heats."""
    if service.temper or service.form in ("spring strip", "casting"):
        return ["not available"] * len(steels)  # what was measured is annealed, wrought steel
    from gradekit.properties.estimate.best import estimate

    heats = pd.DataFrame([_typical(s) for s in steels], index=range(len(steels))).fillna(0.0)
    family = pd.Series([s.steel for s in steels], heats.index)
    estimates = estimate(heats, quantity, family=family, temperature_C=at)
    return [
        "not available"
        if int(row.flag) & Flag.NO_SUPPORT or not math.isfinite(row.value)
        else f"{row.value:.0f} ({row.low:.0f} to {row.high:.0f})"
        + ("*" if int(row.flag) & OUT else "")
        for row in estimates.itertuples()
    ]


def _column(steel: Candidate, service: Service, now: Candidate) -> dict[str, str]:
    body, wire = physical(steel), filler(steel)
    density = float(body["density_kg_m3"])
    like = "" if body["like"] == steel.number else f" (as {body['like']})"
    hot = "duplex" if steel.family == "duplex" else steel.number
    scale = naming(hot, rows("scaling_temperature"))
    reach = "" if scale is None else " to ".join(
        dict.fromkeys((scale["continuous_c"], scale["continuous_most_c"]))
    )  # fmt: skip
    return {
        "hardness at most": next(filter(None, steel.grade.properties["hardness_max"]), _NONE),
        "forming index, least A over that of now": _forming_index(steel, now, service),
        "density, weight": f"{density / 1000:.1f} g/cm³{like}, "
        f"{density * service.thickness_mm / 1000:.1f} kg/m²",
        "expansion, 20 to 100 °C": _told(body["expansion_1e6_per_k"], "10⁻⁶/K") + like,
        "conductivity": _told(body["conductivity_w_mk"], "W/(m K)") + like,
        "magnet": _magnet(steel),
        "continuous in air": f"{reach} °C" if reach else _NONE,
        "filler": wire["filler"] + (f", weld about {wire['ferrite']}" if wire["ferrite"] else ""),
    }  # fmt: skip


_NONE = "none held"


def _told(value: str | float | None, unit: str) -> str:
    if value in (None, ""):
        return _NONE
    return f"{value:g} {unit}" if isinstance(value, float) else f"{value} {unit}"


def _forming_index(steel: Candidate, now: Candidate, service: Service) -> str:
    own, its = (s.minimum("elongation", service) for s in (steel, now))
    return f"{own / its:.2f}" if own and its else _NONE


def _magnet(steel: Candidate) -> str:
    """Whether a magnet draws it, with the figures that say how far cold forming changes that."""
    if steel.family == "duplex":
        band = next(r for r in rows("strip_rules", "process") if r["id"] == "ferrite_band")
        return f"attracted: {band['low']} to {band['high']} % ferrite"
    if steel.attracted:
        return "attracted"
    if steel.md30 is None:
        return "not attracted"
    low, high = steel.md30
    worked = "" if steel.stays_austenite else ", but a little when cold formed"
    return f"not attracted{worked} (Md30 {low:.0f} to {high:.0f} °C)"
