"""A price list as relations: the sum by hand, the price book behind it, what is refused."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import gradekit as gk
from gradekit.design.prices import nickel_content

DATA = Path(__file__).resolve().parents[2] / "data"
PRICES = DATA / "element_prices.csv"


@pytest.fixture(scope="module")
def prices():
    return gk.read_prices(PRICES)


def test_cost_is_the_sum_over_every_element_of_content_times_price_over_recovery(prices):
    heat = {"C": 0.03, "Si": 0.45, "Mn": 1.4, "Cr": 18.1, "Ni": 8.1, "N": 0.05, "Cu": 0.4}
    rows = pd.read_csv(PRICES).set_index("element")
    contents = heat | {"Fe": 100.0 - sum(heat.values())}
    by_hand = sum(
        content / 100 * rows.at[e, "price_crown_per_t"] / rows.at[e, "recovery"]
        for e, content in contents.items()
    )
    assert gk.evaluate(heat, prices.cost).values.iloc[0, 0] == pytest.approx(by_hand, rel=1e-12)


def test_a_pound_price_of_charge_chrome_worked_by_hand():
    # 150 US cents a pound of chromium at 52 %: 1720 a tonne of alloy, 3307 a contained tonne.
    contained = 1.50 * 2.20462 * 1000
    assert contained * 0.52 == pytest.approx(1720, abs=0.5)
    table = pd.DataFrame(
        {"element": ["Fe", "Cr"], "price_usd_per_t": [0.0, contained], "recovery": 1.0, "date": "x"}
    )
    cost = gk.read_prices(table).cost
    assert cost.terms["Cr"] * 52 == pytest.approx(1720, abs=0.5)


def test_footprint_leaves_out_what_has_no_factor_and_says_so(prices):
    assert "N" not in prices.footprint.terms and "V" not in prices.footprint.terms
    assert "no factor at hand for N, V" in prices.footprint.note
    assert prices.footprint.terms["Ni"] == pytest.approx(14.0 / 0.985 / 100)


def test_invented_prices_are_loud_everywhere(prices):
    assert prices.invented and prices.warning.startswith("INVENTED PRICES")
    assert prices.cost.status == "invented" and prices.footprint.status == "invented"
    assert "INVENTED" in prices.cost.note and "INVENTED" in prices._repr_html_()
    own = pd.read_csv(PRICES).drop(columns=["note"])
    mine = gk.read_prices(own)
    assert not mine.invented and mine.cost.status == "given by the user"


def test_every_relation_of_a_list_keeps_its_own_check(prices):
    for relation in (*prices.relations.values(), nickel_content()):
        given = gk.evaluate(relation.check.composition, relation).values.iloc[0, 0]
        assert given == pytest.approx(relation.check.value, abs=relation.check.allowed)


def test_the_list_agrees_with_the_price_book_it_was_made_from(prices):
    """Each element priced as its source material, contained tonne by contained tonne."""
    for element, row in prices.table.iterrows():
        if row["source_material"] == "scrap_mild":
            continue  # paid as base metal, not by its own content
        again = prices.with_source(element, row["source_material"], DATA / "prices.csv")
        assert again.table.at[element, "price"] == pytest.approx(row["price"], abs=0.06), element
        if np.isfinite(row["co2"]):
            assert again.table.at[element, "co2"] == pytest.approx(row["co2"], abs=0.006), element


def test_nickel_from_pig_iron_costs_less_and_weighs_more(prices):
    npi = prices.with_source("Ni", "npi_high11", DATA / "prices.csv")
    assert npi.table.at["Ni", "price"] == 18600
    assert npi.table.at["Ni", "co2"] == pytest.approx(7.59 / 0.11)
    assert npi.table.at["Cr", "price"] == prices.table.at["Cr", "price"]
    assert prices.table.at["Ni", "price"] == 21000  # the first list is as it was


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"element": ["Fe", "Xx"]}, "element"),
        ({"element": ["Cr", "Cr"]}, "there once"),
        ({"price_crown_per_t": [420, "dear"]}, "price of Cr"),
        ({"price_crown_per_t": [420, -1]}, "price of Cr"),
        ({"recovery": [0.9, 0]}, "recovery of Cr"),
        ({"recovery": [0.9, 1.2]}, "recovery of Cr"),
        ({"recovery": [0.9, None]}, "recovery of Cr"),
    ],
)
def test_a_bad_cell_is_refused_with_its_place(change, words):
    good = {
        "element": ["Fe", "Cr"], "price_crown_per_t": [420, 2400], "recovery": [0.9, 0.9],
        "date": ["2026-10-01"] * 2,
    }  # fmt: skip
    with pytest.raises(gk.InputError, match=words):
        gk.read_prices(pd.DataFrame(good | change))


def test_a_list_without_its_columns_or_its_file_is_refused(tmp_path):
    with pytest.raises(gk.InputError, match="recovery"):
        gk.read_prices(pd.DataFrame({"element": ["Fe"]}))
    with pytest.raises(gk.InputError, match="existing file"):
        gk.read_prices(tmp_path / "none.csv")
    with pytest.raises(gk.InputError, match="a path or a table"):
        gk.read_prices(3)


def test_a_material_that_cannot_be_the_source_is_refused(prices):
    book = DATA / "prices.csv"
    with pytest.raises(gk.InputError, match="npi_high11"):
        prices.with_source("Ni", "npi_high", book)
    with pytest.raises(gk.InputError, match="holds Ni"):
        prices.with_source("Ni", "fenb65", book)
    with pytest.raises(gk.InputError, match="priced by its Mn"):
        prices.with_source("Mn", "hc_fecr", book)
