"""The harness itself: a real notebook, a real key press, a real answer."""

from __future__ import annotations

from labpage import BOX, CURRENT, RUN_ALL, TOKEN


def test_a_typed_number_changes_what_is_shown(lab, open_notebook):
    notebook = open_notebook(lab.write_notebook("box.ipynb", "# first\n1 + 1", BOX))
    notebook.run_all()
    notebook.show("FloatText")
    status = notebook.outputs.get_by_role("status").filter(has_text="twice")
    assert status.inner_text() == "twice is 36.0"
    box = notebook.outputs.get_by_label("Cr", exact=True)
    box.fill("17.5")
    box.press("Enter")
    status.filter(has_text="35.0").wait_for()
    box.press("ArrowUp")
    status.filter(has_text="35.2").wait_for()


def test_what_is_typed_and_what_is_pressed_stay_in_order(lab, open_notebook):
    """Over subshells a button may be heard before the text that was typed before it."""
    notebook = open_notebook(lab.write_notebook("order.ipynb", BOX))
    kernel = f"{CURRENT}.sessionContext.session.kernel"
    assert notebook.page.evaluate(f"() => {kernel}.commsOverSubshells") == "disabled"


def test_an_error_in_a_cell_is_seen(lab, open_notebook):
    notebook = open_notebook(lab.write_notebook("broken.ipynb", "1 / 0"))
    notebook.page.evaluate(RUN_ALL)
    notebook.wait_idle()
    assert notebook.errors() == ["ZeroDivisionError: division by zero"]


def test_the_address_that_is_printed_leads_to_the_contents_page(browser, lab):
    page = browser.new_page()
    page.goto(f"{lab.url}/?token={TOKEN}")
    page.wait_for_url("**/lab/**/00-start-here.ipynb*")
    page.close()
    lab.end_kernels()
