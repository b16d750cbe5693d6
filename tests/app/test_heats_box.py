"""The box for heats without a browser: files read in memory, errors in words, nothing lost."""

from pathlib import Path

import pandas as pd
import pytest
from panel_kit import answer, offered, press

import gradekit as gk

OTHER = Path(__file__).resolve().parents[1] / "other_works"


@pytest.fixture
def box():
    return gk.app.heats_box(gk.sheets.heats_report([{"heat": "A", "Cr": 18.1, "Ni": 8.2}]))


def test_a_file_is_read_from_memory_and_named_by_its_name(box, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    said = box.choose("C:\\lab\\heats.csv", (OTHER / "heats.csv").read_bytes())
    assert said.startswith("read: 39 heats, 3 practices")
    assert "BF17T" in answer(box)
    assert list(tmp_path.iterdir()) == []  # nothing was written


def test_what_cannot_be_read_leaves_the_last_answer(box):
    before = answer(box)
    for name, content in (("a.pdf", b"%PDF-1.7"), ("empty.csv", b""), ("x.csv", b"a;b\n1;2\n")):
        with pytest.raises(gk.InputError):
            box.choose(name, content)
        assert answer(box) == before and box.report.lead.startswith("1 heat")
    box.read()  # still that of before


def test_a_slip_in_a_box_is_said_and_the_answer_marked(box):
    box.grade.value = "1.9999"
    assert "before the boxes above were changed" in answer(box)
    with pytest.raises(gk.InputError, match=r"1\.9999"):
        box.read()
    box.grade.value = "1.4301"
    box.grain.value = "fine"
    with pytest.raises(gk.InputError, match="ASTM number"):
        box.read()
    box.grain.value = "7,5"
    box.read()
    assert box.report.grain_size_astm == 7.5 and box.report.present_grade == "1.4301"
    assert "before the boxes above" not in answer(box)


def test_files_to_take_along_replace_nothing(box, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("my-works.csv").write_text("mine")
    assert press(box, "CSV") == "written: my-works-2.csv, my-works-2-reading.csv"
    assert "taken_as" in Path("my-works-2-reading.csv").read_text("utf-8-sig")
    assert Path("my-works.csv").read_text() == "mine"
    assert "heat" in Path("my-works-2.csv").read_text("utf-8-sig").splitlines()[0]
    assert press(box, "XLSX") == "written: my-works.xlsx"
    empty = gk.app.heats_box()
    assert "chosen first" in press(empty, "CSV") and empty.status.wrong


def test_in_the_app_a_link_holds_the_file(box, monkeypatch):
    monkeypatch.setenv("SERVER_SOFTWARE", "voila/0.5")
    assert "ready" in press(box, "XLSX")
    assert 'download="my-works.xlsx"' in offered(box)
    press(box, "CSV")
    assert 'download="my-works.csv"' in offered(box)
    assert 'download="my-works-reading.csv"' in offered(box)


@pytest.mark.parametrize("ending", ["csv", "xlsx"])
def test_what_is_taken_along_is_read_back_to_the_last_digit(tmp_path, monkeypatch, ending):
    monkeypatch.chdir(tmp_path)
    # two heats: as many as the keys by which limits are grouped
    heats = gk.as_batch(
        [
            {"heat": "A", "C": 0.02, "Cr": 18.1, "Ni": 8.2, "Nb": "<0.005"},
            {"heat": "B", "C": 0.02, "Cr": 18.0 / 7.0, "Ni": 8.2, "Nb": 0.01},
        ]
    )
    press(gk.app.heats_box(gk.sheets.heats_report(heats)), ending.upper())
    sheet = "heats" if ending == "xlsx" else None
    again = gk.read_heats(f"my-works.{ending}", sheet=sheet)
    pd.testing.assert_frame_equal(again, heats, check_exact=True)
    assert gk.heats.bounds(again).equals(gk.heats.bounds(heats))
