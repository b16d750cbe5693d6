"""The cold mill: martensite, hardening, forces, tempers."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest
from works_kit import step_table

import gradekit as gk
from gradekit.works.cold import cold_rolling
from gradekit.works.cold.cold_rolling import cold_schedule, tempers
from gradekit.works.cold.martensite import hardened, martensite, reduction_for, strain_of

PLANT = gk.read_plant("data/plant.csv")
TW188 = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "Mo": 0.2, "Cr": 18.2, "Ni": 8.1, "N": 0.05, "Cu": 0.3}
LEAN = {"C": 0.05, "Si": 0.4, "Mn": 7.0, "Mo": 0.1, "Cr": 17.3, "Ni": 4.2, "N": 0.19, "Cu": 1.5}
ORDER = {"cold_reduction_pct": 60, "strip_temperature_C": 20, "grain_size_astm": 8}


def row(check: str, steel=TW188, plant=PLANT, **conditions) -> pd.Series:
    table = step_table(cold_rolling, gk.as_batch(steel), plant, **conditions)
    return table[table["check"].str.contains(check)].iloc[0]


@pytest.mark.parametrize(
    ("celsius", "printed"), [(25, (0.11, 0.36, 0.61)), (60, (0.01, 0.06, 0.16))]
)
def test_martensite_is_that_of_the_worked_example(celsius, printed):
    found = martensite([0.3, 0.5, 0.7], celsius, -10)
    assert tuple(found.round(2)) == printed


def test_half_is_martensite_where_md30_says_so():
    assert float(martensite(0.30, -12.0, -12.0)) == pytest.approx(0.5, abs=1e-12)


def test_martensite_grows_with_strain_and_shrinks_with_temperature():
    assert (np.diff(martensite(np.linspace(0.05, 1.5, 40), 20, 0)) > 0).all()
    assert (np.diff(martensite(0.5, np.arange(-50, 150, 10), 0)) < 0).all()
    assert martensite(0.0, 20, 0) == 0


def test_the_worked_pass_comes_out():
    one = cold_schedule(PLANT, 3.0, 2.4).passes
    assert len(one) == 1
    assert round(one["stress_MPa"].iloc[0]) == 511
    assert round(one["force_MN"].iloc[0], 1) == 5.1
    assert round(one["radius_mm"].iloc[0]) == 69


def test_hardening_gives_650_after_a_fifth_and_turns_back():
    assert float(hardened(strain_of(20))) == pytest.approx(650, abs=5)
    assert reduction_for(hardened(strain_of([5, 20, 50]))) == pytest.approx([5, 20, 50])


def test_reductions_of_the_trade_agree_with_the_curve_within_six_points():
    for temper, (low, high) in {
        "1/4_hard": (12, 15), "1/2_hard": (25, 30), "3/4_hard": (35, 40), "full_hard": (45, 50),
    }.items():  # fmt: skip
        by_curve = float(reduction_for(tempers("304").at[temper, "rp02_min_mpa"]))
        assert low - 6 <= by_curve <= high + 6


def test_passes_follow_each_other_and_harder_strip_takes_more_stress():
    passes = cold_schedule(PLANT, 3.0, 1.0).passes
    assert passes["reduction_pct"].max() <= 20 + 1e-9
    assert passes["exit_mm"].iloc[-1] == pytest.approx(1.0)
    assert (np.diff(passes["stress_MPa"]) > 0).all()


def test_what_is_not_told_is_not_assessed():
    assert row("martensite")["verdict"] == "not assessed"
    assert row("roll force")["verdict"] == "not assessed"
    assert "cold_reduction_pct" in row("roll force")["reason"]


def test_magnetism_is_judged_with_the_spread_of_the_forms():
    found = row("martensite", **ORDER, martensite_max_pct=5)
    assert found["verdict"] == "caution"
    assert "forms" in found["reason"]
    warm = row("martensite", **(ORDER | {"strip_temperature_C": 200}), martensite_max_pct=5)
    assert warm["verdict"] == "ok"
    assert warm["value"] < found["value"]


def test_more_passes_are_taken_until_the_mill_has_the_force():
    found = row("roll force", **ORDER, hot_band_mm=2.5)
    assert found["value"] <= 8
    weak = row("roll force", **ORDER, hot_band_mm=2.5, plant=PLANT.changed(cold_mill__force_max=2))
    assert weak["verdict"] == "caution"


def test_delayed_cracking_of_lean_steel_rests_on_disputed_forms():
    found = row("delayed", LEAN, **ORDER)
    assert found["verdict"] == "caution"
    assert row("delayed", TW188)["verdict"] == "not assessed"


def test_a_temper_is_reached_or_refused_in_words():
    assert row("temper needs", temper="1/2_hard")["value"] == 30
    assert (
        row("temper needs", temper="1/2_hard", plant=PLANT.changed(cold_mill__reduction_max=20))[
            "verdict"
        ]
        == "stop"
    )
    with pytest.raises(gk.InputError, match="1/2_hard"):
        row("temper needs", temper="half hard")


def test_ferrite_is_magnetic_whatever_is_rolled():
    steel = {"C": 0.04, "Cr": 16.4, "Ni": 0.2, "N": 0.03, "Mn": 0.4, "Si": 0.3}
    assert row("magnetism", steel, martensite_max_pct=1)["verdict"] == "stop"


STARTS = {  # MPa: annealed proof strength, and the flow stress after 40 %, by family
    "austenitic, Mo": (200, 260, 800, 1000), "austenitic, Cr-Mn-N": (320, 400, 1000, 1250),
    "superaustenitic": (300, 360, 900, 1100), "duplex": (480, 600, 1050, 1250),
    "ferritic": (270, 330, 600, 750), "martensitic": (280, 380, 650, 800),
}  # fmt: skip


@pytest.mark.parametrize("kind", STARTS)
def test_every_family_hardens_by_its_own_curve(kind):
    low, high, low40, high40 = STARTS[kind]
    assert low <= float(hardened(0.002, kind)) <= high
    assert low40 <= float(hardened(strain_of(40), kind)) <= high40


def test_mill_force_is_that_of_the_steel():
    steels = {
        "304": dict(C=0.045, Si=0.45, Mn=1.3, Cr=18.2, Ni=8.1, N=0.05),
        "6Mo": dict(C=0.012, Si=0.4, Mn=0.6, Cr=20.0, Ni=18.0, Mo=6.1, N=0.2, Cu=0.7),
        "430": dict(C=0.045, Si=0.35, Mn=0.4, Cr=16.3, Ni=0.2, N=0.035),
        "2205": dict(C=0.02, Si=0.4, Mn=1.6, Cr=22.4, Ni=5.7, Mo=3.15, N=0.175),
    }
    table = gk.assess_route(pd.DataFrame(steels).T, PLANT, cold_reduction_pct=50)
    force = table[table["check"] == "roll force"].set_index("heat")["value"]
    assert force.nunique() == 4 and force["430"] < force["304"]
    alone = {k: cold_schedule(PLANT, 3.0, 2.0, passes=3, kind=k).passes["force_MN"].max()
             for k in ("austenitic", "duplex", "ferritic")}  # fmt: skip
    assert alone["ferritic"] < alone["austenitic"] < alone["duplex"]
    with pytest.raises(gk.InputError, match="nearest duplex"):
        cold_schedule(PLANT, 3.0, 2.0, kind="duplx")
