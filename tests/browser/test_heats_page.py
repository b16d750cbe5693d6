"""The page for heats as somebody without code uses it: a file in, the answer, a workbook out."""

from __future__ import annotations

import os
import re

import pytest
from labpage import CURRENT, LEFT, SHOTS, TOKEN, Pages, watch
from looking import CUT_OFF, DOUBLE_IDS, LEAST, NAMELESS, PALE, each
from openpyxl import load_workbook

from gradekit import launch

OTHER = launch.ROOT / "tests" / "other_works" / "heats.csv"
WIDTHS = (390, 600, 800, 1280, 1920)
# The box itself is held by `test_every_explorer`; this whole page takes two minutes more.
pytestmark = pytest.mark.skipif(
    not os.environ.get("GRADEKIT_PAGES"), reason="set GRADEKIT_PAGES=1 to walk the page for heats"
)


@pytest.fixture(scope="module")
def pages(lab, tmp_path_factory):
    lab.lay_again("08-your-works.ipynb")
    page = launch.APP_PAGES["heats"]
    server = Pages(tmp_path_factory.mktemp("heats"), lab.folder, page=page)
    yield server
    server.stop()


@pytest.fixture
def page(browser, pages):
    context = browser.new_context(viewport={"width": 1280, "height": 1000})
    context.set_default_timeout(90_000)
    opened = context.new_page()
    trouble = watch(opened, pages.url)
    opened.goto(f"{pages.url}/?token={TOKEN}")
    opened.locator(".gk-panel .gk-moving summary").first.wait_for()
    yield opened
    assert [line for line in trouble if line.startswith(LEFT)] == []
    context.close()


def choose(page, box, path) -> None:
    """Press the file button as a person would and choose a file."""
    with page.expect_file_chooser() as waiting:
        box.get_by_role("button", name=re.compile("Choose a file of heats")).click()
    waiting.value.set_files(path)


def test_a_file_goes_in_its_answer_comes_and_a_workbook_goes_out(page, lab, tmp_path):
    before = {p.name for p in (lab.folder / "notebooks").iterdir()}
    box = page.locator(".gk-panel").first
    assert page.get_by_text("import gradekit as gk").count() == 0
    said = box.get_by_role("status")
    answer = box.locator(".gk-moving")

    choose(page, box, OTHER)
    said.filter(has_text="read: 39 heats, 3 practices: 1 stands apart").wait_for()
    answer.get_by_text("BF22, Ni: 10 heats in a row below the mean").first.wait_for()
    assert answer.get_by_text("TW-").count() == 0

    # every heading opens by keyboard, and has something to read behind it
    for heading in answer.locator("summary").all():
        heading.focus()
        page.keyboard.press("Enter")
        behind = heading.locator("xpath=..")
        full = "e => e.open && (e.innerText.length > 40 || e.querySelector('img, svg') !== null)"
        assert behind.evaluate(full), heading.inner_text()

    box.get_by_label("Present grade").fill("1.4462")
    box.get_by_label("Present grade").press("Tab")
    answer.get_by_text("As read before the boxes above were changed").wait_for()
    box.get_by_role("button", name="Read", exact=True).press("Enter")
    answer.get_by_text("from 1.4462").first.wait_for(state="attached")

    with page.expect_download() as waiting:
        box.get_by_role("button", name="XLSX", exact=True).click()
        box.get_by_role("link", name=re.compile("Download the report")).click()
    path = tmp_path / "week.xlsx"
    waiting.value.save_as(path)
    assert {"in short", "heats", "drift", "claims"} <= set(load_workbook(path).sheetnames)

    # what cannot be read is said, and the last answer stays
    wrong = tmp_path / "letter.pdf"
    wrong.write_bytes(b"%PDF-1.7 nothing")
    choose(page, box, wrong)
    said.filter(has_text="PDF").wait_for()
    answer.get_by_text("BF22, Ni: 10 heats in a row below the mean").first.wait_for()
    # the file stayed in memory: nothing lies beside the notebooks that was not there
    assert {p.name for p in (lab.folder / "notebooks").iterdir()} <= before | {"my-works.xlsx"}


def test_it_is_read_by_ear_in_contrast_and_at_every_width(page):
    box = page.locator(".gk-panel").first
    assert [m.group().strip() for m in NAMELESS.finditer(box.aria_snapshot())] == []
    assert each([box], DOUBLE_IDS) == []
    assert each([box], PALE, [LEAST, False]) == []
    for heading in box.locator("summary").all():
        heading.click()
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 1000})
        SHOTS.mkdir(exist_ok=True)
        page.screenshot(path=SHOTS / f"heats-{width}.png", full_page=True)
        assert (
            each([box], CUT_OFF.replace(f"{CURRENT}.content.node", "document.documentElement"))
            == []
        ), width
        wide = page.evaluate("document.documentElement.scrollWidth - innerWidth")
        assert wide <= 1, f"{width}: the page scrolls sideways by {wide} px"
