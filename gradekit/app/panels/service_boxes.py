"""The boxes in which a service is asked for, and what a service shows in each."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from gradekit.app.panels.asked import Question
from gradekit.app.widgets.numbers import Field
from gradekit.core.errors import InputError
from gradekit.service.exposure import WORDS, Atmosphere
from gradekit.service.needs import CHOICES, CRITICAL_C, Service
from gradekit.service.tables import rows

_TEMPERS = (700, 850, 1000, 1150, 1300, 1500, 1700, 1900)  # of EN 10151, least Rm in MPa
_NOWHERE, _INDOORS, _OUTDOORS = "no matter", "indoors", "outdoors"
_OF_WATER = (
    "chloride_mg_l", "water_temperature_C", "free_chlorine_mg_l", "crevices", "oxygen_free",
)  # fmt: skip
FIELDS = (
    Field("thickness_mm", 0.3, 20, 0.1, 0.01, 500, "thickness, mm", label="thickness, mm",
          unit="mm"),
    Field("chloride_mg_l", 0, 1000, 10, 0, None, "chloride of the water, mg/l; empty: not known",
          True, "chloride, mg/l", "mg/l"),
    Field("water_temperature_C", 0, 130, 1, -50, CRITICAL_C, "water temperature, °C",
          label="water, °C", unit="°C"),
    Field("free_chlorine_mg_l", 0, 10, 0.1, 0, None, "free chlorine, mg/l; empty: none",
          True, "free chlorine, mg/l", "mg/l"),
    Field("sea_km", 0, 30, 0.1, 0, None, "distance to the sea, km", label="sea, km away",
          unit="km"),
    Field("temperature_max_C", 0, 1100, 10, -200, 1500, "hottest metal in air, °C; empty: ambient",
          True, "hottest, °C", "°C"),
    Field("hot_hours", 0, 100_000, 10, 0, None, "hours in all at the hottest; empty: years", True,
          "how long hot, h", "h"),
    Field("temperature_min_C", -196, 20, 1, -273, 100, "coldest metal, °C; empty: ambient",
          True, "coldest, °C", "°C"),
)  # fmt: skip
LABELS = {field.name: field.label for field in FIELDS}
TEXTS = (
    ("customer", "Who asks"),
    ("case", "Our reference"),
    ("question", "Question"),
    ("reference", "Grade now"),
    ("candidates", "Replace by"),
    ("chosen_for", "Chosen for"),
    ("chemicals", "Chemicals"),
)
#: Those of the boxes above that belong to the question; the others belong to the service.
OF_QUESTION = ("customer", "reference", "candidates")
YES = (
    ("welded", "welded"),
    ("annealed", "annealed after welding"),
    ("crevices", "crevices in the water"),
    ("oxygen_free", "water free of oxygen"),
    ("food_contact", "food contact"),
    ("load_bearing", "load-bearing"),
    ("pressure", "pressure equipment"),
    ("sour", "sour service"),
)


def numbers_of(state: Question) -> dict:
    """Return the numbers of a service by the names of their boxes."""
    place = state.service.atmosphere or Atmosphere()
    names = [f.name for f in FIELDS if f.name != "sea_km"]
    return {**{n: getattr(state.service, n) for n in names}, "sea_km": place.sea_km}


def word_of(state: Question, name: str) -> str:
    """Return the option that a choice shows."""
    place = state.service.atmosphere
    if name == "place":
        if place is None:
            return _NOWHERE
        pool = "" if place.pool == "no" else f"indoor pool, {place.pool}"
        return pool or (_INDOORS if place.indoors else _OUTDOORS)
    if name in ("washing", "so2"):
        return getattr(place or Atmosphere(), name)
    return getattr(state.service, name) or "not said"


def choices() -> Iterable[tuple[str, str, Iterable]]:
    """Return name, words and options of every choice."""
    finishes = dict.fromkeys(
        code for row in rows("finishes", "process") for code in row["en_code"].split("/") if code
    )
    pools = [f"indoor pool, {word}" for word in WORDS["pool"] if word != "no"]
    return (
        ("form", "Form", CHOICES["form"]),
        ("finish", "Finish", ("not said", *finishes)),
        ("place", "Place", (_NOWHERE, _INDOORS, _OUTDOORS, *pools)),
        ("washing", "Washed by", WORDS["washing"]),
        ("so2", "SO2", WORDS["so2"]),
        ("water", "Water", CHOICES["water"]),
        ("contact", "Touches", CHOICES["contact"]),
        ("forming", "Made how", CHOICES["forming"]),
        ("temper", "Temper", ("not said", *(f"+C{rm}" for rm in _TEMPERS))),
        ("gas", "Hot gas", CHOICES["gas"]),
        ("magnetism", "Magnetism", CHOICES["magnetism"]),
        ("skin_contact", "Skin", CHOICES["skin_contact"]),
    )


def idle(state: Question) -> set[str]:
    """Return the boxes that cannot matter to a question as it stands, and hold nothing."""
    s, plain = state.service, Question("", "", "", Service())
    off = {
        ("washing", "so2", "sea_km"): s.atmosphere is None or s.atmosphere.indoors,
        _OF_WATER: s.water == "none",
        ("hot_hours", "gas"): s.temperature_max_C is None,
        ("annealed",): not s.welded,
    }
    names = {name for boxes, no in off.items() if no for name in boxes}
    return {name for name in names if _shown(state, name) == _shown(plain, name)}


def _shown(state: Question, name: str) -> Any:
    numbers = numbers_of(state)
    return numbers[name] if name in numbers else word_of(state, name)


def place_of(place: Atmosphere | None, name: str, word: str) -> Atmosphere | None:
    """Return a place as a choice leaves it; None where it does not matter."""
    if name != "place":
        changes: dict[str, Any] = {name: word}
        return replace(place or Atmosphere(), **changes)
    if word == _NOWHERE:
        return None
    pool = word.removeprefix("indoor pool, ") if word.startswith("indoor pool") else "no"
    if word == _INDOORS or pool != "no":
        return Atmosphere(indoors=True, pool=pool)  # sea, rain and SO2 stay outside
    return replace(place or Atmosphere(), indoors=False, pool=pool)


def must_fit(question: Question, where: str) -> None:
    """Refuse a question that the boxes cannot show, such as one with a finish of its own."""
    for name, _, options in choices():
        if word_of(question, name) not in options:
            raise InputError(f"{where}, {name}", ", ".join(options), word_of(question, name))
