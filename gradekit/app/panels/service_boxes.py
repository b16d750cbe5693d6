"""The boxes in which a service is asked for, and what a service shows in each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from gradekit.app.panels.asked import Question
from gradekit.app.state import Part, attribute
from gradekit.app.widgets.numbers import Field
from gradekit.core.errors import InputError, one_of
from gradekit.service.exposure import WORDS, Atmosphere
from gradekit.service.needs import CHOICES, CRITICAL_C, Service
from gradekit.service.tables import rows

_TEMPERS = (700, 850, 1000, 1150, 1300, 1500, 1700, 1900)  # of EN 10151, least Rm in MPa
_NOWHERE, _INDOORS, _OUTDOORS = "no matter", "indoors", "outdoors"
_TUNNEL = "road tunnel, salted"
NOT_SAID = "not said"
_UNSAID = {"finish": None, "temper": ""}  # what a service holds then
_DISTANCES = ("sea_km", "salted_road_km")
_OF_PLACE = ("place", "washing", "so2", *_DISTANCES)
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
    Field("salted_road_km", 0, 1, 0.01, 0, None, "distance to roads with de-icing salt, km",
          label="salted road, km away", unit="km"),
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


def part_of(name: str) -> Part:
    """Return the part of a question that a text, a choice or a tick shows and changes."""
    if name in OF_QUESTION:
        return attribute(name)

    def put(question: Question, value: Any) -> Question:
        if name in _OF_PLACE:
            place = _place_of(question.service.atmosphere, name, value)
            return _with(question, atmosphere=place)
        return _with(question, **{name: _UNSAID.get(name, value) if value == NOT_SAID else value})

    return Part(name, lambda question: box_value(question, name), put)


def box_value(question: Question, name: str) -> Any:
    """Return what a box shows of a question: a number, a text, an option or a tick."""
    place = question.service.atmosphere
    if name == "place":
        if place is None:
            return _NOWHERE
        pool = "" if place.pool == "no" else f"indoor pool, {place.pool}"
        return pool or (
            _INDOORS if place.indoors else _TUNNEL if place.salted_tunnel else _OUTDOORS
        )
    if name in _OF_PLACE:
        return getattr(place or Atmosphere(), name)
    value = getattr(question.service, name)
    return NOT_SAID if name in _UNSAID and not value else value


def _put_numbers(question: Question, values: Mapping[str, Any]) -> Question:
    # All of them: what was refused before may be taken along now.
    own = {name: value for name, value in values.items() if name not in _OF_PLACE}
    far = {name: values[name] for name in _DISTANCES if values[name] != box_value(question, name)}
    place = question.service.atmosphere
    if far:
        place = replace(place or Atmosphere(), **far)
    try:
        return _with(question, **own, atmosphere=place)
    except InputError as error:  # it names the field; the box has words of its own
        box = LABELS.get(error.what, error.what)
        raise InputError(box, error.must_be, error.got, error.nearest) from None


NUMBERS = Part("numbers", lambda q: {field.name: box_value(q, field.name) for field in FIELDS},
               _put_numbers)  # fmt: skip


def _with(question: Question, /, **changes: Any) -> Question:
    return replace(question, service=question.service.changed(**changes))


def choices() -> Iterable[tuple[str, str, Iterable]]:
    """Return name, words and options of every choice."""
    finishes = dict.fromkeys(
        code for row in rows("finishes", "process") for code in row["en_code"].split("/") if code
    )
    pools = [f"indoor pool, {word}" for word in WORDS["pool"] if word != "no"]
    return (
        ("form", "Form", CHOICES["form"]),
        ("finish", "Finish", (NOT_SAID, *finishes)),
        ("place", "Place", (_NOWHERE, _INDOORS, _OUTDOORS, _TUNNEL, *pools)),
        ("washing", "Washed by", WORDS["washing"]),
        ("so2", "SO2", WORDS["so2"]),
        ("water", "Water", CHOICES["water"]),
        ("contact", "Touches", CHOICES["contact"]),
        ("forming", "Made how", CHOICES["forming"]),
        ("temper", "Temper", (NOT_SAID, *(f"+C{rm}" for rm in _TEMPERS))),
        ("gas", "Hot gas", CHOICES["gas"]),
        ("magnetism", "Magnetism", CHOICES["magnetism"]),
        ("skin_contact", "Skin", CHOICES["skin_contact"]),
    )


def idle(state: Question) -> set[str]:
    """Return the boxes that cannot matter to a question as it stands, and hold nothing."""
    s, plain = state.service, Question("", "", "", Service())
    off = {
        ("washing", "so2", *_DISTANCES): s.atmosphere is None or s.atmosphere.indoors,
        _OF_WATER: s.water == "none",
        ("hot_hours", "gas"): s.temperature_max_C is None,
        ("annealed",): not s.welded,
    }
    names = {name for boxes, no in off.items() if no for name in boxes}
    return {name for name in names if box_value(state, name) == box_value(plain, name)}


def _place_of(place: Atmosphere | None, name: str, word: str) -> Atmosphere | None:
    """Return a place as a choice leaves it; None where it does not matter."""
    if name != "place":
        changes: dict[str, Any] = {name: word}
        return replace(place or Atmosphere(), **changes)
    if word == _NOWHERE:
        return None
    pool = word.removeprefix("indoor pool, ") if word.startswith("indoor pool") else "no"
    if word == _INDOORS or pool != "no":
        return Atmosphere(indoors=True, pool=pool)  # sea, rain and SO2 stay outside
    tunnel = word == _TUNNEL
    return replace(place or Atmosphere(), indoors=False, pool=pool, salted_tunnel=tunnel)


def must_fit(question: Question, where: str) -> None:
    """Refuse a question that the boxes cannot show, such as one with a finish of its own."""
    for name, _, options in choices():
        one_of(f"{where}, {name}", box_value(question, name), list(options))
