"""How long after a key press the picture stands on the screen, for every explorer there is.

The notebooks are run as they are, in the page as a user has it, with a bare slider before each
explorer whose value is only written out. Then both are pressed in turn, so that floor and explorer
are of the same minute:

    python tests/bench/explorers.py [presses] [01 02 ...]

Guesses and checks are many and alike: one of each is measured. What computes for less than 5 ms a
step is held to the bare slider, what solves a brief or walks the works to 100 ms.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import nbformat
import numpy as np
from explorer_latency import BARE, READ, WATCH, lab_and_browser
from labpage import Lab, NotebookPage

from gradekit import launch

MEDIAN, P95, SOLVING = 1.3, 2.0, 100.0  # times the bare slider; ms
SOLVES = ("brief_explorer", "route_explorer", "substitution", "certificate_box")
ALIKE = ("guess", "check")
KIND = re.compile(r"\b(?:gk|course)\.(\w+)\(")
VIEW = "application/vnd.jupyter.widget-view+json"
WARM = 5  # presses before the clock is read
# The answer to this press has come, and nothing has changed since for a while.
ANSWERED = """e => e.gkLog.changed > e.gkLog.pressed
    && performance.now() - e.gkLog.changed > 200"""


@dataclass
class Times:
    """Of one explorer and the bare slider before it, ms: to the picture, and to the last change."""

    notebook: str
    name: str
    kind: str
    bare: list[list[float]]
    own: list[list[float]]


def explorers(name: str) -> tuple[nbformat.NotebookNode, list[str]]:
    """Return a notebook with a bare slider before each explorer, and the kinds of these."""
    notebook = nbformat.read(launch.ROOT / "notebooks" / name, as_version=4)
    cells, kinds = [], []
    for cell in notebook.cells:
        if any(VIEW in output.get("data", {}) for output in cell.get("outputs", [])):
            kinds.append(KIND.search(cell.source)[1])
            cells.append(nbformat.v4.new_code_cell(BARE))
        cells.append(cell)
    notebook.cells = cells
    return notebook, kinds


def key_of(panel, kind: str) -> Callable[[int], None]:
    """Return what presses a key in an explorer, given how many were pressed before."""
    if kind == "certificate_box":
        claims = panel.get_by_label("Grades claimed", exact=True)
        read = panel.get_by_role("button", name="Read", exact=True)

        def press(count: int) -> None:
            claims.fill(("1.4301", "1.4307")[count % 2])
            read.press("Enter")

    elif kind in ALIKE:
        box = panel.get_by_role("textbox").first

        def press(count: int) -> None:
            box.fill(("1", "one")[count % 2])  # a judgement, and an error in words
            box.press("Enter")

    else:
        box = panel.locator(".gk-number input[type=text]").first

        def press(count: int) -> None:
            box.press(("PageUp", "PageDown")[count % 2])

    return press


def measure(browser, lab: Lab, name: str, presses: int) -> Iterator[Times]:
    """Press keys in the explorers of a notebook."""
    notebook, kinds = explorers(name)
    if not kinds:
        return
    nbformat.write(notebook, lab.folder / "notebooks" / f"latency-{name}")
    page = browser.new_page(viewport={"width": 1280, "height": 1600})
    NotebookPage(page, lab, f"latency-{name}").run_all(240)
    seen = set()
    for at, kind in enumerate(kinds):
        bare, panel = page.locator(".bare").nth(at), page.locator(".gk-live").nth(at)
        if kind in ALIKE and (kind in seen or not panel.get_by_role("textbox").count()):
            continue
        seen.add(kind)
        parts = {
            "bare": (bare, lambda _, b=bare: b.locator(".noUi-handle").press("ArrowRight")),
            "own": (panel, key_of(panel, kind)),
        }
        for whole, _ in parts.values():
            whole.evaluate(WATCH)
        found: dict[str, list[list[float]]] = {"bare": [], "own": []}
        for count in range(presses + WARM):
            for part, (whole, press) in parts.items():
                # The first press of a turn also moves the focus from one cell to another, which
                # costs JupyterLab more than either: the second one counts.
                # A certificate is read once a turn: read again unchanged, it says nothing new.
                for turn in (0, 1) if kind != "certificate_box" else (1,):
                    press(2 * count + turn if kind != "certificate_box" else count)
                    page.wait_for_timeout(300)
                    page.wait_for_function(ANSWERED, arg=whole.element_handle())
                if count >= WARM:
                    found[part].append(whole.evaluate(READ))
        number = kinds[: at + 1].count(kind) if kinds.count(kind) > 1 else 0
        yield Times(name[:2], f"{kind} {number or ''}".strip(), kind, **found)
    page.context.close()
    lab.end_kernels()


def line(times: Times) -> str:
    """Return the times of an explorer as a line of the report."""
    (floor, last_floor, _), (floor95, *_) = np.percentile(times.bare, [50, 95], axis=0)
    (own, last, _), (own95, *_) = np.percentile(times.own, [50, 95], axis=0)
    if times.kind in SOLVES:
        aim, good = f"median ≤ {SOLVING:g} ms", own <= SOLVING
    else:
        ratios = own / floor, own95 / floor95
        aim, good = f"≤ {MEDIAN:g}, {P95:g}", ratios[0] <= MEDIAN and ratios[1] <= P95
    return (
        f"{times.notebook}  {times.name:<16}{floor:8.1f}{floor95:8.1f}{own:10.1f}{own95:8.1f}"
        f"{own / floor:8.2f}{own95 / floor95:6.2f}{last_floor:8.1f}{last:8.1f}"
        f"   {aim} {'met' if good else 'missed'}"
    )


def main() -> None:
    presses = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    names = sorted(p.name for p in (launch.ROOT / "notebooks").glob("[0-9]*.ipynb"))
    names = [n for n in names if not sys.argv[2:] or n[:2] in sys.argv[2:]]
    print(
        f"Key press to picture, ms, {presses} presses each, in turn with the floor; at the end to"
    )
    print("the last change of all, floor and explorer")
    print(
        f"{'explorer':<20}{'floor':>8}{'p95':>8}{'explorer':>10}{'p95':>8}{'ratio':>8}{'p95':>6}"
        f"{'last':>8}{'last':>8}"
    )
    with lab_and_browser() as (lab, browser):
        for name in names:
            for times in measure(browser, lab, name, presses):
                print(line(times), flush=True)


if __name__ == "__main__":
    main()
