"""What the course keeps of the self-checks, and what it says on the sheet to hand in."""

import re

import pytest
from panel_kit import press

import gradekit as gk
from gradekit.app.panels.lesson_state import Work
from gradekit.lessons.pages import paper_set


@pytest.fixture
def course(tmp_path):
    return gk.course(tmp_path / "work.json")


def page(course):
    text = course.sheet(course.progress.path.with_name("sheet.html")).read_text("utf-8")
    return text.partition("data-work")[0]  # what follows is for a teacher's table


def right(item):
    return item.exercise.shown_answer


def test_what_could_not_be_read_is_no_wrong_try(course):
    check = course.check("pitting")
    a_number = "Answer with a number"
    for given, words in (("about ten", a_number), ("1/2", a_number), ("24 FN", "without a unit")):
        assert words in check.enter(1, given) and check.items[0].said.startswith("△")
    assert course.progress.work.tries == () and "about ten" not in page(course)
    check.enter(1, "1")
    assert check.items[0].said.startswith("✕")
    check.enter(1, right(check.items[0]))
    assert [t.given for t in course.progress.work.tries] == ["1", right(check.items[0])]


def test_solved_stays_solved_whatever_comes_after(course):
    check = course.check("pitting")
    check.enter(2, right(check.items[1]))
    said = check.enter(2, " > ".join(check.items[1].exercise.mistakes[0].value))
    assert said.startswith("✕ Not yet") and "had it right before" in said
    assert course.progress.work.solved("pitting") == 1
    again = gk.course(course.progress.path)
    assert "had it right before" in again.check("pitting").items[1].said
    assert "Solved at answer 1." in page(again)
    assert "right before" not in check.enter(1, "1")
    assert page(course).count("Not solved.") == 1


def test_so_many_of_how_many(course):
    check = course.check("dilution")
    assert course._repr_html_().count("0 of 3 right") == 10
    check.enter(1, right(check.items[0]))
    assert "1 of 3 right" in course._repr_html_()
    press(check, "Other questions")
    assert "1 of 6 right" in course._repr_html_()
    # Sets that were only leafed through do not count.
    press(check, "Other questions")
    assert "1 of 6 right" in course._repr_html_()


def test_the_sheet_tells_that_the_working_was_shown_before(course):
    check = course.check("families")
    check.enter(1, "1")
    check.items[0].show_working()
    check.enter(1, right(check.items[0]))
    check.enter(2, right(check.items[1]))
    check.items[1].show_working()
    check.items[2].show_working()
    for opened in (course, gk.course(course.progress.path)):
        text = page(opened)
        order = [m.start() for m in re.finditer("Not yet|shown before|Right[.]", text)]
        words = [text[at : at + 5] for at in order]
        assert words == ["Not y", "shown", "Right", "Right"]
        assert text.count("shown after that") == 1 and text.count("shown, no answer") == 1
    assert [t.after_working for t in course.progress.work.tries] == [False, True, False]


def test_work_of_an_earlier_version_is_read():
    data = Work().data()
    del data["opened"]
    data["tries"] = [{"chapter": "pitting", "seed": 0, "item": 1, "given": "1", "right": False,
                      "said": "Not yet."}]  # fmt: skip
    work = Work.from_data(data)
    assert work.opened == () and not work.tries[0].after_working


@pytest.mark.parametrize("opened", [{}, "x", ["x"], [["pitting", 0]], [["nowhere", 0, 1]]])
def test_broken_notes_of_the_working_are_refused(opened):
    with pytest.raises(gk.InputError, match=r"opened|chapter"):
        Work.from_data(Work().data() | {"opened": opened})


def test_the_decimals_that_are_wanted_are_said(course, tmp_path):
    assert course.check("dilution").items[0].data["asked"].startswith("wt%, to ")
    martensite = course.check("martensite")
    assert martensite.items[0].data["asked"] == "°C, to 1 decimal"
    assert "Answer 1, °C, to 1 decimal<" in martensite._repr_html_()
    assert course.check("fields").items[0].data["asked"] == ""
    text = gk.lessons.teacher_page(4, tmp_path / "page.html").read_text("utf-8")
    for exercise in paper_set(4):
        if exercise.form == "number":
            assert f"<p>Answer, {exercise.asked}: " in text
