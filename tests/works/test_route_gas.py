"""Nitrogen and hydrogen against every tabulated case, and what a change of composition buys."""

import numpy as np
import pytest
from tables import reading
from works_kit import step_table

import gradekit as gk
from gradekit.relations.topics import CATALOGUE
from gradekit.works.melt import gas
from gradekit.works.melt.gas import pressure_against_bubbles

CASES = reading("nitrogen_checks")
SETS = ["n_solubility_recommended", "n_solubility_wada_1977", "n_solubility_cross_terms"]
# Rows that no relation for a liquid of known analysis can be held to, each with its reason.
NO_ANALYSIS = {"AOD heats Cr-Ni-Mo-Mn", "low-Ni Cu austenitics", "Cr-Mn austenitics"}
SOLID = {"Fe-24Cr-10Mn solid"}
# Rows that state the constant of another form for pure iron.
OTHER_CONSTANT = {0.0450: (-188.1, -1.246), 0.0445: (-247.0, -1.22)}
HEAT = {"C": 0.05, "Si": 0.4, "Mn": 7.0, "Cr": 17.0, "Ni": 4.0, "N": 0.18, "Cu": 0.5}


@pytest.fixture(scope="module")
def plant(root):
    return gk.read_plant(root / "data" / "plant.csv")


def analysis(text):
    pairs = (p.split() for p in text.split(";"))
    found = {e: float(x) for e, x in pairs if e != "Fe"}
    return {"C": 0.0, "Cr": 0.0, "Ni": 0.0} | found


def solubility(case, name="n_solubility_recommended"):
    if case.melt == "18-8 handbook value":
        composition = {"C": 0.0, "Cr": 18.0, "Ni": 8.0}
    else:
        composition = analysis(case.composition)
    return gk.evaluate(
        composition, name, temperature_C=case.temperature_k - 273.15, pN2_atm=case.pn2_atm
    )


@pytest.mark.parametrize("row", range(len(CASES)), ids=lambda i: f"{i} {CASES.iloc[i]['melt']}")
def test_every_row(row):
    case = CASES.iloc[row]
    if case.melt in NO_ANALYSIS:
        assert case.composition == "" and np.isnan(case.temperature_k)
        return
    got = solubility(case).values.iloc[0, 0]
    if case.melt in SOLID:
        # 1.43 in the solid at 1200 °C: the form for the melt is far outside its range there
        flag = solubility(case).flags.iloc[0, 0]
        assert flag & gk.Flag.BELOW_RANGE
        return
    if case.operator == ">":
        assert got > float(case.n_wt_pct)
    elif case.operator == "range":
        low, high = map(float, case.n_wt_pct.split("-"))
        assert low <= got <= high
    elif case.kind == "equation":
        value = float(case.n_wt_pct)
        if value in OTHER_CONSTANT:
            a, b = OTHER_CONSTANT[value]
            assert round(10 ** (a / case.temperature_k + b), 4) == value
            assert got == pytest.approx(value, rel=0.03), "3 % between the constants"
        else:
            assert round(got, 4) == value
    else:
        assert got == pytest.approx(float(case.n_wt_pct), rel=0.05)
        assert round(got, 3) == pytest.approx(float(case.n_wt_pct), abs=0.0011)


def test_every_row_was_accounted_for():
    assert set(CASES["melt"]) >= NO_ANALYSIS | SOLID


def test_sets_stay_together_where_they_hold_and_one_runs_away():
    plain = {"C": 0.05, "Si": 0.4, "Mn": 1.3, "Cr": 18.2, "Ni": 8.1, "Mo": 0.3}
    mn = {"C": 0.05, "Si": 0.4, "Mn": 18.0, "Cr": 18.0, "Ni": 0.0}
    found = gk.evaluate([plain, mn], SETS, temperature_C=1600, pN2_atm=1)
    near, far = found.values.to_numpy()
    assert near.max() / near.min() < 1.06 and far.max() / far.min() > 1.9
    assert found.flags["n_solubility_cross_terms"].iloc[1] & gk.Flag.ABOVE_RANGE


def test_monotone_where_physics_demands_it():
    def dissolved(p=1.0, t=1600.0, **more):
        return gk.evaluate(HEAT | more, SETS[:2], temperature_C=t, pN2_atm=p).values.iloc[0]

    assert (dissolved(p=0.8) < dissolved()).all()
    assert np.allclose(dissolved(p=0.25), 0.5 * dissolved()), "Sieverts"
    assert (dissolved(t=1650) < dissolved()).all()
    assert (dissolved(Mn=8.0) > dissolved()).all() and (dissolved(Cr=18.0) > dissolved()).all()
    assert (dissolved(Ni=6.0) < dissolved()).all() and (dissolved(Si=1.0) < dissolved()).all()


# --- castable nitrogen ----------------------------------------------------------------------


def test_castable_against_the_relations():
    heats = [HEAT, HEAT | {"Ni": 6.0, "N": 0.2}, HEAT | {"Ni": 8.0}]
    found = gk.works.nitrogen(heats)
    ratio = found.castable["ratio"]
    assert found.castable["first"].tolist() == ["ferrite", "austenite", "austenite"]
    by_relation = gk.evaluate(heats, ["n_castable_by_mode", "n_margin_castable"]).values
    assert np.allclose(found.castable["low"], by_relation["n_castable_by_mode"], rtol=1e-12)
    assert np.allclose(found.castable["margin"], by_relation["n_margin_castable"], rtol=1e-9)
    assert (ratio.iloc[0] > 1.55) and (ratio.iloc[1:] < 1.43).all()


def test_both_factors_are_shown_where_the_mode_is_undecided():
    heat = HEAT | {"Ni": 5.2}
    row = gk.works.nitrogen(heat).castable.iloc[0]
    assert row["first"] == "undecided" and 1.43 < row["ratio"] <= 1.55
    assert row["high"] / row["low"] == pytest.approx(1.0 / 0.78, rel=0.05)
    ramp = gk.evaluate(heat, "n_castable_by_mode").values.iloc[0, 0]
    assert row["low"] < ramp < row["high"]


def test_pressure_over_the_mould_counts_by_its_root():
    one, four = (gk.works.nitrogen(HEAT, p).castable["low"].iloc[0] for p in (1.0, 4.0))
    assert four == pytest.approx(2 * one, rel=1e-12)
    with pytest.raises(gk.InputError, match="pressure"):
        gk.works.nitrogen(HEAT, 0.0)


def test_gradient_is_the_slope_of_the_castable_nitrogen():
    found = gk.works.nitrogen(HEAT)
    base = found.castable["low"].iloc[0]
    for element, slope in found.gradient.iloc[0].items():
        more = HEAT | {element: HEAT.get(element, 0.0) + 0.001}
        step = gk.works.nitrogen(more).castable["low"].iloc[0] - base
        assert slope == pytest.approx(1000 * step, rel=2e-3), element
    signs = np.sign(found.gradient.iloc[0])
    assert (signs[["Cr", "Mn", "Mo"]] > 0).all() and (signs[["Ni", "Si", "Cu", "C"]] < 0).all()


def verdict(plant, heat, **how):
    return step_table(gas, gk.as_batch(heat), plant, **how).set_index("check")


CHECK = "nitrogen that casts without pores"


def test_verdicts_follow_the_nitrogen(plant):
    ferrite = HEAT | {"Cr": 18.0, "Mn": 3.0}
    rows = [verdict(plant, ferrite | {"N": n}).loc[CHECK] for n in (0.12, 0.23, 0.26)]
    assert [r["verdict"] for r in rows] == ["ok", "caution", "stop"]
    assert "standard error" in rows[1]["reason"] and "buys" in rows[2]["reason"]
    assert all(r["status"] == "heuristic" for r in rows)
    assert [r["margin"] > 0 for r in rows] == [True, True, False]
    pressed = verdict(plant.changed(caster__pressure=3), ferrite | {"N": 0.26}).loc[CHECK]
    assert pressed["margin"] > 0 and pressed["verdict"] == "ok"
    assert "pN2_atm 3 is above the range" in pressed["reason"]


def test_undecided_mode_makes_caution_between_the_factors(plant):
    heat = HEAT | {"Ni": 3.6, "N": 0.32}
    castable = gk.works.nitrogen(heat).castable.iloc[0]
    assert castable["first"] == "undecided" and castable["low"] < 0.32 < castable["high"]
    row = verdict(plant, heat).loc[CHECK]
    assert row["verdict"] == "caution" and "undecided" in row["reason"]


# --- the published cases --------------------------------------------------------------------


PORES = reading("porosity_cases").set_index("case")
SLABS = "slabs of 16-18Cr N-alloyed austenitics"
COMMERCIAL = "EN 1.3820 by AOD and slab caster"
HIGH_MN = "Cr-Mn austenitics, atmospheric"
COLD = 1773 - 273.15  # the temperature at which the ratios of the table are taken
# Cases without an analysis: nothing to compute, they stand for the reader.
TOLD = {
    "AOD stainless",
    "low-Ni Cu grades, sealed induction",
    "Ti-bearing cast slabs",
}


def test_every_case_is_accounted_for():
    assert set(PORES.index) == TOLD | {SLABS, COMMERCIAL, HIGH_MN}


def test_slabs_that_pored_are_stopped_or_next_to_the_limit(plant):
    for steel in (
        dict(C=0.05, Si=0.4, Mn=1.4, Cr=18.0, Ni=9.0, N=0.205),
        dict(C=0.02, Si=0.5, Mn=1.5, Cr=17.0, Ni=12.0, Mo=2.5, N=0.205),
        dict(C=0.05, Si=0.4, Mn=1.4, Cr=16.0, Ni=7.0, N=0.205),
    ):
        row = verdict(plant, steel).loc[CHECK]
        assert row["verdict"] in ("caution", "stop") and "0.57 to 0.77" in row["reason"]


def test_ratio_of_the_pored_slabs_is_their_nitrogen_over_the_solubility():
    nitrogen = float(PORES.at[SLABS, "n_wt_pct"].removeprefix("> "))
    solubility = map(float, PORES.at[SLABS, "n_sat_1773k_wt_pct"].split("-"))
    ratios = sorted(round(nitrogen / n, 2) for n in solubility)
    printed = [float(r) for r in PORES.at[SLABS, "ratio"].split("-")]
    assert ratios == pytest.approx(printed, abs=0.006)


def test_the_solubility_of_the_commercial_case_is_as_tabulated():
    heat = {"C": 0.05, "Si": 0.4, "Mn": 10.0, "Cr": 19.0, "Ni": 0.8, "N": 0.5}
    found = gk.evaluate(
        heat, "n_solubility_recommended", temperature_C=COLD, pN2_atm=1
    ).values.iloc[0, 0]
    assert round(found, 2) == float(PORES.at[COMMERCIAL, "n_sat_1773k_wt_pct"]) == 0.53
    assert 0.5 / found == pytest.approx(float(PORES.at[COMMERCIAL, "ratio"]), abs=0.005)


# Steels that are cast every day, and one that the rule still refuses by a hair.
CAST = {
    "1.3820": dict(C=0.03, Si=0.4, Mn=10.0, Cr=19.0, Ni=0.5, N=0.5),
    "1.4565": dict(C=0.02, Si=0.3, Mn=6.0, Cr=24.3, Ni=17.3, Mo=4.5, N=0.46),
    "1.4529": dict(C=0.01, Si=0.3, Mn=0.8, Cr=20.5, Ni=25.0, Mo=6.5, N=0.2, Cu=0.9),
    "1.4547": dict(C=0.012, Si=0.4, Mn=0.6, Cr=20.0, Ni=18.0, Mo=6.1, N=0.2, Cu=0.7),
    "1.4835": dict(C=0.08, Si=1.6, Mn=0.6, Cr=21.0, Ni=11.0, N=0.17),
    "1.4410": dict(C=0.02, Si=0.3, Mn=0.8, Cr=25.1, Ni=7.0, Mo=4.0, N=0.28),
    "1.4372": dict(C=0.06, Si=0.4, Mn=6.5, Cr=17.0, Ni=4.5, N=0.18),
    "18Cr-18Mn-0.65N": dict(C=0.05, Si=0.4, Mn=18.0, Cr=18.0, Ni=0.2, N=0.65),
}


@pytest.mark.parametrize("grade", CAST)
def test_nitrogen_steels_that_are_cast_every_day_pass(plant, grade):
    row = verdict(plant, CAST[grade]).loc[CHECK]
    assert row["margin"] > 0 and row["verdict"] in ("ok", "caution")
    assert "extrapolated" in row["reason"], "their liquidus lies below 1500 °C"


def test_1_4652_is_refused_by_a_hair(plant):
    row = verdict(plant, dict(C=0.01, Si=0.3, Mn=3, Cr=24, Ni=22, Mo=7.3, N=0.5, Cu=0.5)).loc[CHECK]
    assert -0.03 < row["margin"] < 0.01


def test_nitrogen_far_above_is_stopped(plant):
    steel = dict(C=0.05, Si=0.4, Mn=1.4, Cr=18.2, Ni=8.1, N=0.45)
    assert verdict(plant, steel).at[CHECK, "verdict"] == "stop"


def test_bound_titanium_buys_no_room():
    steel = dict(C=0.015, Si=0.4, Mn=0.4, Cr=17.2, Ni=0.2, N=0.012)
    plain, bound = gk.works.nitrogen([steel, steel | {"Ti": 0.4, "Al": 0.05}]).castable["low"]
    assert bound < 0.22 and bound == pytest.approx(plain, rel=0.02)


# --- bubbles and hydrogen -------------------------------------------------------------------


def test_pressure_against_bubbles():
    p = pressure_against_bubbles(HEAT, (0.0, 0.3, 0.6, 0.9)).iloc[0]
    liquidus = gk.evaluate(HEAT, "liquidus_aymard_extended").values.iloc[0, 0]
    start = (0.18 / gk.evaluate(HEAT, "n_solubility_recommended", temperature_C=liquidus, pN2_atm=1)
             .values.iloc[0, 0]) ** 2  # fmt: skip
    assert p["ferrite, 0 solid"] == p["austenite, 0 solid"] == pytest.approx(start)
    for phase in ("ferrite", "austenite"):
        grows = [p[f"{phase}, {f:g} solid"] for f in (0.0, 0.3, 0.6, 0.9)]
        assert grows == sorted(grows)
    assert p["ferrite, 0.9 solid"] > p["austenite, 0.9 solid"]
    with pytest.raises(gk.InputError):
        pressure_against_bubbles(HEAT, (1.0,))


def test_hydrogen(plant):
    asked = verdict(plant, HEAT).loc["hydrogen"]
    assert asked["verdict"] == "not assessed" and "hydrogen_ppm" in asked["reason"]
    assert [verdict(plant, HEAT, hydrogen_ppm=h).at["hydrogen", "verdict"] for h in (4, 8)] == [
        "ok",
        "caution",
    ]
    held = float(asked["reason"].partition("balance with ")[2].split(" atm")[0])
    melt = gk.evaluate(HEAT, "h_solubility_1963", temperature_C=1600, pH2_atm=held).values
    assert melt.iloc[0, 0] * 1e4 == pytest.approx(6.0, rel=0.02)


def test_pages(plant):
    html = gk.works.nitrogen([HEAT])._repr_html_()
    assert "working rule" in html and "<caption>" in html
    assert CATALOGUE["n_margin_castable"].status == "heuristic"
