"""Notebook 04 in a browser: opened, run, a limit changed, the verdict read, an error made."""

from __future__ import annotations

import re

NOTEBOOK = "04-can-we-make-it.ipynb"


def test_the_route_answers_to_a_changed_limit(open_notebook):
    book = open_notebook(NOTEBOOK)
    book.run_all(240)
    assert book.errors() == []
    page = book.page
    book.show("Move contents and limits")
    force = page.get_by_label(re.compile(r"hot mill: force max, MN")).first
    force.scroll_into_view_if_needed()
    panel = page.locator(".gk-panel").last
    before = panel.locator("b").filter(has_text=re.compile(r"\bok\b")).first.inner_text()
    force.fill("12")
    force.press("Enter")
    changed = panel.locator("b").filter(has_text=re.compile(r"\d+ stop")).first
    changed.wait_for()
    assert changed.inner_text() != before
    book.shot("route")
    nickel = panel.get_by_label("Ni", exact=True).first
    nickel.fill("much")
    nickel.press("Enter")
    page.get_by_text(re.compile("must be a number")).first.wait_for()
    assert changed.inner_text() != before  # the last good answer stays
    force.fill("30")
    force.press("Enter")
    panel.get_by_text(before).first.wait_for()
