"""What the explorer of a brief gives to take along: ends under their heads, numbers as numbers."""

import io
import json

import numpy as np
import pandas as pd
import pytest
from openpyxl import load_workbook
from panel_kit import control, press

import gradekit as gk
from gradekit.heats.writing import to_bytes


@pytest.fixture(scope="module", params=["data", "tests/other_works"])
def panel(request, pytestconfig):
    own = gk.works.inputs(pytestconfig.rootpath / request.param / "works.toml")
    prices = gk.read_prices(own.prices, book=own.materials, plant=own.plant)
    heats = gk.read_heats(own.heats)
    return gk.app.brief_explorer(gk.Brief(**own.brief), prices, heats, relation_error=False)


def read(content: bytes, kind: str) -> pd.DataFrame:
    reader = {".csv": pd.read_csv, ".xlsx": pd.read_excel}[kind]
    return reader(io.BytesIO(content))


@pytest.mark.parametrize("kind", [".csv", ".xlsx"])
def test_upper_limits_stand_under_max_and_all_reads_back(panel, kind):
    table = panel.table(panel.state)
    again = read(to_bytes({"brief": table}, kind), kind)
    assert list(again) == list(table)
    for column in ("min", "aim", "max", "share", "share_with_error"):
        assert again[column].dtype == float
        np.testing.assert_array_equal(again[column], table[column].astype(float))
    rows = table[table["kind"].isin(["limit", "bound"])]
    wanted = {(str(label), "≤" in str(label)) for label in panel.design.limits.index
              if panel.design.limits.loc[label, "kind"] in ("limit", "bound")}  # fmt: skip
    assert len(rows) == len(wanted)
    for (_, row), (label, design) in zip(
        rows.iterrows(),
        panel.design.limits[panel.design.limits["kind"].isin(["limit", "bound"])].iterrows(),
        strict=True,
    ):
        upper = "≤" in label
        assert row["max" if upper else "min"] == design["bound"]
        assert np.isnan(row["min" if upper else "max"])


def test_cost_certainty_and_properties_at_the_aim_stand_in_it(panel):
    table = panel.table(panel.state).set_index("name")
    design = panel.design
    assert table.loc["cost", "aim"] == design.cost and "INVENTED" in table.loc["cost", "note"]
    assert table.loc["every limit", "share"] == design.certainty.loc["every limit", "share"]
    assert {"proof_strength", "tensile_strength", "elongation", "steel"} <= set(table.index)
    pitting = gk.evaluate(design.aim.rename("aim"), "pren_16n").values.iloc[0, 0]
    at = table[table["kind"].eq("at the aim")]
    assert at.loc["pren_16n", "aim"] == pytest.approx(pitting)


def test_a_brief_that_cannot_be_met_keeps_its_limits_and_says_so(panel):
    name = next(name for name, end in panel.limits.values.items() if end and "≥" in name)
    panel.limits.enter(name, "900")
    try:
        table = panel.table(panel.state).set_index("name")
        assert table.loc[name.removesuffix(" ≥"), "min"] == 900
        assert table["note"].str.contains("cannot be met").all()
    finally:
        press(panel, "Undo")


def test_the_melt_shop_sheet_holds_numbers_with_the_decimals_of_the_works(panel, tmp_path):
    path = panel.design.export(tmp_path / "sheet.xlsx")
    page = load_workbook(path)["aim and window"]
    heads = [cell.value for cell in page[3]]
    for row in page.iter_rows(min_row=4):
        element = row[0].value
        for head in ("min", "aim", "max"):
            cell, text = row[heads.index(head)], panel.design.sheet.loc[element, head]
            if text == "open":
                assert cell.value == "open"
                continue
            assert isinstance(cell.value, float | int) and cell.value == float(text)
            assert cell.number_format == "0." + "0" * len(text.partition(".")[2])


def test_two_panels_never_take_each_others_file(panel, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    mine = tmp_path / "my-brief.json"
    mine.write_text(json.dumps({"kept": "by hand"}))
    assert control(panel, "File").value == "my-brief"  # suggested while there was no such file
    assert press(panel, "Save") == "saved in my-brief-2.json"
    assert json.loads(mine.read_text()) == {"kept": "by hand"}
    control(panel, "File").value = "my-brief"
    assert "never replaced" in press(panel, "Save") and panel.status.wrong
    assert json.loads(mine.read_text()) == {"kept": "by hand"}
