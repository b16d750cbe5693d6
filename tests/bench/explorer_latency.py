"""How long after a key press the picture stands on the screen, in a real browser.

The composition explorer (one diagram, twelve relations) beside a bare slider whose value is only
written out, key press by key press in the same run, on this machine:

    python tests/bench/explorer_latency.py [presses]
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
from playwright.sync_api import Browser, sync_playwright

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS.parent), str(TESTS), str(TESTS / "browser")]

from labpage import Lab, NotebookPage  # noqa: E402

# Of the last change on the screen, where the bare slider needs 25 ms; the explorer computes in the
# page, the slider asks its kernel.
FLOOR, MEDIAN, P95 = 25.0, 8.0, 12.0
ARGUMENTS = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run")
BARE = """
import ipywidgets as widgets

slider = widgets.FloatSlider(value=8.0, min=0, max=24, step=0.1, readout=False)
view = widgets.HTML()

def show(change, view=view):
    view.value = f"<b>{change['new']:.1f}</b>"

slider.observe(show, "value")
widgets.VBox([slider, view]).add_class("bare")
"""
EXPLORER = """
import gradekit as gk

heat = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "Mo": 0.2, "N": 0.05, "Cu": 0.3}
panel = gk.explorer(heat, grain_size_astm=8, grain_size_um=30, delta_ferrite_pct=3)
assert len(panel.relations) == 12
panel
"""
# Two clocks: one stops with the last change of the page, one in the frame that shows it, the
# screen's own pace and the same for all. What the explorer shows, its picture and tables, is timed
# apart from all else that changes, such as the status line.
WATCH = """element => {
    const log = { pressed: 0, shown: 0, changed: 0, framed: 0 };
    const shows = ({ target: node }) =>
        (node.closest ? node : node.parentElement)?.closest('.gk-moving, .widget-html');
    element.addEventListener('keydown', event => { log.pressed = event.timeStamp; }, true);
    new MutationObserver(changes => {
        log.changed = performance.now();
        if (changes.some(shows)) log.shown = log.changed;
        requestAnimationFrame(() => { log.framed = performance.now(); });
    }).observe(
        element, { childList: true, subtree: true, characterData: true, attributes: true });
    element.gkLog = log;
}"""
READ = """e => {
    const { pressed, shown, changed, framed } = e.gkLog;  // a judgement is only said, not drawn
    return [(shown > pressed ? shown : changed), changed, framed].map(at => at - pressed);
}"""


@contextmanager
def lab_and_browser() -> Iterator[tuple[Lab, Browser]]:
    """Give a JupyterLab of our own, in a folder that is gone afterwards, and a browser."""
    browser_path = shutil.which("chromium") or shutil.which("google-chrome")
    if browser_path is None:
        sys.exit("no Chromium on this machine (Debian: apt-get install chromium)")
    home = Path(tempfile.mkdtemp())
    lab = Lab(home)
    try:
        with sync_playwright() as driver:
            browser = driver.chromium.launch(executable_path=browser_path, args=list(ARGUMENTS))
            yield lab, browser
            browser.close()
    finally:
        lab.stop()
        shutil.rmtree(home, ignore_errors=True)


def measure(presses: int) -> dict[str, np.ndarray]:
    """Return the times of each panel, ms, a row a press: to picture, last change and its frame."""
    with lab_and_browser() as (lab, browser):
        name = lab.write_notebook("latency.ipynb", BARE, EXPLORER)
        page = browser.new_page(viewport={"width": 1280, "height": 1600})
        notebook = NotebookPage(page, lab, name)
        notebook.run_all()
        bare, panel = page.locator(".bare").first, page.locator(".gk-panel").first
        panel.get_by_role("table").wait_for()
        parts = {
            "bare slider": (bare, bare.locator(".noUi-handle"), "ArrowRight"),
            "explorer": (panel, panel.get_by_label("Ni", exact=True), "ArrowUp"),
        }
        for whole, _, _ in parts.values():
            whole.evaluate(WATCH)
        times: dict[str, list[list[float]]] = {part: [] for part in parts}
        for count in range(presses + 5):
            for part, (whole, control, key) in parts.items():
                control.press(key)
                page.wait_for_timeout(250)
                if count >= 5:  # the first ones warm up
                    times[part].append(whole.evaluate(READ))
    return {part: np.array(found) for part, found in times.items()}


def main() -> None:
    presses = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    times = measure(presses)
    print(f"from the key press, {presses} presses each, median / p95, ms")
    for part, found in times.items():
        middle, slow = np.percentile(found, [50, 95], axis=0)
        told = zip(("picture", "last change", "its frame"), middle, slow, strict=True)
        print(f"{part:>12}", *(f"  {what} {m:5.1f} / {s:5.1f}" for what, m, s in told))
    for at, clock in ((1, "last change"), (2, "its frame")):
        floor = np.median(times["bare slider"][:, at])
        own, own95 = np.percentile(times["explorer"][:, at], [50, 95]) * FLOOR / floor
        print(
            f"{clock} where the bare slider needs {FLOOR:g} ms: {own:.1f} (aim: below {MEDIAN:g}), "
            f"p95 {own95:.1f} (aim: below {P95:g})"
        )


if __name__ == "__main__":
    main()
