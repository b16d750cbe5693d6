"""An explorer opens with the boxes and the relations of the steel in hand."""

from __future__ import annotations

import re

import pytest

import gradekit as gk
from gradekit.relations.topics import CATALOGUE
from gradekit.works.rewalk import Rewalk

STEELS = {
    "stabilised ferritic": {"C": 0.015, "Si": 0.4, "Mn": 0.4, "Cr": 16.7, "Ni": 0.2, "N": 0.013,
                            "Ti": 0.4},
    "duplex": {"C": 0.02, "Si": 0.4, "Mn": 1.4, "Cr": 22.3, "Ni": 5.6, "Mo": 3.1, "N": 0.17},
    "precipitation-hardening": {"C": 0.04, "Si": 0.4, "Mn": 0.6, "Cr": 15.5, "Ni": 4.6, "N": 0.03,
                                "Cu": 3.3, "Nb": 0.3},
    "martensitic": {"C": 0.12, "Si": 0.4, "Mn": 0.6, "Cr": 12.0, "Ni": 0.3, "N": 0.03},
}  # fmt: skip


@pytest.mark.parametrize("family", STEELS)
def test_relations_by_default_hold_for_the_steel(family):
    panel = gk.explorer(STEELS[family])
    assert len(panel.relations) >= 3
    assert all(relation.holds_for(family) for relation in panel.relations)
    assert not any(relation.quantity == "Md30" for relation in panel.relations)


def test_a_stabilised_steel_has_boxes_for_what_stabilises_it():
    panel = gk.explorer(STEELS["stabilised ferritic"])
    assert {"Ti", "Nb"} <= set(panel.numbers.values)
    assert panel.state.diagram == "schaeffler_1949"
    panel.numbers.enter("Nb", "0,3")
    assert panel.trial["Nb"] == 0.3


def test_an_austenitic_steel_keeps_its_own():
    panel = gk.explorer({"C": 0.05, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "N": 0.05})
    assert panel.state.diagram == "wrc_1992"
    assert {"md30_nohara_1977", "ferrite_wrc_1992"} <= {r.name for r in panel.relations}
    assert "Ti" not in panel.numbers.values


def test_what_the_user_asks_for_is_shown_whatever_the_steel():
    panel = gk.explorer(STEELS["duplex"], relations=["md30_nohara_1977"], elements=["Cr", "Ni"])
    assert [r.name for r in panel.relations] == ["md30_nohara_1977"]
    assert list(panel.numbers.values) == ["Cr", "Ni"]
    assert not CATALOGUE["md30_nohara_1977"].holds_for("duplex")
    assert (
        "made for austenitic steels"
        in panel.table(panel.state).set_index("name").at["md30_nohara_1977", "flag"]
    )


def test_walking_again_carries_the_doubt_as_walking_does():
    lean = {"C": 0.056, "Si": 0.71, "Mn": 7.58, "Cr": 20.3, "Ni": 2.13, "N": 0.285, "Cu": 0.64}
    again = Rewalk()
    for nickel in (2.13, 2.2, 5.0, 2.13):
        heat = lean | {"Ni": nickel}
        columns = ["check", "verdict", "reason"]
        walked = gk.assess_route(heat)[columns]
        assert again(heat, None).table[columns].equals(walked)


def test_a_plain_number_has_no_unit_beside_it():
    """As pitting equivalents have none, 'unit 1' is never said; the table and the spread lines."""
    steel = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "Mo": 2.1, "N": 0.05}
    panel = gk.explorer(steel, relations=["pren_16n", "pren_30n", "md30_angel_1954"])
    page = str(panel.moving(panel.state))
    assert re.findall(r'data-h="Unit">([^<]*)<', page) == ["", "", "°C"]
    assert "trial (solid) 25.9 to 26.6, 0.7 apart" in page
