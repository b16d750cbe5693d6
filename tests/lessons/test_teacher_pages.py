"""What a teacher prints: exercises with diagrams, solutions apart, a lesson plan."""

import re
from collections import Counter
from html import escape

import pytest

import gradekit as gk
from gradekit.lessons.chapters import CHAPTERS
from gradekit.lessons.pages import MARKS, paper_set
from gradekit.lessons.sets import TOPICS


@pytest.fixture(scope="module")
def pages(tmp_path_factory):
    path = gk.lessons.teacher_page(5, tmp_path_factory.mktemp("class") / "page.html", sets=3)
    return path, path.read_text("utf-8"), path.with_name("page-solutions.html").read_text("utf-8")


def test_the_same_seed_gives_the_same_pages(pages, tmp_path):
    _, text, keys = pages
    again = gk.lessons.teacher_page(5, tmp_path / "page.html", sets=3)
    assert again.read_text("utf-8") == text
    assert again.with_name("page-solutions.html").read_text("utf-8") == keys
    assert gk.lessons.teacher_page(6, tmp_path / "x.html", sets=3).read_text("utf-8") != text


def test_solutions_stand_in_a_file_of_their_own(pages):
    _, text, keys = pages
    assert "Working" not in text and "Solutions" not in text
    for seed in (5, 6, 7):
        for e in paper_set(seed):
            assert escape(e.question, quote=False)[:40] in text.replace("&#39;", "'")
            assert f": {escape(e.shown_answer)}" in keys.replace("&#39;", "'").replace(
                "&#34;", '"') or e.shown_answer in keys  # fmt: skip
            if e.form == "number":
                assert f": {e.shown_answer}" not in text
    for page in (text, keys):
        assert "https:" not in page and "<script" not in page


def test_each_sheet_has_boxes_marks_and_the_diagrams_it_needs(pages):
    _, text, keys = pages
    sheets = text.split("<header")[1:]
    assert len(sheets) == 3
    for seed, sheet in zip((5, 6, 7), sheets, strict=True):
        made = paper_set(seed)
        assert all(word in sheet for word in ("Name", "Date", f"Set {seed}"))
        assert f"of {sum(MARKS[e.kind] for e in made)}" in sheet
        assert sheet.count('class="marks"') == len(made) == len(TOPICS)
        needed = sum(bool(e.picture and (e.picture.points or e.form == "point")) for e in made)
        assert sheet.count("<img") == needed <= 2
        assert sheet.count('class="tick"') == sum(
            len(e.choices) for e in made if e.form == "choice"
        )
    assert keys.count("<img") == sum(e.picture is not None for s in (5, 6, 7) for e in paper_set(s))


def test_a_pencil_can_answer_all_and_every_kind_comes_up():
    kinds = Counter(e.kind for seed in range(25) for e in paper_set(seed))
    assert set(kinds) == set(MARKS) - {"design"}
    assert max(kinds.values()) < 0.35 * kinds.total()


def test_a_lesson_plan_of_four_sittings(tmp_path):
    text = gk.lessons.lesson_plan(tmp_path / "plan.html").read_text("utf-8")
    assert text.count("done last time") == 3  # the first sitting has none before it
    sittings = text.split("<section>")[1:]
    assert len(sittings) == 4
    for sitting in sittings:
        assert "Aims." in sitting
        parts = sum(int(m) for m in re.findall(r"<tr><td>(\d+)</td>", sitting))
        assert f"{parts} minutes in all" in sitting and 70 <= parts <= 90
    for name, chapter in CHAPTERS.items():
        assert sum(f"<b>{name.capitalize()}.</b>" in s for s in sittings) == 1
        assert escape(chapter.question.split("'")[0]) in text


def test_a_page_is_written_whole_or_not_at_all(tmp_path):
    with pytest.raises(gk.InputError):
        gk.lessons.teacher_page(7, tmp_path / "gone" / "page.html")
    with pytest.raises(gk.InputError):
        gk.lessons.lesson_plan(tmp_path / "gone" / "plan.html")
    assert not list(tmp_path.iterdir())
