"""Every kind of question in a browser: by keyboard, by mouse, at three widths, and heard late."""

import json
from pathlib import Path

import numpy as np
import pytest
from drawn_exercises import given

import gradekit.app.widgets.question as question
from gradekit.lessons.charted import chart_data
from gradekit.lessons.marking import mark
from gradekit.lessons.sets import TEMPLATES

HOME = Path(question.__file__)
SCRIPT = HOME.with_suffix(".js").read_text("utf-8")
NAMES = ("chromium sum", "factor mistake", "field one element", "nickel order", "field place",
         "dilution place", "field reading", "strain design")  # fmt: skip


def exercises():
    return [TEMPLATES[name].draw(np.random.default_rng([4, 9])) for name in NAMES]


def shown(made, number):
    data = made.data() | {"number": number, "name": f"Answer {number}"}
    if made.picture is not None:
        data["chart"] = chart_data(made.picture.diagram)
    return data


@pytest.fixture
def asked(browser, tmp_path):
    """Return a function that opens a page of questions, the questions, and what was answered."""
    made = exercises()
    plain = SCRIPT.replace("export function", "function").replace(
        "export default", "const widget ="
    )
    data = [shown(e, n) for n, e in enumerate(made, start=1)]
    page_text = (
        "<!doctype html><html lang='en'><meta charset='utf-8'><title>questions</title>"
        f"<style>{HOME.with_suffix('.css').read_text('utf-8')}</style><main id='all'></main>"
        f"<script>{plain}\nfor (const one of {json.dumps(data)}) {{"
        "const place = document.createElement('div');"
        "document.getElementById('all').append(place);"
        "const v = view(place, one, {name: one.name, commit: async text => v.say("
        "await judge(one.number, text))});}</script>"
    )
    path = tmp_path / "questions.html"
    path.write_text(page_text, "utf-8")
    contexts, trouble, heard = [], [], []

    def judge(number, text):
        said = mark(made[number - 1], text)
        heard.append((number, text))
        return {"words": said.words, "sign": "✓" if said.right else "✕"}

    def open_page(**options):
        context = browser.new_context(**options)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda e: trouble.append(str(e)))
        page.expose_function("judge", judge)
        page.goto(path.as_uri())
        return page

    yield open_page, made, heard
    for context in contexts:
        context.close()
    assert not trouble


def part(page, number):
    return page.locator(".gk-question").nth(number - 1)


def says(page, number, words):
    part(page, number).get_by_role("status").filter(has_text=words).wait_for(timeout=5000)


def test_all_forms_by_keyboard_alone(asked):
    open_page, made, heard = asked
    page = open_page(viewport={"width": 1024, "height": 900})
    keys = page.keyboard
    # a number: a slip first, then the answer
    slip = made[0].mistakes[0]
    part(page, 1).get_by_label("Answer 1").focus()
    keys.type(f"{slip.value:.4f}".replace(".", ","))
    keys.press("Enter")
    says(page, 1, slip.words)
    keys.press("Control+a")
    keys.type(made[0].shown_answer)
    keys.press("Enter")
    says(page, 1, "✓ Right.")
    # choices: arrows go through them without answering
    for number in (2, 3):
        e = made[number - 1]
        radios = part(page, number).get_by_role("radio")
        radios.first.focus()
        keys.press("Space")
        for _ in range(e.choices.index(e.answer)):
            keys.press("ArrowDown")
        assert not [h for h in heard if h[0] == number]
        keys.press("Enter")
        says(page, number, "✓ Right.")
    # an order: move the right one up until it stands
    e = made[3]
    for at, name in enumerate(e.answer):
        for _ in range(4):
            rows = part(page, 4).get_by_role("listitem").all_inner_texts()
            if rows[at].endswith(name):
                break
            part(page, 4).get_by_role("button", name=f"Move {name} up").focus()
            keys.press("Enter")
    part(page, 4).get_by_role("button", name="Check 4").focus()
    keys.press("Enter")
    says(page, 4, "✓ Right.")
    # a place: arrow keys move the mark, boxes take numbers
    e = made[4]
    chart = part(page, 5).get_by_role("application")
    chart.focus()
    keys.press("ArrowRight")
    assert part(page, 5).get_by_label("chromium equivalent, wt%").input_value() == "20.1"
    for label, value in zip(("chromium equivalent, wt%", "nickel equivalent, wt%"), e.answer,
                            strict=True):  # fmt: skip
        part(page, 5).get_by_label(label).focus()
        keys.press("Control+a")
        keys.type(f"{value:.1f}")
    keys.press("Enter")
    says(page, 5, "✓ Right.")
    # a design: the sliders by their boxes
    e = made[7]
    for level in e.shown_answer.split("; "):
        element, text = level.split()
        part(page, 8).get_by_label(f"{element}, wt%").focus()
        keys.press("Control+a")
        keys.type(text)
    assert part(page, 8).get_by_role("table").inner_text().count("✓ met") == len(e.targets)
    keys.press("Enter")
    says(page, 8, "✓ Right.")


@pytest.mark.parametrize("width", [390, 1024, 1920])
def test_a_press_on_the_chart_is_the_point_that_is_judged(asked, width):
    open_page, made, _ = asked
    page = open_page(viewport={"width": width, "height": 900})
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    for number in (5, 6):
        e = made[number - 1]
        svg = part(page, number).get_by_role("application")
        svg.scroll_into_view_if_needed()
        box, plan = svg.bounding_box(), chart_data(e.picture.diagram)
        scale = box["width"] / plan["width"]
        left, top, right, bottom = (edge * scale for edge in plan["box"])
        x, y = e.answer
        at = (
            box["x"] + left + (x - plan["x"][0]) * (right - left) / (plan["x"][1] - plan["x"][0]),
            box["y"] + bottom - (y - plan["y"][0]) * (bottom - top) / (plan["y"][1] - plan["y"][0]),
        )
        page.mouse.click(*at)
        mark_at = part(page, number).locator(".gk-own-mark [data-x]")
        pixel = (plan["x"][1] - plan["x"][0]) / (right - left)
        assert float(mark_at.get_attribute("data-x")) == pytest.approx(x, abs=1.2 * pixel)
        assert float(mark_at.get_attribute("data-y")) == pytest.approx(y, abs=1.2 * pixel)
        part(page, number).get_by_role("button", name=f"Check {number}").click()
        says(page, number, "✓ Right.")
    part(page, 5).get_by_role("button", name="Show working 5").click()
    assert part(page, 5).locator(".gk-path circle").count() == len(made[4].picture.path)
    page.screenshot(path=str(shots() / f"questions-{width}.png"), full_page=True)


def shots() -> Path:
    folder = Path(__file__).with_name("shots")
    folder.mkdir(exist_ok=True)
    return folder


def test_what_is_wrong_is_said_and_nothing_given_is_no_answer(asked):
    open_page, made, heard = asked
    page = open_page(viewport={"width": 1024, "height": 900})
    for number, e in enumerate(made, start=1):
        part(page, number).get_by_role("button", name=f"Check {number}").click()
        if e.form in ("number", "choice", "point"):
            says(page, number, "Give an answer first.")
    assert [n for n, _ in heard] == [8]  # only the sliders always stand somewhere
    says(page, 4, "as it was drawn by lot")
    says(page, 8, "asked")
    e = made[1]
    wrong = next(c for c in e.choices if c != e.answer)
    part(page, 2).get_by_label(wrong, exact=True).check()
    part(page, 2).get_by_role("button", name="Check 2").click()
    says(page, 2, next(m.words for m in e.mistakes if m.value == wrong))
    assert given(e, e.answer) == e.answer


MODEL = """
const model = {
  traits: {data: DATA, answer: {turn: 0, given: ""}, opened: false,
           reply: {turn: 0, given: "", words: "", sign: ""}},
  heard: [], listeners: {},
  get(name) { return this.traits[name]; },
  set(name, value) { this.traits[name] = value; if (name === "answer") this.heard.push(value); },
  save_changes() {},
  on(name, action) { (this.listeners[name] ??= []).push(action); },
  tell(reply) { this.traits.reply = reply; this.listeners["change:reply"].forEach(a => a()); },
};
"""


def test_what_the_kernel_says_reaches_the_view_whenever_it_comes_to_exist(browser, tmp_path):
    made = exercises()[0]
    plain = SCRIPT.replace("export function", "function").replace(
        "export default", "const widget ="
    )
    model = MODEL.replace("DATA", json.dumps(shown(made, 1)))
    path = tmp_path / "late.html"
    path.write_text(
        f"<!doctype html><meta charset='utf-8'><div id='a'></div><div id='b'></div>"
        f"<script>{plain}{model}const place = id => document.getElementById(id);"
        "widget.render({model, el: place('a')});</script>", "utf-8"
    )  # fmt: skip
    page = browser.new_page()
    page.goto(path.as_uri())
    page.get_by_label("Answer 1").fill("18,4")
    page.get_by_label("Answer 1").press("Enter")
    assert page.evaluate("model.heard") == [{"turn": 1, "given": "18,4"}]
    # the kernel is slow, or the message was lost: the answer is handed over again
    page.get_by_role("status").filter(has_text="is being judged").wait_for(timeout=4000)
    page.wait_for_function("model.heard.length >= 2", timeout=6000)
    assert page.evaluate("model.heard[1]") == {"turn": 2, "given": "18,4"}
    # a reply to the first one came meanwhile and is not the last: then the last is
    page.evaluate("model.tell({turn: 2, given: '18,4', words: 'Right.', sign: '✓'})")
    page.get_by_role("status").filter(has_text="✓ Right.").wait_for(timeout=2000)
    # a view that comes to exist later shows what was said and what was given
    page.evaluate("widget.render({model, el: place('b')})")
    later = page.locator("#b")
    assert later.get_by_role("status").inner_text() == "✓ Right."
    assert later.get_by_label("Answer 1").input_value() == "18,4"
    page.close()
