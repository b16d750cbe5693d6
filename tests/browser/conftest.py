"""A JupyterLab that is shared by all browser tests, and a fresh page for each."""

from __future__ import annotations

import pytest
from labpage import Lab, NotebookPage


@pytest.fixture(scope="session")
def lab(browser, tmp_path_factory):
    server = Lab(tmp_path_factory.mktemp("lab"))
    yield server
    server.stop()


@pytest.fixture
def open_notebook(browser, lab):
    """A function that opens a notebook of the working copy and returns its `NotebookPage`.

    When the test is over, anything that went wrong in the page or left the machine fails it.
    """
    pages = []

    def open_it(name: str, width: int = 1280, height: int = 900) -> NotebookPage:
        context = browser.new_context(viewport={"width": width, "height": height})
        context.set_default_timeout(90_000)
        pages.append(NotebookPage(context.new_page(), lab, name))
        return pages[-1]

    yield open_it
    for opened in pages:
        opened.page.context.close()
    lab.end_kernels()
    trouble = [line for opened in pages for line in opened.trouble]
    assert not trouble, "\n".join(trouble)
