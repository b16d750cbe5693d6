"""The desk does not forget: a question is kept as it is typed, and nobody is written over."""

from __future__ import annotations

import json
import time
from pathlib import Path

import pytest
from panel_kit import control, parts, press

import gradekit as gk
from gradekit.app.widgets import status as status_module
from gradekit.app.widgets.held import Held
from gradekit.app.widgets.status import Status, guarded

DATA = Path(__file__).resolve().parents[2] / "data"


@pytest.fixture
def desk(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    def open_one():
        return gk.substitution(DATA / "questions.json", DATA / "element_prices.csv", keep="kept")

    return open_one


def files() -> dict[str, str]:
    return {
        p.name: json.loads(p.read_text())["state"]["candidates"] for p in Path("kept").iterdir()
    }


def test_nothing_is_kept_before_something_is_typed(desk):
    desk()
    assert not Path("kept").exists()


def test_a_new_page_goes_on_with_what_was_typed_last(desk):
    first = desk()
    control(first, "Replace by").value = "1.4301"
    first.numbers.enter("chloride_mg_l", "123")
    control(first, "Take up").value = "Halden & Wick Lifts"
    control(first, "Replace by").value = "1.4509"
    assert files() == {"plumebrook-dairy.json": "1.4301", "halden-wick-lifts.json": "1.4509"}
    second = desk()
    assert second.state == first.state and control(second, "Replace by").value == "1.4509"
    assert "taken up again" in second.status.text
    press(second, "Reset")
    assert (
        second.state.customer == "Plumebrook Dairy"
        and control(second, "Replace by").value != "1.4301"
    )


def test_a_tab_comes_back_to_its_own_question(desk):
    first = desk()
    control(first, "Replace by").value = "1.4301"
    control(first, "Take up").value = "Halden & Wick Lifts"
    control(first, "Replace by").value = "1.4509"
    again = desk()
    (tab,) = (part for part in parts(again) if isinstance(part, Held))
    tab.held = "plumebrook-dairy"  # what the tab remembers
    assert control(again, "Replace by").value == "1.4301" and tab.name == "plumebrook-dairy"
    for name in ("-", "nowhere", "../../secret", ""):
        tab.held = name
        assert control(again, "Replace by").value == "1.4301" and not again.status.wrong
    control(again, "Replace by").value = "1.4016"
    tab.held = "halden-wick-lifts"  # too late: something was typed here
    assert control(again, "Replace by").value == "1.4016"


def test_two_tabs_on_one_question_never_write_over_each_other(desk):
    one = desk()
    control(one, "Replace by").value = "1.4301"
    two = desk()
    control(two, "Replace by").value = "1.4016"  # goes on with the file that it read
    control(one, "Replace by").value = "1.4509"  # which is not as it left it: a file of its own
    control(two, "Replace by").value = "1.4521"
    assert files() == {"plumebrook-dairy.json": "1.4521", "plumebrook-dairy-2.json": "1.4509"}


def test_a_question_taken_up_anew_leaves_what_was_kept_of_it(desk):
    one = desk()
    control(one, "Replace by").value = "1.4301"
    control(one, "Take up").value = "Halden & Wick Lifts"
    control(one, "Take up").value = "Plumebrook Dairy"
    control(one, "Replace by").value = "1.4016"
    assert files() == {"plumebrook-dairy.json": "1.4301", "plumebrook-dairy-2.json": "1.4016"}


def test_files_of_others_are_left_alone(desk):
    Path("kept").mkdir()
    Path("kept/plumebrook-dairy.json").write_text("{}")
    Path("kept/note.txt").write_text("mine")
    one = desk()
    control(one, "Replace by").value = "1.4301"
    assert Path("kept/plumebrook-dairy.json").read_text() == "{}"
    assert json.loads(Path("kept/plumebrook-dairy-2.json").read_text())["kind"] == "substitution"


def test_a_folder_that_cannot_be_made_is_said_and_the_answer_stands(desk):
    one = desk()
    Path("kept").write_text("a file")
    control(one, "Replace by").value = "1.4301"
    assert "(not kept: " in one.status.text and not one.status.wrong
    assert [c.name for c in one.comparison.candidates] == ["1.4301"]


def test_who_waits_is_told_and_who_does_not_is_not(monkeypatch):
    monkeypatch.setattr(status_module, "BUSY_AFTER", 0.05)
    status, seen = Status(), []
    status.observe(lambda change: seen.append(change["new"]), "busy")
    guarded(status, lambda: "quick")()
    assert seen == [] and status.text == "quick"
    guarded(status, lambda: time.sleep(0.2))()
    assert seen == [True, False]
    guarded(status, lambda: 1 / 0)()
    assert seen == [True, False] and status.wrong and not status.busy
