"""One policy for what is typed: a unit is converted or refused, two readings are asked back."""

from __future__ import annotations

import re

import pytest
from panel_kit import offered, press

import gradekit as gk
from gradekit.app.panels.brief_state import (
    bound_field,
    limit_field,
    price_field,
)
from gradekit.app.panels.service_boxes import FIELDS
from gradekit.app.widgets.fields import condition_field, element_field
from gradekit.app.widgets.numbers import Field, NumberBoxes
from gradekit.core.units import converted
from gradekit.relations.declaration import CONDITIONS
from gradekit.works.plant import as_plant

DESK = {field.name: field for field in FIELDS}
STEEL = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "N": 0.05}
BRIEF = gk.Brief(
    bounds={"C": (0.02, 0.07), "Cr": (16, 20), "Ni": (2, 9), "N": (0, 0.2), "Mn": (1, 9),
            "Si": (0.2, 0.8), "Mo": (0, 2), "Cu": (0, 1)},
    limits={"md30_angel_1954": (None, 20)},
)  # fmt: skip


def route():
    return gk.app.route_explorer(STEEL, "data/plant.csv")


def every_box() -> dict[str, Field]:
    """A box of every kind that a panel has, by a name for the test."""
    kinds = {f"desk {name}": field for name, field in DESK.items()}
    kinds |= {f"route {box.name}": box for box in route().limits.boxes}
    kinds |= {f"condition {name}": condition_field(name) for name in CONDITIONS}
    kinds["content"] = element_field("Cr")
    kinds["bound"] = bound_field("Cr ≥", 16.0)
    kinds["limit"] = limit_field(BRIEF, "md30_angel_1954 ≤", 20.0, {}, None)
    kinds["price"] = price_field("Ni", 16000.0)
    weld = gk.app.weld_explorer({"heat": ["a", "b", "w"], **{e: [x] * 3 for e, x in STEEL.items()}},
                                "a", "b", "w")  # fmt: skip
    kinds |= {f"weld {box.name}": box for box in weld.numbers.boxes}
    return kinds


BOXES = every_box()


@pytest.mark.parametrize(
    "name, typed, value",
    [
        ("desk chloride_mg_l", "3 g/l", 3000), ("desk chloride_mg_l", "25 ppm", 25),
        ("desk chloride_mg_l", "3 000", 3000), ("desk chloride_mg_l", "3000 mg/L", 3000),
        ("desk water_temperature_C", "140 °F", 60), ("desk water_temperature_C", "333.15 K", 60),
        ("desk thickness_mm", "1,5 mm", 1.5), ("desk thickness_mm", "0.06 in", 1.524),
        ("desk sea_km", "500 m", 0.5), ("desk hot_hours", "3 weeks", 504),
        ("desk temperature_max_C", "1922 °F", 1050), ("content", "350 ppm", 0.035),
        ("content", "17,200 %", 17.2), ("bound", "1.800 wt%", 1.8), ("limit", "283.15 K", 10),
        ("route hot_mill.force_max", "20 000 kN", 20), ("condition pN2_atm", "1013.25 mbar", 1),
        ("condition grain_size_um", "0.02 mm", 20), ("weld dilution", "30 %", 30),
    ],
)  # fmt: skip
def test_a_unit_that_measures_the_same_is_converted(name, typed, value):
    assert BOXES[name].read(typed) == pytest.approx(value, rel=1e-9)


@pytest.mark.parametrize("name", BOXES)
@pytest.mark.parametrize("unit", ["%", "mm", "°C", "mg/l", "MPa", "apples", "at%"])
def test_any_other_unit_is_refused_in_words_and_never_dropped(name, unit):
    box = BOXES[name]
    same = converted(1.0, unit, box.unit) is not None
    same = same or (box.unit == "wt%" and unit == "%")
    if same:
        assert box.read(f"1 {unit}") is not None or box.optional
        return
    with pytest.raises(gk.InputError, match=r"must be (a number, )?in |a number without a unit"):
        box.read(f"1 {unit}")


@pytest.mark.parametrize("name", BOXES)
def test_a_number_that_can_be_read_two_ways_is_asked_back_in_every_box(name):
    box = BOXES[name]
    for text in ("3,000", "3.000"):
        if box.most is not None and box.most < 3000:  # then only one reading is possible
            number = 3.0 if box.least is None or box.least <= 3 else None
            if number is not None and box.most >= 3:
                assert box.read(text) == number
            continue
        with pytest.raises(gk.InputError, match=r"read one way only.*nearest 3 or 3000"):
            box.read(text)


def test_every_box_with_a_unit_in_its_words_knows_it():
    for name, box in BOXES.items():
        words = f"{box.label} {box.title}"
        for unit in ("mm", "°C", "mg/l", "wt%", "MPa", "µm"):
            if re.search(rf", {unit}(?![\w/])", words):
                assert box.unit == unit, name


def test_what_the_box_writes_itself_can_be_read():
    for value in (12.345, 1.125, 999.001, 0.125, 1234.5, -3.25, 1050.0):
        for box in (Field("x", 0, 10, 1, None), Field("x", 0, 10, 1, None, unit="°C")):
            assert box.read(box.show(value)) == value


def test_the_desk_answers_nothing_by_a_number_that_it_did_not_understand():
    desk = gk.substitution({"questions": [{"customer": "A", "reference": "1.4404",
        "candidates": "1.4301", "service": {"water": "supply or natural water"}}]})  # fmt: skip
    for text in ("0.3 %", "3,000", "3.000"):
        desk.numbers.enter("chloride_mg_l", text)
        assert "chloride_mg_l" in desk.numbers.problems
        assert desk.state.service.chloride_mg_l is None
        assert "sheet · must be of what the boxes show" in press(desk, "Report")
        assert desk.status.wrong and "chloride, mg/l" in offered(desk)
    desk.numbers.enter("chloride_mg_l", "3 g/l")
    assert desk.state.service.chloride_mg_l == 3000 and not desk.numbers.problems
    assert desk.comparison.decisive.iloc[0]["sign"] == "✕"


def test_a_panel_keeps_its_numbers_where_a_unit_is_refused():
    heard = []
    made = NumberBoxes([element_field("N")], {"N": 0.05}, lambda v, n: heard.append(v), "")
    made.enter("N", "350 mg/l")
    assert "wt%" in made.problems["N"] and not heard and made.values == {"N": 0.05}
    made.enter("N", "350 ppm")
    assert heard == [{"N": 0.035}]
    assert made.shown["texts"] == {"N": "0.035"}  # the page steps from what was understood


@pytest.mark.parametrize(
    "unit, value, same", [("°F", 2912.0, 1600.0), ("K", 1873.15, 1600.0), ("°C", 1600.0, 1600.0)]
)
def test_a_plant_table_in_another_unit_is_converted(unit, value, same):
    plant = as_plant({"caster.temperature": (value, unit)})
    assert plant.get("caster.temperature", "C") == pytest.approx(same)


def test_a_plant_table_in_a_unit_of_something_else_is_refused():
    plant = as_plant({"caster.temperature": (5.0, "mm"), "scatter.N": (80.0, "ppm"),
                               "scatter.C": (2.0, "mm")})  # fmt: skip
    with pytest.raises(gk.InputError, match=r"unit of caster\.temperature .*K or °F"):
        plant.get("caster.temperature", "C")
    assert plant.get("scatter.N", "wt%") == pytest.approx(0.008)
    with pytest.raises(gk.InputError, match=r"unit of scatter\.C"):
        plant.scatter()


def test_a_kept_state_is_taken_up_whatever_its_digits():
    panel = route()
    panel.limits.enter("hot_mill.force_max", "12.3450")
    kept = panel.encode(panel.state)
    assert kept["limits"]["hot_mill.force_max"] == 12.345
    assert panel.decode(kept, "my-route.json") == panel.state
    kept["limits"]["hot_mill.force_max"] = -1.0
    with pytest.raises(gk.InputError, match="at least"):
        panel.decode(kept, "my-route.json")
