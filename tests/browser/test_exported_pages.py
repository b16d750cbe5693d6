"""Each notebook as a page of HTML to be mailed or printed: whole, and asking for nothing."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest
from looking import LEAST, PALE, each

from gradekit import launch

FOLDER = launch.ROOT / "notebooks"
NOTEBOOKS = sorted(p.name for p in FOLDER.glob("[0-9]*.ipynb"))
PAPER = 718  # pixels across A4 between margins of 10 mm
# What the page shows of the outputs of the notebook, and what it lost.
SHOWN = """() => {
    const outputs = [...document.querySelectorAll('.jp-OutputArea-output')];
    const images = [...document.querySelectorAll('.jp-OutputArea-output img')];
    return {
        outputs: outputs.length,
        empty: outputs.filter(e => !e.innerText.trim() && !e.querySelector('img')).length,
        dead: images.filter(e => !e.naturalWidth || !e.checkVisibility()).length,
        images: images.length,
        tables: document.querySelectorAll('.jp-OutputArea-output table').length,
        revive: document.body.innerText.split('Run All Cells').length - 1,
    };
}"""
OFF_PAPER = f"""root => [...root.querySelectorAll('table, img')]
    .filter(e => e.checkVisibility() && e.getBoundingClientRect().right > {PAPER})
    .map(e => (e.alt || e.innerText).slice(0, 60))"""


def outputs_of(name: str) -> list[str]:
    """The HTML of every output of a notebook as it is committed."""
    cells = json.loads((FOLDER / name).read_text("utf-8"))["cells"]
    data = [o.get("data", {}) for c in cells for o in c.get("outputs", [])]
    return ["".join(d.get("text/html", "")) for d in data]


def open_page(browser, path) -> tuple:
    """Open a file with every way out of this machine shut; return the page and what it asked."""
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    asked = []

    def gate(route):
        if route.request.url.startswith(("file:", "data:", "blob:")):
            route.continue_()
        else:
            asked.append(route.request.url)
            route.abort()

    page.route("**/*", gate)
    page.goto(path.as_uri())
    page.wait_for_function("[...document.images].every(image => image.complete)")
    return page, asked


def must_be_whole(page, name: str) -> None:
    html = outputs_of(name)
    page.evaluate("document.querySelectorAll('details').forEach(e => e.open = true)")
    shown = page.evaluate(SHOWN)
    assert shown["images"] == sum(text.count("<img ") for text in html)
    assert shown["tables"] == sum(text.count("<table") for text in html)
    assert shown["outputs"] > 2 and shown["empty"] == shown["dead"] == 0
    assert shown["revive"] >= sum("Run All Cells" in text for text in html)


@pytest.mark.parametrize("name", NOTEBOOKS)
def test_saved_as_html_from_the_notebook(browser, lab, tmp_path, name):
    lab.lay_again(name)
    path = tmp_path / f"{name}.html"
    path.write_bytes(lab.ask("GET", f"/nbconvert/html/notebooks/{name}?download=true"))
    page, asked = open_page(browser, path)
    must_be_whole(page, name)
    assert asked == []
    page.emulate_media(media="print")
    page.set_viewport_size({"width": PAPER, "height": 1000})
    parts = page.locator(".jp-OutputArea-output .gk").all()
    assert each(parts, OFF_PAPER) == []
    assert each(parts, PALE, [LEAST, True]) == []
    page.close()


def test_by_the_plain_converter_it_is_whole_though_its_scripts_are_out_of_reach(browser, tmp_path):
    name = "05-substitution.ipynb"
    command = [sys.executable, "-m", "jupyter", "nbconvert", "--to=html", "--output-dir"]
    subprocess.run([*command, tmp_path, FOLDER / name], check=True, capture_output=True)
    page, asked = open_page(browser, (tmp_path / name).with_suffix(".html"))
    must_be_whole(page, name)
    # Its template names two scripts of a content network, and our pages need neither.
    assert {"require" in url or "mathjax" in url.lower() for url in asked} <= {True}
    page.close()
