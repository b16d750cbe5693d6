"""Physical properties by family: what the desk is asked beside strength and corrosion."""

import pandas as pd
import pytest

import gradekit as gk
from gradekit.core.sources import REFERENCE
from gradekit.families.kinds import kinds_of
from gradekit.properties.physical import physical_figures, physical_properties
from gradekit.relations.groups import FAMILIES, NOT_STAINLESS, STAYS_AUSTENITE

STEELS = {
    "304": dict(C=0.045, Si=0.45, Mn=1.3, Cr=18.2, Ni=8.1, N=0.05),
    "430": dict(C=0.045, Si=0.35, Mn=0.4, Cr=16.3, Ni=0.2, N=0.035),
    "2205": dict(C=0.02, Si=0.4, Mn=1.6, Cr=22.4, Ni=5.7, Mo=3.15, N=0.175),
    "410": dict(C=0.12, Si=0.4, Mn=0.5, Cr=12.3, Ni=0.3, N=0.03),
}


def test_what_every_desk_knows():
    table = physical_properties(pd.DataFrame(STEELS).T)
    assert table["magnetic"].str.startswith("yes").tolist() == [False, True, True, True]
    expansion = table["expansion_1e6_per_k"]
    assert expansion["430"] < expansion["2205"] < expansion["304"], "ferrite grows least"
    assert table.at["430", "conductivity_w_mk"] > 1.5 * table.at["304", "conductivity_w_mk"]
    assert (table["modulus_gpa"].between(190, 225)).all() and (table["status"] == "memory").all()
    assert kinds_of(gk.heats.as_batch(STEELS["304"])).iloc[0] == table.at["304", "kind"]


@pytest.mark.parametrize(
    "family", [*(f for f in FAMILIES if f not in NOT_STAINLESS), *STAYS_AUSTENITE]
)
def test_every_family_has_figures_that_lie_near_those_of_its_grades(family):
    own = physical_figures(pd.Series([family])).iloc[0]
    grades = pd.read_csv(REFERENCE / "service" / "physical.csv")
    assert grades["density_kg_m3"].min() <= own["density_kg_m3"] <= grades["density_kg_m3"].max()
    assert 9.5 <= own["expansion_1e6_per_k"] <= 17.5


def test_what_is_no_stainless_steel_has_none():
    assert physical_figures(pd.Series(["nickel alloy"])).isna().all(axis=None)
