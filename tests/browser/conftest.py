"""A JupyterLab that is shared by all browser tests, and a fresh page for each."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from labpage import Lab, NotebookPage

from gradekit import launch


@pytest.fixture(scope="session")
def lab(browser, tmp_path_factory):
    server = Lab(tmp_path_factory.mktemp("lab"))
    yield server
    server.stop()


@contextmanager
def visit(browser, lab: Lab) -> Iterator[Callable[..., NotebookPage]]:
    """Give a function that opens a notebook of the working copy and returns its `NotebookPage`.

    When the visit is over, anything that went wrong in the page or left the machine is an error.
    """
    pages = []

    def open_it(name: str, width: int = 1280, height: int = 900) -> NotebookPage:
        if (launch.ROOT / "notebooks" / name).exists():
            lab.lay_again(name)  # the page before has saved it with its own outputs
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


@pytest.fixture
def open_notebook(browser, lab):
    """A function that opens a notebook for one test; see `visit`."""
    with visit(browser, lab) as open_it:
        yield open_it
