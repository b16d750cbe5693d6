"""What the heats of a works say: the sentences rest on the tables, and nothing is said twice."""

from pathlib import Path

import pandas as pd
import pytest

import gradekit as gk

ROOT = Path(__file__).resolve().parents[2]
OTHER = ROOT / "tests" / "other_works"


@pytest.fixture(scope="module")
def report():
    heats = gk.read_heats(OTHER / "heats.csv")
    return gk.sheets.heats_report(heats, OTHER / "preise.csv", "1.4462", 10)


def test_the_answer_counts_what_stands_in_its_tables(report):
    assert report.lead.startswith(f"{len(report.heats)} heats, 3 practices: ")
    assert f"{report.apart['apart'].sum()} stands apart" in report.lead
    odd = report.apart.index[report.apart["apart"]]
    assert all(any(line.startswith(f"{heat} ") for line in report.lines) for heat in odd)
    page = str(report._repr_html_())
    assert all(title in page for title in report.sections())
    assert "TW-" not in page and "crown" in page  # the unit of the invented prices


def test_the_money_is_said_only_with_prices(report):
    bare = gk.sheets.heats_report(report.heats)
    assert not any("most money" in line for line in bare.lines)
    assert bare.room["saving"].isna().all() and "No price list" in str(bare._repr_html_())
    assert report.separates and not bare.separates


def test_every_step_is_told_and_the_last_is_the_whole():
    steps = []
    heats = [{"heat": "A", "Cr": 18.1}]
    gk.sheets.heats_report(heats, told=lambda step, share: steps.append((step, share)))
    assert steps[0][1] == 0.0 and steps[-1] == ("done", 1.0)
    assert [share for _, share in steps] == sorted(share for _, share in steps)


def test_a_long_history_begins_with_few_lines():
    melted = [{"heat": f"H{k}", "grade": "1.4301", "Cr": 16.0, "Ni": 8.1} for k in range(40)]
    report = gk.sheets.heats_report(melted)  # none keeps its chromium
    assert len(report.lines) > 20
    first = report.first_lines()
    assert len(first) < 20 and first[-1].startswith("and ") and "more" in first[-1]


def test_more_practices_than_a_diagram_has_shapes_are_drawn_with_the_small_ones_as_one():
    melted = [{"heat": f"H{k}", "grade": "1.4301" if k < 30 else f"K{k}", "C": 0.04, "Cr": 18.1,
               "Ni": 8.2, "Mn": 1.2, "N": 0.05} for k in range(40)]  # fmt: skip
    report = gk.sheets.heats_report(melted)
    assert report.practice.nunique() == 11
    page = str(report._repr_html_())
    assert "all%20others" in page or "all others" in page
    assert "K30" in report.means.index  # the tables hold every practice


def test_its_tables_read_back_with_every_heat_and_flag(report, tmp_path):
    path = gk.heats.write_tables(report.tables(), tmp_path / "week.xlsx")
    sheets = pd.read_excel(path, sheet_name=None, index_col=0)
    assert set(sheets) == set(report.tables())
    again = gk.read_heats(path, sheet="heats")
    pd.testing.assert_frame_equal(
        again[list(report.heats)], report.heats, check_exact=True, check_names=False
    )
    flags = sheets["indices"].filter(like=" flag")
    assert flags["md30_angel_1954 flag"].str.contains("made for austenitic steels").all()


def test_without_a_column_of_grades_heats_are_parted_by_what_steel_they_are():
    melted = [{"heat": f"F{k}", "C": 0.02, "Cr": 17.9 + 0.02 * k, "Ti": 0.15, "Nb": 0.43, "Ni": 0.2}
              for k in range(9)]  # fmt: skip
    melted += [{"heat": f"A{k}", "C": 0.05, "Cr": 18.1 + 0.02 * k, "Ni": 8.2, "Mn": 1.2, "N": 0.05}
               for k in range(9)]  # fmt: skip
    report = gk.sheets.heats_report(melted)
    assert report.practice.nunique() == 2 and not report.apart["apart"].any()
    assert report.lines[0].startswith("no column names the grades")
    graded = gk.sheets.heats_report([heat | {"Kwaliteit": heat["heat"][0]} for heat in melted])
    assert set(graded.practice) == {"F", "A"} and "no column" not in " ".join(graded.lines)
