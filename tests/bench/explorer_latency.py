"""How long after a key press the last change stands on the screen, in a real browser.

The composition explorer (one diagram, twelve relations) beside a bare slider whose value is only
written out, key press by key press in the same run, on this machine:

    python tests/bench/explorer_latency.py [presses]
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

import numpy as np
from playwright.sync_api import sync_playwright

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS.parent), str(TESTS), str(TESTS / "browser")]

from labpage import Lab, NotebookPage  # noqa: E402

AIM = 1.3
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
# A change is on the screen in the frame after it; the clock stops there.
WATCH = """element => {
    const log = { pressed: 0, changed: 0 };
    const frame = () => requestAnimationFrame(() => { log.changed = performance.now(); });
    element.addEventListener('keydown', event => { log.pressed = event.timeStamp; }, true);
    new MutationObserver(frame).observe(
        element, { childList: true, subtree: true, characterData: true, attributes: true });
    element.gkLog = log;
}"""
READ = "element => element.gkLog.changed - element.gkLog.pressed"


def measure(presses: int) -> dict[str, np.ndarray]:
    """Return the times of each panel in ms, one a press."""
    browser_path = shutil.which("chromium") or shutil.which("google-chrome")
    if browser_path is None:
        sys.exit("no Chromium on this machine (Debian: apt-get install chromium)")
    home = Path(tempfile.mkdtemp())
    lab = Lab(home)
    try:
        name = lab.write_notebook("latency.ipynb", BARE, EXPLORER)
        with sync_playwright() as driver:
            browser = driver.chromium.launch(executable_path=browser_path, args=list(ARGUMENTS))
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
            times: dict[str, list[float]] = {part: [] for part in parts}
            for count in range(presses + 5):
                for part, (whole, control, key) in parts.items():
                    control.press(key)
                    page.wait_for_timeout(250)
                    if count >= 5:  # the first ones warm up
                        times[part].append(whole.evaluate(READ))
            browser.close()
    finally:
        lab.stop()
        shutil.rmtree(home, ignore_errors=True)
    return {part: np.array(found) for part, found in times.items()}


def main() -> None:
    presses = int(sys.argv[1]) if len(sys.argv) > 1 else 60
    times = measure(presses)
    print(f"key press to last change on screen, {presses} presses each, ms")
    for part, found in times.items():
        p50, p95 = np.percentile(found, [50, 95])
        print(f"{part:>12}  median {p50:6.1f}   p95 {p95:6.1f}")
    ratio = np.median(times["explorer"]) / np.median(times["bare slider"])
    print(f"ratio of the medians {ratio:.2f} (aim: at most {AIM})")


if __name__ == "__main__":
    main()
