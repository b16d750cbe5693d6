"""The notebooks as pages without code: nothing leaves the machine, and nobody gets in."""

from __future__ import annotations

import http.server
import io
import re
import threading
import time
from functools import partial
from pathlib import Path

import nbformat
import pandas as pd
import pytest
from labpage import BOX, LEFT, TOKEN, Pages, watch

from gradekit import launch

NOTEBOOKS = sorted(p.name for p in (launch.ROOT / "notebooks").glob("[0-9]*.ipynb"))


@pytest.fixture(scope="module")
def pages(lab, tmp_path_factory):
    lab.write_notebook("box.ipynb", BOX)
    server = Pages(tmp_path_factory.mktemp("pages"), lab.folder, "--most=3", page="box.ipynb")
    yield server
    server.stop()


@pytest.fixture
def context(browser):
    made = browser.new_context()
    made.set_default_timeout(60_000)
    yield made
    made.close()


def told(pages, words: str) -> int:
    """Return how often the server has written these words into its log."""
    return pages.log.read_text(errors="replace").count(words)


def test_a_panel_answers_and_nothing_leaves_the_machine(context, pages):
    page = context.new_page()
    trouble = watch(page, pages.url)
    page.goto(f"{pages.url}/?token={TOKEN}")
    box = page.get_by_label("Cr", exact=True)
    box.fill("17.5")
    box.press("Enter")
    page.get_by_role("status").filter(has_text="35.0").wait_for()
    assert [line for line in trouble if line.startswith(LEFT)] == []


def test_who_has_no_token_sees_the_login_and_comes_in_with_it(context, pages):
    page = context.new_page()
    trouble = watch(page, pages.url)
    page.goto(pages.page("box.ipynb").partition("?")[0])
    page.get_by_label("Token").fill("wrong")
    page.get_by_role("button", name="Open").click()
    page.get_by_role("alert").filter(has_text="Invalid").wait_for()
    assert [line for line in trouble if "401" not in line] == []  # it asks for nothing refused
    page.get_by_label("Token").fill(TOKEN)
    page.get_by_role("button", name="Open").click()
    page.get_by_label("Cr", exact=True).wait_for()


def test_a_page_of_another_server_starts_no_kernel(context, pages, tmp_path):
    page = context.new_page()
    page.goto(pages.page("box.ipynb"))  # now the browser is logged in
    page.get_by_label("Cr", exact=True).wait_for()
    started = told(pages, "Kernel started")
    assert started
    address = pages.page("box.ipynb").partition("?")[0]
    (tmp_path / "index.html").write_text(
        f'<img src="{address}"><iframe src="{address}"></iframe><a href="{address}">desk</a>'
        f'<script>fetch("{address}", {{credentials: "include", mode: "no-cors"}})</script>'
    )
    handler = partial(http.server.SimpleHTTPRequestHandler, directory=tmp_path)
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as other:
        threading.Thread(target=other.serve_forever, daemon=True).start()
        second = context.new_page()
        second.goto(f"http://127.0.0.1:{other.server_port}/", wait_until="networkidle")
        assert told(pages, "403 GET /voila/render/box.ipynb") >= 3
        second.get_by_role("link", name="desk").click()
        second.get_by_role("alert").filter(has_text="Another page asked for this").wait_for()
        other.shutdown()
    assert told(pages, "Kernel started") == started


def test_a_page_that_is_closed_frees_its_place_and_the_one_too_many_is_told(context, pages):
    tabs = []
    for _ in range(3):
        tabs.append(context.new_page())
        tabs[-1].goto(pages.page("box.ipynb"))
        tabs[-1].get_by_label("Cr", exact=True).wait_for()
    fourth = context.new_page()
    answer = fourth.goto(pages.page("box.ipynb"))
    assert answer.status == 503
    fourth.get_by_role("alert").filter(has_text="3 pages are open").wait_for()
    tabs[0].close(run_before_unload=True)
    give_up = time.monotonic() + 30
    while fourth.reload().status == 503:
        assert time.monotonic() < give_up
        time.sleep(1)
    fourth.get_by_label("Cr", exact=True).wait_for()


# The desk of notebook 05 alone, with its link: the whole notebook takes seconds for each of the
# many times that it is opened here.
DESK = """
import gradekit as gk
from IPython.display import HTML, display

display(HTML('<a href="box.ipynb">on</a>'))
gk.substitution("../data/questions.json", "../data/element_prices.csv", keep="my-questions")
"""


@pytest.fixture(scope="module")
def desk(lab, tmp_path_factory):
    lab.write_notebook("box.ipynb", BOX)
    lab.write_notebook("desk.ipynb", DESK)
    server = Pages(tmp_path_factory.mktemp("desk"), lab.folder, page="desk.ipynb")
    yield server
    server.stop()


def says(page, words: str) -> None:
    page.get_by_role("status").filter(has_text=words).first.wait_for()


def test_the_desk_does_not_forget_and_says_when_its_kernel_has_ended(context, desk):
    def candidates(page):
        return page.get_by_label("Replace by", exact=True)

    def typed(page, text):
        candidates(page).fill(text)
        candidates(page).press("Enter")
        says(page, text)

    page = context.new_page()
    page.goto(f"{desk.url}/?token={TOKEN}")
    typed(page, "1.4509")
    page.reload()
    says(page, "taken up again from my-questions/plumebrook-dairy.json")
    assert candidates(page).input_value() == "1.4509"
    second = context.new_page()
    second.goto(page.url)
    says(second, "taken up again")
    assert candidates(second).input_value() == "1.4509"
    typed(second, "1.4016")
    typed(page, "1.4521")  # the second tab has the file by now: this one gets its own
    for tab, text in ((page, "1.4521"), (second, "1.4016")):
        tab.goto("about:blank")
        tab.go_back()
        says(tab, f"taken up again from my-questions/plumebrook-dairy{'-2' * (tab is page)}.json")
        assert candidates(tab).input_value() == text

    for kind in ("CSV", "XLSX"):
        page.get_by_role("button", name=kind, exact=True).click()
        with page.expect_download() as taken:
            page.get_by_role("link", name=f"Download the table ({kind}").click()
        assert taken.value.suggested_filename == f"my-answer.{kind.lower()}"
        content = Path(taken.value.path()).read_bytes()
        table = pd.read_csv(io.BytesIO(content)) if kind == "CSV" else pd.read_excel(
            io.BytesIO(content)
        )  # fmt: skip
        assert set(table["grade"].astype(str)) == {"1.4521"} and "water" in set(table["criterion"])
    page.get_by_role("button", name="Report as PDF").click()
    with page.expect_download() as taken:
        page.get_by_role("link", name="Download the sheet (PDF").click()
    assert Path(taken.value.path()).read_bytes().startswith(b"%PDF")

    own = {"Sec-Fetch-Site": "same-origin"}
    links = {link for link in page.evaluate("[...document.links].map(a => a.href)")
             if link.startswith("http")}  # fmt: skip
    assert links == {f"{desk.url}/voila/render/box.ipynb"}
    assert context.request.get(*links, headers=own).status == 200

    kernel = page.evaluate(
        "JSON.parse(document.getElementById('jupyter-config-data').textContent).kernelId"
    )
    desk.ask("DELETE", f"/api/kernels/{kernel}")
    page.get_by_role("alert").filter(has_text="The kernel of this page has ended").first.wait_for()
    # The last answer stays beside it.
    assert page.get_by_text("1.4521").filter(visible=True).count()
    page.get_by_role("button", name="Start again").first.click()
    says(page, "taken up again from my-questions/plumebrook-dairy-2.json")
    assert candidates(page).input_value() == "1.4521"


SLOW = """
import time
from gradekit.app.widgets.controls import Status, button
import ipywidgets as widgets

status = Status()
widgets.VBox([button("Slow", lambda: time.sleep(3) or "slow: done", status),
              button("Quick", lambda: "quick: done", status), status]).add_class("gk-live")
"""


def test_who_waits_for_an_answer_sees_that_it_is_being_made(context, lab, pages):
    lab.write_notebook("slow.ipynb", SLOW)
    page = context.new_page()
    page.goto(pages.page("slow.ipynb"))
    busy = page.get_by_text("the answer is being made")
    page.get_by_role("button", name="Quick").click()
    says(page, "quick: done")
    assert not busy.is_visible()
    begin = time.monotonic()
    page.get_by_role("button", name="Slow").click()
    busy.wait_for()
    assert time.monotonic() - begin < 2.5, "shown only with the answer"
    says(page, "slow: done")
    busy.wait_for(state="hidden")


@pytest.mark.parametrize("name", NOTEBOOKS)
def test_no_notebook_links_to_what_the_app_refuses(name):
    book = nbformat.read(launch.ROOT / "notebooks" / name, 4)
    text = "\n".join(cell.source for cell in book.cells if cell.cell_type == "markdown")
    for target in re.findall(r"\]\(([^)#]+)[^)]*\)", text):
        assert target.endswith(".ipynb") and (launch.ROOT / "notebooks" / target).is_file(), target
