"""The notebooks as pages without code: the same panel, and nothing leaves the machine."""

from __future__ import annotations

import sys

import pytest
from labpage import BOX, LEFT, TOKEN, Server, jupyter_home, watch

from gradekit import launch


@pytest.fixture
def pages(lab, tmp_path):
    lab.write_notebook("box.ipynb", BOX)
    command = launch.app_command(sys.executable, lab.folder, browser=False, page="")
    command[command.index("--token")] = f"--token={TOKEN}"
    server = Server(command, tmp_path, jupyter_home(tmp_path), answers=f"/?token={TOKEN}")
    yield server
    server.stop()


def test_a_panel_answers_and_nothing_leaves_the_machine(browser, pages):
    page = browser.new_page()
    trouble = watch(page, pages.url)
    page.goto(f"{pages.url}/voila/render/box.ipynb?token={TOKEN}")
    box = page.get_by_label("Cr", exact=True)
    box.fill("17.5")
    box.press("Enter")
    page.get_by_role("status").filter(has_text="35.0").wait_for()
    page.close()
    assert [line for line in trouble if line.startswith(LEFT)] == []


def test_a_page_is_refused_without_the_token(browser, pages):
    context = browser.new_context()
    answer = context.request.get(f"{pages.url}/voila/render/box.ipynb", max_redirects=0)
    assert answer.status in (302, 403)
    context.close()
