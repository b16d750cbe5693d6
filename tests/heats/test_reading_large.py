"""Large files are read as small ones are, or refused in words; and small ones that grow."""

from __future__ import annotations

import io
import json
import zipfile

import pandas as pd
import pytest
from reading_kit import read, refused, workbook

import gradekit as gk
from gradekit.heats import reading
from gradekit.heats.certificates import large as plain
from gradekit.heats.notes import notes_of

pytestmark = pytest.mark.usefixtures("nothing_printed_nothing_warned")


def large(rows: int, change=None) -> str:
    lines = ["heat,grade,C,Cr,N ppm,Ti,note"]
    for i in range(rows):
        ti = "<0.005" if i % 7 == 0 else "0.00" if i % 11 == 0 else f"{i % 90 / 1000:.3f}"
        lines.append(f"H{i},304,{i % 40 / 1000:.3f},{17 + i % 200 / 100},{400 + i % 99},{ti},x")
    lines[3:3] = ["", "# a comment, inside"]
    if change:
        change(lines)
    return "\n".join(lines) + "\n"


def test_many_heats_are_all_there():
    batch = read(large(5000))
    assert len(batch) == 5000 and batch.at["H4999", "C"] == pytest.approx(4999 % 40 / 1000)
    marks = gk.heats.bounds(batch)["Ti"]
    assert marks["H7"] == "<0.005" and marks["H11"] == "<0.01"
    assert gk.about(batch)["grade"].eq("304").all()


@pytest.mark.parametrize(
    ("column", "cell"), [(3, "x"), (3, "150"), (2, "-0.1"), (3, "inf"), (3, "True"), (6, "x,y")]
)
def test_a_refusal_far_down_names_the_place(column, cell):
    def spoil(lines):
        cells = lines[400].split(",")
        lines[400] = ",".join([*cells[:column], cell, *cells[column + 1 :]])

    assert "row 401" in refused(large(500, spoil))


def plain_lines(rows: int) -> list[str]:
    lines = large(rows).splitlines()
    return ["Grade: 1.4301", *lines[:3], *lines[5:]]


@pytest.fixture
def in_pieces(monkeypatch):
    monkeypatch.setattr(reading, "LARGE", 0)
    monkeypatch.setattr(plain, "HEAD", 9000)
    monkeypatch.setattr(plain, "PIECE", 3000)
    monkeypatch.setattr(plain, "ROWS", 97)


def both(text: str, monkeypatch):
    """What the reader in columns makes of a text, and the one that goes cell by cell."""
    content = text.encode()
    columns = plain.read_plain(io.BytesIO(content), "the file")
    monkeypatch.setattr(reading, "LARGE", 1e18)
    return columns, read(content)


def known(batch) -> dict:
    about = {column: dict(values) for column, values in notes_of(batch)["about"].items()}
    return dict(notes_of(batch)) | {"about": about, "report": list(notes_of(batch)["report"])}


def agree(columns, cells):
    pd.testing.assert_frame_equal(columns, cells, check_exact=True)
    assert known(columns) == known(cells)
    assert gk.reading_report(columns).equals(gk.reading_report(cells))
    pd.testing.assert_frame_equal(gk.about(columns), gk.about(cells), check_dtype=False)
    pd.testing.assert_frame_equal(gk.heats.bounds(columns), gk.heats.bounds(cells))


def test_a_large_table_in_columns_reads_as_cell_by_cell(monkeypatch):
    agree(*both("\n".join(plain_lines(20_000)), monkeypatch))


@pytest.mark.parametrize(
    "change",
    [
        lambda t: t.replace(",", ";").replace(".", ","),
        lambda t: t.replace(",", "\t").replace("\n", "\r\n"),
        lambda t: t.replace(",304,", ',"304, or 304L",'),
        lambda t: t.replace("H300,", "H299,"),
        lambda t: t.replace("H310,304,0.030", "H310,304,n.d."),
        lambda t: t.replace(",x", ",").replace("N ppm", "N"),
    ],
)
def test_dialects_in_columns_read_as_cell_by_cell(monkeypatch, in_pieces, change):
    agree(*both(change("\n".join(plain_lines(400))), monkeypatch))


@pytest.mark.parametrize(
    "row",
    [
        "",
        "# a comment",
        "max,,0.03,20,,,",
        "Mean,304,0.02,18,450,0.04,x",
        "heat,grade,C,Cr,N ppm,Ti,note",
        "checked by the laboratory,,,,,,",
        "H9,304,0.02",
        "H9,304,0.02,18,450,0.01,x,y",
        'H9,304,0.02,18,450,0.01,"x',
        ",304,0.02,18,450,0.01,x",
        "H9,,,,,,",
    ],
)
def test_a_row_far_down_that_is_no_plain_heat_is_noticed(monkeypatch, in_pieces, row):
    lines = plain_lines(400)
    lines.insert(350, row)
    content = "\n".join([*lines, ""]).encode()
    with pytest.raises(plain.NotPlain):
        plain.read_plain(io.BytesIO(content), "the file")
    monkeypatch.setitem(reading.MOST_BYTES, "cells", 1000)
    assert "one heat a row" in refused(content)


@pytest.mark.parametrize("label", ["Gemiddelde", "Raar"])
def test_a_row_without_a_digit_in_its_name_is_looked_at(label, monkeypatch, in_pieces):
    lines = plain_lines(400)
    lines.append(lines[-1].replace("H399", label))
    monkeypatch.setattr(reading, "LARGE", 0)
    heats = gk.read_heats("\n".join(lines).encode())
    monkeypatch.setattr(reading, "LARGE", 1e9)
    pd.testing.assert_frame_equal(heats, gk.read_heats("\n".join(lines).encode()))
    assert (label in heats.index) == (label == "Raar")
    assert any(label in said for said in gk.messages(heats)) or label not in heats.index


def test_a_refusal_in_columns_is_that_of_the_cells(monkeypatch, in_pieces):
    for cell in ("x", "150 %", "-0.1", "inf", "1,7,0"):
        text = (
            "\n".join(plain_lines(400)).replace(",", ";").replace("H350;304;", f"H350;304;{cell}")
        )
        monkeypatch.setattr(reading, "LARGE", 0)
        in_columns = refused(text)
        monkeypatch.setattr(reading, "LARGE", 1e18)
        assert in_columns == refused(text) and "row 353" in in_columns


def test_too_large_is_refused_in_words(monkeypatch):
    monkeypatch.setitem(reading.MOST_BYTES, "table", 1000)
    assert "each given to gk.as_batch" in refused(large(100))
    monkeypatch.setitem(reading.MOST_BYTES, "workbook", 1000)
    assert "is a workbook · must be at most" in refused(
        workbook([["heat", "C", "Cr", "N"], ["H1", 0.02, 18, 0]])
    )


def test_a_workbook_that_unpacks_too_large_is_refused(monkeypatch):
    from gradekit.core import workbook as module

    monkeypatch.setattr(module, "MOST_UNPACKED", 1000)
    assert "when unpacked" in refused(workbook([["heat", "C", "Cr", "N"], ["H1", 0.02, 18, 0]]))


# --- small files that would hang or fill the memory -----------------------------------------


def sheet_of(rows: str) -> bytes:
    """A workbook whose sheet holds just this XML between its tags of rows."""
    out = io.BytesIO()
    plain = io.BytesIO(workbook([["heat", "Cr"], ["H1", 18]]))
    with zipfile.ZipFile(plain) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "xl/worksheets/sheet1.xml":
                text = content.decode()
                head, tail = text.split("<sheetData>")[0], text.split("</sheetData>")[1]
                content = f"{head}<sheetData>{rows}</sheetData>{tail}".encode()
            new.writestr(name, content)
    return out.getvalue()


HEAD = (
    '<row r="1"><c r="A1" t="inlineStr"><is><t>heat</t></is></c>'
    '<c r="B1" t="inlineStr"><is><t>Cr</t></is></c></row>'
    '<row r="2"><c r="A2" t="inlineStr"><is><t>H1</t></is></c><c r="B2"><v>18</v></c></row>'
)


def far_cells():
    return HEAD + "".join(f'<row r="{n}"><c r="XFD{n}"><v>1</v></c></row>' for n in range(3, 2000))


SHEETS = {
    "a cell in the last column of each row": far_cells(),
    "a row number of 2 000 000 000": HEAD + '<row r="2000000000"><c r="A2000000000"/></row>',
    "a cell in the last row": HEAD + '<row r="1048576"><c r="XA1048576"><v>1</v></c></row>',
    "a column ZZZZZZZ": HEAD + '<row r="3"><c r="ZZZZZZZ3"><v>1</v></c></row>',
    "a row number of 400 digits": HEAD + f'<row r="{"9" * 400}"/>',
}


@pytest.mark.parametrize("name", SHEETS)
def test_a_sheet_with_far_cells_is_refused(name):
    assert " · must be " in refused(sheet_of(SHEETS[name]))


def test_empty_cells_and_rows_say_nothing():
    cells = "".join(f'<row r="{n}"><c r="A{n}"/></row>' for n in range(3, 100_000))
    assert read(sheet_of(HEAD + cells)).at["H1", "Cr"] == 18


TEXTS = {
    "different keys": json.dumps([{"heat": f"H{i}", f"k{i}": 1, "Cr": 18} for i in range(20_000)]),
    "bare returns": "heat,Cr\r" + "\r" * 9_000_000,
    "a header of multipliers": "heat," + "x10" * 3000 + ",Cr\nH1,1,18",
    "a header of units": "heat,N" + " ppm" * 8000 + ",Cr\nH1,1,18",
    "many delimiters": "heat,Cr\n" + "," * 5_000_000,
    "a long cell": "heat,Cr\nH1," + "9" * 1_000_000,
    "a wide and turned table": "\n".join(["C," + "0.1," * 15_000] + ["x"] * 3000),
    "quotation marks": "heat,Cr\n" + '"\n' * 200_000,
    "nested": "[" * 200_000,
    "digits": '[{"heat": "H1", "Cr": ' + "9" * 400 + "}]",
    "an array as name": '[{"heat": ["H1"], "Cr": 18}]',
    "limits that are none": '{"limits": 5, "heats": [{"heat": "H1", "Cr": 18}]}',
    "a key twice": '[{"heat": "H1", "Cr": 18, "Cr": 17}]',
}


@pytest.mark.parametrize("name", TEXTS)
def test_a_text_that_would_hang_is_read_or_refused(name):
    try:
        batch = read(TEXTS[name])
    except gk.InputError as error:
        assert " · must be " in str(error)
    else:
        assert batch.size < 100_000
