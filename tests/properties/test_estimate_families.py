"""What answers, answers only for the steels it was made from."""

from __future__ import annotations

import re

import numpy as np
import pytest

import gradekit as gk
from gradekit.properties.estimate.best import QUANTITIES
from gradekit.relations.steels import families
from gradekit.relations.topics import CATALOGUE
from tests.families.test_families import STEELS

KINDS = families(STEELS)
AGED = {"C": 0.04, "Si": 0.4, "Cr": 15.5, "Ni": 4.6, "N": 0.03, "Cu": 3.3, "Nb": 0.3}


@pytest.mark.parametrize("quantity", ["proof_strength", "tensile_strength", "elongation"])
def test_an_aged_steel_gets_the_minima_of_its_conditions_and_no_interval(quantity):
    row = gk.estimate(AGED, quantity).iloc[0]
    assert np.isnan([row["value"], row["low"], row["high"]]).all()
    assert row["basis"].startswith("not known") and "1.4542" in row["basis"]
    printed = gk.grade("1.4542").properties
    column = {"proof_strength": "rp02_min_MPa", "tensile_strength": "rm_min_MPa"}
    for condition in ("+P1070", "H900"):
        least = printed.loc[printed["condition"] == condition, column.get(quantity, "a_min_pct")]
        assert f"{condition} {least.iloc[0]}" in row["basis"]


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_no_estimate_rests_on_a_relation_made_from_another_family(quantity):
    shifted = gk.as_batch(STEELS * np.random.default_rng(2).uniform(0.96, 1.04, STEELS.shape))
    kinds, found = families(shifted), gk.estimate(shifted, quantity)
    wrong, named = [], 0
    for heat in found.index[found["value"].notna()]:
        for name in re.findall(r"[a-z]\w+", found.at[heat, "basis"].split("whole series")[0]):
            if name in CATALOGUE:
                named += 1
                if not CATALOGUE[name].holds_for(kinds[heat]):
                    wrong.append((heat, kinds[heat], name))
    assert not wrong
    assert named or quantity in ("elongation", "hardness", "proof_strength", "tensile_strength")


@pytest.mark.parametrize("quantity", ["proof_strength", "tensile_strength", "elongation"])
def test_measured_rows_answer_for_their_families_alone(quantity):
    found = gk.estimate(STEELS, quantity)
    measured = found["basis"].str.startswith("measured")
    assert set(KINDS[measured]) <= {"austenitic", "heat-resisting Fe-Ni-Cr"}
    assert measured.sum() > 20


def test_the_ferritic_constant_is_for_ordinary_annealed_sheet_only():
    found = gk.estimate(STEELS, "proof_strength")
    constant = found.index[found["value"] == 315.0]
    assert {"1.4016", "1.4510", "1.4512"} <= set(constant)
    assert not {"S44660", "1.4592", "1.4749", "1.4762", "1.4003"} & set(constant)


def test_the_form_of_product_is_a_condition_of_strength():
    """2205: strip 560 to 660 MPa, plate 480 to 540; nothing told, both are allowed for."""
    steel = {"C": 0.02, "Si": 0.4, "Mn": 1.6, "Cr": 22.4, "Ni": 5.7, "Mo": 3.15, "N": 0.175}
    open_, strip, plate = (
        gk.estimate(steel, "proof_strength", product=p).iloc[0] for p in (None, "strip", "plate")
    )
    assert 560 < strip["value"] < 660 and 480 < plate["value"] < 540
    assert open_["low"] < plate["value"] < open_["high"] and "plate stands about" in open_["basis"]
    assert "of plate taken" in plate["basis"] and "plate stands" not in strip["basis"]
    both = gk.estimate([steel, steel], "proof_strength",
                       product={"heat 1": "strip", "heat 2": "plate"})["value"]  # fmt: skip
    assert both.tolist() == [strip["value"], plate["value"]]
    told = gk.estimate(steel, "proof_strength", product="plate", grain_size_um=10).iloc[0]
    assert told["value"] == pytest.approx(strip["value"])  # a grain that is told wins
    for quantity, word, words in (
        ("proof_strength", "plat", "plate"),
        ("md30", "plate", "left out"),
    ):
        with pytest.raises(gk.InputError, match=words):
            gk.estimate(steel, quantity, product=word)
