"""The charge: optimum against brute force, balances, what limits cost, why none exists."""

from itertools import combinations

import numpy as np
import pandas as pd
import pytest
from works_kit import step_table

import gradekit as gk
from gradekit.works.aims import aim_windows
from gradekit.works.melt import charge as charge_step
from gradekit.works.melt.cheapest import charge
from gradekit.works.melt.price_book import as_price_book, as_recoveries
from gradekit.works.melt.shop import make_shop
from gradekit.works.plant import as_plant

STEEL = {
    "C": (None, 0.03), "Si": 0.4, "Mn": (1.0, 1.5), "Cr": 18.1, "Ni": 8.05, "N": (0.04, 0.07),
    "P": (None, 0.035), "Cu": (None, 0.5), "Mo": (None, 0.5),
}  # fmt: skip


@pytest.fixture(scope="module")
def book(root):
    return as_price_book(root / "data" / "prices.csv")


@pytest.fixture(scope="module")
def kept(root):
    return as_recoveries(root / "data" / "recoveries.csv")


def small_book(**changes):
    rows = [
        # material, price, stock, C, Cr, Ni, P
        ("scrap", 1700, 600, 0.05, 18.0, 8.0, 0.030),
        ("iron", 400, 1000, 0.10, 0.0, 0.0, 0.020),
        ("chrome", 1200, 400, 7.0, 55.0, 0.0, 0.025),
        ("nickel", 20000, 200, 0.0, 0.0, 99.0, 0.001),
        ("pig", 2300, 300, 3.0, 2.0, 11.0, 0.035),
    ]
    frame = pd.DataFrame(
        rows, columns=["material", "price", "stock_max_kg_per_t", "C", "Cr", "Ni", "P"]
    )
    frame = frame.astype({"stock_max_kg_per_t": float, "price": float}).assign(
        kind="scrap", currency_unit="crown/t", price_basis="per t gross", Fe=np.nan
    )
    for material, cells in changes.items():
        for column, value in cells.items():
            frame.loc[frame["material"] == material, column] = value
    return frame


KEPT = pd.DataFrame(
    {"element": ["Fe", "C", "Cr", "Ni", "P"], "overall": [0.96, 1.0, 0.95, 0.98, 1.0],
     "eaf": np.nan, "aod": [0.99, np.nan, 0.98, 0.99, 1.0], "ladle": [1.0, 1.0, 0.98, 0.99, 1.0]}
)  # fmt: skip
SMALL = {"C": (None, 0.05), "Cr": (18.0, 19.0), "Ni": (8.0, 8.5), "P": (None, 0.030)}


def by_brute_force(frame, aim, carbon=0.05):
    """Least cost over all corners: every choice of active limits, solved and tested."""
    x = frame.set_index("material")
    iron = 100.0 - x[["C", "Cr", "Ni", "P"]].sum(axis=1)
    gain = {"Cr": x["Cr"] * 0.95, "Ni": x["Ni"] * 0.98, "P": x["P"] * 1.0}
    metal = sum(gain.values()) + iron * 0.96
    n = len(x)
    rows, ends = [], []
    for element, (low, high) in aim.items():
        if element == "C":
            rows.append(-x["C"].to_numpy()), ends.append(-carbon * 1000)
            continue
        if low is not None:
            rows.append(-gain[element].to_numpy()), ends.append(-low * 1000)
        if high is not None:
            rows.append(gain[element].to_numpy()), ends.append(high * 1000)
    rows += list(-np.eye(n)) + list(np.eye(n))
    ends += [0.0] * n + list(x["stock_max_kg_per_t"])
    a, b = np.array(rows), np.array(ends)
    equal, total = metal.to_numpy(), (1000.0 - 10 * carbon) * 100
    best = (np.inf, None)
    for active in combinations(range(len(a)), n - 1):
        system = np.vstack([equal, a[list(active)]])
        if abs(np.linalg.det(system)) < 1e-9:
            continue
        corner = np.linalg.solve(system, np.r_[total, b[list(active)]])
        if (a @ corner <= b + 1e-6 * np.maximum(1, abs(b))).all():
            cost = float(corner @ x["price"] / 1000.0)
            if cost < best[0]:
                best = (cost, corner)
    return best


@pytest.mark.parametrize(
    "changes, aim",
    [
        ({}, SMALL),
        ({"scrap": {"stock_max_kg_per_t": 200}}, SMALL),
        ({"nickel": {"price": 12000}}, SMALL),
        ({"chrome": {"P": 0.034}, "pig": {"P": 0.05}}, SMALL),
        ({}, SMALL | {"Cr": (17.0, 17.5), "Ni": (9.0, 9.0001)}),
        ({"iron": {"price": 1650}}, SMALL | {"P": (None, 0.0275)}),
    ],
)
def test_optimum_is_that_of_brute_force(changes, aim):
    frame = small_book(**changes)
    cost, corner = by_brute_force(frame, aim)
    found = charge(aim, frame, KEPT)
    assert found.feasible and np.isfinite(cost)
    assert found.cost == pytest.approx(cost, rel=1e-9)
    assert np.allclose(found.mix["kg_per_t"].reindex(frame["material"]), corner, atol=1e-6)


def test_demo_book_against_a_programme_written_from_the_files(root, book, kept):
    """The same task set up afresh from the two files, element by element."""
    from scipy.optimize import linprog

    prices = pd.read_csv(root / "data" / "prices.csv", comment="#").set_index("material")
    share = pd.read_csv(root / "data" / "recoveries.csv").set_index("element")
    elements = "C Si Mn P S Cr Ni Mo N Cu Nb Ti Al V Sn".split()
    late = [
        "lc_fecr_nitrided",
        "femn_nitrided",
        "fesi75",
        "fenb65",
        "feti70",
        "al_deox",
        "nitrogen",
    ]
    unasked = ["fenb65", "feti70", "fev80", "al_deox"]
    cost, kept_kg, carbon = [], {}, []
    for name, row in prices.iterrows():
        x = row[elements].fillna(0.0).astype(float)
        iron = row["Fe"] if pd.notna(row["Fe"]) else 100.0 - x.sum()
        gross = row["price"]
        if row["price_basis"] == "per t contained":
            gross *= x[row["price_element"]] / 100.0
        cost.append(gross / 1000.0)
        carbon.append(x["C"] / 100.0)
        for element, content in {**x, "Fe": iron}.items():
            r = share.loc[element]
            if name in late:
                use = r["ladle"] if pd.notna(r["ladle"]) else r["overall"]
            else:
                through = r["eaf"] * r["aod"] if pd.notna(r["eaf"] * r["aod"]) else r["overall"]
                use = through if pd.notna(r["aod"]) else 0.0
                if name == "hc_fecr" and pd.notna(r["aod"]):
                    use = r["aod"]  # it goes into the converter
            kept_kg.setdefault(element, []).append(content / 100.0 * use)
    kept_kg = {e: np.array(v) for e, v in kept_kg.items() if e != "C"}
    blown = np.array(carbon)
    ub, ends = [-blown], [-0.3]
    ub.append(np.where([n in late for n in prices.index], blown, 0.0)), ends.append(0.3)
    eq, at = [sum(kept_kg.values())], [999.7]
    for element, low, high in (("Mn", 10, 15), ("N", 0.4, 0.7), ("P", 0, 0.35), ("Cu", 0, 5),
                               ("Mo", 0, 5)):  # fmt: skip
        ub += [kept_kg[element], -kept_kg[element]]
        ends += [high, -low]
    for element, value in (("Si", 4.0), ("Cr", 181.0), ("Ni", 80.5)):
        eq.append(kept_kg[element]), at.append(value)
    most = [0.0 if n in unasked else m for n, m in prices["stock_max_kg_per_t"].items()]
    other = linprog(cost, A_ub=ub, b_ub=ends, A_eq=eq, b_eq=at,
                    bounds=[(0.0, m) for m in most], method="highs")  # fmt: skip
    assert other.success
    assert charge(STEEL, book, kept).cost == pytest.approx(other.fun, rel=1e-9)


def test_all_mass_is_accounted_for(book, kept):
    found = charge(STEEL, book, kept, consumed={"fesi75": 16.5}, fixed={"lime": 48.7})
    steel = found.steel
    assert steel["kept"].sum() == pytest.approx(1000.0, abs=1e-9 * 1000)
    assert np.abs(steel["charged"] - steel["kept"] - steel["lost"]).max() < 1e-9
    assert steel["charged"].sum() == pytest.approx(found.mix["kg_per_t"].sum(), rel=1e-12)
    assert (steel["lost"].drop("C") > -1e-9).all()
    assert found.cost == pytest.approx(found.mix["cost"].sum(), rel=1e-12)
    for element, window in aim_windows(STEEL).iterrows():
        got = steel.at[element, "forecast"]
        assert np.isnan(window["low"]) or got >= window["low"] - 1e-9
        assert np.isnan(window["high"]) or got <= window["high"] + 1e-9


def test_contents_of_each_material_sum_to_one(book):
    assert np.allclose(book.contents.sum(axis=1), 1.0, atol=1e-12)
    assert (book.contents >= -1e-12).all(axis=None)
    assert book.contents.at["nio_sinter", "rest"] == pytest.approx(0.23995, abs=1e-9)
    assert book.contents.at["scrap_mild", "rest"] == pytest.approx(0.0, abs=1e-12)


def test_what_is_consumed_brings_iron_but_no_silicon(book, kept):
    plain = charge(STEEL, book, kept)
    more = charge(STEEL, book, kept, consumed={"fesi75": 20.0})
    assert more.steel.at["Si", "forecast"] == pytest.approx(0.4, rel=1e-9)
    extra = more.mix.at["fesi75", "kg_per_t"] - plain.mix.at["fesi75", "kg_per_t"]
    assert extra == pytest.approx(20.0, abs=1e-6)
    assert 0 < more.cost - plain.cost < 20 * 1.35


# --- what limits cost -----------------------------------------------------------------------


def test_cost_of_a_limit_is_what_moving_it_saves(book, kept):
    found = charge(STEEL | {"Ni": (8.0, 8.5)}, book, kept)
    stated = found.steel.at["Ni", "cost_of_0.01"]
    moved = charge(STEEL | {"Ni": (8.01, 8.5)}, book, kept)
    assert stated > 1 and moved.cost - found.cost == pytest.approx(stated, rel=1e-3)
    assert found.steel.at["P", "cost_of_0.01"] == 0.0, "a limit that does not bind costs nothing"


def test_what_is_charged_stands_apart_from_what_is_not(book, kept):
    made = charge({"Cr": (18.0, 18.5), "Ni": (8.0, 8.5)}, book, kept)
    page = made._repr_html_()
    first, folded = page.split("<details>", 1)
    bought = made.mix["kg_per_t"] > 0
    assert all(
        name.replace("_", "_<wbr>") in first or name in first for name in made.mix.index[bought]
    )
    assert "Not charged" in folded and "Not charged" not in first and repr(made) == made.words


def test_price_at_which_a_material_enters(book, kept):
    found = charge(STEEL, book, kept)
    waiting = found.mix["enters_at"].dropna()
    prices = book.materials["price"]
    assert (waiting < prices[waiting.index] + 1e-9).all()
    name = "ni_cathode_class1"
    for factor, enters in ((1.001, False), (0.999, True)):
        table = book.materials.assign(
            price=prices.where(prices.index != name, waiting[name] * factor)
        )
        other = type(book)(table, book.contents, book.unknown, book.currency, book.note)
        assert (charge(STEEL, other, kept).mix.at[name, "kg_per_t"] > 1e-6) == enters


def test_one_more_kg_of_a_short_material(book, kept):
    found = charge(STEEL, book, kept)
    saves = found.mix["one_more_kg_saves"].dropna()
    assert "scrap_304_solids" in saves.index and (saves > 0).all()
    stock = book.materials["stock"].copy()
    stock["scrap_304_solids"] += 1.0
    other = type(book)(
        book.materials.assign(stock=stock), book.contents, book.unknown, "crown/t", ""
    )
    assert found.cost - charge(STEEL, other, kept).cost == pytest.approx(
        saves["scrap_304_solids"], rel=1e-6
    )


def test_least_co2_is_cleaner_and_dearer(book, kept):
    cheap, clean = (charge(STEEL, book, kept, minimise=m) for m in ("cost", "co2"))
    assert clean.co2 < cheap.co2 and clean.cost > cheap.cost
    assert not clean.no_factor, "a material without a factor is no clean one"
    assert clean.mix["enters_at"].isna().all()
    assert "nitrogen" in cheap.no_factor and "lower bound" in cheap._repr_html_()


# --- no charge ------------------------------------------------------------------------------


IMPOSSIBLE = STEEL | {"P": (None, 0.012)}


def test_clash_cannot_be_thinned_and_relief_is_enough(book, kept):
    found = charge(IMPOSSIBLE, book, kept)
    assert not found.feasible and np.isnan(found.cost)
    assert "P at most 0.012 wt%" in found.clash.index and found.words.startswith("No charge")
    give = found.clash.at["P at most 0.012 wt%", "gives way by"]
    assert found.clash.at["P at most 0.012 wt%", "unit"] == "wt%"
    assert charge(STEEL | {"P": (None, 0.012 + 1.0001 * give)}, book, kept).feasible
    assert not charge(STEEL | {"P": (None, 0.012 + 0.999 * give)}, book, kept).feasible


def test_every_member_of_a_clash_is_needed():
    frame = small_book()
    aim = SMALL | {"P": (None, 0.02)}
    clash = charge(aim, frame, KEPT).clash
    wide = {"Cr": (None, 30.0), "Ni": (None, 90.0), "P": (None, 5.0)}
    for words in clash.index:
        element = words.split()[0]
        if element in wide:
            assert charge(aim | {element: wide[element]}, frame, KEPT).feasible, words
    assert len(clash) >= 2


def test_stock_that_is_too_small_is_named():
    frame = small_book(chrome={"stock_max_kg_per_t": 50}, scrap={"stock_max_kg_per_t": 100})
    found = charge(SMALL, frame, KEPT)
    names = "; ".join(found.clash.index)
    assert "stock of chrome at most 50 kg/t" in names and "Cr at least 18" in names
    need = found.clash.at["stock of chrome at most 50 kg/t", "gives way by"]
    enough = small_book(chrome={"stock_max_kg_per_t": 50 + 1.0001 * need},
                        scrap={"stock_max_kg_per_t": 100})  # fmt: skip
    assert charge(SMALL, enough, KEPT).feasible
    assert "cannot be kept together" in found._repr_html_()


def test_carbon_that_the_furnace_may_hand_over(book, kept):
    free = charge(STEEL, book, kept)
    carbon = free.steel.at["C", "charged"] / 10.0
    tight = charge(STEEL, book, kept, carbon_max=0.6 * carbon)
    assert tight.feasible and tight.cost > free.cost
    late = tight.mix[tight.mix["where"] == "ladle"]["kg_per_t"] * book.contents["C"]
    assert tight.steel.at["C", "charged"] - late.sum() <= 6.0 * carbon + 1e-6


# --- aims, alloys, residuals ----------------------------------------------------------------


def test_what_a_single_number_means():
    got = aim_windows(
        {"Cr": 18.1, "Cu": 0.4, "Mo": 2.1, "P": 0.03, "Si": 0.4, "Ti": 0.3, "V": 0.05}
    )
    exact = set(got.index[got["low"].notna()])
    assert exact == {"Cr", "Mo", "Si", "Ti"} and (got["high"].notna()).all()
    table = pd.DataFrame({"min": [8.0], "max": [np.nan]}, index=["Ni"])
    assert aim_windows(table).loc["Ni", "low"] == 8 and np.isnan(
        aim_windows(table).loc["Ni", "high"]
    )


def test_an_alloy_that_nobody_asked_for_is_not_bought(book, kept):
    steel = {k: v for k, v in STEEL.items() if k != "Mo"}
    mix = charge(steel, book, kept).mix
    for material in ("femo_67", "fev80", "fenb65", "al_deox", "feti70"):
        assert mix.at[material, "kg_per_t"] == 0 and np.isnan(mix.at[material, "enters_at"])
    with_mo = charge(STEEL | {"Mo": 2.1}, book, kept)
    assert with_mo.mix.loc[["femo_67", "mo_oxide_tech", "scrap_316"], "kg_per_t"].sum() > 0
    assert with_mo.steel.at["Mo", "forecast"] == pytest.approx(2.1)


def test_what_the_converter_burns_counts_from_the_ladle_only(book, kept):
    shop = make_shop(book, kept)
    assert shop.kept.at["scrap_304_solids", "Si"] == 0
    assert shop.kept.at["fesi75", "Si"] == pytest.approx(0.75 * 0.9)
    assert shop.kept.at["scrap_304_solids", "P"] == pytest.approx(0.00032)
    ladle = set(shop.ladle.index[shop.ladle])
    assert {"fesi75", "fenb65", "feti70", "nitrogen", "femn_nitrided"} <= ladle
    assert not {"scrap_304_solids", "hc_fecr", "ni_cathode_class1", "simn"} & ladle


def test_phosphorus_of_a_mixed_charge_as_in_the_worked_example():
    """60 % scrap at 0.032 P, 25 % pig at 0.035, 13 % charge chrome at 0.022, 2 % other: 0.031."""
    frame = pd.DataFrame(
        {"material": ["scrap", "npi", "chrome", "other"], "P": [0.032, 0.035, 0.022, 0.0],
         "kind": "scrap", "price": 1.0, "currency_unit": "crown/t", "price_basis": "per t gross"}
    )  # fmt: skip
    lossless = pd.DataFrame({"element": ["Fe", "P"], "overall": [1.0, 1.0], "aod": [1.0, 1.0]})
    mix = {"scrap": 600, "npi": 250, "chrome": 130, "other": 20}
    made = charge({"P": (None, 0.05)}, frame, lossless, fixed=mix)
    assert round(made.steel.at["P", "forecast"], 3) == 0.031


def test_prices_of_a_contained_tonne(book):
    prices = book.materials["price"]
    assert prices["femo_67"] == pytest.approx(42000 * 0.67)
    assert prices["scrap_mild"] == 420
    assert book.currency == "crown/t" and "invented" in book.note


@pytest.mark.parametrize(
    "aim, how, words",
    [
        ({"Cr": (19, 18)}, {}, "low <= high"),
        ({"Cr": "much"}, {}, "Cr of the aim"),
        ({"Crx": 1}, {}, "chemical symbol"),
        ({"W": 2.0}, {}, "price book"),
        ({}, {}, "at least one element"),
        ({"Cr": 18}, {"fixed": {"scrap_305": 1}}, "row of the price book"),
        ({"Cr": 18}, {"fixed": {"scrap_316": -1}}, "from 0 up"),
        ({"Cr": 18}, {"minimise": "time"}, "minimise"),
        ([{"Cr": 18.0}, {"Cr": 17.0}], {}, "one steel"),
    ],
)
def test_bad_aims_are_refused(book, kept, aim, how, words):
    with pytest.raises(gk.InputError, match=words):
        charge(aim, book, kept, **how)


def test_an_element_without_analyses_is_said_not_judged(book, kept):
    found = charge(STEEL | {"Co": 0.1}, book, kept)
    assert any("Co is in no analysis" in n for n in found.not_known)
    assert any(n.startswith("V is not stated for") for n in found.not_known)


@pytest.mark.parametrize(
    "column, value, words",
    [
        ("price", "dear", "price of scrap"),
        ("price_basis", "per kg", "price_basis of scrap"),
        ("Cr", 120.0, "Cr of scrap"),
        ("material", "iron", "there once"),
        ("currency_unit", "thaler/t", "currency_unit"),
    ],
)
def test_a_bad_price_book_is_refused(column, value, words):
    frame = small_book().astype({column: object})
    frame.loc[0, column] = value
    with pytest.raises(gk.InputError, match=words):
        as_price_book(frame)


def test_bad_recoveries_are_refused():
    with pytest.raises(gk.InputError, match="between 0 and 1"):
        as_recoveries(KEPT.assign(overall=95.0))
    with pytest.raises(gk.InputError, match="existing"):
        as_recoveries("nowhere.csv")
    with pytest.raises(gk.InputError, match="recoveries"):
        charge(SMALL, small_book(), KEPT[KEPT["element"] != "Ni"])


# --- in the route ---------------------------------------------------------------------------


def rows(heat, plant, **how):
    return step_table(charge_step, gk.as_batch(heat), plant, **how).set_index("check")


def test_route_rows(root):
    data = root / "data"
    heat = gk.read_heats(data / "heats.csv").iloc[[20]]
    plant = gk.read_plant(data / "plant.csv")
    files = dict(prices=data / "prices.csv", recoveries=data / "recoveries.csv")
    table = rows(heat, plant, scrap_share_min_pct=99, **files)
    assert table.at["a charge exists", "verdict"] == "ok"
    assert "crown/t" in table.at["a charge exists", "reason"]
    assert table.at["a charge exists", "status"] == "invented"
    assert table.at["share of scrap", "verdict"] == "caution"
    assert table.at["residual Sn forecast", "value"] > 0
    assert rows(heat, plant).at["a charge exists", "verdict"] == "not assessed"


def test_residual_limits_grow_stricter(root):
    heat = {"C": 0.04, "Si": 0.4, "Cr": 18.0, "Ni": 8.0, "Mn": 1.0}

    def said(**more):
        table = rows(heat | more, as_plant(None))
        return [table.at[f"residual {e} of the analysis", "verdict"] for e in more]

    assert said(P=0.025, Cu=0.3, Sn=0.01) == ["ok"] * 3
    assert said(P=0.033, Cu=0.6) == ["ok"] * 2  # kept; the stricter of the usual limits is named
    assert said(P=0.05, Cu=0.9, Sn=0.03) == ["caution"] * 3
    table = rows(heat | {"Cu": 2.5}, as_plant(None))
    assert "residual Cu of the analysis" not in table.index, "an alloy, not a residual"


def test_copper_that_the_grade_asks_for_is_no_residual():
    sixmo = {"C": 0.012, "Si": 0.4, "Mn": 0.6, "Cr": 20.0, "Ni": 18.0, "Mo": 6.1, "Cu": 0.7}
    assert "residual Cu of the analysis" not in rows(sixmo, as_plant(None)).index
    plain = {"C": 0.04, "Si": 0.4, "Mn": 1.3, "Cr": 18.0, "Ni": 8.0, "Cu": 0.8}
    assert rows(plain, as_plant(None)).at["residual Cu of the analysis", "verdict"] == "caution"


def test_chromium_is_counted_by_where_it_is_charged(root):
    """Through the furnace 0.955 x 0.9825 is kept, into the converter 0.9825."""
    frame = small_book()
    kept = pd.DataFrame({"element": ["Fe", "C", "Cr", "Ni", "P"], "eaf": [1, 1, 0.955, 1, 1],
                         "aod": [1, 1, 0.9825, 1, 1], "overall": [1, 1, 0.96, 1, 1]})  # fmt: skip
    shares = {}
    for place in ("furnace", "converter"):
        own = frame.assign(added=np.where(frame["material"] == "chrome", place, ""))
        found = charge(SMALL, own, kept)
        assert found.mix.at["chrome", "where"] == place
        shares[place] = found.steel.at["Cr", "kept"] / found.steel.at["Cr", "charged"]
        line = next(w for w in found.not_known if "goes through the furnace" in w)
        brought = found.mix["kg_per_t"] * as_price_book(own).contents["Cr"]
        through = brought[found.mix["where"] == "furnace"].sum() / brought.sum()
        assert line.startswith(f"{100 * through:.0f} % of the chromium")
        assert f"{100 * shares[place]:.1f} % of all chromium is kept" in line
        assert shares[place] == pytest.approx(0.9825 * (0.955 * through + 1 - through))
    assert shares["furnace"] == pytest.approx(0.955 * 0.9825)
    assert shares["converter"] > shares["furnace"] + 0.01
    with pytest.raises(gk.InputError, match="converter"):
        charge(SMALL, frame.assign(added="ladel"), kept)
