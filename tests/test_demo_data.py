"""The demo data come out of their script byte for byte, and are what the script says they are."""

import runpy
import subprocess
import sys
from pathlib import Path

import numpy as np
import openpyxl
import pandas as pd
import pytest
from data_truth import TRUTH

DATA = Path(__file__).parents[1] / "data"
SCRIPT = DATA / "make_demo.py"
STATIC = {"questions.json", "works.toml", "make_demo.py", "README.md"}


@pytest.fixture(scope="module")
def law():
    return runpy.run_path(str(SCRIPT))


@pytest.fixture(scope="module")
def heats():
    return pd.read_csv(DATA / "heats.csv", dtype=str, keep_default_na=False)


@pytest.fixture(scope="module")
def lab():
    return pd.read_csv(DATA / "lab_tests.csv")


@pytest.fixture(scope="module")
def prices():
    return pd.read_csv(DATA / "prices.csv", comment="#").set_index("material")


def contents(heats: pd.DataFrame, element: str) -> pd.Series:
    """Read one column of heats.csv plainly: commas, ppm, and bounds as unknown."""
    numbers = pd.to_numeric(heats[element].str.replace(",", "."), errors="coerce")
    return numbers.where(numbers < 100, numbers * 1e-4)


def text_of(path: Path) -> str:
    if path.suffix == ".xlsx":
        rows = openpyxl.load_workbook(path).active.iter_rows(values_only=True)
        return "\n".join(str(cell) for row in rows for cell in row)
    return path.read_bytes().decode("cp1252" if "semicolon" in path.name else "utf-8-sig")


def test_the_script_writes_the_same_bytes_again(tmp_path):
    subprocess.run([sys.executable, "-I", str(SCRIPT), str(tmp_path)], check=True)
    again = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    assert again.keys() == {p.name for p in DATA.iterdir() if p.is_file()} - STATIC
    for name, content in again.items():
        assert content == (DATA / name).read_bytes(), name


def test_the_script_stands_alone():
    loads = [line for line in SCRIPT.read_text().splitlines() if "import " in line[:7]]
    loads += [line for line in SCRIPT.read_text().splitlines() if line.startswith("from ")]
    assert loads and not any("gradekit" in line for line in loads)


def test_every_file_says_that_it_is_invented_and_the_folder_is_small():
    paths = [path for path in DATA.iterdir() if path.is_file()]
    for path in paths:
        assert "invented" in text_of(path), path.name
    assert sum(path.stat().st_size for path in paths) < 150_000


def test_heats_have_one_twin_and_one_without_a_name(heats):
    assert 55 <= len(heats) <= 65
    counts = heats["heat"].value_counts()
    assert counts[""] == 1
    assert counts[counts > 1].tolist() == [2]
    assert heats["grade"].str.split().str[0].nunique() == 5


def test_heats_are_reported_as_certificates_are(heats, law):
    assert (pd.to_numeric(heats["N"], errors="coerce") > 100).sum() == len(law["PPM_ROWS"])
    cells = heats[law["HEAT_COLUMNS"]].to_numpy().ravel().tolist()
    assert {"", "n.d.", "<0.005"} <= set(cells)
    assert any("," in cell for cell in cells)


@pytest.mark.parametrize("element", ["C", "Si", "Mn", "Cr", "Ni", "Mo", "N"])
def test_scatter_of_the_heats_is_the_stated_one(heats, law, element):
    groups = contents(heats, element).groupby(heats["grade"].str.split().str[0])
    for practice in law["PRACTICES"][2:]:
        stated = practice["sd"].get(element, law["SD"][element])
        seen = groups.get_group(practice["grade"])
        # A sample of seven to twelve: the spread within a factor two, the mean within 3 errors.
        assert stated / 2.2 < seen.std() < 2 * stated
        assert abs(seen.mean() - practice["mean"][element]) < 3 * stated / len(seen) ** 0.5


def test_correlations_have_the_stated_sign(heats, law):
    group = heats["grade"].str.split().str[0]
    for (a, b), r in law["CORRELATION"].items():
        x, y = contents(heats, a), contents(heats, b)
        x, y = x - x.groupby(group).transform("mean"), y - y.groupby(group).transform("mean")
        scale = [v.groupby(group).transform("std") for v in (x, y)]
        seen = (x / scale[0]).corr(y / scale[1])
        assert abs(seen - r) < 0.35 and seen > 0, (a, b, seen)


def test_one_heat_only_misses_its_grade(heats):
    moly = heats[heats["grade"].str.startswith("TW-1812M")]
    assert (contents(moly, "Mo") < 2.0).sum() == 1
    lean = heats[heats["grade"].str.startswith("TW-201")]
    european = lean["grade"].str.contains("1.4372", regex=False)
    assert (european == (contents(lean, "P") <= 0.045)).all()
    basic = heats[heats["grade"].str.startswith("TW-188")]
    assert (basic["grade"].str.contains("304L") == (contents(basic, "C") <= 0.030)).all()
    assert contents(basic, "Ni").between(8.0, 10.0).all()
    assert contents(basic, "Cr").between(17.5, 19.5).all()


def test_lab_tests_are_joined_to_the_heats(heats, lab):
    assert 40 <= lab["heat"].nunique() <= 50
    assert set(lab["heat"]) <= set(heats["heat"]) and lab["laboratory"].nunique() == 3
    by_name = heats.drop_duplicates("heat").set_index("heat")
    for element in ["C", "Mn", "Cr", "N"]:
        plain = contents(by_name, element)[lab["heat"]].to_numpy()
        np.testing.assert_allclose(lab[element], plain, atol=1e-9)
    assert lab.groupby("heat").size().min() >= 2


def test_manganese_and_nitrogen_cannot_be_told_apart(lab):
    one = lab.drop_duplicates("heat")
    assert one["Mn"].corr(one["N"]) > 0.97
    cold = lab[lab["test_temperature_C"] == 20].groupby("heat").mean(numeric_only=True)
    terms = [cold[c] for c in ("C", "N", "Si", "Mn", "Mo")]
    terms.append((cold["grain_size_um"] / 1000) ** -0.5)
    x = np.column_stack([np.ones(len(cold)), *terms])
    coefficients, rest, *_ = np.linalg.lstsq(x, cold["proof_strength_MPa"], rcond=None)
    covariance = np.linalg.inv(x.T @ x) * rest[0] / (len(cold) - x.shape[1])
    error = np.sqrt(np.diag(covariance))
    assert error[2] > 150 and error[4] > 3  # N and Mn each hardly known,
    line = np.array([0, 0, 0.0205, 0, 1, 0, 0])  # but known along the works' own line
    assert np.sqrt(line @ covariance @ line) < 3
    assert abs(line @ coefficients - (0.0205 * 500 + 5)) < 3 * np.sqrt(line @ covariance @ line)


def test_tensile_tests_follow_the_stated_law(lab, law):
    cold = lab[lab["test_temperature_C"] == 20]
    rows = cold.to_dict("records")
    bias = [law["LABORATORIES"][row["laboratory"]] for row in rows]
    proof = [law["proof_strength"](row, row["grain_size_um"] / 1000) for row in rows]
    tensile = [law["tensile_strength"](row) for row in rows]
    pitting = [law["pitting_temperature"](row) for row in rows]
    for key, column, value, b in [
        ("proof", "proof_strength_MPa", proof, 0),
        ("tensile", "tensile_strength_MPa", tensile, 1),
        ("pitting", "pitting_temperature_C", pitting, 2),
    ]:
        rest = (cold[column] - value - [x[b] for x in bias]).dropna()
        stated = np.hypot(*law["SPREAD"][key])
        assert 0.6 * stated < rest.std() < 1.4 * stated, key
        assert abs(rest.mean()) < stated / 2, key


def test_the_law_of_the_proof_strength_stands_written_out(law):
    stated = pd.read_csv(DATA / "lab_tests_law.csv", index_col="term")["law"]
    heat, d_um = dict(C=0.05, N=0.15, Si=0.4, Mn=6.0, Mo=0.3), 20.0
    by_table = stated["constant"] + stated["grain_size_um^-0.5"] * d_um**-0.5
    by_table += sum(stated[el] * content for el, content in heat.items())
    assert by_table == pytest.approx(law["proof_strength"](heat, d_um / 1000), abs=0.01)
    told = " + ".join(f"{stated[el]:g} {el}" for el in heat)
    assert f"Rp0.2 = {stated['constant']:g} + {told} + " in law["__doc__"]  # in words too


def test_lab_tests_are_believable(lab):
    assert lab["pitting_temperature_C"].isna().mean() > 0.7
    cold = lab[lab["test_temperature_C"] == 20]
    assert (cold["tensile_strength_MPa"] > 1.5 * cold["proof_strength_MPa"]).all()
    assert cold["elongation_pct"].between(40, 65).all()
    hot = lab.groupby("test_temperature_C")["proof_strength_MPa"].mean()
    assert hot[20] > hot[100] > hot[200]


def test_price_book_agrees_with_the_element_prices(prices, law):
    elements = pd.read_csv(DATA / "element_prices.csv").set_index("element")
    for element, material in law["BOUGHT_AS"].items():
        row = prices.loc[material]
        gross = row["price_basis"] == "per t gross"
        share = row[element] / 100 if gross and element != "Fe" else 1
        assert elements["price_crown_per_t"][element] == pytest.approx(row["price"] / share, 1e-3)
    assert (prices["price_element"].isna() == (prices["price_basis"] == "per t gross")).all()
    assert set(prices["co2_status"]) <= {"verified", "memory", "conflicting", "not known"}
    assert (prices["co2_t_per_t"].isna() == (prices["co2_status"] == "not known")).all()


def test_a_lean_steel_can_be_fifteen_per_cent_cheaper(law):
    elements = pd.read_csv(DATA / "element_prices.csv").set_index("element")
    per_percent = elements["price_crown_per_t"] / (100 * elements["recovery"])

    def cost(**steel):
        steel["Fe"] = 100 - sum(steel.values())
        return sum(per_percent[element] * amount for element, amount in steel.items())

    own = cost(C=0.024, Si=0.45, Mn=1.40, Cr=18.12, Ni=8.19, N=0.056, Cu=0.39)
    lean = cost(C=0.05, Si=0.45, Mn=7.0, Cr=17.5, Ni=4.5, N=0.20, Cu=2.0)
    assert lean < 0.85 * own


def test_contents_of_the_charge_are_possible(prices, law):
    amounts = prices[law["CONTENTS"]]
    assert (amounts.fillna(0) >= 0).all().all() and (amounts.sum(axis=1) <= 100.2).all()
    recoveries = pd.read_csv(DATA / "recoveries.csv")
    stages = recoveries[["eaf", "aod", "ladle", "overall"]]
    assert ((stages > 0) & (stages <= 1) | stages.isna()).all().all()
    assert recoveries["overall"].notna().all()


def test_plant_has_one_number_a_row():
    plant = pd.read_csv(DATA / "plant.csv")
    assert plant["value"].dtype == float and plant.notna().all().all()
    assert not plant.duplicated(["step", "parameter"]).any()
    limits = plant.set_index(["step", "parameter"])["value"]
    for name in limits.index:
        step, parameter = name
        if parameter.endswith("_min") and (step, parameter[:-3] + "max") in limits.index:
            assert limits[name] < limits[step, parameter[:-3] + "max"], name
    for step in range(1, 5):
        oxygen = limits["converter", f"oxygen_to_inert_step_{step}"]
        pco = 2 * oxygen / (2 * oxygen + 1)
        assert limits["converter", f"pco_step_{step}"] == pytest.approx(pco, abs=5e-4)
    assert {"scatter", "analysis"} <= set(plant["step"])


def test_customers_are_the_four():
    customers = pd.read_csv(DATA / "customers.csv")
    assert customers["customer"].tolist() == [
        "Plumebrook Dairy",
        "Skerrow Desalination",
        "Halden & Wick Lifts",
        "Orrin Cutlery",
    ]
    assert (customers["thickness_mm"] > 0).all()


def test_certificates_have_their_quirks():
    raw = {name: (DATA / name).read_bytes() for name in TRUTH}
    with pytest.raises(UnicodeDecodeError):
        raw["certificate_semicolon.csv"].decode()
    assert raw["certificate_tabs.csv"].startswith(b"\xef\xbb\xbf")
    for name in TRUTH:
        text = text_of(DATA / name)
        assert all(heat in text for heat in TRUTH[name]), name
