"""The desk without a browser: customers, errors in words, code and files that give it again."""

from __future__ import annotations

import base64
import html
import json
import re
from pathlib import Path

import ipywidgets as widgets
import pytest
from panel_kit import answer, classes, control, offered, parts, place, press

import gradekit as gk
from gradekit.app.views import live
from gradekit.app.widgets.controls import Choice, TypedText

DATA = Path(__file__).resolve().parents[2] / "data"


@pytest.fixture
def desk():
    return gk.substitution(DATA / "questions.json", DATA / "element_prices.csv")


def sheet(desk) -> str:
    """Return the printed sheet that is offered to download."""
    press(desk, "Report")
    return base64.b64decode(re.search(r"base64,([^\"]+)", offered(desk))[1]).decode("utf-8")


def test_a_customer_fills_the_boxes_and_the_answer_follows(desk):
    assert desk.comparison.decisive.loc["1.4301", "decisive"] == "water and stress corrosion"
    control(desk, "Take up").value = "Halden & Wick Lifts"
    assert (
        control(desk, "Grade now").value == "1.4301"
        and control(desk, "Magnetism").value == "non-magnetic"
    )
    assert desk.comparison.decisive.loc["1.4016", "decisive"] == "magnetism"
    assert "INVENTED PRICES" in answer(desk)
    control(desk, "Take up").value = "Skerrow Desalination"
    assert control(desk, "Water").value == "seawater"
    desk.numbers.enter("chloride_mg_l", "")
    desk.numbers.enter("water_temperature_C", "20")
    assert desk.comparison.table.set_index(["grade", "criterion"]).loc[
        ("1.4547", "water"), "verdict"
    ] == "caution"  # fmt: skip


def test_every_choice_can_be_made(desk):
    asked = [part for part in parts(desk) if isinstance(part, Choice | widgets.Checkbox)]
    assert len(asked) > 15
    for box in asked:
        for word in box.options if isinstance(box, Choice) else (not box.value,):
            box.value = word
            assert not desk.status.wrong, (box.description, word, desk.status.text)


def test_what_cannot_be_is_said_and_the_answer_stays(desk):
    before = answer(desk)
    control(desk, "Replace by").value = "1.9999"
    assert desk.status.wrong and "1.9999" in desk.status.text
    control(desk, "Grade now").value = ""
    desk.numbers.enter("thickness_mm", "0")
    assert "thickness, mm" in desk.status.text
    assert answer(desk) == before


def why(desk, words: str) -> str:
    """Return the reason beneath a text box, '' where it is not marked."""
    (text,) = (part for part in parts(desk)
               if isinstance(part, TypedText) and part.box.description == words)  # fmt: skip
    _, reason = text.children
    red, shown = "gk-wrong" in classes(text.box), reason.layout.display != "none"
    assert red == shown == bool(reason.value) == bool(text.problem)
    return reason.value


def test_a_refused_text_stays_marked_and_said_and_no_sheet_goes_out(desk):
    press(desk, "Report")
    assert "answer.html" in offered(desk)
    control(desk, "Replace by").value = "1.40l6"
    assert "1.40l6" in why(desk, "Replace by")
    assert desk.status.text.startswith("✕ Replace by · must be")
    assert offered(desk) == "", "a sheet for other grades than those in the box"
    desk.numbers.enter("chloride_mg_l", "20")
    assert not desk.status.wrong and desk.status.text.startswith("1.4301: ")
    assert desk.status.text.endswith("(still refused: Replace by)")
    control(desk, "Water").value = "seawater"
    control(desk, "sour service").value = True
    assert desk.status.text.endswith("(still refused: Replace by)") and why(desk, "Replace by")
    for button in ("Report", "Report as PDF"):
        press(desk, button)
        assert desk.status.wrong and "download" not in offered(desk)
        assert "mend what is refused first" in offered(desk)  # said where the link would be
        assert "mend what is refused first · got Replace by: '1.40l6'" in desk.status.text
    control(desk, "Replace by").value = "1.4016"
    assert not why(desk, "Replace by") and "refused" not in desk.status.text
    assert offered(desk) == ""
    press(desk, "Report")
    assert "answer.html" in offered(desk)


def test_a_refused_number_forbids_the_sheet_as_long_as_it_stands(desk):
    desk.numbers.enter("chloride_mg_l", "much")
    control(desk, "Grade now").value = "1.44O4"
    control(desk, "Form").value = "plate"
    assert desk.status.text.endswith("(still refused: Grade now, chloride, mg/l)")
    press(desk, "Report")
    assert "Grade now: '1.44O4'; chloride, mg/l: 'much'" in desk.status.text
    desk.numbers.enter("chloride_mg_l", "30")
    assert desk.status.text.endswith("(still refused: Grade now)")
    assert desk.status.text.count("refused") == 1
    press(desk, "Undo")
    assert control(desk, "Grade now").value == "1.4404" and not why(desk, "Grade now")
    assert desk.status.text.startswith("undone: ") and "refused" not in desk.status.text
    press(desk, "Report")
    assert "answer.html" in offered(desk)


def test_boxes_show_the_place_that_the_answer_is_for(desk):
    def shown() -> tuple:
        words = [control(desk, words).value for words in ("Place", "Washed by", "SO2")]
        return (*words, desk.numbers.texts["sea_km"])

    control(desk, "Place").value = "no matter"
    assert "atmosphere" not in desk.comparison.criteria
    control(desk, "Washed by").value = "none"
    assert "atmosphere" in desk.comparison.criteria
    assert shown() == ("outdoors", "none", "low", "100")
    desk.numbers.enter("sea_km", "2")
    control(desk, "SO2").value = "high"
    desk.numbers.enter("thickness_mm", "thin")
    control(desk, "Place").value = "no matter"
    assert desk.state.service.atmosphere is None and shown() == ("no matter", "rain", "low", "100")
    assert desk.status.text.endswith("(still refused: thickness, mm)")
    assert desk.numbers.texts["thickness_mm"] == "thin" and not desk.status.wrong


def test_salted_roads_and_tunnels_are_asked_for_and_stand_on_the_sheet(desk):
    control(desk, "Water").value = "none"
    control(desk, "Place").value = "outdoors"
    far = desk.comparison.table.set_index(["grade", "criterion"])["reason"]
    desk.numbers.enter("salted_road_km", "5 m")
    assert desk.state.service.atmosphere.salted_road_km == 0.005
    near = desk.comparison.table.set_index(["grade", "criterion"])["reason"]
    assert (near != far).any() and "0.005 km from a salted road" in sheet(desk)
    control(desk, "Place").value = "road tunnel, salted"
    assert desk.state.service.atmosphere.salted_tunnel
    assert "road tunnel with de-icing salt, 100 km from the sea" in sheet(desk)
    control(desk, "Sheet in").value = "de"
    assert "Straßentunnel mit Streusalz" in sheet(desk) and "gestreuten Straße" in sheet(desk)
    control(desk, "Place").value = "outdoors"
    assert not desk.state.service.atmosphere.salted_tunnel and not desk.status.wrong
    control(desk, "Place").value = "indoors"
    assert desk.state.service.atmosphere.salted_road_km == 10.0


def test_boxes_that_cannot_matter_are_not_shown(desk):
    def hidden() -> set:
        words = {"Washed by": "washing", "SO2": "so2", "Hot gas": "gas"}
        words |= {"annealed after welding": "annealed", "crevices in the water": "crevices"}
        words |= {"water free of oxygen": "oxygen_free", "Touches": "contact"}
        off = {n for w, n in words.items() if control(desk, w).layout.display == "none"}
        return off | set(desk.numbers.hidden)

    outside, heat = {"washing", "so2", "sea_km", "salted_road_km"}, {"hot_hours", "gas"}
    assert hidden() == outside | heat  # indoors, in water, welded
    control(desk, "Place").value = "outdoors"
    assert hidden() == heat
    desk.numbers.enter("sea_km", "0.2")
    control(desk, "Place").value = "indoors"
    assert hidden() == outside | heat and desk.state.service.atmosphere.sea_km == 100.0
    desk.numbers.enter("temperature_max_C", "300")
    assert hidden() == outside
    control(desk, "Water").value = "none"  # what it holds counts no less, and stays in sight
    assert hidden() == outside | {"free_chlorine_mg_l", "crevices", "oxygen_free"}
    desk.numbers.enter("chloride_mg_l", "")
    assert "chloride_mg_l" in hidden() and "water_temperature_C" not in hidden()
    press(desk, "Reset")
    assert hidden() == outside | heat


@pytest.mark.parametrize(
    "typed, names",
    [("1.4301; 1.4521", ["1.4301", "1.4521"]), ("1,4301,1,4521", ["1.4301", "1.4521"]),
     ("1.4016, 430; 1,4016", ["1.4016"]), ("430, 1.4521 , 1.4016;", ["430 (1.4016)", "1.4521"])],
)  # fmt: skip
def test_grades_are_read_as_people_type_them(desk, typed, names):
    control(desk, "Replace by").value = typed
    assert not desk.status.wrong, desk.status.text
    assert [c.name for c in desk.comparison.candidates] == names
    control(desk, "Grade now").value = " 1,4401 "
    assert desk.comparison.reference.name == "1.4401"


def test_suggest_may_be_written_large(desk):
    control(desk, "Replace by").value = " Suggest "
    assert desk.comparison.searched is not None and "'suggest'" in desk.code(desk.state)


@pytest.mark.parametrize(
    "words, typed, says",
    [("Grade now", " ", "Grade now · must be a grade such as 1.4301 · got nothing"),
     ("Grade now", "1.44O4", "Grade now · must be an EN number"),
     ("Replace by", " , ; ", "Replace by · must be grades"),
     ("Replace by", "1.4016, 1.40l6", "Replace by · must be an EN number")],
)  # fmt: skip
def test_the_box_that_is_wrong_is_named(desk, words, typed, says):
    control(desk, words).value = typed
    assert desk.status.text.startswith(f"✕ {says}") and why(desk, words)


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
    press(desk, "Report")
    assert 'download="answer.html"' in offered(desk)
    desk.numbers.enter("chloride_mg_l", "10")
    assert offered(desk) == ""


def test_state_and_code_give_the_same_answer(desk):
    desk.numbers.enter("sea_km", "3")
    control(desk, "Place").value = "outdoors"
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
    control(desk, "Replace by").value = "1,4301; 1.4521"
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
    for page in (answer(desk), desk._repr_html_()):
        assert "<script" not in page and "<img" not in page and "&lt;script" in page


def test_a_certificate_is_read_and_refused_in_words_with_inert_names():
    box = gk.app.certificate_box((DATA / "certificate_hostile.csv").read_text("utf-8"))
    page = answer(box)
    assert "<img src=x" not in page and "<b>H1</b>" not in page and "&lt;b&gt;H1" in page
    last = box.certificate
    box.text.value = "nothing to read\nat all"
    assert "boxes above were changed" in answer(box)
    press(box, "Read")
    assert box.status.wrong and box.certificate is last


def test_what_was_not_understood_stands_marked_beside_the_text():
    box = gk.app.certificate_box(f"{LINE}\nRm 570 MPa\ndelivered <b>free</b> of dirt", "1.4301")
    place = list(box.root.children)
    beside = place[place.index(box.text) + 1]
    assert "△ Not understood" in beside.value
    assert "<mark>delivered &lt;b&gt;free&lt;/b&gt; of dirt</mark>" in beside.value
    assert "Rm" not in beside.value and box.certificate.results["value"].tolist() == [570.0]
    box.text.value = LINE
    press(box, "Read")
    assert beside.value == ""


LINE = "H1: C 0,021 Si 0,45 Mn 1,40 P 0,030 S 0,001 Cr 18,15 Ni 8,19 N 0,056"


@pytest.mark.parametrize("text", ["", "nothing to read\nat all"])
def test_the_answer_to_another_text_is_marked_until_a_text_is_read(text):
    box = gk.app.certificate_box(LINE, "1.4301")
    page = answer(box)
    assert "1.4301" in page and "boxes above were changed" not in page
    box.text.value = text
    press(box, "Read")
    assert box.status.wrong and answer(box).startswith("<p><strong>△ As read before")
    assert answer(box).endswith(page) and "△ As read before" in box._repr_html_()
    box.text.value = LINE.replace("H1", "H2")
    press(box, "Read")
    assert "boxes above were changed" not in answer(box) and "H2" in answer(box)
    box.claims.value = "1.4016"
    assert "boxes above were changed" in answer(box)
    box.claims.value = "1.4301"
    assert "boxes above were changed" not in answer(box)


def test_a_first_text_that_cannot_be_read_is_said_in_the_box():
    box = gk.app.certificate_box("nothing to read\nat all")
    assert box.status.wrong and box.certificate is None and answer(box) == ""


def test_a_certificate_without_a_claim_is_said_in_words():
    box = gk.app.certificate_box(LINE)
    assert box.status.text == "read: no grade is named: not assessed"
    page = answer(box)
    assert "1 heat, 1 verdict: 1 not assessed" in page and "claims=" not in page
    assert "<li>H1: the analysis would fit 1.4301" in page and "none named" in page


def test_the_sheet_goes_out_in_german_under_the_sender_s_head_with_what_is_to_be_had(tmp_path):
    head = tmp_path / "head.txt"
    head.write_text("Tarnwick Works", "utf-8")
    own = gk.substitution(DATA / "questions.json", sender=head, stock=DATA / "stock.csv")
    control(own, "Sheet in").value = "de"
    page = sheet(own)
    assert "Tarnwick Works" in page and "Die kurze Antwort" in page and "lieferbar" in page
    control(own, "Who asks").value = "Orrin Cutlery"
    control(own, "Question").value = "May we?"
    assert own.comparison.customer == "Orrin Cutlery" and "May we?" in sheet(own)


def test_the_picture_of_the_same_answer_takes_no_sheet_back(desk):
    press(desk, "Report")
    assert "answer.html" in offered(desk)
    desk._repr_html_()  # as the still picture beneath the panel is made, a while after a change
    assert "answer.html" in offered(desk)
    control(desk, "Form").value = "plate"
    assert offered(desk) == ""


def test_the_answer_is_saved_as_a_page_that_says_why_nothing_moves_in_it(desk, tmp_path):
    text = desk.save_page(tmp_path / "answer.html").read_text("utf-8")
    assert "default-src 'none'" in text and "<script" not in text and "<input" not in text
    assert "walked through step by step" in text and desk.comparison.reference.name in text


def test_no_sheet_goes_out_without_customer_and_question(desk):
    """A sink question was printed under another customer's name: both are boxes now."""
    assert "Plumebrook Dairy" in sheet(desk) and "milk plant" in sheet(desk)
    for button in ("Report", "Report as PDF"):
        for words in ("Who asks", "Question"):
            held = control(desk, words).value
            for empty in ("", "  "):
                control(desk, words).value = empty
                said = press(desk, button)
                assert desk.status.wrong and f"sheet · must be with '{words}' filled in" in said
                assert "download" not in offered(desk) and words in offered(desk)
            control(desk, words).value = held
    control(desk, "Who asks").value = "Orrin Cutlery"
    control(desk, "Question").value = "May a drawn sink be of 1.4016?"
    control(desk, "Grade now").value, control(desk, "Replace by").value = "1.4301", "1.4016"
    page = sheet(desk)
    assert "Orrin Cutlery" in page and "May a drawn sink" in page
    assert "Plumebrook" not in page and "milk plant" not in page
    assert "ready" in press(desk, "Report") and "download" in offered(desk)


def test_each_figure_of_the_answer_opens_what_it_rests_on(desk):
    page = live(desk.moving(desk.state))
    names = [html.unescape(name) for name in re.findall(r'data-number="([^"]+)"', page)]
    given, moving = desk.comparison, place(desk, "moving")
    whole = {**given.findings, f"{given.reference.name} (now)": given.baseline}
    found = {f"{f.criterion}: {steel}": f for steel, own in whole.items() for f in own}
    costs = [f"alloy cost: {name}" for name in given.findings]
    assert sorted(names) == sorted([*found, *costs])
    assert "<button" not in page  # plain where no kernel answers
    for name, finding in found.items():
        assert name in desk.ask(name)
        about = html.unescape(moving.about)
        for words in (finding.reason, finding.source, finding.remedy, finding.status):
            assert words in about, (name, words)
        assert "wt%, limits of" in about
    index = next(n for n, f in found.items() if n.startswith("pitting index") and f.number)
    desk.ask(index)
    assert "<svg" in moving.about and "Formula" in moving.about and "PREN" in moving.about
    desk.ask(costs[0])
    assert "Element by element" in moving.about and given.surcharge.index[0] in moving.about
    # what is open follows the next step, and is shut where its steel has gone
    desk.numbers.enter("chloride_mg_l", "20")
    assert moving.number == costs[0] and moving.about
    control(desk, "Replace by").value = "1.4404"
    assert moving.about == ""
    assert desk.ask("") == "shut again"
