"""What is written: the same batch when read again, and nothing that a spreadsheet runs."""

from __future__ import annotations

import csv
import datetime as dt
import io

import numpy as np
import openpyxl
import pandas as pd
import pytest
from reading_kit import read

import gradekit as gk
from gradekit.heats.writing import to_bytes

pytestmark = pytest.mark.usefixtures("nothing_printed_nothing_warned")


HEATS = pd.DataFrame({"C": [0.02, 0.03], "Cr": [18.0, 17.0]}, index=pd.Index(["H1", "H2"]))


@pytest.mark.parametrize("kind", ["csv", "xlsx", "json"])
def test_nothing_written_is_run_by_a_spreadsheet(kind, tmp_path):
    names = ["=1+1", "@x", "+1", "-2", "\t=1", "'=1", "<b>", "plain"]
    records = [{"heat": n, "Cr": 18.0, "Ti": "-", "=note": "=2+2"} for n in names]
    batch = gk.as_batch(records)
    path = gk.write_heats(batch, tmp_path / f"x.{kind}")
    if kind == "csv":
        cells = [
            cell for row in csv.reader(io.StringIO(path.read_text("utf-8-sig"))) for cell in row
        ]
        assert not any(cell.startswith(("=", "+", "-", "@", "\t", "\r")) for cell in cells)
    if kind == "xlsx":
        sheet = openpyxl.load_workbook(path)["heats"]
        cells = [cell for row in sheet.iter_rows() for cell in row if cell.value is not None]
        assert {cell.data_type for cell in cells} == {"s", "n"}
        assert all(c.quotePrefix for c in cells if str(c.value).startswith(("=", "@", "+", "-")))
    again = gk.read_heats(path)
    pd.testing.assert_frame_equal(again, batch)
    pd.testing.assert_frame_equal(gk.about(again), gk.about(batch))


def test_a_result_is_written_with_its_values(tmp_path):
    result = gk.evaluate(
        read("heat,C,Cr,Nb\nH1,0.02,18,<0.01"), ["pren_16n", "cr_eq_schaeffler_1949"]
    )
    for kind in ("csv", "xlsx", "json"):
        batch = gk.read_heats(gk.write_heats(result, tmp_path / f"r.{kind}"))
        pd.testing.assert_frame_equal(batch, result.heats)
    sheets = pd.read_excel(tmp_path / "r.xlsx", sheet_name=None, index_col=0)
    assert list(sheets) == ["heats", "values", "flags", "relations", "reading report"]
    pd.testing.assert_frame_equal(sheets["values"], result.values, check_names=False)
    assert "bound" in sheets["flags"].at["H1", "cr_eq_schaeffler_1949"]
    assert sheets["relations"].at["pren_16n", "status"]
    table = pd.read_csv(tmp_path / "r.csv", index_col="heat")
    assert table.at["H1", "pren_16n"] == result.values.at["H1", "pren_16n"] or np.isnan(
        table.at["H1", "pren_16n"]
    )


def test_tables_become_sheets(tmp_path):
    tables = {
        "a/b: long name of a sheet, far too long for one": pd.DataFrame(
            {"x": [1.5, None], "=y": ["a", True]}
        ),
        "A b  long name of a sheet  far too": pd.DataFrame(
            {"d": [dt.date(2024, 1, 2)]}, index=["r"]
        ),
    }
    path = gk.heats.write_tables(tables, tmp_path / "t.xlsx")
    book = openpyxl.load_workbook(path)
    assert len(book.sheetnames) == 2 and all(len(name) <= 31 for name in book.sheetnames)
    first, second = book.worksheets
    assert [[c.value for c in row] for row in first] == [["x", "=y"], [1.5, "a"], [None, "yes"]]
    assert [[c.value for c in row] for row in second] == [[None, "d"], ["r", "2024-01-02"]]
    assert to_bytes({"t": pd.DataFrame({"ü": [0.0]})}, ".csv").decode("utf-8-sig") == "ü\n0\n"


def test_a_failed_writing_leaves_the_old_file(tmp_path, monkeypatch):
    path = gk.write_heats(HEATS, tmp_path / "h.csv")
    before = path.read_bytes()
    with pytest.raises(gk.InputError, match="between 0 and 100"):
        gk.write_heats({"Cr": -1}, path)
    monkeypatch.setattr("os.replace", lambda *_: (_ for _ in ()).throw(OSError("disk full")))
    with pytest.raises(gk.InputError, match="disk full"):
        gk.write_heats(HEATS * 2, path)
    assert path.read_bytes() == before and [p.name for p in tmp_path.iterdir()] == ["h.csv"]


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("h.xls", "nearest .xlsx"),
        ("h", "one of .csv, .xlsx, .json"),
        ("gone/h.csv", "an existing folder"),
    ],
)
def test_where_nothing_can_be_written(name, words, tmp_path):
    with pytest.raises(gk.InputError, match=words):
        gk.write_heats(HEATS, tmp_path / name)
    with pytest.raises(gk.InputError, match="for one table"):
        gk.heats.write_tables({"a": HEATS, "b": HEATS}, tmp_path / "h.csv")
    with pytest.raises(gk.InputError, match="a mapping of name to DataFrame"):
        gk.heats.write_tables({"a": 5}, tmp_path / "h.xlsx")
    assert not list(tmp_path.iterdir())


HOSTILE_NAMES = [
    *("x;=1+1;y", "a\tb", "=1", "x|@cmd", 'a;"=1', "+1;-2", "'=1", "x;'=1", "a\rb", "a\r=1+1"),
    *("k\n=1", "\ud800x", "n", "Mittelwert", "max", "\x00\x1b", "  =1", "a,=1", "1,700"),
]


@pytest.mark.parametrize("kind", ["csv", "xlsx", "json"])
def test_hostile_names_are_written_and_read_again(kind, tmp_path):
    heats = gk.as_batch([{"heat": n, "Cr": 18 + k, "note": n} for k, n in enumerate(HOSTILE_NAMES)])
    again = gk.read_heats(gk.write_heats(heats, tmp_path / f"h.{kind}"))
    pd.testing.assert_frame_equal(again, heats, check_exact=True)
    assert gk.about(again)["note"].tolist() == gk.about(heats)["note"].tolist()


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_no_cell_starts_a_formula_whatever_parts_the_line(delimiter, tmp_path):
    import csv

    heats = gk.as_batch([{"heat": n, "Cr": 18, "note": n} for n in HOSTILE_NAMES])
    file = gk.write_heats(heats, tmp_path / "h.csv")
    with file.open(encoding="utf-8-sig", newline="") as lines:
        for row in csv.reader(lines, delimiter=delimiter):
            assert not any(cell.lstrip(" ")[:1] in ("=", "+", "-", "@", "\t", "\r") for cell in row
                           if cell.strip()), row  # fmt: skip


def test_the_same_tables_are_the_same_bytes(monkeypatch):
    import time

    frame = pd.DataFrame({"Cr": [18.1], "note\x00": ["a"]}, index=pd.Index(["H1"], name="heat"))
    first = to_bytes({"a": frame})
    later = time.time() + 100_000
    monkeypatch.setattr(time, "time", lambda: later)
    monkeypatch.setattr(time, "localtime", lambda *_: time.gmtime(later))
    assert to_bytes({"a": frame}) == first


@pytest.mark.parametrize("kind", [".csv", ".xlsx"])
def test_numbers_are_numbers_to_the_last_digit_whatever_their_sign(kind, tmp_path):
    values = [325.02366182471934, -80.82478127255655, -4.0, -4.793, 4.793, 0.1 + 0.2, 1e-17, 5e21]
    table = pd.DataFrame({"value": values, "note": ["-1", "=1", "x", "", "4.793", "a", "b", "c"]})
    path = gk.heats.write_tables({"t": table}, tmp_path / f"t{kind}")
    again = pd.read_csv(path) if kind == ".csv" else pd.read_excel(path)
    assert again["value"].tolist() == values


def test_a_result_reads_back_with_its_report_flags_and_evidence(tmp_path):
    text = "heat;grade;C;Cr;Ni;N ppm;X 1;Nb\nA;1.4301;0,021;18,12;8,2;548;7;<0,005\n;;;;;;;\n"
    heats = gk.heats.read_heats_text(text)
    result = gk.evaluate(heats, ["pren_16n", "md30_nohara_1977"], grain_size_astm=8)
    path = gk.write_heats(result, tmp_path / "r.xlsx")
    again = gk.read_heats(path)
    pd.testing.assert_frame_equal(pd.DataFrame(again), pd.DataFrame(heats), check_exact=True)
    assert gk.heats.bounds(again).equals(gk.heats.bounds(heats))
    sheets = pd.read_excel(path, sheet_name=None)
    report = sheets["reading report"]
    assert report["label"].fillna("").tolist() == gk.reading_report(heats)["label"].tolist()
    told = pd.concat(list(sheets.values())).astype("string").fillna("").agg(" ".join, axis=1)
    for word in ("verified", "bound"):
        assert told.str.contains(word, regex=False).any(), word
    again = gk.read_heats(gk.write_heats(result, tmp_path / "r.csv"))
    pd.testing.assert_frame_equal(pd.DataFrame(again), pd.DataFrame(heats), check_exact=True)
    beside = gk.about(again).loc["A"]
    assert float(beside["pren_16n"]) == result.values.at["A", "pren_16n"]
    assert beside["pren_16n (evidence)"].startswith("verified")
    assert "bound" in beside["md30_nohara_1977 (evidence)"]


@pytest.mark.parametrize("kind", ["csv", "xlsx", "json"])
def test_a_heat_named_like_a_comment_and_without_contents_is_not_lost(kind, tmp_path):
    batch = gk.as_batch([{"heat": "H1", "C": 0.02}, {"heat": "#5", "C": None}])
    again = gk.read_heats(gk.write_heats(batch, tmp_path / f"h.{kind}"))
    assert again.index.tolist() == ["H1", "#5"]


def test_a_heat_whose_figures_are_the_mean_of_those_above_is_read_again(tmp_path):
    melted = {"H1": (0.02, 18.0, 8.0), "H2": (0.04, 18.2, 8.2), "Trial": (0.03, 18.1, 8.1)}
    heats = gk.as_batch([{"heat": name, "C": c, "Cr": cr, "Ni": ni}
                         for name, (c, cr, ni) in melted.items()])  # fmt: skip
    again = gk.read_heats(gk.write_heats(heats, tmp_path / "heats.csv"))
    pd.testing.assert_frame_equal(again, heats)
