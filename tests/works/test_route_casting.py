"""The caster: temperatures against handbook ranges with every miss listed, and its verdicts."""

import numpy as np
import pandas as pd
import pytest
from tables import reading
from works_kit import step_table

import gradekit as gk
from gradekit.core.elements import is_element
from gradekit.core.sources import REFERENCE
from gradekit.works.cast import mould
from gradekit.works.cast.mould import casting_temperatures

RANGES = reading("melting_ranges").set_index("grade")
HEAT = {"C": 0.04, "Si": 0.4, "Mn": 1.3, "P": 0.025, "S": 0.001, "Cr": 18.2, "Ni": 8.1, "N": 0.05,
        "Cu": 0.3}  # fmt: skip


def middle(number):
    """The middle of the limits of a grade; of a mere maximum half, of unlimited nitrogen 0.03."""
    limits = pd.read_csv(REFERENCE / "grades" / "grade_limits.csv", dtype=str)
    rows = limits[limits["en_number"] == number]
    found = {}
    for element, own in rows.groupby("element"):
        low = pd.to_numeric(own["min"], errors="coerce").max()
        high = pd.to_numeric(own["max"], errors="coerce").min()
        if is_element(element) and element != "Fe" and np.isfinite(high):
            found[element] = 0.5 * (low + high) if np.isfinite(low) else 0.5 * high
    return found and {"N": 0.03, "Ni": 0.3} | found


# °C, computed liquidus less the handbook's, for the middle of the limits. Within the ±10 that the
# form is given with lie four grades; the others are misses.
HITS = {"2205", "304", "304L", "305"}
MISSES = {
    "S31254": -16, "440C": -57, "316/316L": 40, "301": 38, "321": 16, "347": 24, "630": 23,
    "201": -14, "309": -20, "310": -60, "430": -14, "446": -53, "420": -21, "409": -27, "410": -32,
    "416": -40,
}  # fmt: skip
NO_LIMITS = {"440A", "330"}


def test_every_melting_range_is_accounted_for():
    assert set(RANGES.index) == HITS | set(MISSES) | NO_LIMITS
    assert not any(middle(RANGES.at[g, "en_number"]) for g in NO_LIMITS)


@pytest.mark.parametrize("grade", sorted(HITS | set(MISSES)))
def test_liquidus_against_the_handbook(grade):
    heat = middle(RANGES.at[grade, "en_number"].split("/")[0])
    apart = casting_temperatures(heat)["liquidus"].iloc[0] - RANGES.at[grade, "liquidus_c"]
    if grade in HITS:
        assert abs(apart) <= 10
    else:
        assert apart == pytest.approx(MISSES[grade], abs=1.0) and abs(apart) > 10


@pytest.mark.parametrize(
    ("steel", "solidus"),
    [
        (dict(C=0.02, Si=0.4, Mn=1.6, P=0.02, Cr=22.4, Ni=5.7, Mo=3.15, N=0.175), 1390),
        (dict(C=0.012, Si=0.4, Mn=0.6, P=0.02, Cr=20, Ni=18, Mo=6.1, N=0.2, Cu=0.7), 1327),
        (dict(C=0.05, Si=0.5, Mn=1.5, P=0.03, S=0.005, Cr=17, Ni=11, Mo=2.2, N=0.06), 1395),
    ],
    ids=["2205", "1.4547", "316, measured 1401"],
)
def test_solidus_counts_what_the_liquidus_counts(steel, solidus):
    assert casting_temperatures(steel)["solidus"].iloc[0] == pytest.approx(solidus, abs=8)


def test_manganese_where_one_form_runs_away():
    heat = {"C": 0.05, "Si": 0.4, "Mn": 18.0, "Cr": 18.0, "Ni": 0.5, "N": 0.5}
    runaway = gk.evaluate(heat, "liquidus_kagawa_1986").values.iloc[0, 0]
    row = casting_temperatures(heat).iloc[0]
    assert runaway < row["lowest"] - 50, "left out of the band"
    assert row["lowest"] <= row["liquidus"] <= row["highest"]


# --- verdicts -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def plant(root):
    return gk.read_plant(root / "data" / "plant.csv")


def rows(plant, heat):
    return step_table(mould, gk.as_batch(heat), plant).set_index("check")


def test_a_plain_heat(plant):
    table = rows(plant, HEAT)
    for check in ("superheat window against the liquidus forms", "superheat of the caster",
                  "first phase", "P + S against the first phase"):  # fmt: skip
        assert table.at[check, "verdict"] == "ok", check
    assert 2 <= table.at["slab ferrite", "value"] <= 8
    for check in ("star cracks", "depressions and nozzle clogging by alumina"):
        assert table.at[check, "verdict"] == "not assessed" and table.at[check, "reason"]
    assert "titanium nitride before casting" not in table.index


def test_narrow_window_of_superheat(plant):
    narrow = plant.changed(caster__superheat_max=26)
    assert rows(narrow, HEAT).at["superheat of the caster", "margin"] == 1
    hot = plant.changed(caster__superheat_min=50, caster__superheat_max=60)
    assert rows(hot, HEAT).at["superheat of the caster", "verdict"] == "caution"


def test_phosphorus_and_sulphur_count_where_austenite_is_first(plant):
    check = "P + S against the first phase"
    austenite = HEAT | {"Ni": 14.0}
    assert rows(plant, HEAT).at[check, "verdict"] == "ok"
    dirty = rows(plant, austenite | {"P": 0.040})
    assert dirty.at[check, "verdict"] == "caution" and dirty.at[check, "limit"] == "≤ 0.035"
    clean = rows(plant, austenite | {"P": 0.020})
    assert clean.at[check, "verdict"] == "ok"
    assert "a weld without filler cracks from P + S 0.015 up" in clean.at[check, "reason"]
    fully = "niobium of fully austenitic steel"
    assert rows(plant, austenite | {"Nb": 0.5}).at[fully, "verdict"] == "caution"
    assert rows(plant, austenite | {"Nb": 0.2}).at[fully, "verdict"] == "ok"
    assert fully not in clean.index and fully not in rows(plant, HEAT | {"Nb": 0.5}).index


def test_disputed_first_phase_is_said(plant):
    heat = {"C": 0.05, "Si": 0.4, "Mn": 7.0, "Cr": 17.0, "Ni": 4.5, "N": 0.24, "Cu": 1.5}
    row = rows(plant, heat).loc["first phase"]
    assert row["verdict"] == "caution" and "dispute" in row["reason"]
    assert row["value"] == pytest.approx(
        gk.evaluate(heat, "cr_ni_ratio_hammar").values.iloc[0, 0], rel=1e-12
    )


def test_slab_ferrite_is_judged_for_chromium_nickel_slabs_only(plant):
    duplex = {"C": 0.02, "Si": 0.4, "Mn": 1.6, "Cr": 22.3, "Ni": 5.6, "Mo": 3.1, "N": 0.17}
    assert "slab ferrite" not in rows(plant, duplex).index
    assert rows(plant, HEAT | {"Ni": 14.0}).at["slab ferrite", "verdict"] == "not assessed"
    rich = rows(plant, HEAT | {"Cr": 20.0}).loc["slab ferrite"]
    assert rich["verdict"] == "caution" and "edge cracks" in rich["reason"]


def test_indices_of_low_nickel_steel_in_their_range_only(plant):
    printed = {
        "17Cr": ({"Cr": 17.0, "Ni": 1.6, "Mn": 7.5, "Cu": 2.8, "C": 0.05, "N": 0.20}, 6.2, -1.9),
        "15.3Cr": ({"Cr": 15.3, "Ni": 1.2, "Mn": 9.5, "Cu": 1.6, "C": 0.08, "N": 0.15}, 3.3, 12.5),
    }
    heat, fi1, si = printed["17Cr"]
    table = rows(plant, heat)
    assert round(table.at["ferrite index of Cr-Mn-Cu-N steel", "value"], 1) == fi1
    assert round(table.at["martensite index of Cr-Mn-Cu-N steel", "value"], 1) == si
    assert table.at["ferrite index of Cr-Mn-Cu-N steel", "verdict"] == "ok"
    # the second printed steel has 9.5 Mn, above the range: not judged, but the numbers hold
    heat, fi1, si = printed["15.3Cr"]
    assert "ferrite index of Cr-Mn-Cu-N steel" not in rows(plant, heat).index
    got = gk.evaluate(
        heat, ["ferrite_index_fi1_us6056917", "martensite_index_si_us6056917"]
    ).values.iloc[0]
    assert [round(x, 1) for x in got] == [fi1, si]


@pytest.mark.parametrize(
    "ti, n, onset",
    [(0.15, 0.010, 1580), (0.20, 0.012, 1634), (0.25, 0.015, 1687), (0.5, 0.012, 1747)],
)
def test_titanium_nitride(plant, ti, n, onset):
    heat = {"C": 0.02, "Si": 0.4, "Mn": 0.4, "Cr": 17.5, "Ni": 0.2, "N": n, "Ti": ti}
    row = rows(plant, heat).loc["titanium nitride before casting"]
    said = float(row["reason"].partition("from ")[2].split(" °C")[0])
    plain = gk.evaluate(heat, "tin_onset_inoue_1998").values.iloc[0, 0]
    assert plain == pytest.approx(onset, abs=1.0) and said < plain - 100, "chromium holds nitrogen"
    liquidus = casting_temperatures(heat)["liquidus"].iloc[0]
    assert row["value"] == pytest.approx(liquidus + 40 - said, abs=0.6)
    assert row["verdict"] == ("caution" if row["value"] < 0 else "ok")
    traces = rows(plant, HEAT | {"Ti": 0.003}).loc["titanium nitride before casting"]
    assert traces["verdict"] == "ok"


TITANIUM = {
    "409": (dict(C=0.01, Si=0.5, Mn=0.3, Cr=11.3, Ni=0.1, Ti=0.2, N=0.010), "ok"),
    "1.4510": (dict(C=0.015, Si=0.4, Mn=0.4, Cr=17.2, Ni=0.2, Ti=0.4, N=0.012), "ok"),
    "1.4509": (dict(C=0.015, Si=0.5, Mn=0.4, Cr=17.8, Ni=0.2, Ti=0.15, Nb=0.45, N=0.015), "ok"),
    "444": (dict(C=0.012, Si=0.4, Mn=0.4, Cr=17.7, Ni=0.2, Mo=2, Ti=0.15, Nb=0.3, N=0.012), "ok"),
    "6Mo, 30 ppm Ti": (dict(C=0.012, Si=0.4, Mn=0.6, Cr=20, Ni=18, Mo=6.1, N=0.2, Ti=0.003), "ok"),
    "321": (dict(C=0.04, Si=0.5, Mn=1.5, Cr=17.4, Ni=9.2, Ti=0.35, N=0.012), "caution"),
    "439 with .03 N": (dict(C=0.015, Si=0.4, Mn=0.4, Cr=17.2, Ni=0.2, Ti=0.4, N=0.03), "caution"),
}


@pytest.mark.parametrize("name", TITANIUM)
def test_titanium_nitride_is_a_fault_only_in_the_bath(plant, name):
    steel, verdict = TITANIUM[name]
    row = rows(plant, steel).loc["titanium nitride before casting"]
    assert row["verdict"] == verdict
    if verdict == "caution":
        most = float(row["reason"].partition("nitrogen at most ")[2].split(" ")[0])
        assert most < steel["N"], "the advice asks for less than the heat has"
        eased = rows(plant, steel | {"N": most - 0.0006}).loc["titanium nitride before casting"]
        assert eased["verdict"] == "ok"


def test_no_grade_of_the_catalogue_freezes_before_it_melts():
    heats = pd.DataFrame({g: gk.standards.typical_analysis(g) for g in gk.grades()["grade"]}).T
    made = casting_temperatures(heats.dropna(subset=["Cr"]))
    assert len(made) > 100
    # With hardly any carbon, nitrogen and nickel a ferritic steel freezes within few degrees.
    narrow = made.index[made["freezing_range"] <= 15]
    assert set(narrow) <= {"1.4003", "S44627", "S44700"}
    assert (made["freezing_range"] > 8).all()


def test_centre_segregation_is_spoken_of(plant):
    check = "centre segregation"
    sixmo = TITANIUM["6Mo, 30 ppm Ti"][0]
    knife = dict(C=0.32, Si=0.4, Mn=0.5, Cr=13.2, Ni=0.3, N=0.03)
    assert [rows(plant, h).at[check, "verdict"] for h in (HEAT, sixmo, knife)] == [
        "ok", "caution", "caution",
    ]  # fmt: skip


def test_boron_and_free_machining(plant):
    assert rows(plant, HEAT | {"B": 0.002}).at["boron", "verdict"] == "ok"
    assert rows(plant, HEAT | {"B": 0.006}).at["boron", "verdict"] == "caution"
    machining = rows(plant, HEAT | {"S": 0.30, "Mn": 1.0})
    assert machining.at["Mn to S of free-machining steel", "verdict"] == "caution"
    assert (
        rows(plant, HEAT | {"S": 0.30, "Mn": 1.8}).at["Mn to S of free-machining steel", "verdict"]
        == "ok"
    )


LEAN = dict(C=0.05, Si=0.4, Mn=6.5, P=0.03, S=0.003, Cr=17.0, Ni=4.5, Cu=0.4, N=0.16)


def test_first_phase_and_ferrite_of_a_manganese_slab_tell_one_story(plant):
    table = rows(plant, LEAN)
    assert "ferrite first" in table.at["first phase", "reason"]
    assert table.at["slab ferrite", "value"] > 0 and table.at["slab ferrite", "verdict"] == "ok"
    assert "ferrite_wrc_1992" in table.at["slab ferrite", "source"]
    plain = rows(plant, HEAT).at["slab ferrite", "value"]
    assert plain == gk.evaluate(HEAT, "ferrite_slab_ratio_cu").values.iloc[0, 0]


SLABS = {  # steel, verdict on cooling, check
    "430": (dict(C=0.045, Si=0.35, Mn=0.4, Cr=16.3, Ni=0.2, N=0.035), "caution", "hot charging"),
    "420": (dict(C=0.3, Si=0.4, Mn=0.5, Cr=13.2, Ni=0.2, N=0.03), "caution", "hot charging"),
    "2205": (dict(C=0.02, Si=0.4, Mn=1.6, Cr=22.4, Ni=5.7, Mo=3.15, N=0.175), "caution", "sigma"),
    "6Mo": (TITANIUM["6Mo, 30 ppm Ti"][0], "caution", "sigma"),
    "304": (HEAT, "ok", "hot charging"),
}


@pytest.mark.parametrize("name", SLABS)
def test_slabs_that_are_brittle_when_cold_are_spoken_of(plant, name):
    steel, verdict, word = SLABS[name]
    table = rows(plant, steel)
    found = table[table.index.str.contains(word)]
    assert found["verdict"].tolist() == [verdict]
    if word == "sigma":
        # 200 mm in still air: about a tenth of a degree a second at 800 °C
        assert 0.08 < found["value"].iloc[0] < 0.16
        thin = plant.changed(caster__slab_thickness=50)
        assert rows(thin, steel).at["sigma in the cooling slab", "value"] > found["value"].iloc[0]


def test_nitride_clusters_are_a_surface_matter_of_their_own(plant):
    check = "titanium nitride clusters on the surface"
    bright = rows(plant, TITANIUM["321"][0]).loc[check]
    assert bright["verdict"] == "caution" and bright["unit"] == "kg/t" and bright["value"] > 0.1
    assert "streaks" in bright["reason"] and "heuristic" in bright["status"]
    # what is taken out brings titanium and nitrogen down to their product at the liquidus
    ti, n, product = pd.Series([0.35]), pd.Series([0.012]), pd.Series([0.003])
    taken = mould.nitride_clusters(ti, n, product) / 10.0
    left = (ti - taken * 47.867 / 61.874) * (n - taken * 14.007 / 61.874)
    assert left.iloc[0] == pytest.approx(0.003)
    assert mould.nitride_clusters(ti, n, ti * n * 1.01).iloc[0] == 0.0
    calm = dict(C=0.012, Si=0.4, Mn=0.4, Cr=17.7, Ni=0.2, Mo=2.0, Ti=0.15, Nb=0.3, N=0.012)
    assert rows(plant, calm).loc[check, "verdict"] == "ok"
    assert check not in rows(plant, HEAT).index


def test_castable_nitrogen_speaks_where_its_factors_were_tried(plant):
    # lean Cr-Mn-N freezes at 1430 °C, as the commercial grades of the factors do: no flag
    lean = dict(C=0.057, Si=0.3, Mn=6.2, Cr=18.1, Ni=3.8, N=0.285, Cu=0.4, Mo=0.2)
    found = gk.evaluate([lean, dict(C=0.5, Si=0.5, Mn=2.0, Cr=25.0, Ni=25.0, Mo=7.0, N=0.3)],
                        "n_margin_castable")  # fmt: skip
    assert not found.words("heat 1", "n_margin_castable").startswith("liquidus")
    assert "liquidus_aymard_extended" in found.words("heat 2", "n_margin_castable")
    assert "extrapolated below 1500 °C" in gk.catalogue("n_margin_castable").iloc[0]["domain"]
    row = rows_of_gas(lean)
    assert "solubility extrapolated below 1500 °C" in row["reason"]


def rows_of_gas(heat):
    return gk.assess_route(heat).set_index("check").loc["nitrogen that casts without pores"]
