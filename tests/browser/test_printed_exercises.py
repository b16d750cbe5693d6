"""What a teacher prints has the pages that it should have."""

import re

import gradekit as gk
from gradekit.lessons.pages import paper_set


def test_a_set_of_exercises_prints_on_two_pages(browser, tmp_path):
    page = browser.new_page()
    for seed in (5, 11, 40, 77):
        path = gk.lessons.teacher_page(seed, tmp_path / f"{seed}.html")
        page.goto(path.as_uri())
        sheets = len(re.findall(rb"/Type\s*/Page\b(?!s)", page.pdf(format="A4")))
        assert 1 <= sheets <= 2, (seed, [e.template for e in paper_set(seed)])
    path = gk.lessons.teacher_page(3, tmp_path / "many.html", sets=3)
    page.goto(path.as_uri())
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", page.pdf(format="A4"))) <= 6
    page.goto(gk.lessons.lesson_plan(tmp_path / "plan.html").as_uri())
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", page.pdf(format="A4"))) <= 2
    page.close()
