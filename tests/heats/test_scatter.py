"""Scatter from heats: found again in drawn heats, grades kept apart, shrunk, honest about gaps."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import gradekit as gk
from gradekit.heats.scatter import Scatter, as_scatter

DATA = Path(__file__).resolve().parents[2] / "data"
SD = {"C": 0.004, "Cr": 0.12, "Ni": 0.08, "N": 0.006}


def drawn(count, mean, rng, correlation=0.0):
    size = np.array(list(SD.values()))
    matrix = np.eye(len(size)) * (1 - correlation) + correlation
    heats = rng.multivariate_normal(mean, matrix * np.outer(size, size), count)
    return pd.DataFrame(heats, columns=list(SD))


def test_the_scatter_that_was_drawn_is_found_again_and_grade_means_do_not_count():
    rng = np.random.default_rng(1)
    heats = pd.concat(
        [
            drawn(400, [0.03, 18.1, 8.1, 0.05], rng, 0.5),
            drawn(400, [0.06, 17.0, 4.2, 0.16], rng, 0.5),
        ],
        ignore_index=True,
    )
    found = gk.heats.estimate_scatter(heats, groups=["a"] * 400 + ["b"] * 400)
    for element, sd in SD.items():
        assert found.sd[element] == pytest.approx(sd, rel=0.08)
    correlation = found.covariance / np.outer(found.sd, found.sd)
    assert correlation.loc["Cr", "Ni"] == pytest.approx(0.5, abs=0.08)
    as_one = gk.heats.estimate_scatter(heats)
    assert as_one.sd["Ni"] > 1.0  # two grades taken for one practice would not be a scatter


def test_few_heats_are_shrunk_towards_no_correlation_and_stay_a_covariance():
    few = drawn(15, [0.03, 18.1, 8.1, 0.05], np.random.default_rng(3))
    found = gk.heats.estimate_scatter(few)
    raw = np.corrcoef(few.to_numpy().T)
    off = ~np.eye(4, dtype=bool)
    ours = (found.covariance / np.outer(found.sd, found.sd)).to_numpy()
    assert np.abs(ours[off]).max() < np.abs(raw[off]).max()
    assert np.linalg.eigvalsh(found.covariance.to_numpy()).min() > 0
    assert np.sqrt(np.diag(found.covariance)) == pytest.approx(few.std().to_numpy())


def test_a_grade_with_fewer_than_fifteen_heats_takes_no_part():
    rng = np.random.default_rng(4)
    heats = pd.concat([drawn(14, [0.03, 18, 8, 0.05], rng), drawn(20, [0.06, 17, 4, 0.16], rng)])
    labels = ["short"] * 14 + ["long"] * 20
    found = gk.heats.estimate_scatter(heats.reset_index(drop=True), groups=labels)
    alone = gk.heats.estimate_scatter(heats.iloc[14:].reset_index(drop=True))
    pd.testing.assert_frame_equal(found.covariance, alone.covariance)
    assert "short (14)" in found.notes[0]
    with pytest.raises(gk.InputError, match="at least 15"):
        gk.heats.estimate_scatter(heats.iloc[:14].reset_index(drop=True))
    fallback = gk.heats.estimate_scatter(heats.iloc[:14].reset_index(drop=True), otherwise=SD)
    assert fallback.sd.to_dict() == pytest.approx(SD)


def test_the_works_heats_by_their_grades_with_the_plant_for_what_they_cannot_tell():
    found = gk.heats.estimate_scatter(DATA / "heats.csv", otherwise=DATA / "plant.csv")
    assert "TW-188" in found.basis and "TW-201" not in found.basis
    assert any("TW-201" in note for note in found.notes)
    for element, sd in {"Cr": 0.12, "Ni": 0.08, "Mn": 0.10, "N": 0.006}.items():
        assert found.sd[element] == pytest.approx(sd, rel=0.4)  # about twenty heats of that law
    assert found.experience.loc["Mn", "max"] > 6


def test_plant_figures_hold_the_heats_and_the_analysis_apart():
    plant = gk.heats.read_scatter(DATA / "plant.csv")
    assert plant.analysis["Cr"] == 0.06
    assert plant.covariance.loc["Cr", "Cr"] == pytest.approx(0.12**2)
    assert plant.total(["Cr"])[0, 0] == pytest.approx(0.12**2 + 0.06**2)
    assert plant.total(["Zr"])[0, 0] == 0.0


def test_other_deviations_keep_the_correlations():
    square = pd.DataFrame([[0.01, 0.003], [0.003, 0.04]], ["Mn", "N"], ["Mn", "N"])
    wider = as_scatter(square).but(Mn=0.25)
    assert wider.sd["Mn"] == pytest.approx(0.25)
    before = 0.003 / (0.1 * 0.2)
    assert wider.covariance.loc["Mn", "N"] / (0.25 * 0.2) == pytest.approx(before)


def test_what_is_no_scatter_is_refused():
    with pytest.raises(gk.InputError, match="scatter of Cr"):
        as_scatter({"Cr": -0.1})
    with pytest.raises(gk.InputError, match="element"):
        as_scatter({"Xx": 0.1})
    wrong = pd.DataFrame([[0.01, 0.1], [0.1, 0.01]], ["Cr", "Ni"], ["Cr", "Ni"])
    with pytest.raises(gk.InputError, match="no sum can make negative"):
        as_scatter(wrong)
    crooked = pd.DataFrame([[0.01, 0.001], [0.0, 0.01]], ["Cr", "Ni"], ["Cr", "Ni"])
    with pytest.raises(gk.InputError, match="symmetric"):
        as_scatter(crooked)


def test_it_reads_without_a_kernel():
    page = gk.heats.estimate_scatter(DATA / "heats.csv")._repr_html_()
    assert "Scatter of heats" in page and "<caption>" in page
    assert "sd, analysis" not in page  # it is in the scatter from heat to heat
    assert "sd, analysis" in gk.heats.read_scatter(DATA / "plant.csv")._repr_html_()
    assert isinstance(as_scatter({"Cr": 0.1}), Scatter)
