"""A class's hand-ins: files and sheets, judged again, whatever a file claims."""

import json

import pytest

import gradekit as gk
from gradekit.app.panels.lesson_state import Work


def hand_in(folder, name, right=(), wrong=(), peek=()):
    """Let a student answer self-checks; each is (chapter, question)."""
    course = gk.course(folder / f"{name}.json", name)
    for chapter, n in wrong:
        item = course.check(chapter).items[n - 1]
        slip = item.exercise.mistakes[0].value
        course.check(chapter).enter(n, " > ".join(slip) if isinstance(slip, tuple) else slip)
    for chapter, n in peek:
        course.check(chapter).items[n - 1].show_working()
    for chapter, n in right:
        course.check(chapter).enter(n, course.check(chapter).items[n - 1].exercise.shown_answer)
    return course


def test_a_table_of_a_class(tmp_path):
    strong = [("pitting", n) for n in (1, 2, 3)] + [("nitrogen", 1)]
    hand_in(tmp_path, "Ann", right=strong).guess("pitting").enter("0.2")
    hand_in(tmp_path, "Ben", right=[("pitting", 1)], wrong=[("pitting", 1), ("pitting", 2)])
    hand_in(tmp_path, "Cleo", right=[("pitting", 1)], peek=[("pitting", 1)])
    (tmp_path / "notes.txt").write_text("not mine")
    report = gk.class_report(tmp_path)
    assert list(report.index) == ["Ann.json", "Ben.json", "Cleo.json"]
    assert report["name"].tolist() == ["Ann", "Ben", "Cleo"]
    assert report["questions"].tolist() == [4, 2, 1]
    assert report["right"].tolist() == [4, 1, 1] and report["at once"].tolist() == [4, 0, 0]
    assert report["marks"].tolist() == [8, 1, 1] and set(report["of"]) == {60}
    assert report["guesses"].tolist() == [1, 0, 0]
    assert report.chapters.loc["pitting", "students"] == 3
    assert report.chapters.loc["pitting", "right"] == pytest.approx(5 / 6)
    assert list(report.chapters.index) == ["nitrogen", "pitting"]
    shown = report._repr_html_()
    assert "3 hand-ins" in shown and "What the class found hard" in shown


def test_a_sheet_is_a_hand_in_too(tmp_path):
    course = hand_in(tmp_path, "Ann <b>", right=[("dilution", 1)])
    course.sheet(tmp_path / "ann.html")
    course.progress.path.unlink()
    (tmp_path / "other.html").write_text("<p data-else='{}'>a page</p>")
    report = gk.class_report(tmp_path)
    assert list(report.index) == ["ann.html"] and report["right"].tolist() == [1]
    assert report["name"].tolist() == ["Ann <b>"] and "<b>Ann" not in report._repr_html_()


def test_work_that_is_handed_in_twice_counts_once(tmp_path):
    hand_in(tmp_path, "ann", wrong=[("pitting", 1)]).sheet(tmp_path / "ann.html")
    hand_in(tmp_path, "ben", right=[("pitting", 1)])
    report = gk.class_report(tmp_path)
    assert report.loc["ann.html", "remark"] == "" and "as ann.html: counted once" in report.loc[
        "ann.json", "remark"]  # fmt: skip
    assert report.chapters.loc["pitting", "right"] == 0.5


def test_what_a_file_claims_does_not_count(tmp_path):
    path = hand_in(tmp_path, "Eve", wrong=[("pitting", 1)]).progress.path
    data = json.loads(path.read_text("utf-8"))
    data["state"]["tries"][0]["right"] = True
    path.write_text(json.dumps(data), "utf-8")
    report = gk.class_report(tmp_path)
    assert report["right"].tolist() == [0] and report["marks"].tolist() == [0]
    assert "called right in the file" in report["remark"].item()


def test_answers_of_another_edition_are_left_out_and_counted(tmp_path):
    path = hand_in(tmp_path, "Old", right=[("pitting", 1)]).progress.path
    data = json.loads(path.read_text("utf-8"))
    del data["state"]["tries"][0]["asked"]
    path.write_text(json.dumps(data), "utf-8")
    report = gk.class_report(tmp_path)
    assert report["questions"].tolist() == [0]
    assert "1 answers to questions of another edition" in report["remark"].item()
    # and the student sees the question afresh
    assert gk.course(path).check("pitting").items[0].said == ""


def test_a_file_that_cannot_be_read_stands_in_the_table(tmp_path):
    hand_in(tmp_path, "Ann", right=[("pitting", 1)])
    (tmp_path / "broken.json").write_text("{", "utf-8")
    (tmp_path / "explorer.json").write_text('{"kind": "composition"}', "utf-8")
    report = gk.class_report(tmp_path)
    assert "cannot be read" in report.loc["broken.json", "remark"]
    assert "explorer.json" not in report.index


def test_a_folder_without_hand_ins_is_refused(tmp_path):
    with pytest.raises(gk.InputError, match="hand-ins"):
        gk.class_report(tmp_path)
    with pytest.raises(gk.InputError, match="there"):
        gk.class_report(tmp_path / "gone")


def test_prompts_are_kept_and_do_not_count_as_questions(tmp_path):
    course = gk.course(tmp_path / "work.json")
    box = course.prompt("titanium")
    assert "multiplied" in box.enter("21.76") and box.enter("0,34") == "✓ Right."
    work = Work.from_data(course.progress.work.data())
    assert work.solved("families") == 0 and len(work.tries) == 2
    assert gk.course(course.progress.path).prompt("titanium").item.said == "✓ Right."
    assert "0,34" in course.sheet(tmp_path / "sheet.html").read_text("utf-8")
    assert gk.class_report(tmp_path).loc["work.json", "questions"] == 0
    still = box._repr_html_()
    assert "Your answer: 0,34" in still and "Guess, then look" in still


def test_an_answer_that_is_handed_over_again_is_judged_once(tmp_path):
    course = gk.course(tmp_path / "work.json")
    item = course.check("pitting").items[0]
    item.answer = {"turn": 1, "given": "1"}
    item.answer = {"turn": 2, "given": "1"}  # the page has not heard, and asks again
    assert len(course.progress.work.tries) == 1
    assert item.reply["turn"] == 2 and item.said.startswith("✕")
    item.answer = {"turn": 1, "given": "2"}  # of a view that is behind
    assert len(course.progress.work.tries) == 1
