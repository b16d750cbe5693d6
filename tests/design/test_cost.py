"""A price list as relations: the sum by hand, the price book behind it, what is refused."""

from dataclasses import replace
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


# --- making counts ----------------------------------------------------------------------------

BOOK, WORKS = DATA / "prices.csv", DATA / "plant.csv"
FERRITIC = gk.Brief(
    {"C": (0, 0.08), "Si": (0.2, 1), "Mn": (0.3, 1), "Cr": (16, 18), "Ni": (0, 0.5), "N": (0, 0.05),
     "S": (0, 0.015), "P": (0, 0.04)},
    {"C + N": (None, 0.06)},
    within="1.4016",
)  # fmt: skip
AUSTENITIC = gk.Brief(
    {"C": (0, 0.03), "Si": (0.2, 1), "Mn": (0.5, 2), "Cr": (17.5, 19.5), "Ni": (8, 10.5),
     "N": (0, 0.1), "S": (0, 0.015), "P": (0, 0.045)},
    {"md30_nohara_1977": (-90, None), "ferrite_wrc_1992": (1, 14)},
    within="1.4307",
    conditions={"grain_size_astm": 6},
)  # fmt: skip


@pytest.fixture(scope="module")
def with_making():
    return gk.read_prices(PRICES, book=BOOK, plant=WORKS)


def test_an_aim_leaves_its_bound_where_making_says_so(prices, with_making):
    """Carbon and nitrogen share a limit: without making nitrogen falls to what a melt shop reaches,
    with it argon is dearer than the gas that takes carbon down."""
    before = gk.design_grade(FERRITIC, prices)
    after = gk.design_grade(FERRITIC, with_making)
    floor = next(c.bound for c in before.problem.constraints if c.label.startswith("N ≥ 0.01"))
    assert before.aim["N"] == pytest.approx(floor)
    assert after.proven and after.aim["N"] > floor + 0.005
    # no neighbour that keeps the limits is cheaper, counted in the very parts that are shown
    parts = {p.element: [] for p in after.problem.making}
    for part in after.problem.making:
        parts[part.element].append(part.line)
    total = lambda n: sum(  # noqa: E731
        float(line.value(x))
        for e, x in (("C", after.aim["C"] + after.aim["N"] - n), ("N", n))
        for line in parts[e]
    )
    assert total(after.aim["N"]) <= min(total(after.aim["N"] + d) for d in (-0.004, 0.004))


@pytest.mark.parametrize("brief", [FERRITIC, AUSTENITIC], ids=["linear", "curved"])
def test_the_parts_of_the_cost_add_up_to_it_and_say_their_evidence(brief, with_making):
    design = gk.design_grade(brief, with_making)
    parts = design.cost_parts
    assert parts["money"].sum() == pytest.approx(design.cost, rel=1e-9)
    assert design.cost == pytest.approx(design.solution.value, rel=1e-9)
    made = parts[parts.index.str.contains(": ")]
    assert made["money"].sum() == pytest.approx(design.making_cost, rel=1e-9)
    assert (made["evidence"] == "invented").all() and made["source"].ne("").all()
    alloys = gk.evaluate(design.aim.to_dict(), with_making.cost).values.iloc[0, 0]
    assert alloys + made["money"].sum() == pytest.approx(design.cost, rel=1e-9)
    page = design._repr_html_()
    assert "What it costs, in parts" in page and "of it making" in page
    # the demo works states no sulphur before reduction: said where the figure would stand
    assert "bath_sulphur_start" in parts.loc["making", "counted"]


def test_without_a_price_book_the_cost_is_that_of_the_alloys_and_says_so(prices):
    design = gk.design_grade(FERRITIC, prices)
    assert design.cost == pytest.approx(design.solution.value) and np.isnan(design.making_cost)
    assert "no price book was given" in design.cost_parts.loc["making", "counted"]


def test_shadow_prices_hold_where_making_counts(with_making):
    """The price of the joint limit is what tightening it really costs."""
    design = gk.design_grade(FERRITIC, with_making, confidence=None)
    price = design.limits.loc["C + N ≤ 0.06", "shadow price"]
    tighter = gk.design_grade(FERRITIC.but(limits={"C + N": (None, 0.0599)}), with_making,
                              confidence=None)  # fmt: skip
    assert tighter.cost - design.cost == pytest.approx(1e-4 * price, rel=1e-3) and price > 50
    span = design.shadow_prices.loc["C + N ≤ 0.06", ["holds from", "holds to"]]
    assert span["holds from"] <= 0.06 <= span["holds to"]


def test_other_ways_and_the_curve_of_two_aims_count_the_making(with_making):
    design = gk.design_grade(FERRITIC, with_making)
    ways = design.alternatives(elements=("N",)).table
    assert (ways["more"] >= -1e-6).all() and (ways["more"] <= 0.0501 * design.cost).all()
    curve = design.front("C", points=4).table
    assert curve["cost"].is_monotonic_increasing and curve["C"].iloc[-1] < curve["C"].iloc[0]
    assert curve["cost"].iloc[0] == pytest.approx(design.cost, rel=1e-6)


def test_a_second_aim_may_ask_for_elements_that_the_brief_does_not_use():
    """The footprint counts cobalt; a brief of nickel alone has never heard of it."""
    prices = gk.read_prices(DATA / "element_prices.csv")
    design = gk.design_grade(gk.Brief({}, within="316L", minimise="nickel"), prices)
    assert "Co" not in design.brief.variables
    assert len(design.front("co2", points=3).table) >= 1


@pytest.mark.parametrize(("day", "plain"), [("2026-10-01", True), ("1 October", False)])
def test_a_price_list_says_where_its_date_is_none(day, plain):
    rows = {"element": ["Fe"], "price_crown_per_t": [420], "recovery": [1], "date": day}
    listed = gk.read_prices(pd.DataFrame(rows))
    assert listed.date == day and plain == (not listed.remarks)
    assert plain or "'1 October'" in listed._repr_html_().replace("&#x27;", "'")


def test_no_element_comes_for_nothing(prices):
    """A material without a price, or an element that is not in the list, is refused in words."""
    book = pd.read_csv(DATA / "prices.csv", comment="#")
    blank = book.assign(price=book["price"].where(book["material"] != "npi_high11"))
    for asked in ((blank, None), (book, np.nan)):
        with pytest.raises(
            gk.InputError, match="price of npi_high11 · must be a number, 0 or more"
        ):
            prices.with_source("Ni", "npi_high11", *asked)
    with pytest.raises(gk.InputError, match="must be one of the price list · got 'W'"):
        prices.with_source("W", "npi_high11", book.assign(W=3.0))
    unknown = replace(prices, table=prices.table.assign(price=np.nan))
    assert np.isnan(list(unknown.cost.terms.values())).all()


def test_a_list_that_is_read_takes_up_a_book_and_a_plant(prices):
    assert gk.read_prices(prices) is prices
    told = gk.read_prices(prices, book=DATA / "prices.csv", plant=DATA / "plant.csv")
    assert prices.book is None and prices.plant is None
    assert told.book is not None and told.plant is not None
    assert gk.read_prices(told, plant=DATA / "plant.csv").book is told.book
    assert told.cost.terms == prices.cost.terms
