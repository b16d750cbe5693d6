"""Explorers saved as one file, opened by a double click: live, at rest on the network, correct."""

import re

import numpy as np
import pytest

import gradekit as gk
from gradekit.app.panels.composition import explorer
from gradekit.app.panels.contributions import contributions
from gradekit.app.panels.weld import weld_explorer
from gradekit.diagrams.dilution import weld

HEATS = {
    "C": [0.03, 0.15, 0.015], "Si": [0.4, 0.3, 0.4], "Mn": [1.4, 1.2, 1.6], "Cr": [18.2, 0.1, 23.5],
    "Ni": [9.1, 0.1, 13.0], "Mo": [0.3, 0.0, 0.1], "N": [0.05, 0.005, 0.06], "Cu": [0.2, 0.1, 0.1],
    "Nb": [0.01, 0.0, 0.0], "heat": ["</script><b>sheet", "=plate", "wire"],
}  # fmt: skip
WIDTHS = (320, 820, 1440, 2560)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pages")
    heats = gk.as_batch(HEATS)
    names = list(heats.index)
    panels = {
        "composition": explorer(heats, grain_size_astm=8),
        "contributions": contributions(heats.iloc[[0]], ["pren_16n", "ferrite_wrc_1992"]),
        "weld": weld_explorer(heats, names[1], names[0], names[2], dilution=20),
    }
    for name, panel in panels.items():
        panel.save_page(folder / f"{name}.html")
    panels["composition"].save_page(folder / "heats.html", heats=True)
    return folder


@pytest.fixture
def opened(folder, browser):
    """Return a function that opens a page and watches errors and requests."""
    contexts, trouble = [], []

    def open_page(name, **options):
        context = browser.new_context(**options)
        contexts.append(context)
        page = context.new_page()
        page.on("pageerror", lambda e: trouble.append(str(e)))
        page.on("console", lambda m: trouble.append(m.text) if m.type == "error" else None)
        page.on(
            "request",
            lambda r: trouble.append(r.url) if not r.url.startswith(("file:", "data:")) else None,
        )
        page.goto((folder / f"{name}.html").as_uri())
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert not trouble


def box(page, name):
    return page.get_by_role("textbox", name=name, exact=True)


def values(page):
    return page.eval_on_selector_all(
        "tr[data-relation]",
        "rows => Object.fromEntries(rows.map(r => [r.dataset.relation,"
        " r.querySelector('td[data-value]').dataset.value]))",
    )


def test_a_typed_content_moves_every_value_to_what_the_library_computes(opened):
    page = opened("composition")
    box(page, "Ni").fill("8,45")
    box(page, "N").fill("620 ppm")
    shown = values(page)
    steel = {e: v[0] for e, v in HEATS.items() if e not in ("heat", "Nb")}
    steel |= {"Ni": 8.45, "N": 0.062, "Nb": 0.01}
    boxes = page.eval_on_selector_all(
        "[data-group=contents] input", "b => b.map(x => x.dataset.name)"
    )
    steel = {e: v for e, v in steel.items() if e in boxes}
    expected = gk.evaluate(steel, list(shown), grain_size_astm=8).values.iloc[0]
    for name, value in shown.items():
        if np.isfinite(expected[name]):
            assert float(value) == pytest.approx(expected[name], rel=1e-12), name
        else:
            assert value == "", name
    spot = gk.diagram("wrc_1992").locate(steel).iloc[0]
    mark = page.locator(".chart:not([hidden]) .trial")
    assert float(mark.get_attribute("data-x")) == pytest.approx(spot["x"], rel=1e-12)
    assert float(mark.get_attribute("data-y")) == pytest.approx(spot["y"], rel=1e-12)


def test_the_mark_stands_where_it_was_computed_at_every_width(opened):
    for width in WIDTHS:
        page = opened("composition", viewport={"width": width, "height": 900})
        box(page, "Ni").fill("9.5")
        found = page.evaluate(
            """() => {
            const box = e => document.querySelector(e).getBoundingClientRect();
            const back = box(".chart:not([hidden]) > svg"), mark = box(".trial circle");
            const view = document.querySelector(".chart > svg").viewBox.baseVal;
            return [(mark.x + mark.width / 2 - back.x) / back.width * view.width,
                    (mark.y + mark.height / 2 - back.y) / back.height * view.height];}"""
        )
        made = page.evaluate(
            "() => {const g=document.querySelector('.trial');"
            "return toPixels(page.charts[0], +g.dataset.x, +g.dataset.y)}"
        )
        assert found == pytest.approx(made, abs=1.0), width
        over = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert over <= 0, width


@pytest.mark.parametrize("name", ["composition", "contributions", "weld"])
def test_a_page_is_small_complete_without_scripts_and_says_what_it_rests_on(opened, folder, name):
    text = (folder / f"{name}.html").read_text("utf-8")
    assert len(text.encode()) < 1.5e6
    assert "default-src 'none'" in text and "script-src 'sha256-" in text
    assert not re.search(r"(?:src|href)=[\"']?(?:https?:)?//", text)
    page = opened(name, java_script_enabled=False)
    body = page.locator("body").inner_text()
    assert "Scripts are off" in body and gk.__version__ in body
    for word in ("verified", "licensed engineer", "standard in force"):
        assert word in body
    assert all(values_of_static(page))


def values_of_static(page):
    return [r.inner_text() for r in page.locator("td[data-value]").all()]


def test_what_is_refused_is_said_and_nothing_moves(opened):
    page = opened("composition")
    before = values(page)
    for text in ("eighteen", "-3", "1.234,5", "120"):
        box(page, "Cr").fill(text)
        assert box(page, "Cr").get_attribute("aria-invalid") == "true"
        assert "Cr · must be a number" in page.locator("[data-is=error]").inner_text()
        assert values(page) == before
    box(page, "Cr").fill("18,2")
    assert page.locator("[data-is=error]").inner_text() == ""


def test_a_value_is_a_button_that_tells_its_parts_and_what_changed(opened):
    page = opened("composition")
    box(page, "Ni").fill("8")
    button, other = page.locator("tr[data-relation=md30_nohara_1977] button").all()
    button.focus()
    page.keyboard.press("Enter")
    row = page.locator("tr.gk-about")
    assert "Also give Md30" in row.inner_text() and "Nohara" in row.inner_text()
    assert "Change from the start" in row.locator("svg").get_attribute("aria-label")
    assert button.get_attribute("aria-expanded") == "true"
    page.keyboard.press("Enter")
    assert page.locator("tr.gk-about").count() == 0
    other.press("Space")  # the value of the start: nothing changed it
    assert "Change from" not in row.locator("svg").get_attribute("aria-label")
    assert row.locator("dt").first.inner_text() == "To be said"
    page.keyboard.press("Escape")
    assert row.count() == 0 and other.evaluate("e => e === document.activeElement")


def test_a_range_and_a_reading_are_buttons_too(opened):
    page = opened("composition")
    about = page.locator(".gk-about")
    spread = page.locator("[data-of=spread] button")
    words = spread.first.inner_text()
    spread.first.press("Enter")
    told = about.locator("dt").all_inner_texts()
    assert len(told) > 1 and "Evidence: " in about.inner_text()
    ends = [float(text.split(": ")[1].split(" ")[0]) for text in (told[0], told[-1])]
    assert [float(x) for x in words.split(" to ")] == pytest.approx(ends, abs=0.05)
    box(page, "Ni").fill("9.3")  # what is open follows
    assert about.count() == 1 and about.locator("dt").count() == len(told)
    reading = page.locator("[data-of=place] button").first
    reading.press("Enter")
    assert about.count() == 1 and "reconstruction" in about.inner_text()
    label = about.locator("svg").get_attribute("aria-label")
    value = float(label.partition(": ")[2].split(" ")[0])
    assert float(reading.inner_text().split(" ")[0]) == pytest.approx(value, abs=0.05)
    page.keyboard.press("Escape")
    assert about.count() == 0
    page = opened("weld")
    page.locator("[data-of=metals] button").first.press("Enter")
    assert "Formula" in page.locator("[data-of=metals] .gk-about").inner_text()


def test_keys_reach_everything_and_arrows_step(opened):
    page = opened("composition")
    box(page, "Ni").focus()
    page.keyboard.press("ArrowUp")
    assert float(box(page, "Ni").input_value()) == pytest.approx(9.2)
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.dataset.name") == "Mo"
    page.get_by_role("button", name="Back to the start").press("Enter")
    assert box(page, "Ni").input_value() == "9.1"


def test_the_weld_line_is_that_of_the_library(opened):
    page = opened("weld")
    page.locator("[data-group=weld] input[data-name=dilution]").fill("35")
    sheet, plate, wire = (gk.as_batch(HEATS).iloc[[k]] for k in range(3))
    metal = weld(plate, sheet, wire, share=0.5, on="wrc_1992").at(0.35)
    spot = gk.diagram("wrc_1992").locate(metal).iloc[0]
    mark = page.locator(".chart:not([hidden]) .trial")
    assert float(mark.get_attribute("data-x")) == pytest.approx(spot["x"], rel=1e-9)
    assert float(mark.get_attribute("data-y")) == pytest.approx(spot["y"], rel=1e-9)


def test_heats_stand_on_the_page_only_where_asked_and_their_names_are_inert(opened, folder):
    bare = (folder / "composition.html").read_text("utf-8")
    assert "=plate" not in bare and "<b>sheet" not in bare
    page = opened("heats")
    assert page.locator("b:has-text('sheet')").count() == 0
    assert page.locator(".chart:not([hidden]) text", has_text="sheet").count() >= 1
    csv = page.evaluate("document.querySelector('[data-explorer]').exported()")
    cells = [c.strip('"') for line in csv.splitlines() for c in line.split(",")]
    assert not any(c.startswith(("=", "+", "@")) for c in cells)


def test_it_follows_the_colours_of_the_system(opened):
    grounds = [
        opened("composition", color_scheme=scheme).evaluate(
            "getComputedStyle(document.body).backgroundColor"
        )
        for scheme in ("light", "dark")
    ]
    assert grounds[0] != grounds[1]


def test_what_needs_a_solver_is_refused_in_words(tmp_path):
    from gradekit.app.widgets.panel import Panel

    class Solver(Panel):
        title = "Brief explorer"

        def __init__(self):
            pass

        state = None

    with pytest.raises(gk.InputError, match="without a solver"):
        Solver().save_page(tmp_path / "no.html")
