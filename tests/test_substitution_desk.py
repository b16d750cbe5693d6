"""The desk without a browser: customers, errors in words, code and files that give it again."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import gradekit as gk

DATA = Path(__file__).parents[1] / "data"


@pytest.fixture
def desk():
    return gk.substitution(DATA / "questions.json", DATA / "element_prices.csv")


def test_a_customer_fills_the_boxes_and_the_answer_follows(desk):
    assert desk.comparison.decisive.loc["1.4301", "decisive"] == "water"
    desk._customer.value = "Halden & Wick Lifts"
    assert desk._reference.value == "1.4301" and desk._choices["magnetism"].value == "non-magnetic"
    assert desk.comparison.decisive.loc["1.4016", "decisive"] == "magnetism"
    assert "INVENTED PRICES" in desk._moving.value
    desk._customer.value = "Skerrow Desalination"
    assert desk._choices["water"].value == "seawater"
    desk.numbers.enter("chloride_mg_l", "")
    desk.numbers.enter("water_temperature_C", "20")
    assert desk.comparison.table.set_index(["grade", "criterion"]).loc[
        ("1.4547", "water"), "verdict"
    ] == "marginal"  # fmt: skip


def test_every_choice_can_be_made(desk):
    for choice in desk._choices.values():
        for _, word in choice._options_full:
            choice.value = word
            assert not desk.status.wrong, (choice.description, word, desk.status.text)
    for box in desk._checks.values():
        box.value = not box.value
        assert not desk.status.wrong


def test_what_cannot_be_is_said_and_the_answer_stays(desk):
    before = desk._moving.value
    desk._candidates.value = "1.9999"
    assert desk.status.wrong and "1.9999" in desk.status.text
    desk._reference.value = ""
    desk.numbers.enter("thickness_mm", "0")
    assert "thickness, mm" in desk.status.text
    assert desk._moving.value == before


def test_the_sheet_is_offered_and_taken_back_when_the_question_changes(desk):
    desk._report()
    assert 'download="answer.html"' in desk._take.value
    desk.numbers.enter("chloride_mg_l", "10")
    assert desk._take.value == ""


def test_state_and_code_give_the_same_answer(desk):
    desk.numbers.enter("sea_km", "3")
    desk._choices["place"].value = "outdoors"
    state = desk.decode(json.loads(json.dumps(desk.encode(desk.state))), "file")
    assert state == desk.state
    names: dict = {}
    code = desk.code(desk.state).replace("answer.report('answer.html')\n", "")
    exec(code, names)
    assert names["answer"].table.equals(desk.comparison.table)


@pytest.mark.parametrize(
    "content, says",
    [({}, "list 'questions'"), ({"questions": [{"customer": "A"}]}, "question 1"),
     ({"questions": [{"customer": "A", "reference": "1.4301", "candidates": "1.4016",
                      "service": {"weld": True}}]}, "nearest welded"),
     ("nowhere.json", "JSON file")],
)  # fmt: skip
def test_a_file_that_cannot_be_is_refused_in_words(content, says):
    with pytest.raises(gk.InputError, match=says):
        gk.substitution(content)


def test_hostile_text_stays_text():
    wish = {"question": "<script>alert(1)</script>", "chemicals": "<img src=x onerror=alert(1)>"}
    desk = gk.substitution(
        {"questions": [{"customer": "<b>A</b>", "reference": "1.4301", "candidates": "1.4016",
                        "service": wish}]}
    )  # fmt: skip
    for page in (desk._moving.value, desk._repr_html_()):
        assert "<script" not in page and "<img" not in page and "&lt;script" in page


def test_a_certificate_is_read_and_refused_in_words_with_inert_names():
    box = gk.certificate_box((DATA / "certificate_hostile.csv").read_text("utf-8"))
    page = box._answer.value
    assert "<img src=x" not in page and "<b>H1</b>" not in page and "&lt;b&gt;H1" in page
    last = box.certificate
    box.text.value = "nothing to read\nat all"
    box.root.children[3].click()
    assert box.status.wrong and box.certificate is last
