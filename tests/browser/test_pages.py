"""The notebooks as pages without code: nothing leaves the machine, and nobody gets in."""

from __future__ import annotations

import http.server
import threading
import time
from functools import partial

import pytest
from labpage import BOX, LEFT, TOKEN, Pages, watch

ARRIVED = "document.readyState === 'complete'"


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
