"""The explorers of the later chapters: what is drawn and said is what the library computes."""

from __future__ import annotations

import json

import numpy as np
import pandas as pd
import pytest
from panel_kit import press
from picture_kit import collisions, mark

import gradekit as gk
from gradekit.app.views import live
from gradekit.diagrams.criteria import criteria
from gradekit.lessons.chapters import CHAPTERS
from gradekit.lessons.scenes.plays import PLAYS
from gradekit.lessons.scenes.strain import temperature_for
from gradekit.lessons.steels import STEELS
from gradekit.pictures.graph import Graph
from gradekit.relations.topics import CATALOGUE
from gradekit.works.anneal.duplex_phases import duplex_phases
from gradekit.works.cold.martensite import martensite, md30_forms, strain_of


@pytest.fixture(params=PLAYS)
def panel(request):
    return gk.app.chapter_explorer(request.param)


# --- what all of them do ---------------------------------------------------------------------


def test_every_later_chapter_has_one(panel):
    assert set(PLAYS) == set(list(CHAPTERS)[4:])
    assert panel.title and "_" not in panel.title


def test_no_internal_name_is_shown(panel):
    page = live(panel.moving(panel.state)) + panel._repr_html_()
    page = page.replace("<wbr>", "")
    assert [name for name in CATALOGUE if "_" in name and name in page] == []


def test_a_step_changes_what_is_said_and_can_be_undone(panel):
    before = panel.spoken(panel.state)
    panel.numbers.enter("Cr", "19.7")
    assert panel.state.composition["Cr"] == 19.7 and panel.spoken(panel.state) != before
    # The sentence stands below the picture: the line above it is for the ear, not a second time.
    assert panel.status.heard and panel.status.text == panel.spoken(panel.state)
    assert panel.status.text in panel.moving(panel.state).below
    press(panel, "Undo")
    assert panel.spoken(panel.state) == before and not panel.status.heard


def test_a_content_that_is_not_known_is_said_and_breaks_nothing(panel):
    panel.numbers.enter("Cr", "")
    panel.numbers.enter("N", "")
    panel.numbers.enter("Ni", "")
    assert not panel.status.wrong
    said = live(panel.moving(panel.state))
    assert "nan" not in said.lower().replace("nano", "")
    assert any(word in panel.spoken(panel.state) for word in ("need", "known", "Give"))


def test_a_number_beyond_its_ends_is_refused(panel):
    for field in panel.conditions.boxes:
        before = panel.state
        panel.conditions.enter(field.name, str(field.most + 1))
        assert "at most" in panel.status.text and panel.state == before


def test_a_state_is_kept_and_its_code_gives_the_same(panel):
    panel.numbers.enter("Mn", "2.5")
    data = json.loads(json.dumps(panel.encode(panel.state)))
    assert panel.decode(data, "file") == panel.state
    space: dict = {}
    exec(panel.code(panel.state), space)
    pd.testing.assert_frame_equal(space["scene"].table.reset_index(), panel.table(panel.state))
    with pytest.raises(gk.InputError):
        panel.decode({**data, "conditions": {"no": 1.0}}, "file")


def test_it_can_be_read_without_a_kernel(panel):
    still = panel._repr_html_()
    assert "<img" in still and "Run All Cells" in still and len(still) < 30_000
    assert len(live(panel.moving(panel.state))) < 25_000


def test_words_do_not_meet_in_the_chart(panel):
    for text in (None, "0.02", "0.3"):
        if text:
            panel.numbers.enter("N", text)
        assert collisions(panel.moving(panel.state).figure[0]) == []


# --- what each of them shows -----------------------------------------------------------------


def test_the_cracking_band():
    panel = gk.app.chapter_explorer("solidification")
    scene = gk.lessons.scene("solidification", STEELS["weld metal"])
    ratio = gk.evaluate(STEELS["weld metal"], "cr_ni_ratio_schaeffler").values.iloc[0, 0]
    graph = Graph((1.0, 2.2), (0, 0.06), "", "")
    assert mark(scene.figure[0], graph, "this weld") == pytest.approx((ratio, 0.028), abs=0.003)
    assert "Ferrite is first" in scene.words
    modes = gk.diagrams.solidification(STEELS["weld metal"]).modes.iloc[0]
    for rule in criteria():
        assert scene.table.loc[rule.title, "freezes as"] == modes[rule.name]
    panel.numbers.enter("Ni", "14")
    assert "this weld may crack hot" in panel.spoken(panel.state)
    panel.numbers.enter("P", "0.008")
    panel.numbers.enter("S", "0.004")
    assert "below the limit of 0.015 %" in panel.spoken(panel.state)


def test_the_ferrite_factor_and_its_structure():
    steel = STEELS["17Cr ferritic"]
    scene = gk.lessons.scene("families", steel)
    factor = gk.evaluate(steel, "ferrite_factor_kaltenhauser_1971").values.iloc[0, 0]
    assert scene.table["for ferrite, as % Cr"].sum() == pytest.approx(factor)
    x, y = mark(scene.figure[0], Graph((10, 26), (0, 10), "", ""), "this steel")
    assert x - y == pytest.approx(factor, abs=0.2)
    assert "net of martensite" in scene.figure[1].get("aria-label")
    stays = gk.lessons.scene("families", steel | {"Ti": 0.5, "C": 0.01, "N": 0.01})
    assert "stays ferrite" in stays.words and "ferrite" in stays.figure[1].get("aria-label")


def test_nitrogen_against_pressure():
    steel = STEELS["lean nickel"]
    for pressure in (0.2, 1.0):
        scene = gk.lessons.scene("nitrogen", steel, pN2_atm=pressure)
        held = gk.evaluate(steel, "n_solubility_recommended", temperature_C=1600,
                           pN2_atm=pressure).values.iloc[0, 0]  # fmt: skip
        table = scene.table["value"]
        assert table[f"held by the melt below {pressure:g} atm"] == pytest.approx(held)
        room = gk.evaluate(steel, "n_margin_castable").values.iloc[0, 0]
        assert table["most that casts without pores"] == pytest.approx(
            gk.evaluate(steel, "n_castable_by_mode").values.iloc[0, 0]
        )
        assert table["room left"] == pytest.approx(room)
    needs = table["pressure that holds the steel's nitrogen"]
    assert gk.evaluate(steel, "n_solubility_recommended", temperature_C=1600,
                       pN2_atm=needs).values.iloc[0, 0] == pytest.approx(steel["N"])  # fmt: skip
    swapped = STEELS["18Cr-8Ni"] | {"Ni": 4.1, "N": 0.25}
    table = gk.lessons.scene("nitrogen", swapped).table["value"]
    assert table["its change against 18Cr-8Ni"] == pytest.approx(0.0, abs=1e-9)
    assert "pores" in gk.lessons.scene("nitrogen", swapped).words


def test_the_map_of_cold_reduction():
    steel = pd.DataFrame([STEELS["18Cr-8Ni"]])
    scene = gk.lessons.scene("martensite", steel, reduction_pct=30, temperature_C=60)
    forms = md30_forms(steel, 8.0).iloc[0]
    shares = 100 * martensite(strain_of(30), 60.0, forms.to_numpy())
    assert scene.table["martensite, %"].to_numpy() == pytest.approx(shares)
    where = mark(scene.figure[0], Graph((0, 70), (-60, 160), "", ""), "this strip")
    assert where == pytest.approx((30, 60), abs=0.5)
    strain = strain_of(np.linspace(2.0, 70.0, 35))
    for share in (0.1, 0.5):
        assert martensite(strain, temperature_for(share), 0.0) == pytest.approx(share, abs=1e-3)


def test_the_anneal_and_its_two_phases():
    steel = STEELS["22Cr duplex"]
    scene = gk.lessons.scene("duplex", steel, temperature_C=1100)
    phases = duplex_phases(steel, (1100.0,))
    for element in ("Cr", "Mo", "Ni", "N"):
        row = scene.table.loc[f"{element}, %"]
        assert row["ferrite"] == pytest.approx(phases.ferrite[element].iloc[0])
        assert row["austenite"] == pytest.approx(phases.austenite[element].iloc[0])
    index = scene.table.loc["pitting index, 16 N"]
    assert index["ferrite"] == pytest.approx(phases.table["PREN ferrite"].iloc[0])
    assert index["austenite"] == pytest.approx(phases.table["PREN austenite"].iloc[0])
    gaps = [
        duplex_phases(steel, (1100.0,), nitrogen=way, factor=factor).table.iloc[0]
        for way in ("saturated", "equilibrium", "measured") for factor in (16, 30)
    ]  # fmt: skip
    low = min(g["PREN ferrite"] for g in gaps) - max(g["PREN austenite"] for g in gaps)
    assert f"{low:.2g}".replace("-", "−") in scene.words


def test_molybdenum_or_nitrogen():
    steel = STEELS["17Cr-12Ni-2Mo"]
    scene = gk.lessons.scene("pitting", steel)
    where = mark(scene.figure[0], Graph((0, 5), (0, 0.5), "", ""), "this steel")
    assert where == pytest.approx((steel["Mo"], steel["N"]), abs=0.01)
    for name in ("pren_16n", "pren_30n"):
        row = scene.table.loc[CATALOGUE[name].title]
        swapped = steel | {"Mo": 0.0, "N": row["N without any Mo, %"]}
        read = gk.evaluate([steel, swapped], [name, "n_margin_castable"]).values
        assert (
            read[name].iloc[0] == pytest.approx(read[name].iloc[1]) == pytest.approx(row["index"])
        )
        assert (row["casts with that N"] == "yes") == (read["n_margin_castable"].iloc[1] >= 0)


def test_a_unit_behind_a_number_is_converted():
    panel = gk.app.chapter_explorer("nitrogen")
    panel.conditions.enter("temperature_C", "1873 K")
    assert dict(panel.state.conditions)["temperature_C"] == pytest.approx(1599.85)
    panel.conditions.enter("pN2_atm", "506.6 mbar")
    assert dict(panel.state.conditions)["pN2_atm"] == pytest.approx(0.5, abs=1e-3)
    panel.numbers.enter("N", "500 ppm")
    assert panel.state.composition["N"] == pytest.approx(0.05)
