"""Weld metal by mass balance, along the line and in layers."""

import numpy as np
import pandas as pd
import pytest

import gradekit as gk
from gradekit.core.errors import InputError
from gradekit.diagrams.dilution import buttering, weld

CARBON = {"C": 0.18, "Mn": 1.1, "Si": 0.3, "Cr": 0.05, "Ni": 0.05, "N": 0.005, "Mo": 0.0}
PLATE = {"C": 0.04, "Mn": 1.4, "Si": 0.4, "Cr": 18.1, "Ni": 8.2, "N": 0.05, "Mo": 0.2}
WIRE = {"C": 0.015, "Mn": 1.6, "Si": 0.5, "Cr": 23.5, "Ni": 13.0, "N": 0.06, "Mo": 0.1}


def test_ends_of_the_line():
    joint = weld(CARBON, PLATE, WIRE, share=0.25)
    for element in CARBON:
        assert joint.line[element].iloc[0] == pytest.approx(WIRE[element])
        parents = 0.25 * CARBON[element] + 0.75 * PLATE[element]
        assert joint.line[element].iloc[-1] == pytest.approx(parents)


def test_line_is_straight_on_the_diagram():
    placed = weld(CARBON, PLATE, WIRE).placed
    for axis in "xy":
        steps = np.diff(placed[axis])
        np.testing.assert_allclose(steps, steps[0], atol=1e-9)


def test_every_point_is_its_own_heat():
    joint = weld(CARBON, PLATE, WIRE)
    one = gk.diagram("wrc_1992").locate(joint.at(0.3))
    assert one["value"].iloc[0] == pytest.approx(joint.placed["value"].loc[0.3])


def test_dilution_that_keeps_the_ferrite():
    joint = weld(CARBON, PLATE, WIRE, steps=1001)
    low, high = joint.keeps(3, 8)
    values = joint.placed["value"]
    assert values.loc[low:high].between(3, 8).all()
    assert joint.keeps(99, 100) is None
    for limits, words in (
        (("a", 3), "lowest ferrite · must be a number · got 'a'"),
        ((3, None), "highest ferrite · must be a number"),
        ((3, float("nan")), "highest ferrite · must be a number"),
        ((8, 3), r"the lower one first · got 8 to 3 · nearest keeps\(3, 8\)"),
    ):
        with pytest.raises(InputError, match=words):
            joint.keeps(*limits)
    assert joint.keeps(3, np.inf)[0] == 0.0
    same = weld(CARBON, PLATE, WIRE, share=np.float32(0.5), steps=np.int64(1001))
    assert same.keeps() == (low, high)


def test_what_lies_outside_the_chart_keeps_nothing():
    joint = weld(CARBON, PLATE, WIRE, steps=1001)
    placed, (low, high) = joint.placed, joint.on_chart
    inside = placed["region"] != ""
    assert inside.loc[low:high].all() and inside.sum() == len(inside.loc[low:high]) < len(inside)
    beyond = placed["value"][~inside]
    assert beyond.between(0, 100).any()  # the closed form would go on
    assert joint.keeps(0, 100) == (low, high)
    assert weld(CARBON, CARBON, CARBON).on_chart is None
    assert weld(CARBON, CARBON, CARBON).keeps(0, 100) is None


def test_layers():
    metal = buttering(CARBON, WIRE, dilution=0.3, layers=3)
    by_hand, below = [], CARBON["Cr"]
    for _ in range(3):
        below = 0.3 * below + 0.7 * WIRE["Cr"]
        by_hand.append(below)
    np.testing.assert_allclose(metal["Cr"], by_hand)


def test_layers_of_a_weld_are_those_buttered_on_its_first_parent():
    joint = weld(CARBON, {**PLATE, "Cu": 0.3}, WIRE)
    for dilution in (0.0, 0.3, 1.0):
        metal = joint.layers(dilution, 4)
        assert metal.pop("Cu").isna().all()  # of the second parent only
        pd.testing.assert_frame_equal(metal, buttering(CARBON, WIRE, dilution=dilution, layers=4))
    for wrong, words in (((0.3, 0), "layers"), ((1.3, 2), "dilution")):
        with pytest.raises(InputError, match=words):
            joint.layers(*wrong)


def test_an_unknown_stays_unknown():
    joint = weld({**CARBON, "N": np.nan}, PLATE, WIRE, steps=3)
    assert np.isfinite(joint.line["N"].iloc[0])
    assert joint.line["N"].iloc[1:].isna().all()


@pytest.mark.parametrize(
    "change, words",
    [({"share": 1.2}, "share"), ({"steps": 1}, "steps"), ({"on": "no_such"}, "diagram")],
)
def test_bad_input(change, words):
    with pytest.raises(gk.InputError, match=words):
        weld(CARBON, PLATE, WIRE, **change)
    with pytest.raises(gk.InputError, match="one heat"):
        weld(pd.DataFrame([CARBON, PLATE]), PLATE, WIRE)
    with pytest.raises(gk.InputError, match="layers"):
        buttering(CARBON, WIRE, layers=0)


def test_view_says_reconstruction():
    html = weld(CARBON, PLATE, WIRE)._repr_html_().lower()
    assert "reconstruction" in html and "not for code acceptance" in html
