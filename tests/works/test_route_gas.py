"""Nitrogen and hydrogen against every tabulated case, and what a change of composition buys."""

import numpy as np
import pytest

import gradekit as gk
from gradekit.relations import CATALOGUE
from gradekit.works.melt import gas
from gradekit.works.melt.gas import CASTING, pressure_against_bubbles
from gradekit.works.step import as_table
from gradekit.works.tables import process_table

CASES = process_table("nitrogen_checks")
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
    assert len(CASES) == 25


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
    found = gk.nitrogen(heats)
    ratio = found.castable["ratio"]
    assert found.castable["first"].tolist() == ["ferrite", "austenite", "austenite"]
    by_relation = gk.evaluate(heats, ["n_castable_by_mode", "n_margin_castable"]).values
    assert np.allclose(found.castable["low"], by_relation["n_castable_by_mode"], rtol=1e-12)
    assert np.allclose(found.castable["margin"], by_relation["n_margin_castable"], rtol=1e-9)
    assert (ratio.iloc[0] > 1.55) and (ratio.iloc[1:] < 1.43).all()


def test_both_factors_are_shown_where_the_mode_is_undecided():
    heat = HEAT | {"Ni": 5.2}
    row = gk.nitrogen(heat).castable.iloc[0]
    assert row["first"] == "undecided" and 1.43 < row["ratio"] <= 1.55
    assert row["high"] / row["low"] == pytest.approx(0.95 / 0.70, rel=0.05)
    ramp = gk.evaluate(heat, "n_castable_by_mode").values.iloc[0, 0]
    assert row["low"] < ramp < row["high"]


def test_pressure_over_the_mould_counts_by_its_root():
    one, four = (gk.nitrogen(HEAT, p).castable["low"].iloc[0] for p in (1.0, 4.0))
    assert four == pytest.approx(2 * one, rel=1e-12)
    with pytest.raises(gk.InputError, match="pressure"):
        gk.nitrogen(HEAT, 0.0)


def test_gradient_is_the_slope_of_the_castable_nitrogen():
    found = gk.nitrogen(HEAT)
    base = found.castable["low"].iloc[0]
    for element, slope in found.gradient.iloc[0].items():
        more = HEAT | {element: HEAT.get(element, 0.0) + 0.001}
        step = gk.nitrogen(more).castable["low"].iloc[0] - base
        assert slope == pytest.approx(1000 * step, rel=2e-3), element
    signs = np.sign(found.gradient.iloc[0])
    assert (signs[["Cr", "Mn", "Mo"]] > 0).all() and (signs[["Ni", "Si", "Cu", "C"]] < 0).all()


def verdict(plant, heat, **how):
    return as_table(gas.checks(gk.as_batch(heat), plant, **how)).set_index("check")


CHECK = "nitrogen that casts without pores"


def test_verdicts_follow_the_nitrogen(plant):
    ferrite = HEAT | {"Cr": 18.0, "Mn": 3.0}
    rows = [verdict(plant, ferrite | {"N": n}).loc[CHECK] for n in (0.12, 0.195, 0.23)]
    assert [r["verdict"] for r in rows] == ["ok", "caution", "stop"]
    assert "standard error" in rows[1]["reason"] and "buys" in rows[2]["reason"]
    assert all(r["status"] == "heuristic" and "working rule" in r["reason"] for r in rows)
    assert [r["margin"] > 0 for r in rows] == [True, True, False]
    pressed = verdict(plant.changed(caster__pressure=3), ferrite | {"N": 0.23}).loc[CHECK]
    assert pressed["margin"] > 0 and pressed["verdict"] == "ok"
    assert "pN2_atm 3 is above the range" in pressed["reason"]


def test_undecided_mode_makes_caution_between_the_factors(plant):
    heat = HEAT | {"Ni": 4.5, "N": 0.24}
    castable = gk.nitrogen(heat).castable.iloc[0]
    assert castable["first"] == "undecided" and castable["low"] < 0.24 < castable["high"]
    row = verdict(plant, heat).loc[CHECK]
    assert row["verdict"] == "caution" and "undecided" in row["reason"]


# --- the published cases --------------------------------------------------------------------


PORES = process_table("porosity_cases").set_index("case")
SLABS = "slabs of 16-18Cr N-alloyed austenitics"
COMMERCIAL = "EN 1.3820 by AOD and slab caster"
HIGH_MN = "Cr-Mn austenitics, atmospheric"
# Cases without an analysis: nothing to compute, they stand for the reader.
TOLD = {
    "AOD stainless",
    "low-Ni Cu grades, sealed induction",
    "Ti-bearing cast slabs",
}


def test_every_case_is_accounted_for():
    assert set(PORES.index) == TOLD | {SLABS, COMMERCIAL, HIGH_MN}


def test_slabs_that_pored_lie_above_the_factor_for_ferrite_or_next_to_it():
    low, high = map(float, PORES.at[SLABS, "ratio"].split("-"))
    assert low < 0.70 < high, "pores were seen from 0.65 up: the factor is not a safe one"


def test_ratio_of_the_pored_slabs_is_their_nitrogen_over_the_solubility():
    nitrogen = float(PORES.at[SLABS, "n_wt_pct"].removeprefix("> "))
    solubility = map(float, PORES.at[SLABS, "n_sat_1773k_wt_pct"].split("-"))
    ratios = sorted(round(nitrogen / n, 2) for n in solubility)
    printed = [float(r) for r in PORES.at[SLABS, "ratio"].split("-")]
    assert ratios == pytest.approx(printed, abs=0.006)


def test_a_steel_that_is_cast_commercially_is_refused(plant):
    """A miss of the working rule, kept in sight.

    1.3820 with 0.5 N is cast by AOD and slab caster. The solubility is as tabulated, and the
    austenite factor would let it pass just so; but by the Hammar-Svensson ratio, and by every
    other criterion, ferrite solidifies first, and the ferrite factor refuses it.
    """
    heat = {"C": 0.05, "Si": 0.4, "Mn": 10.0, "Cr": 19.0, "Ni": 0.8, "N": 0.5}
    found = gk.evaluate(
        heat, "n_solubility_recommended", temperature_C=CASTING, pN2_atm=1
    ).values.iloc[0, 0]
    assert round(found, 2) == float(PORES.at[COMMERCIAL, "n_sat_1773k_wt_pct"]) == 0.53
    assert 0.5 / found == pytest.approx(float(PORES.at[COMMERCIAL, "ratio"]), abs=0.005)
    assert 0.95 * found > 0.5
    assert gk.solidification(heat).first.iloc[0] == "ferrite"
    assert verdict(plant, heat).at[CHECK, "verdict"] == "stop"


def test_high_manganese_steels_pass_up_to_their_known_nitrogen(plant):
    heat = {"C": 0.05, "Si": 0.4, "Mn": 18.0, "Cr": 18.0, "Ni": 0.2, "N": 0.65}
    row = verdict(plant, heat).loc[CHECK]
    assert row["verdict"] in ("ok", "caution") and row["margin"] > 0
    ratio = 0.65 / (row["value"] / 0.95)
    low, high = map(float, PORES.at[HIGH_MN, "ratio"].split("-"))
    assert low <= ratio <= high


# --- bubbles and hydrogen -------------------------------------------------------------------


def test_pressure_against_bubbles():
    p = pressure_against_bubbles(HEAT, (0.0, 0.3, 0.6, 0.9)).iloc[0]
    start = (0.18 / gk.evaluate(HEAT, "n_solubility_recommended", temperature_C=CASTING, pN2_atm=1)
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
    html = gk.nitrogen([HEAT])._repr_html_()
    assert "working rule" in html and "<caption>" in html
    assert CATALOGUE["n_margin_castable"].status == "heuristic"
