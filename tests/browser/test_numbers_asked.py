"""Numbers of the explorers: typed, stepped, reached by keyboard, and asked where they come from."""

from __future__ import annotations

import pytest

BRIEF = """
import gradekit as gk

brief = gk.Brief(
    {"C": (0.01, 0.05), "Si": 0.4, "Mn": (1, 8), "Cr": (16, 20), "Ni": (1, 9), "N": (0.03, 0.25)},
    {"pren_16n": (19, None), "md30_angel_1954": (None, 0)}, family="austenitic", minimise="cost",
)
gk.app.brief_explorer(brief, "../data/element_prices.csv", "../data/plant.csv")
"""
ROUTE = """
import gradekit as gk

gk.app.route_explorer(
    {"C": 0.05, "Si": 0.4, "Mn": 1.4, "P": 0.03, "S": 0.003, "Cr": 18.2, "Ni": 8.1, "N": 0.05},
    "../data/plant.csv",
)
"""


@pytest.fixture
def panels(lab, open_notebook):
    name = lab.write_notebook("asked.ipynb", BRIEF, ROUTE)
    lab.keeps_cells = True
    notebook = open_notebook(name, 1024, 768)
    notebook.run_all()
    notebook.page.set_default_timeout(20_000)
    found = notebook.page.locator(".gk-live")
    found.nth(1).get_by_text("Kept: ").click()
    found.nth(1).locator("table:visible").first.wait_for()
    yield notebook, found.nth(0), found.nth(1)
    lab.keeps_cells = False


def test_a_number_opens_what_it_is_made_of_and_shuts_again_by_keyboard(panels):
    notebook, brief, route = panels
    keys = notebook.page.keyboard
    for panel, words in ((brief, "Formula"), (route, "limit")):
        named = '[data-number^="md30_angel"]' if panel is brief else ""
        press = panel.locator(f"button.gk-asked{named}").first
        assert press.get_attribute("aria-expanded") == "false"
        press.focus()
        keys.press("Enter")
        about = panel.locator("tr.gk-about")
        about.filter(has_text=words).wait_for()
        assert press.get_attribute("aria-expanded") == "true"
        assert press.evaluate("e => e === document.activeElement")  # the reader stays in place
        assert about.evaluate("e => e.previousElementSibling.contains(document.activeElement)")
        box, page = about.bounding_box(), panel.bounding_box()
        assert box["x"] + box["width"] <= page["x"] + page["width"] + 1
        notebook.shot(f"asked-{words.split()[0].strip(':').lower()}")
        keys.press("Space")
        about.wait_for(state="detached")
        assert press.get_attribute("aria-expanded") == "false"
        keys.press("Enter")
        about.wait_for()
        keys.press("Escape")
        about.wait_for(state="detached")
        assert press.evaluate("e => e === document.activeElement")


def test_what_is_open_follows_the_next_step(panels):
    _, brief, _ = panels
    brief.locator('button.gk-asked[data-number^="md30_angel"]').click()
    about = brief.locator("tr.gk-about")
    about.filter(has_text="Formula").wait_for()
    carbon = brief.get_by_label("C ≤", exact=True)
    carbon.fill("0.045")
    carbon.press("Enter")
    about.filter(has_text="Asked by").wait_for()


def test_parts_per_million_are_understood_and_arrows_reach_the_sliders(panels):
    notebook, _, route = panels
    keys = notebook.page.keyboard
    nitrogen, status = route.get_by_label("N", exact=True), route.get_by_role("status")
    nitrogen.fill("350 ppm")
    nitrogen.press("Enter")
    slider = route.get_by_label("N slider", exact=True)
    assert float(slider.input_value()) == pytest.approx(0.035)
    status.filter(has_text="ok").wait_for()
    assert nitrogen.get_attribute("aria-invalid") == "false"
    # Tab goes from box to box
    nitrogen.focus()
    keys.press("Tab")
    assert notebook.page.evaluate("document.activeElement.labels[0].innerText") == "Cu" or (
        notebook.page.evaluate("document.activeElement.type") == "text"
    )
    # the arrow to the right behind the last letter goes to the slider, Escape back
    nitrogen.focus()
    keys.press("End")
    keys.press("ArrowRight")
    assert slider.evaluate("e => e === document.activeElement")
    keys.press("ArrowRight")
    assert float(nitrogen.input_value()) == pytest.approx(0.04)
    keys.press("Escape")
    assert nitrogen.evaluate("e => e === document.activeElement")
