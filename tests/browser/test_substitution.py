"""The desk of a substitution as a sales engineer uses it: choose, read, download, open."""

from __future__ import annotations

import shutil
import sys
from pathlib import Path

import pytest
from labpage import CURRENT, LEFT, SHOTS, TOKEN, Server, jupyter_home, watch

from gradekit import launch

NOTEBOOK = "05-substitution.ipynb"


@pytest.fixture(autouse=True)
def nothing_was_asked_before(lab):
    """The desk goes on with the question of last time, should one have been kept."""
    shutil.rmtree(lab.folder / "notebooks" / "my-questions", ignore_errors=True)


def use(page, root, folder: Path) -> Path:
    """Choose a customer, change his service, read the verdict, and return the sheet."""
    answer = root.get_by_role("region", name="answer")
    answer.get_by_text("1.4301: not supported.").first.wait_for()

    # Cold rinse water: the plate table no longer holds it, the ladder of ambient water does.
    box = root.get_by_label("water, °C", exact=True)
    box.fill("20")
    box.press("Enter")
    answer.get_by_text("1.4301: supported with reservations").first.wait_for()

    root.get_by_label("Take up", exact=True).select_option(label="Halden & Wick Lifts")
    answer.get_by_text("Decisive: magnetism").first.wait_for()
    # Answer and boxes come in messages of their own.
    page.wait_for_function(
        "e => e.options[e.selectedIndex].text === 'non-magnetic'",
        arg=root.get_by_label("Magnetism", exact=True).element_handle(),
    )

    # A grade that is not known is said where the user is, and the answer stays.
    grades = root.get_by_label("Replace by", exact=True)
    grades.fill("1.4999")
    grades.press("Enter")
    root.get_by_role("status").filter(has_text="got '1.4999'").wait_for()
    answer.get_by_text("1.4016: not supported").first.wait_for()
    grades.fill("1.4016, 1.4845")
    grades.press("Enter")
    answer.get_by_text("1.4845: supported").first.wait_for()

    root.get_by_role("button", name="Report", exact=True).click()
    with page.expect_download() as taken:
        root.get_by_role("link", name="Download the sheet").click()
    path = folder / taken.value.suggested_filename
    taken.value.save_as(path)
    return path


def look(browser, path: Path, name: str) -> None:
    """Open the sheet as the customer would."""
    page = browser.new_page(viewport={"width": 900, "height": 1200})
    trouble = watch(page, "file://")
    page.goto(path.as_uri())
    assert "instead of 1.4301" in page.get_by_role("heading", level=1).inner_text()
    assert page.get_by_role("img").count() == 3
    assert page.get_by_role("heading", name="To be checked before use").is_visible()
    SHOTS.mkdir(exist_ok=True)
    page.screenshot(path=SHOTS / f"{name}.png", full_page=True)
    page.set_viewport_size({"width": 390, "height": 800})  # on a phone no column is a letter wide
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    tall = "e => e.innerText.length > 60 && e.clientWidth < 90 ? [e.innerText.slice(0, 60)] : []"
    assert [t for cell in page.locator("td").all() for t in cell.evaluate(tall)] == []
    page.close()
    assert trouble == []


def test_choose_read_download_open_in_the_notebook(browser, open_notebook, tmp_path):
    notebook = open_notebook(NOTEBOOK, height=1000)
    notebook.run_all()
    notebook.show("gk.substitution(")
    root = notebook.page.locator(".gk-panel").first
    root.get_by_role("region", name="answer").wait_for()
    notebook.shot("substitution")
    path = use(notebook.page, root, tmp_path)
    notebook.shot("substitution-after")
    assert path.suffix == ".html"
    look(browser, path, "substitution-sheet")
    notebook.show("certificate_box(")
    box = notebook.page.get_by_label("Grades claimed", exact=True)
    box.fill("1.4404")
    box.press("Tab")
    notebook.page.get_by_role("button", name="Read", exact=True).click()
    notebook.page.get_by_text("Ni: 8.19").first.wait_for()
    notebook.shot("substitution-certificate")


def test_a_kernel_that_has_ended_is_said_and_the_button_comes_back_with_the_question(open_notebook):
    notebook = open_notebook(NOTEBOOK, height=1000)
    notebook.run_all()
    notebook.show("gk.substitution(")
    page = notebook.page
    root = page.locator(".gk-panel").first
    root.get_by_role("region", name="answer").wait_for()
    grades = root.get_by_label("Replace by", exact=True)
    grades.fill("1.4509")
    grades.press("Enter")
    root.get_by_role("status").filter(has_text="1.4509").first.wait_for()
    page.evaluate(f"() => {CURRENT}.sessionContext.restartKernel().then(() => null)")
    # Pressed while the kernel still starts: told so then, it would start for ever.
    again = root.get_by_role("button", name="Start again")
    again.wait_for()
    again.click()
    page.locator(".jp-Dialog .jp-mod-accept").click()
    notebook.show("gk.substitution(")
    page.get_by_role("status").filter(has_text="taken up again").first.wait_for()
    box = page.locator(".gk-panel").first.get_by_label("Replace by", exact=True)
    assert box.input_value() == "1.4509"
    # What stood there until its cell had run again was known no more, and JupyterLab's own requests
    # of the kernel that was ended have no answer.
    expected = ("model not found", "Canceled future for")
    notebook.trouble[:] = [
        line for line in notebook.trouble if not any(words in line for words in expected)
    ]


def test_the_app_opens_on_it_without_code_and_nothing_leaves_the_machine(
    browser, lab, tmp_path
):  # fmt: skip
    command = launch.app_command(sys.executable, lab.folder, browser=False)
    command[command.index("--token")] = f"--token={TOKEN}"
    server = Server(command, tmp_path, jupyter_home(tmp_path), answers=f"/?token={TOKEN}")
    try:
        for width in (1280, 600, 390):
            shutil.rmtree(lab.folder / "notebooks" / "my-questions", ignore_errors=True)
            context = browser.new_context(viewport={"width": width, "height": 844})
            context.set_default_timeout(60_000)
            page = context.new_page()
            trouble = watch(page, server.url)
            page.goto(f"{server.url}/?token={TOKEN}")
            root = page.locator(".gk-panel").first
            root.get_by_role("region", name="answer").wait_for()
            # On the first screen: the boxes, of which none is for outdoors, and the answer.
            verdict = root.locator(".gk-verdict" if width < 1000 else ".short b")
            verdict.get_by_text("1.4301: not supported").first.wait_for()
            assert verdict.first.bounding_box()["y"] < 844 - 20
            top = root.get_by_role("region", name="answer").bounding_box()["y"]
            assert top < 844 - 20
            assert root.get_by_label("chloride, mg/l", exact=True).is_visible()
            for label in ("Washed by", "SO2", "sea, km away", "how long hot, h"):
                assert not root.get_by_label(label, exact=True).is_visible(), label
            assert page.get_by_text("import gradekit as gk").count() == 0
            path = use(page, root, tmp_path)
            above = root.get_by_role("region", name="answer").bounding_box()
            below = root.get_by_role("button", name="Undo", exact=True).bounding_box()
            assert below["y"] >= above["y"] + above["height"] - 1, "the answer covers the buttons"
            page.screenshot(path=SHOTS / f"substitution-app-{width}.png")
            look(browser, path, "substitution-app-sheet")
            assert [line for line in trouble if line.startswith(LEFT)] == []
            context.close()
    finally:
        server.stop()
