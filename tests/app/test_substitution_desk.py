"""The desk without a browser: customers, errors in words, code and files that give it again."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import gradekit as gk

DATA = Path(__file__).resolve().parents[2] / "data"


@pytest.fixture
def desk():
    return gk.substitution(DATA / "questions.json", DATA / "element_prices.csv")


def test_a_customer_fills_the_boxes_and_the_answer_follows(desk):
    assert desk.comparison.decisive.loc["1.4301", "decisive"] == "water and stress corrosion"
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
    ] == "caution"  # fmt: skip


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


def marked(desk, name: str) -> bool:
    """Tell whether a text box is marked, with the reason beneath it."""
    text = desk._texts[name]
    red, shown = "gk-wrong" in text.box._dom_classes, text._words.layout.display != "none"
    assert red == shown == bool(text._words.value) == bool(text.problem)
    return red


def test_a_refused_text_stays_marked_and_said_and_no_sheet_goes_out(desk):
    desk._report()
    assert "answer.html" in desk._take.value
    desk._candidates.value = "1.40l6"
    assert marked(desk, "candidates") and "1.40l6" in desk._texts["candidates"]._words.value
    assert desk.status.text.startswith("✕ Replace by · must be")
    assert desk._take.value == "", "a sheet for other grades than those in the box"
    desk.numbers.enter("chloride_mg_l", "20")
    assert not desk.status.wrong and desk.status.text.startswith("1.4301: ")
    assert desk.status.text.endswith("(still refused: Replace by)")
    desk._choices["water"].value = "seawater"
    desk._checks["sour"].value = True
    assert desk.status.text.endswith("(still refused: Replace by)") and marked(desk, "candidates")
    for button in sheet_buttons(desk):
        button.click()
        assert desk.status.wrong and "download" not in desk._take.value
        assert "mend what is refused first" in desk._take.value  # said where the link would be
        assert "mend what is refused first · got Replace by: '1.40l6'" in desk.status.text
    desk._candidates.value = "1.4016"
    assert not marked(desk, "candidates") and "refused" not in desk.status.text
    assert desk._take.value == ""
    sheet_buttons(desk)[0].click()
    assert "answer.html" in desk._take.value


def sheet_buttons(desk) -> list:
    found = {}
    parts = [desk.root]
    while parts:
        part = parts.pop()
        parts += getattr(part, "children", ())
        found[getattr(part, "description", "")] = part
    return [found["Report"], found["Report as PDF"]]


def test_a_refused_number_forbids_the_sheet_as_long_as_it_stands(desk):
    desk.numbers.enter("chloride_mg_l", "much")
    desk._reference.value = "1.44O4"
    desk._choices["form"].value = "plate"
    assert desk.status.text.endswith("(still refused: Grade now, chloride, mg/l)")
    sheet_buttons(desk)[0].click()
    assert "Grade now: '1.44O4'; chloride, mg/l: 'much'" in desk.status.text
    desk.numbers.enter("chloride_mg_l", "30")
    assert desk.status.text.endswith("(still refused: Grade now)")
    assert desk.status.text.count("refused") == 1
    desk._undo.click()
    assert desk._reference.value == "1.4404" and not marked(desk, "reference")
    assert desk.status.text.startswith("undone: ") and "refused" not in desk.status.text
    sheet_buttons(desk)[0].click()
    assert "answer.html" in desk._take.value


def test_boxes_show_the_place_that_the_answer_is_for(desk):
    def shown() -> tuple:
        words = [desk._choices[n].value for n in ("place", "washing", "so2")]
        return (*words, desk.numbers.texts["sea_km"])

    desk._choices["place"].value = "no matter"
    assert "atmosphere" not in desk.comparison.criteria
    desk._choices["washing"].value = "none"
    assert "atmosphere" in desk.comparison.criteria
    assert shown() == ("outdoors", "none", "low", "100")
    desk.numbers.enter("sea_km", "2")
    desk._choices["so2"].value = "high"
    desk.numbers.enter("thickness_mm", "thin")
    desk._choices["place"].value = "no matter"
    assert desk.state.service.atmosphere is None and shown() == ("no matter", "rain", "low", "100")
    assert desk.status.text.endswith("(still refused: thickness, mm)")
    assert desk.numbers.texts["thickness_mm"] == "thin" and not desk.status.wrong


@pytest.mark.parametrize(
    "typed, names",
    [("1.4301; 1.4521", ["1.4301", "1.4521"]), ("1,4301,1,4521", ["1.4301", "1.4521"]),
     ("1.4016, 430; 1,4016", ["1.4016"]), ("430, 1.4521 , 1.4016;", ["430 (1.4016)", "1.4521"])],
)  # fmt: skip
def test_grades_are_read_as_people_type_them(desk, typed, names):
    desk._candidates.value = typed
    assert not desk.status.wrong, desk.status.text
    assert [c.name for c in desk.comparison.candidates] == names
    desk._reference.value = " 1,4401 "
    assert desk.comparison.reference.name == "1.4401"


def test_suggest_may_be_written_large(desk):
    desk._candidates.value = " Suggest "
    assert desk.comparison.searched is not None and "'suggest'" in desk.code(desk.state)


@pytest.mark.parametrize(
    "name, typed, says",
    [("reference", " ", "Grade now · must be a grade such as 1.4301 · got nothing"),
     ("reference", "1.44O4", "Grade now · must be an EN number"),
     ("candidates", " , ; ", "Replace by · must be grades"),
     ("candidates", "1.4016, 1.40l6", "Replace by · must be an EN number")],
)  # fmt: skip
def test_the_box_that_is_wrong_is_named(desk, name, typed, says):
    desk._texts[name].box.value = typed
    assert desk.status.text.startswith(f"✕ {says}") and marked(desk, name)


def test_a_service_that_cannot_be_is_refused_under_the_name_of_its_box(desk):
    for name, typed, says in (
        ("chloride_mg_l", "200001", "chloride, mg/l · must be at most 200000 mg/l; a brine"),
        ("water_temperature_C", "375", "water, °C · must be at least -50 and at most 374"),
    ):
        desk.numbers.enter(name, typed)
        assert says in desk.status.text and says in desk.numbers.problems[name]
        desk.numbers.enter(name, "90")
    desk.numbers.enter("temperature_min_C", "50")
    desk.numbers.enter("temperature_max_C", "20")
    assert "hottest, °C · must be not below the coldest, 50 °C · got 20" in desk.status.text
    desk.numbers.enter("temperature_min_C", "-10")
    # The hottest fits now, and the answer is for what both boxes show.
    assert "temperature_max_C" not in desk.numbers.problems
    service = desk.state.service
    assert (service.temperature_max_C, service.temperature_min_C) == (20, -10)


@pytest.mark.parametrize(
    "wrong, says",
    [(dict(chloride_mg_l=250_000), "saturated with common salt"),
     (dict(water_temperature_C=400), "no water is liquid"),
     (dict(temperature_max_C=-20, temperature_min_C=-10), "not below the coldest, -10 °C")],
)  # fmt: skip
def test_a_service_of_code_that_cannot_be_is_refused(wrong, says):
    with pytest.raises(gk.InputError, match=says):
        gk.Service(**wrong)
    brine = gk.Service(chloride_mg_l=190_000, temperature_max_C=-10, temperature_min_C=-10)
    assert brine.water_temperature_C == 20


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


@pytest.mark.parametrize("by_path", [True, False])
def test_the_code_reckons_the_alloy_cost_that_the_panel_shows(by_path):
    path = DATA / "element_prices.csv"
    prices = path if by_path else gk.read_prices(path).changed(Ni=40_000)
    desk = gk.substitution(DATA / "questions.json", prices)
    desk._candidates.value = "1,4301; 1.4521"
    names: dict = {}
    exec(desk.code(desk.state).replace("answer.report('answer.html')\n", ""), names)
    shown, again = desk.comparison, names["answer"]
    assert shown.decisive["cost difference"].notna().all()
    assert again.decisive.equals(shown.decisive) and again.cost_unit == shown.cost_unit
    assert again.prices.invented


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
    box = gk.app.certificate_box((DATA / "certificate_hostile.csv").read_text("utf-8"))
    page = box._answer.value
    assert "<img src=x" not in page and "<b>H1</b>" not in page and "&lt;b&gt;H1" in page
    last = box.certificate
    box.text.value = "nothing to read\nat all"
    assert "boxes above were changed" in box._answer.value
    read_button(box).click()
    assert box.status.wrong and box.certificate is last


def read_button(box):
    return next(c for c in box.root.children if getattr(c, "description", "") == "Read")


def test_what_was_not_understood_stands_marked_beside_the_text():
    box = gk.app.certificate_box(f"{LINE}\nRm 570 MPa\ndelivered <b>free</b> of dirt", "1.4301")
    place = list(box.root.children)
    beside = place[place.index(box.text) + 1]
    assert "△ Not understood" in beside.value
    assert "<mark>delivered &lt;b&gt;free&lt;/b&gt; of dirt</mark>" in beside.value
    assert "Rm" not in beside.value and box.certificate.results["value"].tolist() == [570.0]
    box.text.value = LINE
    read_button(box).click()
    assert beside.value == ""


LINE = "H1: C 0,021 Si 0,45 Mn 1,40 P 0,030 S 0,001 Cr 18,15 Ni 8,19 N 0,056"


@pytest.mark.parametrize("text", ["", "nothing to read\nat all"])
def test_the_answer_to_another_text_is_marked_until_a_text_is_read(text):
    box = gk.app.certificate_box(LINE, "1.4301")
    read, page = read_button(box), box._answer.value
    assert "1.4301" in page and "boxes above were changed" not in page
    box.text.value = text
    read.click()
    assert box.status.wrong and box._answer.value.startswith("<p><strong>△ As read before")
    assert box._answer.value.endswith(page) and "△ As read before" in box._repr_html_()
    box.text.value = LINE.replace("H1", "H2")
    read.click()
    assert "boxes above were changed" not in box._answer.value and "H2" in box._answer.value
    box.claims.value = "1.4016"
    assert "boxes above were changed" in box._answer.value
    box.claims.value = "1.4301"
    assert "boxes above were changed" not in box._answer.value


def test_a_first_text_that_cannot_be_read_is_said_in_the_box():
    box = gk.app.certificate_box("nothing to read\nat all")
    assert box.status.wrong and box.certificate is None and box._answer.value == ""


def test_a_certificate_without_a_claim_is_said_in_words():
    box = gk.app.certificate_box(LINE)
    assert box.status.text == "read: no grade is named: not assessed"
    page = box._answer.value
    assert "1 heat, 1 verdict: 1 not assessed" in page and "claims=" not in page
    assert "<li>H1: the analysis would fit 1.4301" in page and "none named" in page


def test_the_sheet_goes_out_in_german_under_the_sender_s_head_with_what_is_to_be_had(tmp_path):
    head = tmp_path / "head.txt"
    head.write_text("Tarnwick Works", "utf-8")
    own = gk.substitution(DATA / "questions.json", sender=head, stock=DATA / "stock.csv")
    own._language.value = "de"
    page = own._page()
    assert "Tarnwick Works" in page and "Die kurze Antwort" in page and "lieferbar" in page
    own._texts["customer"].box.value = "Orrin Cutlery"
    own._texts["question"].box.value = "May we?"
    assert own.comparison.customer == "Orrin Cutlery" and "May we?" in own._page()


def test_the_picture_of_the_same_answer_takes_no_sheet_back(desk):
    desk._report()
    assert "answer.html" in desk._take.value
    desk._repr_html_()  # as the still picture beneath the panel is made, a while after a change
    assert "answer.html" in desk._take.value
    desk._choices["form"].value = "plate"
    assert desk._take.value == ""


def test_the_answer_is_saved_as_a_page_that_says_why_nothing_moves_in_it(desk, tmp_path):
    text = desk.save_page(tmp_path / "answer.html").read_text("utf-8")
    assert "default-src 'none'" in text and "<script" not in text and "<input" not in text
    assert "walked through step by step" in text and desk.comparison.reference.name in text


def test_no_sheet_goes_out_without_customer_and_question(desk):
    """A sink question was printed under another customer's name: both are boxes now."""
    assert "Plumebrook Dairy" in desk._page() and "milk plant" in desk._page()
    for make in (desk._report, desk._report_pdf):
        for name, words in (("customer", "Who asks"), ("question", "Question")):
            held = desk._texts[name].box.value
            for empty in ("", "  "):
                desk._texts[name].box.value = empty
                with pytest.raises(
                    gk.InputError, match=f"sheet · must be with '{words}' filled in"
                ):
                    make()
                assert "download" not in desk._take.value and words in desk._take.value
            desk._texts[name].box.value = held
    desk._texts["customer"].box.value = "Orrin Cutlery"
    desk._texts["question"].box.value = "May a drawn sink be of 1.4016?"
    desk._reference.value, desk._candidates.value = "1.4301", "1.4016"
    page = desk._page()
    assert "Orrin Cutlery" in page and "May a drawn sink" in page
    assert "Plumebrook" not in page and "milk plant" not in page
    assert "ready" in desk._report() and "download" in desk._take.value
