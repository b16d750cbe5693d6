"""The course as one file: every chapter, judged, kept in the browser, taken along, brought back."""

from __future__ import annotations

import json
import re

import pytest

import gradekit as gk
from gradekit.app.panels.lesson_state import Progress, Work
from gradekit.app.panels.lesson_views import questions
from gradekit.app.state import from_json
from gradekit.lessons.chapters import CHAPTERS
from gradekit.lessons.prompts import PROMPTS

SEED, WIDTHS = 7, (320, 820, 1920)


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    return gk.course_page(tmp_path_factory.mktemp("course") / "course.html", seed=SEED)


@pytest.fixture
def opened(file, browser):
    """A function that opens the page in a browser of its own and watches errors and requests."""
    contexts, trouble = [], []

    def open_page(**options):
        context = browser.new_context(**options)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda e: trouble.append(str(e)))
        page.on("console", lambda m: trouble.append(m.text) if m.type == "error" else None)
        page.on(
            "request",
            lambda r: (
                trouble.append(r.url) if not r.url.startswith(("file:", "data:", "blob:")) else None
            ),
        )
        page.goto(file.as_uri())
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert not trouble


def answer(box, exercise):
    """Answer a question rightly by its controls; a design is not played here."""
    if exercise.form == "number":
        box.get_by_role("textbox").fill(exercise.shown_answer.replace(".", ","))
    elif exercise.form == "choice":
        box.get_by_label(exercise.answer, exact=True).check()
    elif exercise.form == "point":
        for label, value in zip(("chromium", "nickel"), exercise.answer, strict=True):
            box.get_by_label(re.compile(f"^{label} equivalent")).fill(f"{value:.2f}")
    elif exercise.form == "order":
        for place, name in enumerate(exercise.answer):
            while box.locator("ol.gk-order li span").all_inner_texts().index(name) > place:
                box.get_by_role("button", name=f"Move {name} up", exact=True).click()
        if box.get_by_role("button", name=f"Move {name} up", exact=True).is_enabled():
            box.get_by_role("button", name=f"Move {name} up", exact=True).click()
            box.get_by_role("button", name=f"Move {name} down", exact=True).click()
    box.get_by_role("button", name=re.compile("^Check")).click()


def boxes(page, chapter):
    return page.locator(f"[data-check='{chapter}'] .gk-question").all()


def test_it_is_one_small_file_complete_without_scripts(opened, file):
    text = file.read_text("utf-8")
    assert file.stat().st_size < 1.5e6
    assert "default-src 'none'" in text and not re.search(
        r"(?:src|href)=[\"']?(?:https?:)?//", text
    )
    page = opened(java_script_enabled=False)
    body = page.locator("body").inner_text()
    for one in CHAPTERS.values():
        assert one.question in body
        for exercise in questions(one, SEED):
            assert " ".join(exercise.question.split()) in " ".join(body.split())
    assert "the whole of this course" in body  # the bridge from iron and carbon
    for asked in PROMPTS.values():
        assert body.count(asked.exercise().question) == 1, asked.name
    assert "Scripts are off" in body and "licensed engineer" in body and "Run All" not in body
    assert page.locator("details").count() > 3 * len(CHAPTERS)  # answers and working, folded


def test_every_chapter_can_be_played_and_is_kept_and_taken_along(opened, tmp_path):
    page = opened(accept_downloads=True)
    done = 0
    for name, one in CHAPTERS.items():
        guess = page.locator(f"[data-guess='{name}']")
        computed = one.compute()
        guess.get_by_role("textbox").fill(f"{computed.value:.3g}".replace(".", ","))
        guess.get_by_role("textbox").press("Enter")
        assert computed.judged(float(f"{computed.value:.3g}")) in guess.inner_text()
        assert guess.locator("details").first.get_attribute("open") is not None
        for box, exercise in zip(boxes(page, name), questions(one, SEED), strict=True):
            answer(box, exercise)
            said = box.get_by_role("status").inner_text()
            if exercise.form != "design":
                assert said.startswith("✓"), (exercise.template, said)
                done += 1
    assert done > 2 * len(CHAPTERS)

    first = boxes(page, "equivalents")[0]
    first.get_by_role("button", name=re.compile("^Show working")).click()
    assert first.locator(".gk-working").is_visible()
    page.get_by_label("Your name").fill("A. Pupil")
    page.get_by_label("Your name").press("Tab")
    page.reload()
    assert page.locator("#standing tr").count() == len(CHAPTERS)
    assert "not yet" not in page.locator("#standing").inner_text()
    assert boxes(page, "equivalents")[0].get_by_role("status").inner_text().startswith("✓")

    with page.expect_download() as download:
        page.get_by_role("button", name="Save my work as a file").click()
    path = tmp_path / "my-phase-balance.json"
    download.value.save_as(path)
    work = Work.from_data(from_json(path.read_text("utf-8"), "phase balance"))
    assert work.name == "A. Pupil" and len(work.guesses) == len(CHAPTERS)
    assert sum(work.solved(name) for name in CHAPTERS) == done and len(work.opened) == 1
    (row,) = gk.class_report(tmp_path).to_dict("records")
    assert (row["name"], row["guesses"], row["right"]) == ("A. Pupil", len(CHAPTERS), done)


def test_a_wrong_answer_is_told_its_slip_and_other_questions_follow(opened):
    page = opened()
    name, number, slip = next(
        (name, number, m)
        for name, one in CHAPTERS.items()
        for number, exercise in enumerate(questions(one, SEED))
        if exercise.form == "number"
        for m in exercise.mistakes
    )
    box = boxes(page, name)[number]
    box.get_by_role("textbox").fill(f"{float(slip.value):.4f}")
    box.get_by_role("textbox").press("Enter")
    assert slip.words in box.get_by_role("status").inner_text()
    box.get_by_role("textbox").fill("plenty")
    box.get_by_role("textbox").press("Enter")
    assert box.get_by_role("status").inner_text().startswith("△")
    before = [b.inner_text() for b in boxes(page, name)]
    page.locator(f"[data-check='{name}']").get_by_role("button", name="Other questions").click()
    assert [b.inner_text() for b in boxes(page, name)] != before


def test_a_file_of_the_notebook_goes_on_here_and_a_hostile_one_is_refused_or_inert(
    opened, tmp_path
):
    progress = Progress(tmp_path / "work.json", "</script><img src=x onerror=alert(1)>\u2028")
    progress.keep(lambda work: work.guessed("nitrogen", 0.3))
    page = opened()
    page.get_by_label("Go on with a file").set_input_files(progress.path)
    page.locator("#told").filter(has_text="read: work.json").wait_for()
    assert page.locator("[data-guess=nitrogen] input").input_value() == "0.3"
    assert page.locator("img[src=x]").count() == 0
    assert page.get_by_label("Your name").input_value().startswith("</script>")
    for text in ("no JSON", "{}", '{"format":"gradekit panel","version":9,"kind":"phase balance"}',
                 json.dumps({"format": "gradekit panel", "version": 1, "kind": "phase balance",
                             "state": {"guesses": {"<b>": 1}, "tries": []}})):  # fmt: skip
        (tmp_path / "bad.json").write_text(text)
        page.get_by_label("Go on with a file").set_input_files(tmp_path / "bad.json")
        page.locator("#told").filter(has_text="✕").wait_for()
        assert page.locator("[data-guess=nitrogen] input").input_value() == "0.3"
        page.evaluate("document.getElementById('told').textContent = ''")


def test_its_explorers_live_and_nothing_sticks_out_at_any_width(opened):
    for width in WIDTHS:
        page = opened(viewport={"width": width, "height": 900})
        assert page.evaluate("document.documentElement.scrollWidth - innerWidth") <= 0, width
    found = page.locator("[data-explorer]")
    assert found.count() >= 3
    # What would give an answer away opens with the guess.
    shut = page.locator("[data-after]")
    assert shut.count() >= 3 and not found.first.is_visible()
    guess = page.locator("[data-guess=equivalents]").get_by_role("textbox")
    guess.fill("1")
    guess.press("Enter")
    assert found.first.is_visible() and not shut.nth(1).get_by_role("img").first.is_visible()
    box = found.first.get_by_role("textbox", name="Mn", exact=True)
    value = found.first.locator("td[data-value]").last
    before = value.get_attribute("data-value")
    box.fill("7,5")
    assert value.get_attribute("data-value") != before
    assert found.nth(1).get_by_role("textbox", name="Mn", exact=True).input_value() != "7,5"


def test_it_is_named_for_those_who_hear_it_and_dark_where_asked(opened):
    page = opened(color_scheme="dark")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") != "rgb(255, 255, 255)"
    tree = page.locator("body").aria_snapshot()
    nameless = re.findall(
        r"^\s*- (?:button|checkbox|combobox|link|radio|textbox)(?! \")", tree, re.M
    )
    assert not nameless
