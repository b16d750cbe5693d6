"""Finish and surface: codes, roughness, coast, welds."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from works_kit import step_table

import gradekit as gk
from gradekit.works.finish import surface
from gradekit.works.finish.surface import weld_carbon

PLANT = gk.read_plant("data/plant.csv")
TW188 = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "Mo": 0.2, "Cr": 18.2, "Ni": 8.1, "N": 0.05}


def row(check: str, steel=TW188, plant=PLANT, **conditions) -> pd.Series:
    table = step_table(surface, gk.as_batch(steel), plant, **conditions)
    return table[table["check"].str.contains(check)].iloc[0]


@pytest.mark.parametrize("code", ["2B", "No.2B", "IIIc", " 2b "])
def test_a_finish_is_found_by_any_of_its_codes(code):
    found = gk.works.finish(code)
    assert (found["ra_min_um"], found["ra_max_um"]) == (0.1, 0.5)


def test_an_unknown_finish_is_answered_with_the_nearest():
    with pytest.raises(gk.InputError, match="nearest"):
        gk.works.finish("2BB")


def test_a_finish_that_the_works_has_no_line_for_is_not_assessed():
    assert row("finish can be made", finish="2B")["verdict"] == "ok"
    bright = row("finish can be made", finish="2R")
    assert bright["verdict"] == "not assessed"
    assert "bright_anneal" in bright["reason"]


def test_roughness_is_judged_against_what_is_asked_with_its_evidence():
    assert row("roughness", finish="2B", ra_max_um=0.6)["verdict"] == "ok"
    assert row("roughness", finish="2B", ra_max_um=0.3)["verdict"] == "caution"
    assert row("roughness", finish="1J/2J", ra_max_um=5)["verdict"] == "ok"
    assert row("roughness", finish="1J/2J", ra_max_um=5)["status"] == "conflicting"
    assert row("roughness", finish="2B")["verdict"] == "not assessed"


def test_a_rough_surface_costs_ten_degrees_of_pitting_temperature():
    smooth = row("pitting", finish="2B", cpt_needed_C=0)
    rough = row("pitting", finish="1G/2G", cpt_needed_C=0)
    assert smooth["value"] - rough["value"] == pytest.approx(10)


def test_near_the_coast_it_stains():
    assert row("tea", finish="2B", coast_km=1)["verdict"] == "caution"
    assert row("tea", finish="2B", coast_km=50)["verdict"] == "ok"


def test_carbon_of_welds_by_thickness_is_that_of_the_trade():
    thick = np.array([1.5, 2.0, 3.0, 5.0, 6.0, 6.1, 20.0])
    assert weld_carbon(thick).tolist() == [0.08, 0.08, 0.06, 0.06, 0.05, 0.03, 0.03]


def test_thick_welds_need_low_carbon_or_stabiliser():
    assert row("carbon for welds", weld_mm=1.5)["verdict"] == "ok"
    assert row("carbon for welds", weld_mm=10)["verdict"] == "caution"
    assert row("carbon for welds", TW188 | {"C": 0.02}, weld_mm=10)["verdict"] == "ok"
    assert row("carbon for welds", TW188 | {"Ti": 0.6}, weld_mm=10)["verdict"] == "ok"


def test_unstabilised_ferritic_welds_are_attacked():
    steel = {"C": 0.04, "Cr": 16.4, "Ni": 0.2, "N": 0.03, "Mn": 0.4, "Si": 0.3}
    assert row(r"C \+ N of unstabilised", steel)["verdict"] == "caution"
    bound = steel | {"C": 0.01, "N": 0.01, "Ti": 0.4}
    assert row("stabilisation", bound)["margin"] > 0


def test_too_little_chromium_is_no_stainless_steel():
    assert row("passivity", TW188 | {"Cr": 9.0})["verdict"] == "stop"
