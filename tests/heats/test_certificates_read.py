"""The awkward demo certificates are read as a person reads them."""

from pathlib import Path

import data_truth
import pandas as pd
import pytest
from data_truth import TRUTH

import gradekit as gk
from gradekit.heats.certificates.cells import claims
from gradekit.heats.notes import notes_of

DATA = Path(__file__).resolve().parents[2] / "data"
NOT_DETECTED = {"", "-", "n.d.", "tr"}


def said(batch: pd.DataFrame, heat: str, element: str) -> object:
    """Return what a batch says of a content in the form of the truth."""
    mark = gk.heats.bounds(batch).at[heat, element]
    value = batch.at[heat, element]
    if mark.startswith("<"):
        assert value == float(mark[1:])
        return mark
    if pd.isna(value):
        assert mark in NOT_DETECTED
        return None
    assert mark == ""
    return float(value)


@pytest.mark.parametrize("name", TRUTH)
def test_every_content_is_the_printed_one(name):
    batch = gk.read_heats(DATA / name)
    for heat, contents in TRUTH[name].items():
        assert {e: said(batch, heat, e) for e in contents} == contents, heat


@pytest.mark.parametrize("name", [n for n in TRUTH if n != "heats.csv"])
def test_nothing_else_was_taken_for_an_analysis(name):
    batch = gk.read_heats(DATA / name)
    product = {f"{heat} (product)" for heat in data_truth.PRODUCT.get(name, {})}
    assert set(batch.index) == set(TRUTH[name]) | product
    assert set(batch) == {e for contents in TRUTH[name].values() for e in contents}


@pytest.mark.parametrize("name", data_truth.PRODUCT)
def test_product_analyses_are_told_from_ladle_analyses(name):
    batch = gk.read_heats(DATA / name)
    kinds = gk.about(batch)["analysis"]
    for heat, contents in data_truth.PRODUCT[name].items():
        product = f"{heat} (product)"
        assert {e: said(batch, product, e) for e in contents} == contents
        assert (kinds[heat], kinds[product]) == ("ladle", "product")


@pytest.mark.parametrize("name", data_truth.LIMITS)
def test_printed_limits_are_kept_and_are_no_heats(name):
    limits = notes_of(gk.read_heats(DATA / name))["limits"]
    for element, (low, high) in data_truth.LIMITS[name].items():
        assert limits["min"].get(element) == low
        assert limits["max"].get(element) == high


@pytest.mark.parametrize("name", data_truth.MECHANICAL)
def test_mechanical_results_stay_beside_the_heat(name):
    remarks = gk.about(gk.read_heats(DATA / name))
    for heat, results in data_truth.MECHANICAL[name].items():
        assert tuple(remarks.loc[f"{heat} (product)", ["Rp0.2", "Rm", "A"]]) == results


@pytest.mark.parametrize("name", data_truth.CLAIMS)
def test_every_claim_of_a_dual_grade_line_is_kept(name):
    remarks = gk.about(gk.read_heats(DATA / name))
    column = next(c for c in remarks if c.lower() in ("grade", "güte"))
    expected = data_truth.CLAIMS[name]
    for heat in remarks.index:
        wanted = expected[heat] if isinstance(expected, dict) else expected
        assert claims(remarks.at[heat, column]) == wanted


def test_all_heats_are_there_and_what_was_guessed_is_said():
    batch = gk.read_heats(DATA / "heats.csv")
    raw = pd.read_csv(DATA / "heats.csv", dtype=str)
    assert len(batch) == len(raw) and batch.index.is_unique
    words = "\n".join(gk.messages(batch))
    nameless = int(raw["heat"].isna().to_numpy().argmax()) + 2
    twin = int(raw["heat"].duplicated().to_numpy().argmax()) + 2
    assert f"heats.csv, row {nameless}: no heat name" in words
    assert f"heats.csv, row {twin}: heat '{raw['heat'][twin - 2]}' stands there again" in words
    assert "N: 4 values of a size that only ppm can have, read as ppm" in words
    assert list(gk.about(batch)) == ["grade", "date", "note"]


@pytest.mark.parametrize("name", TRUTH)
@pytest.mark.parametrize("kind", ["csv", "xlsx", "json"])
def test_a_certificate_written_again_is_the_same(name, kind, tmp_path):
    batch = gk.read_heats(DATA / name)
    again = gk.read_heats(gk.write_heats(batch, tmp_path / f"again.{kind}"))
    pd.testing.assert_frame_equal(again, batch, check_exact=True)
    pd.testing.assert_frame_equal(gk.heats.bounds(again), gk.heats.bounds(batch))
    pd.testing.assert_frame_equal(gk.about(again), gk.about(batch), check_dtype=False)


def test_pasted_text_reads_as_the_file_does():
    text = (DATA / "certificate_pasted.txt").read_text("utf-8")
    batch = gk.read_heats(DATA / "certificate_pasted.txt")
    assert gk.heats.read_heats_text(text).equals(batch)
    assert gk.as_batch(text).equals(batch)


@pytest.mark.parametrize("name", ["44 7812", "447812"])
def test_a_row_of_factors_under_a_head_with_a_column_of_names_is_not_shifted(name):
    text = (
        "Heat     C      Si    Cr     Ni\n"
        "       x1000  x100  x100   x100\n"
        f"{name}     21    45  1710   1020\n"
    )
    read = gk.heats.read_heats_text(text)
    assert read.iloc[0].to_dict() == pytest.approx({"C": 0.021, "Si": 0.45, "Cr": 17.1, "Ni": 10.2})
