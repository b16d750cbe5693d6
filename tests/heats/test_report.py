"""The reading report: as a table, below a batch in a notebook, and where something is missing."""

from __future__ import annotations

import sys
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

import gradekit as gk
from gradekit.heats import estimate_scatter
from gradekit.heats.columns import unknown
from gradekit.heats.report import html_with_report

TEXT = "Probe;C;Chrom;Ni 2;N2\n;%;%;%;ppm\nH1;0,02;18,1;8,05;480\nH2;0,03;17;9;1.050\n"
TEXT += "Mittelwert;0,025;17,55;8,5;765\n"


@pytest.fixture
def heats() -> pd.DataFrame:
    return gk.read_heats(TEXT.encode())


def test_it_is_a_table_with_surprises_first(heats):
    report = gk.reading_report(heats)
    assert list(report)[:8] == [
        *("kind", "where", "label", "taken_as", "element", "unit", "factor", "reason")
    ]
    assert report["label"].tolist()[:2] == ["Ni 2", "N2"]
    assert "'1.050' is read as 1050" in report.at[1, "reason"]
    by_label = report.set_index("label")
    assert by_label.loc["Chrom", ["element", "unit", "factor"]].tolist() == ["Cr", "wt%", 1.0]
    assert by_label.loc["N2", ["element", "unit", "factor"]].tolist() == ["N", "ppm", 1e-4]
    assert by_label.at["Mittelwert", "taken_as"] == "statistic"
    assert (report["kind"] == "row").sum() == TEXT.count("\n")


def test_a_turned_table_has_contents_in_rows_and_heats_in_columns():
    report = gk.reading_report(gk.read_heats(b"element,H1,H2\nC,0.02,0.03\nCr,18,17"))
    taken = report.set_index("label")[["kind", "taken_as"]].T
    assert taken["Cr"].tolist() == ["row", "content"]
    assert taken["H1"].tolist() == ["column", "heat"]


def test_a_heat_does_not_lack_what_stood_under_a_name_not_understood(heats):
    assert unknown(heats, "Ni")[0] == "no value: column 'Ni 2' was not understood"
    assert unknown(heats, "Mo")[0] == "no value: Mo not reported"
    checked = gk.check_grade(heats, "1.4301")
    reasons = " ".join(map(str, checked.to_numpy().ravel()))
    assert "column 'Ni 2' was not understood" in reasons and "Ni not reported" not in reasons


def test_a_notebook_shows_it_below_the_batch_and_below_nothing_else(heats, monkeypatch):
    kept = {}
    pages = SimpleNamespace(for_type=kept.__setitem__)
    shell = SimpleNamespace(display_formatter=SimpleNamespace(formatters={"text/html": pages}))
    monkeypatch.setitem(sys.modules, "IPython", SimpleNamespace(get_ipython=lambda: shell))
    batch = gk.read_heats(TEXT.encode())
    page = kept[pd.DataFrame](batch)
    assert page.startswith(batch._repr_html_()) and "What became of the file" in page
    assert "Ni 2" in page and "2 things to look at first" in page
    assert html_with_report(batch[["C"]]) == batch[["C"]]._repr_html_()
    assert html_with_report(pd.DataFrame({"a": [1]})) == pd.DataFrame({"a": [1]})._repr_html_()


def test_names_are_inert_on_the_page(monkeypatch):
    batch = gk.read_heats(b"heat,C,Cr,<script>x</script>\nH1,0.02,18,<img src=x>\n")
    page = html_with_report(batch)
    assert page is not None and "<script>" not in page and "<img" not in page


def test_identical_heats_have_no_scatter_and_that_is_said():
    heats = pd.DataFrame({"Cr": np.full(20, 18.0)}, index=[f"H{k}" for k in range(20)])
    with pytest.raises(gk.InputError, match="identical heats"):
        estimate_scatter(heats)
