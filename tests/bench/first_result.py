"""How long from opening a notebook to something to read, and from running it to its first results.

Each notebook is opened in a page of its own, with a kernel of its own, as a user has it who comes
in the morning. Beside the seconds stands how many times that is of what a notebook of one printed
line takes in the same run:

    python tests/bench/first_result.py [01 02 ...]
"""

from __future__ import annotations

import sys
import time

import nbformat
from explorer_latency import lab_and_browser
from labpage import CURRENT, RUN_ALL, Lab, NotebookPage

from gradekit import launch

CLEAR = "() => window.jupyterapp.commands.execute('notebook:clear-all-cell-outputs')"
CELLS = f"{CURRENT}.content.widgets"
# In an untrusted notebook a text or an image stands where a trusted one has a table: any will do.
RESULT = f"() => {CELLS}.some(cell => cell.node.querySelector('.jp-OutputArea-output > *'))"
LIVE = "() => document.querySelector('.gk-live :is(svg, table, input)')"
HAS_LIVE = f"""() => {CELLS}.some(cell => (cell.model.toJSON().outputs || [])
    .some(output => output.data?.['application/vnd.jupyter.widget-view+json']))"""
# Live panels off the screen are not drawn: the first one is brought there as it comes.
FOLLOW = f"""() => {{
    const at = {CELLS}.findIndex(cell => (cell.model.toJSON().outputs || [])
        .some(output => output.data?.['application/vnd.jupyter.widget-view+json']));
    return {CURRENT}.content.scrollToItem(at, 'start');
}}"""


def measure(browser, lab: Lab, name: str) -> list[float]:
    """Return seconds: opened and readable; run to the first result, the first panel, the end."""
    page = browser.new_page(viewport={"width": 1280, "height": 1000})
    begin = time.monotonic()
    notebook = NotebookPage(page, lab, name)
    page.wait_for_function(RESULT, polling="raf")
    times = [time.monotonic() - begin]
    alive = page.evaluate(HAS_LIVE)
    page.evaluate(CLEAR)
    begin = time.monotonic()
    page.evaluate(f"({RUN_ALL})(), null")
    page.wait_for_function(RESULT, polling="raf", timeout=60_000)
    times.append(time.monotonic() - begin)
    if alive:
        page.wait_for_function(HAS_LIVE, polling="raf", timeout=60_000)
        page.evaluate(FOLLOW)
        page.wait_for_function(LIVE, polling="raf", timeout=60_000)
    times.append(time.monotonic() - begin if alive else float("nan"))
    notebook.wait_idle(240)
    times.append(time.monotonic() - begin)
    page.context.close()
    lab.end_kernels()
    return times


def one_line(lab: Lab) -> str:
    """Write a notebook that has printed one line, and return its name."""
    cell = nbformat.v4.new_code_cell("print('first')", execution_count=1)
    cell.outputs = [nbformat.v4.new_output("stream", name="stdout", text="first\n")]
    name = lab.write_notebook("one-line.ipynb")
    path = lab.folder / "notebooks" / name
    notebook = nbformat.read(path, as_version=4)
    notebook.cells = [cell]
    nbformat.write(notebook, path)
    return name


def main() -> None:
    names = sorted(p.name for p in (launch.ROOT / "notebooks").glob("[0-9]*.ipynb"))
    names = [n for n in names if not sys.argv[1:] or n[:2] in sys.argv[1:]]
    print("Seconds from opening a notebook to its results of last time on the screen, and from")
    print("running all its cells to the first new result, the first live panel and the end; in")
    print("brackets times a notebook of one line")
    print(f"{'notebook':<24}{'readable':>16}{'result':>16}{'panel':>10}{'end':>10}{'kB':>8}")
    with lab_and_browser() as (lab, browser):
        floor = measure(browser, lab, one_line(lab))
        for name in names:
            times = measure(browser, lab, name)
            size = (launch.ROOT / "notebooks" / name).stat().st_size / 1000
            pairs = zip(times[:2], floor[:2], strict=True)
            cells = "".join(f"{own:9.2f} ({own / bare:4.1f})" for own, bare in pairs)
            cells += "".join(f"{t:10.2f}" if t == t else f"{'—':>10}" for t in times[2:])
            print(f"{name.removesuffix('.ipynb'):<24}{cells}{size:8.0f}", flush=True)


if __name__ == "__main__":
    main()
