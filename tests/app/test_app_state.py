"""What the explorers remember and how they take what is typed, without a browser."""

from __future__ import annotations

import json
import threading

import numpy as np
import openpyxl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from panel_kit import control, place, press

import gradekit as gk
from gradekit.app import views
from gradekit.app.state import VERSION, History, Trial, from_json, to_json
from gradekit.app.widgets.numbers import Field, NumberBoxes
from gradekit.app.widgets.status import Status, guarded

HEATS = [
    {"heat": "H1", "C": 0.05, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "Mo": 0.2, "N": 0.05},
    {"heat": "=H2<b>", "C": 0.06, "Si": 0.4, "Mn": 7.2, "Cr": 17.0, "Ni": 4.2, "N": 0.16},
]


# --- history ----------------------------------------------------------------------------------


@given(st.lists(st.integers(0, 3), min_size=1, max_size=12))
def test_undo_walks_back_over_every_step_and_redo_forth_again(states):
    history = History(0)
    seen = [0]
    for state in states:
        history = history.step(state)
        if state != seen[-1]:
            seen.append(state)
    back = []
    while history.past:
        back.append(history.now)
        history = history.undo()
    assert [history.now, *reversed(back)] == seen
    while history.future:
        history = history.redo()
    assert history.now == seen[-1] and history.redo() is history


def test_quick_steps_of_one_control_are_undone_together():
    history = History("a")
    for at, state in enumerate("bcd"):
        history = history.step(state, key="Cr", at=10 + 0.3 * at)
    history = history.step("e", key="Ni", at=10.9)
    assert history.undo().now == "d" and history.undo().undo().now == "a"
    slow = History("a").step("b", "Cr", 10.0).step("c", "Cr", 12.0)
    assert slow.undo().now == "b"


def test_a_new_step_forgets_what_was_undone_and_reset_can_be_undone():
    history = History("a").step("b").undo().step("c")
    assert not history.future
    assert history.reset().now == "a" and history.reset().undo().now == "c"


# --- files ------------------------------------------------------------------------------------

contents = st.dictionaries(
    st.sampled_from("C Si Mn Cr Ni Mo N Cu".split()), st.floats(0, 11), min_size=1
)


@given(contents, st.text(max_size=8))
def test_what_is_saved_is_loaded(composition, name):
    trial = Trial.of(composition, {"temperature_C": 20.0}, reference=name, diagram="wrc_1992")
    text = to_json("composition", trial.data())
    assert Trial.from_data(from_json(text, "composition")) == trial


def saved(**changes):
    content = json.loads(to_json("composition", Trial.of({"Cr": 18.0}).data()))
    return json.dumps({**content, **changes})


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "a file saved by an explorer · got nothing"),
        ("{}", "a file saved by an explorer"),
        ("[1, 2]", "a file saved by an explorer"),
        ("heat,Cr\nH1,18", "a file saved by an explorer"),
        (saved(version=VERSION + 1), f"must be {VERSION} or older"),
        (saved(version="new"), f"must be {VERSION} or older"),
        (saved(kind="brief"), "must be 'composition' · got 'brief'"),
        (saved(state=[]), "a JSON object"),
    ],
)
def test_a_file_that_cannot_be_read_is_refused_in_words(text, said):
    with pytest.raises(gk.InputError) as caught:
        from_json(text, "composition", "a.json")
    assert said in str(caught.value) and "a.json" in str(caught.value)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({}, "composition · must be names with numbers"),
        ({"composition": {"Cr": "18"}}, "composition, Cr · must be a number"),
        ({"composition": {"Cr": True}}, "composition, Cr · must be a number"),
        ({"composition": {"Xx": 1.0}}, "Xx"),
        ({"composition": {"Cr": 150.0}}, "between 0 and 100"),
        ({"composition": {"Cr": 60.0, "Ni": 60.0}}, "sum of the contents"),
        ({"composition": {"Cr": 18.0}, "conditions": {"temperature_C": "hot"}}, "must be a number"),
    ],
)
def test_a_state_is_checked_as_strictly_as_any_input(data, said):
    with pytest.raises(gk.InputError) as caught:
        Trial.from_data(data)
    assert said in str(caught.value)


# --- numbers ----------------------------------------------------------------------------------

CR = Field("Cr", 0.0, 30.0, 0.1, most=100.0, optional=True)


@pytest.mark.parametrize(
    ("text", "number"), [("18,2", 18.2), (" 18.2 ", 18.2), ("", None), ("1e1", 10.0), ("45", 45.0)]
)
def test_a_box_reads_what_people_write(text, number):
    assert CR.read(text) == number


@pytest.mark.parametrize("text", ["much", "18..2", "1e999", "-1", "150", "<0.005", "nd", "1 2"])
def test_a_box_refuses_in_words_what_it_cannot_take(text):
    with pytest.raises(gk.InputError, match="Cr · must be"):
        CR.read(text)


def test_a_box_that_must_be_filled():
    with pytest.raises(gk.InputError, match="must be a number · got nothing"):
        Field("x", 0, 1, 0.1).read(" ")


@given(st.floats(0, 100))
def test_what_a_box_shows_it_reads_back(number):
    assert CR.read(CR.show(number)) == pytest.approx(number, rel=1e-9)


@pytest.fixture
def numbers():
    def changed(values, name):
        if (values["Cr"] or 0) + values["Ni"] > 100:
            raise gk.InputError("sum", "at most 100", values["Cr"] + values["Ni"])
        seen.append((dict(values), name))

    seen: list = []
    status = Status()
    made = NumberBoxes([CR, Field("Ni", 0, 30, 0.1)], {"Cr": 18.0, "Ni": 8.0}, changed, "", status)
    made.seen, made.status = seen, status
    return made


def test_a_refused_number_leaves_everything_as_it_was(numbers):
    numbers.enter("Cr", "lots")
    assert numbers.values == {"Cr": 18.0, "Ni": 8.0} and not numbers.seen
    assert "got 'lots'" in numbers.status.text and numbers.status.wrong
    assert numbers.texts["Cr"] == "lots"  # stays in the box, to be mended
    numbers.enter("Ni", "9")
    assert numbers.values == {"Cr": 18.0, "Ni": 9.0}  # the other box still works
    assert "Cr" in numbers.problems and numbers.status.wrong
    numbers.enter("Cr", "19")
    assert numbers.values == {"Cr": 19.0, "Ni": 9.0}
    assert not numbers.problems and numbers.status.text == ""


def test_what_did_not_fit_before_is_tried_again(numbers):
    numbers.enter("Ni", "90")
    assert numbers.values["Ni"] == 8.0 and "sum" in numbers.problems["Ni"]
    numbers.enter("Cr", "5")
    assert numbers.values == {"Cr": 5.0, "Ni": 90.0} and not numbers.problems


def typed_in_the_page(numbers, turn, **texts):
    numbers.set_state({"typed": {"turn": turn, "count": 1, "texts": {**numbers.texts, **texts}}})


def test_what_was_typed_over_a_state_that_is_gone_is_dropped(numbers):
    turn = numbers.shown["turn"]
    typed_in_the_page(numbers, turn, Cr="19")
    assert numbers.values["Cr"] == 19.0
    numbers.show({"Cr": 17.0, "Ni": 8.0})  # as undo does
    typed_in_the_page(numbers, turn, Cr="20")
    assert numbers.values["Cr"] == 17.0 and numbers.shown["texts"]["Cr"] == "17"


def test_an_unforeseen_error_is_words_too():
    status = Status()
    guarded(status, lambda: 1 / 0)()
    assert status.wrong and "ZeroDivisionError" in status.text
    guarded(status, lambda: "done")()
    assert not status.wrong and status.text == "done"


# --- the explorer -------------------------------------------------------------------------------


@pytest.fixture
def panel(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return gk.explorer(HEATS, grain_size_astm=8)


def test_the_table_is_what_the_library_says(panel):
    table = panel.table(panel.state).set_index("name")
    own = gk.evaluate(HEATS, [r.name for r in panel.relations], grain_size_astm=8)
    np.testing.assert_allclose(table.loc[own.names, "H1"], own.values.loc["H1"], rtol=1e-12)
    panel.numbers.enter("Ni", "6")
    table = panel.table(panel.state).set_index("name")
    moved = gk.evaluate({**HEATS[0], "Ni": 6.0}, list(own.names), grain_size_astm=8)
    np.testing.assert_allclose(table.loc[own.names, "trial"], moved.values.iloc[0], rtol=1e-12)
    assert "assumed zero" in " ".join(table["flag"])


def test_each_step_sends_one_short_string_and_the_background_stays(panel):
    before, moved = place(panel, "background").value, place(panel, "moving").state
    panel.numbers.enter("Cr", "18.9")
    assert place(panel, "background").value is before
    now = place(panel, "moving").state  # the page draws it
    assert now != moved and len(json.dumps(now)) < 1000 < len(before)


def on_two_threads(panel, monkeypatch, first, second):
    """Begin one step, and before it is done another; return how many were under way at once."""
    moving, begun, go_on = type(panel).page_state, threading.Event(), threading.Event()
    under_way = []

    def slow(self, state):
        under_way.append(state)
        begun.set()
        go_on.wait(10)
        return moving(self, state)

    monkeypatch.setattr(type(panel), "page_state", slow)
    threads = [threading.Thread(target=first), threading.Thread(target=second)]
    threads[0].start()
    assert begun.wait(10)
    threads[1].start()
    threads[1].join(0.2)
    at_once = len(under_way)
    go_on.set()
    for thread in threads:
        thread.join(10)
    return at_once


def test_steps_on_two_threads_follow_each_other(panel, monkeypatch):
    """A kernel with subshells hears what is typed on one thread and buttons on another."""
    numbers = panel.numbers
    text = {"turn": numbers.shown["turn"], "count": 1, "texts": {**numbers.texts, "Ni": "5"}}
    typed = lambda: numbers.set_trait("typed", text)  # noqa: E731
    assert on_two_threads(panel, monkeypatch, typed, control(panel, "Undo").click) == 1
    assert panel.trial["Ni"] == 8.1 and len(panel.history.future) == 1


def test_a_choice_that_was_chosen_over_while_it_waited_is_dropped(panel, monkeypatch):
    panel.numbers.enter("Ni", "5")
    chosen = lambda: control(panel, "Diagram").set_trait("value", "delong_1973")  # noqa: E731
    assert on_two_threads(panel, monkeypatch, control(panel, "Undo").click, chosen) == 1
    assert control(panel, "Diagram").value == panel.state.diagram


def test_buttons_keep_undo_and_bring_back(panel, tmp_path):
    panel.numbers.enter("Cr", "18.9")
    press(panel, "Save")
    press(panel, "Undo")
    assert panel.trial["Cr"] == 18.2 and panel.numbers.texts["Cr"] == "18.2"
    press(panel, "Redo")
    press(panel, "Reset")
    assert panel.trial["Cr"] == 18.2
    press(panel, "Load")
    assert panel.trial["Cr"] == 18.9 and panel.numbers.texts["Cr"] == "18.9"
    content = json.loads((tmp_path / "my-trial.json").read_text("utf-8"))
    assert content["version"] == VERSION and len(content["results"]) > 12
    press(panel, "Copy as code")
    assert "'Cr': [18.9, " in panel.codebox.text


def test_nothing_is_saved_over_that_is_not_ones_own(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    first, second = gk.explorer(HEATS), gk.explorer(HEATS)
    first.numbers.enter("Ni", "5")
    assert press(first, "Save") == "saved in my-trial.json"
    # The other panel of the notebook suggested the same name, and takes the next.
    assert (
        press(second, "Save") == "saved in my-trial-2.json"
        and control(second, "File").value == "my-trial-2"
    )
    assert control(gk.explorer(HEATS), "File").value == "my-trial-3"
    before = (tmp_path / "my-trial.json").read_text()
    control(second, "File").value = "my-trial"
    said = press(second, "Save")
    assert second.status.wrong and "second time" in said
    assert said.endswith("there before · nearest my-trial-3.json")
    assert (tmp_path / "my-trial.json").read_text() == before
    assert press(second, "Save") == "saved in my-trial.json"  # pressed again: meant
    for _ in range(2):  # however often
        assert "changed by another program or page since" in press(first, "Save")
        assert first.status.wrong
    press(first, "Load")
    assert press(first, "Save") == "saved in my-trial.json"


def test_a_file_of_another_kind_is_never_replaced(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    gk.course("work.json").guess("duplex").enter("3")
    (tmp_path / "work.csv").write_text("heat,Cr\nH1,18\n")
    gk.write_heats(HEATS, "work.xlsx")
    before = {p.name: p.read_bytes() for p in tmp_path.iterdir()}
    panel = gk.explorer(HEATS)
    control(panel, "File").value = "work"
    for button in ("Save", "CSV", "XLSX"):
        for _ in range(3):
            assert "another kind, which is never replaced" in press(panel, button)
            assert panel.status.wrong
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir()} == before
    control(panel, "File").value = "mine"
    for ending in ("csv", "xlsx"):
        press(panel, ending.upper())
        again = gk.explorer(HEATS)
        control(again, "File").value = "mine"
        assert "pressed a second time" in press(again, ending.upper()) and again.status.wrong
        assert press(again, ending.upper()) == f"written: mine.{ending}"


def test_a_file_that_cannot_be_loaded_changes_nothing(panel, tmp_path):
    state = panel.state
    for name, text in (
        ("none", None),
        ("newer", saved(version=VERSION + 1)),
        ("other", saved(state={"composition": {"Cr": 18.0}, "reference": "H9"})),
        ("bytes", b"\x89PNG\r\n\x1a\n\xff"),
    ):
        if text is not None:
            path = tmp_path / f"{name}.json"
            path.write_bytes(text if isinstance(text, bytes) else text.encode())
        control(panel, "File").value = name
        press(panel, "Load")
        assert panel.status.wrong and panel.state is state
    for name in ("", "a/b", ".hidden", "c:d"):
        control(panel, "File").value = name
        press(panel, "Save")
        assert "file name" in panel.status.text
    assert sorted(p.name for p in tmp_path.iterdir()) == ["bytes.json", "newer.json", "other.json"]


def test_hostile_names_are_text_on_the_page_and_in_the_spreadsheet(panel, tmp_path):
    control(panel, "Reference").value = "=H2<b>"
    shown = views.live(panel.moving(panel.state))
    assert "<b>H2" not in shown and "=H2&lt;b&gt;" in shown
    press(panel, "XLSX")
    sheet = openpyxl.load_workbook(tmp_path / "my-trial.xlsx").active
    assert not any(c.data_type == "f" for row in sheet.iter_rows() for c in row)
    press(panel, "CSV")
    assert ",=H2" not in (tmp_path / "my-trial.csv").read_text("utf-8-sig")


def test_diagram_and_reference_can_be_undone_as_well(panel):
    control(panel, "Diagram").value = "delong_1973"
    control(panel, "Reference").value = "=H2<b>"
    assert panel.numbers.notes["Ni"] == "ref. 4.2"
    press(panel, "Undo")
    press(panel, "Undo")
    assert control(panel, "Diagram").value == "wrc_1992" and panel.numbers.notes["Ni"] == "ref. 8.1"


def test_every_relation_can_be_shown_for_a_heat_that_lacks_nearly_everything():
    panel = gk.explorer({"Cr": 18.0}, relations=list(gk.catalogue().index), elements=["Cr", "Ni"])
    panel.numbers.enter("Ni", "8")
    assert len(panel.relations) == len(gk.catalogue())
    assert "no place on the diagram" in views.live(panel.moving(panel.state))


def test_what_a_caller_gets_wrong_is_said_at_once():
    for wrong in (
        {"reference": "H9"},
        {"relations": ["pren"]},
        {"diagram": "wrc"},
        {"elements": ["Xx"]},
        {"temperature": 20},
        {"start": {"Cr": -1}},
    ):
        with pytest.raises(gk.InputError):
            gk.explorer(HEATS, **wrong)


def test_it_reads_without_a_kernel(panel):
    bundle = panel._repr_mimebundle_()
    page = bundle["text/html"]
    assert "application/vnd.jupyter.widget-view+json" in bundle
    assert "Run All Cells" in page and "<caption>" in page and 'scope="row"' in page
    assert "<img alt=" in page and "<svg" not in page
    assert "not for code acceptance" in page and "reconstruction" in page


def test_a_number_that_can_be_read_two_ways_is_asked_back():
    box = Field("temperature", 0, 1300, 10)
    assert box.read("1,5") == 1.5 and box.read("1.0500") == 1.05 and box.read("1.050,5") == 1050.5
    for text in ("1,050", "1.050"):
        with pytest.raises(gk.InputError, match=r"one way only.* nearest 1.05 or 1050"):
            box.read(text)
    # the box writes none itself
    assert box.show(12.345) == "12.3450" and box.read(box.show(12.345)) == 12.345
    assert Field("Cr", 0, 30, 0.1, most=100.0).read("17,200") == 17.2
