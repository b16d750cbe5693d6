"""The brief at the border, ranges, several relations and grades, other ways, and what is shown."""

import re

import numpy as np
import pandas as pd
import pytest
from design_kit import DATA, WORKS, as_rows, random_brief
from openpyxl import load_workbook
from scipy.optimize import linprog

import gradekit as gk
from gradekit.design.sketches import curve


@pytest.fixture(scope="module")
def works():
    scatter = gk.heats.read_scatter(DATA / "plant.csv")
    return gk.design_grade(gk.Brief(**WORKS), DATA / "element_prices.csv", scatter, window_sd=0)


# --- the border ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (dict(bounds=[("Ni", 1)]), "by element"),
        (dict(bounds={"Xx": (0, 1)}), "chemical symbol"),
        (dict(bounds={"Ni": (5, 4)}), "low not above high"),
        (dict(bounds={"Ni": (0, 101)}), "between 0 and 100"),
        (dict(bounds={"Ni": "4.5"}), "None for an open end"),
        (dict(bounds={}), "at least one element"),
        (dict(limits={"pren16n": (19, None)}), "nearest pren_16n"),
        (dict(limits={"pren_16n": 19}), "None for an open end"),
        (dict(limits={"pren_16n": (None, None)}), "at least one end"),
        (dict(limits={"pren_16n": (np.nan, None)}), "of numbers, None for"),
        (dict(limits={"pren_16n + foo": (1, None)}), "foo"),
        (dict(limits={"md30_nohara_1977": (None, 0)}), "grain_size_astm"),
        (dict(limits={"cpt_g48": (None, 0)}, bounds={"Ni": (0, 4)}), "given for Cr"),
        (dict(within="1.9999"), "EN number"),
        (dict(minimise="kost"), "nearest cost"),
        (dict(minimise={}), "at least one weight"),
        (dict(minimise=("cost", "nickel", "co2", "cost")), "one aim, two or three"),
        (dict(conditions={"grain": 7}), "nearest grain_size"),
        (dict(robust_over="all"), "'spread' or None"),
    ],
)
def test_a_wrong_brief_is_refused_at_once(given, words):
    bounds = {"Cr": (16, 20), "Ni": (1, 8), "C": 0.05, "N": (0, 0.2), "Mo": (0, 1)}
    with pytest.raises(gk.InputError, match=words):
        gk.Brief(**({"bounds": bounds, "minimise": "nickel"} | given))


def test_three_aims_are_for_a_screening():
    three = gk.Brief({"Cr": (16, 20), "Ni": (1, 8)}, minimise=({"Ni": 1.0}, {"Cr": 1.0}, "nickel"))
    with pytest.raises(gk.InputError, match=r"gk\.screen takes three"):
        gk.design_grade(three)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (dict(confidence=1.0), "from 0.5 to below 1"),
        (dict(confidence="95"), "a number such as 0.95"),
        (dict(window_sd=-1), "0 or more"),
        (dict(scatter={"Cr": "wide"}), "standard deviation"),
        (dict(prices="nowhere.csv"), "existing file"),
    ],
)
def test_a_wrong_demand_of_certainty_is_refused(given, words):
    brief = gk.Brief({"Cr": (16, 20)}, minimise={"Cr": 1.0})
    with pytest.raises(gk.InputError, match=words):
        gk.design_grade(brief, **given)
    with pytest.raises(gk.InputError, match=r"gk\.Brief"):
        gk.design_grade({"Cr": (16, 20)})


def test_an_element_without_a_price_is_refused_instead_of_being_free():
    brief = gk.Brief({"Cr": (16, 20), "W": (0, 2)}, {"Cr + W": (18, None)})
    with pytest.raises(gk.InputError, match="has W"):
        gk.design_grade(brief, DATA / "element_prices.csv")


# --- ranges, spreads, grades --------------------------------------------------------------------


def test_the_search_stays_where_the_relations_claim_to_hold(works):
    # no relation of Md30 holds for Cr-Mn-N steel: all are guides, and the first line says so
    guides = set(gk.catalogue("Md30").index)
    assert set(works.brief.asked("md30_nohara_1977").guides) == guides
    assert not any("the range" in f for f in works.flags if f.split(":")[0] not in guides)
    flags = works.result.flags.loc["aim"].drop(guides)
    assert not (flags & int(gk.Flag.ABOVE_RANGE | gk.Flag.BELOW_RANGE)).any()
    assert (works.limits["kind"] == "range").sum() >= 6


def test_outside_the_range_every_answer_carries_the_flag():
    bounds = {"C": (0.0, 0.3), "Cr": 17.0, "Ni": (8, 9), "Mn": 1.0, "Si": 0.5, "N": 0.05}
    asked = {"ms_eichelman_1953": (None, -300)}
    kept = gk.design_grade(gk.Brief(bounds, asked, minimise="nickel"), confidence=None)
    assert not kept.feasible
    assert "range of ms_eichelman_1953" in " ".join(kept.conflict.members["origin"])
    free = gk.Brief(bounds, asked, minimise="nickel", stay_in_range=False)
    left = gk.design_grade(free, confidence=None)
    assert left.feasible
    assert "0.15" in left.limits.loc["ms_eichelman_1953 ≤ −300", "flags"]
    assert "0.15" in left._repr_html_()


def test_robust_over_the_spread_asks_every_relation_of_the_quantity():
    bounds = {"C": (0.02, 0.08), "Cr": (16, 19), "Ni": (2, 10), "Mn": (1, 8), "Si": 0.5, "N": 0.1,
              "Mo": 0.2}  # fmt: skip
    plain = gk.Brief(bounds, {"md30_angel_1954": (None, 0)}, minimise="nickel")
    one = gk.design_grade(plain, confidence=None)
    every = gk.design_grade(plain.but(robust_over="spread"), confidence=None)
    names = ["md30_angel_1954", "md30_gladman_1974", "md30_sjoberg_1973"]
    values = gk.evaluate(every.aim.rename("a"), names).values.loc["a"]
    assert (values <= 1e-6).all() and values.max() == pytest.approx(0, abs=1e-6)
    assert gk.evaluate(one.aim.rename("a"), names).values.loc["a"].max() > 5
    assert every.cost >= one.cost
    told = [n for n in every.problem.notes if "md30_nohara_1977" in n]
    assert "grain_size_astm not given" in told[0]
    by_quantity = gk.Brief(bounds, {"Md30": (None, 0)}, minimise="nickel")
    assert gk.design_grade(by_quantity, confidence=None).cost == pytest.approx(every.cost)


def test_dual_certification_keeps_every_window_and_rule():
    brief = gk.Brief(
        {"Ti": (0, 0.7), "C": (0.03, 0.08), "N": (0.01, 0.03)}, {"C": (0.04, None)},
        within=("1.4541", "S32100"), minimise="cost",
    )  # fmt: skip
    found = gk.design_grade(brief, DATA / "element_prices.csv", confidence=None)
    assert found.feasible
    assert found.aim["Ti"] == pytest.approx(5 * (found.aim["C"] + found.aim["N"]), abs=1e-7)
    for name in ("1.4541", "S32100"):
        frame = gk.standards.window(name).set_index("element")
        for element, row in frame.iterrows():
            if element in found.aim.index:
                assert not found.aim[element] < row["min"] - 1e-9
                assert not found.aim[element] > row["max"] + 1e-9


def test_a_fitted_or_own_relation_may_be_limited_without_being_in_the_catalogue():
    own = gk.relations.Linear(
        name="works_strength", title="Proof strength of the works", quantity="proof strength",
        unit="MPa", terms={"N": 500.0, "C": 330.0}, intercept=200.0, status="fitted by the user",
        source=("lab tests",), check=gk.relations.Check({"C": 0.05, "N": 0.1}, 266.5), error=9.0,
    )  # fmt: skip
    brief = gk.Brief({"C": (0.02, 0.08), "N": (0, 0.3)}, {own: (280, None)}, minimise={"N": 1.0})
    found = gk.design_grade(brief, confidence=None)
    assert found.aim["N"] == pytest.approx((80 - 330 * 0.08) / 500)
    assert found.limits.loc["works_strength ≥ 280", "status"] == "fitted by the user"


# --- other ways ---------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(4))
def test_the_front_of_a_linear_brief_is_exact(seed):
    rng = np.random.default_rng(seed)
    brief = random_brief(rng, elements=6, limits=4, tight=3.0)
    found = gk.design_grade(brief, confidence=None)
    other = {e: float(rng.uniform(-1, 1)) for e in brief.variables}
    curve = found.front(other, points=12)
    assert curve.exact and len(curve.table) == 12
    cost, rows, ends, box = as_rows(brief)
    side = np.array([other[e] for e in brief.variables])
    a, b = curve.table.iloc[:, 0].to_numpy(), curve.table.iloc[:, 1].to_numpy()
    for value, cap in zip(a, b, strict=True):
        best = linprog(
            cost, A_ub=np.vstack([rows, side]), b_ub=np.append(ends, cap + 1e-7), bounds=box,
            method="highs-ipm",
        )  # fmt: skip
        assert value == pytest.approx(best.fun, rel=1e-5, abs=1e-5)
    assert (np.diff(a) >= -1e-6).all() and (np.diff(b) <= 1e-6).all()
    assert a[0] == pytest.approx(found.cost, rel=1e-6)
    least = linprog(side, A_ub=rows, b_ub=ends, bounds=box, method="highs-ipm").fun
    assert b[-1] == pytest.approx(least, rel=1e-5, abs=1e-5)
    # A front of a linear brief is convex.
    slope = np.diff(a) / np.minimum(np.diff(b), -1e-9)
    assert (np.diff(slope) <= 1e-4 * np.abs(slope).max()).all()


def test_the_front_of_cost_and_footprint(works):
    curve = works.front("co2", points=6)
    assert not curve.exact and "local optima" in curve.words
    a, b = curve.table["alloy_cost"], curve.table["co2_footprint"]
    assert (a.diff().dropna() >= -1e-3).all() and (b.diff().dropna() <= 1e-6).all()
    page = curve._repr_html_()
    assert "<img alt=" in page and "INVENTED" in page


def test_alternatives_differ_in_kind_and_name_their_weak_point(works):
    ways = works.alternatives(allowed=0.06, elements=("N", "Cu", "Mn", "Ni"))
    assert "the best" in ways.table.index and len(ways.table) + len(ways.left_out) == 5
    assert len(ways.table) >= 2
    best = ways.table.loc["the best"]
    for name, row in ways.table.iterrows():
        assert row["weak point"]
        assert row["objective"] <= 1.06 * works.solution.value + 1e-3
        if name != "the best":
            element = {"nitrogen": "N", "copper": "Cu", "manganese": "Mn", "nickel": "Ni"}[
                name.split()[0]
            ]
            assert row[element] > best[element] + 0.05 * max(best[element], 0.01)
            aim = row[list(works.brief.variables)].astype(float)
            values = gk.evaluate(
                pd.DataFrame([aim]), list(works.brief.limits), **works.brief.conditions
            ).values.iloc[0]
            for key, (low, high) in works.brief.limits.items():
                assert low is None or values[key] >= low
                assert high is None or values[key] <= high
    assert "weak point" in ways._repr_html_()


def test_a_way_beyond_the_works_experience_says_so():
    brief = gk.Brief(**WORKS)
    scatter = gk.heats.estimate_scatter(DATA / "heats.csv", otherwise=DATA / "plant.csv")
    found = gk.design_grade(brief, DATA / "element_prices.csv", scatter, relation_error=False)
    weak = found.alternatives(allowed=0.08, elements=("Cu",)).table["weak point"]
    assert "beyond the works' experience: " in weak["copper route"] and "Cu" in weak["copper route"]


# --- what is shown ------------------------------------------------------------------------------


def test_the_first_line_says_whether_and_how_surely(works):
    page = works._repr_html_()
    caution, met = re.findall(r'class="lead">([^<]*)</p>', page)
    assert caution.startswith("Caution: Md30 cannot be promised: none of 4 relations holds for")
    assert len(caution) < 140 and met.startswith("Met in part: ") and len(met) < 120
    assert works.headline == f"{caution} {met}" and works.verdict == "caution"
    assert "Of 20,000 virtual heats " in page
    md30 = works.rivals[works.rivals["limit"] == "md30_nohara_1977"]
    assert not md30["holds"].any() and md30["inside"].all()
    assert md30["why not"].str.startswith("outside its range: Ni ").all()
    assert repr(works).splitlines()[0] == works.headline
    assert "<script" not in page and page.count("<caption>") >= 4
    for words in ("INVENTED PRICES", "not a certificate", "assumed zero", "Route: ", "Scatter: "):
        assert words in page and words in repr(works), words
    assert len(page) < 60_000


def test_published_error_and_heat_scatter_stand_apart_in_the_table(works):
    row = works.limits.loc["md30_nohara_1977 ≤ 20"]
    assert row["relation error"] == 18 and 3 < row["heat scatter"] < 8
    assert row["guard band"] == pytest.approx(
        1.6449 * np.hypot(row["relation error"], row["heat scatter"]), rel=1e-4
    )
    assert works.limits.loc["ferrite_wrc_1992 ≤ 16", "status"] == "reconstruction"


def test_the_sheet_stands_beside_the_grade_and_its_product_tolerances(works):
    row = works.sheet.loc["Ni"]
    assert (row["grade min"], row["grade max"], row["tolerance above"]) == (2.0, 4.5, 0.07)
    low = float(row["min"])
    high = float(row["max"])
    assert row["reserve"] == pytest.approx(min(low - 2.0, 4.5 - high) / 0.07)
    assert (works.sheet["reserve"].dropna() >= 0).all()


def test_the_melt_shop_sheet_is_written_as_a_workbook_and_as_a_page(works, tmp_path):
    path = works.export(tmp_path / "sheet.xlsx")
    book = load_workbook(path)
    assert book.sheetnames == ["aim and window", "limits", "certainty", "shadow prices", "notes"]
    sheet = book["aim and window"]
    assert sheet["A1"].value == works.headline
    rows = {r[0]: r for r in sheet.iter_rows(min_row=4, values_only=True)}
    assert rows["Cr"][1:4] == tuple(map(float, works.sheet.loc["Cr", ["min", "aim", "max"]]))
    written = works.sheet["min"].to_dict()
    for label, cell in zip(sheet["A"][3:], sheet["B"][3:], strict=True):
        decimals = len(written[label.value].partition(".")[2])
        assert cell.number_format == f"{0:.{decimals}f}", label.value
    assert sheet.freeze_panes == "B4" and sheet.page_setup.orientation == "landscape"
    assert sheet["A1"].font.bold and sheet["B3"].font.bold and not sheet["B4"].font.bold
    assert any("INVENTED" in str(r[1]) for r in book["notes"].iter_rows(values_only=True))
    page = works.export(tmp_path / "sheet.html").read_text("utf-8")
    assert page.startswith("<!DOCTYPE html>") and works.headline in page
    assert "<script" not in page and "http:" not in page.replace("http://www.w3.org", "")
    with pytest.raises(gk.InputError, match=r"\.xlsx or \.html"):
        works.export(tmp_path / "sheet.pdf")


def test_a_hostile_name_stays_text(tmp_path):
    brief = gk.Brief({"Cr": (16, 20)}, minimise={"Cr": 1.0}, name="=1+1<script>alert(1)</script>")
    found = gk.design_grade(brief, scatter={"Cr": 0.1})
    page = found.export(tmp_path / "a.html").read_text("utf-8")
    assert "<script" not in page and "<script" not in brief._repr_html_()


def test_a_brief_shows_what_is_wanted():
    brief = gk.Brief(**WORKS)
    page = brief._repr_html_()
    assert "TW-18L" in page and "pren_16n" in page and "1.4376 (EN 10088-2:2014)" in page
    assert "Ni ≥ 0 and ≤ 4.5" in repr(brief)
    first, folded = page.split("<details>")
    assert "window of 1.4376" in folded and "window of" not in first and "austenitic: " in folded


def test_the_numbers_of_an_axis_are_round_and_no_two_read_the_same():
    drawn = curve(np.array([1814.0, 1895.0]), np.array([2.748, 2.760]), "cost", "CO2", "a curve")
    numbers = [node.text for node in drawn.iter("text") if node.text not in ("cost", "CO2")]
    assert numbers == ["1825", "1850", "1875", "2.75", "2.755", "2.76"]
