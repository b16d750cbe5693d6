"""Files: how a table is found in them, and how the place of what is refused is told."""

from __future__ import annotations

import datetime as dt
import json

import numpy as np
import pandas as pd
import pytest
from reading_kit import read, refused, workbook

import gradekit as gk
from gradekit.heats.notes import notes_of

pytestmark = pytest.mark.usefixtures("nothing_printed_nothing_warned")


# --- files: what they look like -------------------------------------------------------------

PLAIN = {"H1": {"C": 0.02, "N": 0.048, "Cr": 18.1}, "H2": {"C": 0.03, "N": 0.05, "Cr": 17.0}}


@pytest.mark.parametrize(
    "text",
    [
        "heat,C,N,Cr\nH1,0.02,480,18.1\nH2,0.03,500,17",
        'heat,C,N,Cr\nH1,"0,02",480,"18,1"\nH2,"0,03",500,17',
        "Schmelze;C;N;Cr\r\nH1;0,02;480;18,1\r\nH2;0,03;500;17\r\n",
        "Charge\tC\tN\tCr\rH1\t0,02\t480\t18,1\rH2\t0,03\t500\t17",
        "\ufeffHeat No;C;N ppm;Cr\nH1;0,02;480;18,1\nH2;0,03;500;17",
        "heat;C;N;Cr\n;%;ppm;%\nH1;0,02;480;18,1\nH2;0,03;500;17",
        "Unit;%;ppm;%\nheat;C;N;Cr\nH1;0,02;480;18,1\nH2;0,03;500;17",
        "heat,C,N,Cr\n,x10^-3,×10⁻⁴,1/100\nH1,20,480,1810\nH2,30,500,1700",
        "# a comment, with C\n\nTitle\n\nheat,C,N,Cr\n# x\nH1,0.02,480,18.1\n\nH2,0.03,500,17",
        "# heat,C,N,Cr\nH1,0.02,480,18.1\nH2,0.03,500,17",
        "| heat | C | N | Cr |\n|---|---|---|---|\n|H1|0.02|480|18.1|\n| H2 | 0.03 | 500 | 17 |",
        "Heat   C     N    Cr\nH1    0.02  480  18.1\nH2    0.03  500  17",
        "Heat C N Cr\nH1 0.02 480 18.1\nH2 0.03 500 17",
        "element,H1,H2\nC,0.02,0.03\nN,480,500\nCr,18.1,17",
        "element;unit;H1;H2\nC;%;0,02;0,03\nN;ppm;480;500\nCr;%;18,1;17",
        "Certificate\n\n;H1;H2\nC;0,02;0,03\nN;480;500\nCr;18,1;17",
        "heat,C,N\nH1,0.02,480\nH2,0.03,500\n\nheat,Cr\nH1,18.1\nH2,17",
        "heat,C,N,Cr\nH1,0.02,480,18.1\n\nheat,C,N,Cr\nH2,0.03,500,17",
        "H1: C 0,021 N 480 ppm Cr 18,1".replace("021", "02") + "\nH2: C=0.03; N=500ppm; Cr=17",
        "Heat H1 C 0.02 N 0.048 Cr 18.1 Fe bal.\nHeat H2 C 0.03 N 0.050 Cr 17 Fe rest",
        "heat,C,N,Cr,Fe\nH1,0.02,480,18.1,bal.\nH2,0.03,500,17,Balance",
    ],
)
def test_a_table_is_found_however_it_is_laid_out(text):
    assert read(text).to_dict("index") == PLAIN
    assert gk.heats.read_heats_text(text).to_dict("index") == PLAIN


def test_encodings():
    text = "heat;Güte;C;Cr\nHÜ1;µ;0,02;18"
    for encoding in ("utf-8", "utf-8-sig", "cp1252", "utf-16"):
        batch = read(text.encode(encoding))
        assert batch.index.tolist() == ["HÜ1"] and gk.about(batch).at["HÜ1", "Güte"] == "µ"


def test_heats_named_by_letters_are_no_elements():
    batch = read("heat,C,Cr\n" + "\n".join(f"{name},0.02,18" for name in "ABCHKNOPSVWY"))
    assert batch.index.tolist() == list("ABCHKNOPSVWY") and list(batch) == ["C", "Cr"]


def test_limits_are_kept_and_are_no_heats():
    text = "heat,C,Cr,Rm\nmin,,17.5,520\nMax.,0.030,19.5,720\naim,0.02,18.2,\nH1,0.024,18.1,600"
    batch = read(text)
    assert batch.index.tolist() == ["H1"] and gk.about(batch).at["H1", "Rm"] == 600
    assert notes_of(batch)["limits"] == {
        "min": {"Cr": 17.5, "Rm": 520},
        "max": {"C": 0.030, "Cr": 19.5, "Rm": 720},
        "aim": {"C": 0.02, "Cr": 18.2},
    }


@pytest.mark.parametrize(
    "text",
    [
        "heat,C,Cr,N ppm\nspecification,max 0.030,17.5-19.5,≤1000\nH1,0.024,18.1,500",
        "heat;C;Cr;N\nrequirement;<=0,030;17,5 - 19,5;max. 1000\nH1;0,024;18,1;500",
        "element,min,max,H1\nC,,0.030,0.024\nCr,17.5,19.5,18.1\nN,,0.1,0.05",
    ],
)
def test_limits_in_one_row_or_across(text):
    limits = notes_of(read(text))["limits"]
    assert limits == {"min": {"Cr": 17.5}, "max": {"C": 0.030, "Cr": 19.5, "N": 0.1}}
    assert gk.heats.printed_limits(read(text)).loc["max", ["C", "Cr"]].tolist() == [0.030, 19.5]
    assert gk.heats.printed_limits(read("heat,Cr\nH1,18")).empty


@pytest.mark.parametrize("words", [("L", "P"), ("H", "K"), ("heat", "product"), ("Ladle", "check")])
def test_ladle_and_product_analyses(words):
    batch = read(
        f"heat,type,C,Cr\nH1,{words[0]},0.020,18.1\n,{words[1]},0.022,18.0\nH2,{words[0]},0.03,17"
    )
    assert batch.index.tolist() == ["H1", "H1 (product)", "H2"]
    assert gk.about(batch)["analysis"].tolist() == ["ladle", "product", "ladle"]


def test_a_product_analysis_alone_keeps_the_name():
    batch = read("heat,analysis,C,Cr\nH1,product,0.02,18")
    assert batch.index.tolist() == ["H1"] and gk.about(batch).at["H1", "analysis"] == "product"


def test_lines_above_the_table_tell_of_every_heat():
    batch = read("Grade: 1.4301 / 304     EN 10088-2\nHeat No.: H7    Order: 12\n\nC,Cr\n0.02,18")
    assert batch.index.tolist() == ["H7"]
    assert gk.about(batch).loc["H7"].to_dict() == {
        "grade": "1.4301 / 304 EN 10088-2",
        "order": "12",
    }


def test_test_results_stay_beside_the_heats():
    text = "heat,C,Cr,Re,Rm\nH1,0.02,18,280,600\n\nheat,HV,A5\nH1,160,50\nH1,162,51\nH9,1,2"
    batch = read(text)
    assert list(batch) == ["C", "Cr"]
    assert gk.about(batch).loc["H1"].to_dict() == {
        **{"Re (test)": 280, "Rm": 600, "HV": 160, "A5": 50, "HV (2)": 162, "A5 (2)": 51}
    }
    assert any("row 7" in words and "'H9'" in words for words in gk.messages(batch))


def test_names_stay_text_and_results_become_numbers():
    about = gk.about(
        read("heat,grade,coil,Rp0.2,mixed,C,Cr\nH1,304,0012,280.5,x,.02,18\nH2,304,13,,2,.02,18")
    )
    assert about["grade"].tolist() == ["304", "304"] and about["coil"].tolist() == ["0012", "13"]
    assert about["Rp0.2"].tolist()[0] == 280.5 and about["mixed"].tolist() == ["x", "2"]


def test_what_is_no_analysis_is_not_read_as_one():
    batch = read("heat,C,Cr,TI/C,Cr-eq,Al tot,Al sol,C+N\nH1,0.02,18,5.5,18.4,0.02,0.018,0.07")
    assert list(batch) == ["C", "Cr", "Al"]
    assert list(gk.about(batch)) == ["TI/C", "Cr-eq", "Al sol", "C+N"]


def test_a_line_below_the_table_is_left_out_and_said():
    batch = read("heat,C,Cr\nH1,0.02,18\nAll values in weight percent")
    assert batch.index.tolist() == ["H1"]
    assert gk.messages(batch) == [
        "the file, row 3: no analysis, left out: 'All values in weight percent'"
    ]


def test_a_heat_of_which_nothing_is_reported_stays():
    batch = read("heat,C,Cr\nH1,,\nH2,0.02,18")
    assert batch.isna().sum(axis=1).tolist() == [2, 0]


def test_json_as_others_write_it():
    content = [{"heat": "H1", "C": 0.02, "Cr": "18,1", "Nb": "<0.01", "grade": "304"}]
    batch = read(json.dumps(content))
    assert batch.loc["H1"].tolist() == [0.02, 18.1, 0.01]
    assert (
        gk.heats.bounds(batch).at["H1", "Nb"] == "<0.01"
        and gk.about(batch).at["H1", "grade"] == "304"
    )


# --- workbooks ------------------------------------------------------------------------------

HEAD = ["heat", "C", "Cr", "N"]


def test_a_workbook_is_read_as_it_looks():
    rows = [HEAD, [4711, 0.0002, 0.1812, 0], [4712.0, "0,03", "LT 18", None]]
    batch = read(workbook(rows, {"B2": "0.00%", "C2": "0.00%", "D2": "0.000"}))
    assert batch.loc["4711"].tolist() == [0.02, 18.12, 0.001]
    assert batch.loc["4712"].tolist()[:2] == [0.03, 18.0] and np.isnan(batch.at["4712", "N"])
    assert gk.heats.bounds(batch).loc["4711", "N"] == "<0.001"


def test_dates_beside_the_analysis_become_text():
    rows = [["heat", "date", "C", "Cr"], ["H1", dt.datetime(2024, 1, 2), 0.02, 18]]
    assert gk.about(read(workbook(rows))).at["H1", "date"] == "2024-01-02"


def test_the_sheet_with_the_analysis_is_found_or_chosen():
    raw = workbook(
        [["cover"]],
        sheets={"one": [HEAD, ["H1", 0.02, 18, 0.05]], "two": [HEAD, ["H2", 0.02, 18, 0.05]]},
    )
    assert read(raw).index.tolist() == ["H1"]
    assert read(raw, sheet="two").index.tolist() == ["H2"]
    assert gk.messages(read(raw)) == ["the file: sheet 'one' is read, Sheet, two not"]
    with pytest.raises(gk.InputError, match="must be Sheet, one, two · got 'tow' · nearest two"):
        read(raw, sheet="tow")


@pytest.mark.parametrize(
    ("cell", "words"),
    [
        ("=9*2", "never computed"),
        (dt.datetime(2024, 12, 18), "made a date"),
        ("#REF!", "got '#REF!'"),
        (True, "got True"),
        ("x", "got 'x'"),
    ],
)
def test_a_cell_of_a_workbook_is_refused_with_its_place(cell, words):
    rows = [["title"], [], [None, *HEAD], [], [None, "H1", 0.02, cell, 0.05]]
    message = refused(workbook(rows))
    assert message.startswith("the file, row 5, column D, heat 'H1', Cr · ") and words in message


# --- refused, with the place ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("heat,C,Cr\nH1,0.02,18\nH2,0.02,x", "row 3, column C, heat 'H2', Cr", "got 'x'"),
        ("# note\n\nheat;C;Cr\n;%;%\nH1;0,02;18,1x", "row 5, column C", "got '18,1x'"),
        ('heat,note,C,Cr\n"H1","a\nb",0.02,18\nH2,x,0.03,xx', "row 3, column D", "got 'xx'"),
        ("element,H1,H2\nC,0.02,0.03\nCr,18,xx\nNi,8,9", "row 3, column C, heat 'H2'", "got 'xx'"),
        ("heat,C,Cr\n\nH0,0.01,17\nH1,-0.02,15", "row 4, column B", "between 0 and 100"),
        ("heat,C,Cr\nH0,0.01,17\nH1,0.02,150", "row 3, column C", "150.0 .*in ppm, 'Cr ppm'"),
        ("heat,C,N [%]\nH1,0.02,480", "row 2, column C", "between 0 and 100"),
        ("heat,C,Cr,Ni\nH0,0.01,17,8\nH1,0.02,60,50", "row 3, heat 'H1', sum", "110.02"),
        ("heat,C,Xx\nH1,0.02,18", "row 1, column C, element", "got 'Xx' · nearest Xe"),
        ("heat,Nb,Cb\nH1,0.1,0.2", "row 1, column C, column of Nb", "there once"),
        ("heat,C,Cr\nH1,0,02,18,1", "row 2, column D", "comma .* must stand in quotes"),
        ("heat;C;N ppm\n;%;%\nH1;0,02;480", "row 2, column C, unit of N", "got '%'"),
        ("heat,C,Cr,Fe\nH1,0.02,18,xx", "row 2, column D, heat 'H1', Fe", "'balance'"),
        ("heat,C,Cr,Fe\nH1,0.02,bal.,70", "row 2, column C", "got 'bal.'"),
        ("heat,C,Cr\nmax,low,20\nH1,0.02,18", "row 2, column B, max of C", "got 'low'"),
        ("Heat C Si Cr\nH1 0.02 18.1", "row 2", "3 entries .* n.d. or -"),
        ("H1: C 0.021 Si 0.45 Cr 18.1 Ni eight", "row 1, after 'Cr 18.1'", "got 'Ni eight'"),
        ("heat,C,Si\nH1,0.02,0.5\n\nheat,Cr\nH1,18\nH2,y", "row 6, column B", "got 'y'"),
        ("heat,c,cr\nH1,0.02,18", "", "element symbols .* nearest C, Cr"),
        ("a,b\n1,2", "", "element symbols such as C, Cr, Ni · got 'a    b'"),
        ("heat,C,Cr\n", "", "at least one heat under the header"),
        ("heat,C,Cr\nH1,-,n.d.", "", "at least one content reported"),
    ],
)
def test_a_refusal_names_the_place(text, place, words):
    message = refused(text)
    assert message.startswith(f"the file, {place}" if place else "the file")
    assert pd.Series([message]).str.contains(words, regex=True).all(), message


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        (b"", "an empty file"),
        (b" \r\n \n", "an empty file"),
        (b"\x89PNG\r\n\x1a\n" + bytes(99), "a PNG picture"),
        (b"\xff\xd8\xff\xe0" + bytes(99), "a JPEG picture"),
        (b"%PDF-1.7 ...", "a PDF document"),
        (b"\xd0\xcf\x11\xe0" + bytes(99), "save it as .xlsx"),
        (bytes(range(256)), "bytes that are no text"),
        (b"PK\x03\x04 no archive", "a whole XLSX workbook"),
        (b'{"heats": [{"C":', "complete JSON"),
        (b'{"heats": 5}', "a list of heats"),
        (b'{"heats": []}', "at least one heat"),
        (b'[{"heat":"H1","C":0.02},{"heat":"H2","C":"x"}]', "heat 2 of the list, heat 'H2', C"),
    ],
)
def test_what_is_no_table_is_refused(raw, words, tmp_path):
    assert words in refused(raw)
    path = tmp_path / "heats.csv"
    path.write_bytes(raw)
    with pytest.raises(gk.InputError, match=r"heats\.csv"):
        gk.read_heats(path)


def test_paths_that_lead_nowhere(tmp_path):
    (tmp_path / "heats.csv").write_text("heat,Cr\nH1,18")
    (tmp_path / "heats.docx").write_text("heat,Cr\nH1,18")
    for path, words in [
        (tmp_path / "heat.csv", "one that is there · .* nearest heats.csv"),
        (tmp_path / "gone" / "x.csv", "one that is there"),
        (tmp_path, "a folder"),
        ("", "a folder"),
        (tmp_path / "heats.docx", "a CSV, TXT, XLSX or JSON file · got a file '.docx'"),
        (5, "as path, bytes or open file · got 5"),
    ]:
        with pytest.raises(gk.InputError, match=words):
            gk.read_heats(path)
    assert gk.as_batch(str(tmp_path / "heats.csv")).at["H1", "Cr"] == 18
    with pytest.raises(gk.InputError, match="no sheets"):
        gk.read_heats(tmp_path / "heats.csv", sheet="one")


def test_rows_that_all_end_before_the_header_are_refused():
    assert "row 2 · must be 4 cells" in refused("heat;C x;Cr;Ni\nH1;0,02;18\nH2;0,03;17")
    assert read("heat;C;Cr;Ni\nH1;0,02;18\nH2;0,03;17;9").at["H2", "Ni"] == 9


def test_figures_above_the_header_are_said():
    heats = read("H0;0,02;18;8\nheat;C;Cr;Ni\nH1;0,02;18;8")
    assert any("under no header" in words for words in gk.messages(heats))
    assert gk.reading_report(heats).at[0, "taken_as"] == "title"
