"""Anneal and bath: solvus, grain, phases of duplex steel, what the window leaves."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from works_kit import step_table

import gradekit as gk
from gradekit.works.anneal import strip
from gradekit.works.anneal.cooling import nose_time
from gradekit.works.anneal.duplex_phases import NITROGEN_WAYS, duplex_phases, pitting_indices
from gradekit.works.anneal.grain_growth import grain_after, temperature_for_grain
from gradekit.works.anneal.strip import usual_anneal

PLANT = gk.read_plant("data/plant.csv")
TW188 = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "Mo": 0.2, "Cr": 18.2, "Ni": 8.1, "N": 0.05}
DUPLEX = {"C": 0.02, "Si": 0.4, "Mn": 1.5, "Cr": 22.3, "Ni": 5.6, "Mo": 3.1, "N": 0.17}


def row(check: str, steel: dict, plant=PLANT, **conditions) -> pd.Series:
    table = step_table(strip, gk.as_batch(steel), plant, **conditions)
    return table[table["check"].str.contains(check)].iloc[0]


@pytest.mark.parametrize(("seconds", "printed"), [(60, 20.5), (300, 39)])
def test_grain_grows_as_in_the_worked_example(seconds, printed):
    digits = 1 if printed == 20.5 else 0
    assert round(float(grain_after(12, 1100, seconds)), digits) == printed


def test_grain_and_temperature_are_each_others_inverse():
    top = temperature_for_grain(12, 60, [15, 20, 40])
    assert grain_after(12, top, 60) == pytest.approx([15, 20, 40], rel=1e-9)
    assert np.isnan(temperature_for_grain(20, 60, 15))


def test_grain_grows_with_time_and_temperature():
    assert (np.diff(grain_after(12, np.arange(950, 1200, 25), 60)) > 0).all()
    assert (np.diff(grain_after(12, 1050, np.arange(10, 600, 50))) > 0).all()


@pytest.mark.parametrize(
    ("carbon", "printed"), [(0.03, 912), (0.05, 963), (0.08, 1015), (0.10, 1041)]
)
def test_solvus_of_m23c6_is_that_printed(carbon, printed):
    assert round(row("M23C6", TW188 | {"C": carbon})["value"]) == printed


@pytest.mark.parametrize(("niobium", "printed"), [(0.3, 992), (0.5, 1094), (0.8, 1203)])
def test_solvus_of_laves_is_that_printed(niobium, printed):
    steel = {"C": 0.01, "Cr": 18.0, "Si": 0.4, "Mn": 0.4, "N": 0.01, "Nb": niobium}
    assert round(row("Laves", steel)["value"]) == printed


@pytest.mark.parametrize("nitrogen", NITROGEN_WAYS)
def test_phases_of_duplex_conserve_mass(nitrogen):
    p = duplex_phases(DUPLEX, np.arange(1000, 1201, 20), nitrogen=nitrogen)
    share = p.table["ferrite"].to_numpy()[:, None]
    back = share * p.ferrite.to_numpy() + (1 - share) * p.austenite.to_numpy()
    whole = np.array([DUPLEX[e] for e in p.ferrite.columns])
    assert np.abs(back - whole).max() < 1e-9


def test_ferrite_formers_gather_in_ferrite_and_nitrogen_in_austenite():
    p = duplex_phases(DUPLEX)
    assert (p.ferrite[["Cr", "Mo"]] > p.austenite[["Cr", "Mo"]]).all().all()
    assert (p.ferrite[["Ni", "N"]] < p.austenite[["Ni", "N"]]).all().all()
    assert (np.diff(p.table["ferrite"]) > 0).all()


def test_where_the_indices_are_equal_they_are_equal():
    p = duplex_phases(DUPLEX, factor=30)
    assert np.isfinite(p.equal_C)
    there = duplex_phases(DUPLEX, p.equal_C, factor=30).table.iloc[0]
    assert there["PREN ferrite"] == pytest.approx(there["PREN austenite"], abs=0.01)


def test_duplex_steel_without_nitrogen_is_not_assessed_beside_one_that_is():
    both = gk.as_batch({"told": DUPLEX, "silent": {e: x for e, x in DUPLEX.items() if e != "N"}})
    table = step_table(strip, both, PLANT).set_index(["check", "heat"])
    check = "pitting index, austenite less ferrite"
    assert table.at[(check, "silent"), "reason"] == "the ferrite at the anneal has no value"
    assert np.isfinite(table.at[(check, "told"), "value"])


def test_an_unknown_way_of_nitrogen_is_refused():
    with pytest.raises(gk.InputError, match="saturated, equilibrium, measured"):
        duplex_phases(DUPLEX, nitrogen="mesured")


def test_a_window_that_grain_growth_closes_is_a_stop():
    open_ = row("width of the anneal", TW188, grain_start_um=12, grain_max_um=30)
    shut = row("width of the anneal", TW188, grain_start_um=12, grain_max_um=12.1)
    assert open_["margin"] > 0
    assert shut["verdict"] == "stop"
    asked = row("width of the anneal", TW188)
    assert asked["verdict"] == "not assessed"
    assert "grain_max_um" in asked["reason"]


def test_nose_time_falls_with_carbon_and_ends_with_its_table():
    carbon = np.linspace(0.02, 0.08, 30)
    assert (np.diff(nose_time(carbon)) < 0).all()
    assert np.isnan(nose_time(0.1))


def test_slow_cooling_sensitises_and_more_carbon_sooner():
    slow = PLANT.changed(anneal__cooling_rate=0.5)
    assert row("sensitisation on cooling", TW188 | {"C": 0.08}, slow)["verdict"] == "stop"
    assert row("sensitisation on cooling", TW188 | {"C": 0.08})["verdict"] == "ok"


def test_the_usual_anneal_is_looked_up_and_a_stranger_is_not_guessed():
    assert usual_anneal("1.4301")["temperature_min_c"].tolist() == [1000]
    assert row("usual anneal", TW188, grade="1.9999")["verdict"] == "not assessed"
    assert row("usual anneal", TW188, grade="1.4301")["verdict"] == "ok"
    cold = PLANT.changed(anneal__temperature_max=950)
    assert row("usual anneal", TW188, cold, grade="1.4301")["verdict"] == "stop"


def test_disputed_rows_keep_their_mark():
    table = step_table(strip, gk.as_batch(DUPLEX), PLANT)
    assert (table["status"] == "conflicting").any()


D2205 = dict(C=0.02, Si=0.4, Mn=1.6, Cr=22.4, Ni=5.7, Mo=3.15, N=0.175)
D2507 = dict(C=0.02, Si=0.3, Mn=0.8, Cr=25.0, Ni=7.0, Mo=4.0, N=0.27)


@pytest.mark.parametrize(("steel", "at"), [(D2205, 1050), (D2507, 1080)])
def test_annealed_duplex_is_about_half_ferrite_and_gains_as_measured(steel, at):
    share = duplex_phases(steel, (at, at + 100)).table["ferrite"].to_numpy()
    assert 0.45 <= share[0] <= 0.50
    assert 0.06 <= share[1] - share[0] <= 0.08


def test_the_super_duplex_pits_evenly_near_its_usual_anneal():
    p = duplex_phases(D2507, (1080,))
    assert 1050 <= p.equal_C <= 1110
    assert abs(p.table["PREN ferrite"] - p.table["PREN austenite"]).iloc[0] < 1.0


@pytest.mark.parametrize("steel", [D2205, D2507])
def test_ferrite_holds_little_nitrogen_at_the_anneal(steel):
    assert (duplex_phases(steel).ferrite["N"] <= 0.05).all()


def test_many_heats_have_the_phases_of_each():
    heats = gk.as_batch([D2205, D2507])
    both = pitting_indices(heats, pd.Series([1050.0, 1080.0], heats.index))
    for steel, at, (_, row_of) in zip((D2205, D2507), (1050, 1080), both.iterrows(), strict=True):
        alone = duplex_phases(steel, (at,)).table.iloc[0]
        assert row_of.to_numpy() == pytest.approx(alone.to_numpy(), rel=1e-12)


def test_the_bath_says_hydrofluoric_acid():
    assert "cautions" in row("hydrofluoric", TW188)["reason"]
    assert any("calcium gluconate" in words for words in strip.CAUTIONS)


SOFT = {"C": 0.03, "Si": 0.4, "Mn": 0.7, "Cr": 12.8, "Ni": 4.0, "Mo": 0.5, "N": 0.03}


def test_nickel_martensitic_steel_is_judged_by_its_own_forms():
    ac1, ms = row("Ac1 against", SOFT), row("Ms above room", SOFT)
    assert 600 <= ac1["value"] <= 660 and "gooch" in ac1["source"]
    assert 270 <= ms["value"] <= 300 and "finkler" in ms["source"]
    found = gk.evaluate(SOFT, ["ac1_tricot_1966_quadratic", "ac1_tricot_1966_linear"])
    assert (found.flags & int(gk.Flag.ABOVE_RANGE)).all(axis=None), "396 °C is said to be no answer"


def test_plain_martensitic_steel_keeps_the_forms_of_chromium_steel():
    plain = {"C": 0.12, "Si": 0.4, "Mn": 0.5, "Cr": 12.3, "Ni": 0.3, "N": 0.03}
    assert "tricot" in row("Ac1 against", plain)["source"]
    assert 300 <= row("Ms above room", plain)["value"] <= 350


def test_salt_before_acid_is_judged():
    check = "electrolytic pickle"
    assert row(check, TW188)["verdict"] == "ok"
    weak = PLANT.changed(pickling__sodium_sulphate=90)
    assert row(check, TW188, weak)["verdict"] == "caution"
