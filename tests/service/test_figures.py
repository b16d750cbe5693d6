"""What customers ask next: figures beside each other, names elsewhere, what is to be had."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

import gradekit as gk
from gradekit.service.candidate import candidate
from gradekit.service.figures import filler, names_elsewhere, physical

DATA = Path(__file__).resolve().parents[2] / "data"
STEELS = ["1.4404", "1.4016", "1.4462", "1.4547", "1.4021", "304/304L"]


@pytest.fixture(scope="module")
def answer():
    return gk.compare_grades(
        "1.4301", STEELS, gk.Service(thickness_mm=2.0),
        prices=gk.read_prices(DATA / "element_prices.csv"),
        stock=gk.service.read_stock(DATA / "stock.csv"),
    )  # fmt: skip


def test_the_figures_are_those_of_the_standards(answer):
    table = answer.figures
    assert table.loc["least Rp0.2", "1.4301"] == "230 MPa"
    assert table.loc["least Rp0.2", "1.4462"] == "500 MPa"
    # 7.9 and 7.7 kg/dm3 at 2 mm; ferrite expands a third less than austenite
    assert table.loc["weight", "1.4301"] == "15.8 kg/m²"
    assert table.loc["weight", "1.4016"] == "15.4 kg/m²"
    assert table.loc["expansion, 20 to 100 °C", "1.4301"].startswith("16.0")
    assert table.loc["expansion, 20 to 100 °C", "1.4016"].startswith("10.0")
    assert table.loc["magnet", "1.4016"] == "attracted"
    assert table.loc["continuous in air", "1.4462"].startswith("250 °C")
    assert table.loc["alloy cost against now", "1.4301"].startswith("+0")
    assert table.loc["alloy cost against now", "1.4016"].startswith("-")
    assert table.loc["CO2 of the alloys", "1.4404"].endswith("t CO2/t")
    assert not table.isna().any().any()


@pytest.mark.parametrize(
    ("name", "wire", "low", "high"),
    [("1.4301", "308L", 4, 13), ("1.4404", "316L", 3, 11), ("1.4462", "2209", 35, 70),
     ("1.4845", "310", 0, 0), ("1.4571", "318", 3, 12)],
)  # fmt: skip
def test_a_filler_is_the_usual_one_and_gives_the_ferrite_that_is_usual(name, wire, low, high):
    found = filler(candidate(name))
    assert wire in found["filler"]
    assert low <= float(found["ferrite"].split()[0]) <= high


def test_every_grade_has_figures_and_says_whose_they_are():
    for number in dict.fromkeys(gk.grades()["grade"]):
        steel = candidate(number)
        body = physical(steel)
        assert 7000 < float(body["density_kg_m3"]) < 8300 and body["like"]
        assert filler(steel)["filler"]
    assert physical(candidate("1.4571"))["like"] == "1.4404"


def test_names_elsewhere_say_what_is_only_near():
    names = names_elsewhere(candidate("1.4401"))
    assert names["JIS"] == "SUS316" and "(near)" in names["German usage"]
    assert names["ASTM casting"] == "CF8M (casting)"


def test_what_is_to_be_had_is_the_user_s_own_table(answer):
    told = answer.figures.loc["to be had"]
    assert told["1.4301"] == "from stock, finish 2B, 2K"
    assert told["1.4462"] == "not in this form, thickness and finish"
    assert told["1.4547"] == "not in the stock table"
    bad = pd.DataFrame({"grade": ["304"], "form": ["foil"], "thickness_min_mm": [0.1],
                        "thickness_max_mm": [0.2], "weeks": [1]})  # fmt: skip
    with pytest.raises(gk.InputError, match="form"):
        gk.service.read_stock(bad)
    with pytest.raises(gk.InputError, match="read_stock"):
        gk.compare_grades("1.4301", "1.4016", stock="stock.csv")
