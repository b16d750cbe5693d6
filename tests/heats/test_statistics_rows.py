"""Rows of statistics below an analysis are no heats, and it is said that they were kept apart."""

from __future__ import annotations

import pytest

import gradekit as gk
from gradekit.heats import read_heats_text

TABLE = "Schmelze;C;Cr;Ni\nA1;0,020;18,10;8,10\nA2;0,030;18,20;8,20\nA3;0,028;18,30;8,12\n"
MEAN, SPREAD, COUNT = "0,026;18,20;8,14", "0,005;0,10;0,05", "7;7;7"
ROWS = {
    **dict.fromkeys(("Mittelwert", "Mean", "Average", "Durchschnitt", "Ø", "x̄", "Moyenne"), MEAN),
    **dict.fromkeys(("s", "Std", "SD", "Stabw.", "σ", "Streuung", "±"), SPREAD),
    **dict.fromkeys(("n", "Anzahl", "count"), COUNT),
    **dict.fromkeys(("RSD", "VK"), "20;0,5;0,6"),
}


@pytest.mark.parametrize("label", ROWS)
def test_a_row_of_statistics_is_no_heat_and_is_reported(label):
    heats = read_heats_text(f"{TABLE}{label};{ROWS[label]}\n")
    assert list(heats.index) == ["A1", "A2", "A3"]
    assert heats["C"].max() <= 0.03
    report = gk.reading_report(heats)
    row = report[report["label"] == label].iloc[0]
    assert (row["kind"], row["taken_as"]) == ("row", "statistic") and row["reason"]


def test_all_of_them_together_as_a_laboratory_prints_them():
    text = TABLE + "".join(f"{label};{row}\n" for label, row in ROWS.items())
    heats = read_heats_text(text)
    assert list(heats.index) == ["A1", "A2", "A3"]
    assert (gk.reading_report(heats)["taken_as"] == "statistic").sum() == len(ROWS)


@pytest.mark.parametrize("label", ("s", "n", "N"))
def test_a_letter_alone_is_a_heat_where_its_numbers_are_an_analysis(label):
    heats = read_heats_text(f"{TABLE}{label};0,041;17,40;9,30\n")
    assert list(heats.index) == ["A1", "A2", "A3", label]
