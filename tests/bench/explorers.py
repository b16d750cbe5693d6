"""How long after a key press the last change stands on the screen, for every explorer.

Each beside a bare slider whose value is only written out, key press by key press in the same run:

    python tests/bench/explorers.py [presses] [explorer ...]

What computes for less than 5 ms a step is held to the bare slider, what solves a brief or walks
the works to 100 ms.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
from pathlib import Path

import numpy as np
from explorer_latency import ARGUMENTS, BARE, READ, WATCH
from labpage import Lab, NotebookPage
from playwright.sync_api import sync_playwright

MEDIAN, P95, SOLVING = 1.3, 2.0, 100.0  # times the bare slider; ms
START = """
import gradekit as gk

heats = gk.read_heats("../data/heats.csv")
prices = gk.read_prices("../data/element_prices.csv")
conditions = {"grain_size_astm": 8, "grain_size_um": 30, "delta_ferrite_pct": 3}
"""
# The answer to this press has come, and nothing has changed since for a while.
ANSWERED = """e => e.gkLog.changed > e.gkLog.pressed
    && performance.now() - e.gkLog.changed > 200"""
# Name: code of the panel, the number box that is stepped in it, whether it solves at each step.
EXPLORERS = {
    "composition": (
        'gk.explorer(heats.loc[["H25-0002"]], **conditions)',
        "Ni",
        False,
    ),
    "weld": (
        'gk.weld_explorer(gk.course("latency.json").steels, "mild steel", "18Cr-8Ni",'
        ' "23Cr-13Ni wire", dilution=20)',
        "dilution, %",
        False,
    ),
    "contributions": (
        'gk.contributions(heats.loc[["H25-0002"]], ["ni_eq_wrc_1992", "ni_eq_hammar_1979"])',
        "Ni",
        False,
    ),
    "brief": (
        'gk.brief_explorer(gk.Brief(bounds={"C": (0.02, 0.07), "Mn": (1, 8), "Ni": (1, 4.5),'
        ' "N": (0.04, 0.3), "Mo": 0.2, "Si": 0.4, "Cu": (0.2, 2)}, limits={"pren_16n":'
        ' (19.9, None), "md30_nohara_1977": (None, 0)}, minimise="cost", within="1.4376",'
        " conditions=conditions), prices, gk.estimate_scatter(heats, otherwise="
        '"../data/plant.csv"), relation_error=False, elements=["Mn", "N", "Ni"])',
        "md30_nohara_1977 ≤",
        True,
    ),
    "route": (
        'gk.route_explorer(heats.loc[["H25-0002"]], gk.read_plant("../data/plant.csv"),'
        " hot_band_mm=3.0, grain_size_astm=8)",
        "Ni",
        True,
    ),
    "substitution": (
        'gk.substitution("../data/questions.json", prices="../data/element_prices.csv")',
        "water, °C",
        True,
    ),
}


def measure(presses: int, names: list[str]) -> dict[str, dict[str, np.ndarray]]:
    """Return for each explorer the times of the bare slider and its own in ms, one a press."""
    browser_path = shutil.which("chromium") or shutil.which("google-chrome")
    if browser_path is None:
        sys.exit("no Chromium on this machine (Debian: apt-get install chromium)")
    home = Path(tempfile.mkdtemp())
    lab = Lab(home)
    times: dict[str, dict[str, list[float]]] = {}
    try:
        with sync_playwright() as driver:
            browser = driver.chromium.launch(executable_path=browser_path, args=list(ARGUMENTS))
            for name in names:
                code, box, _ = EXPLORERS[name]
                book = lab.write_notebook(f"latency-{name}.ipynb", START, BARE, code)
                page = browser.new_page(viewport={"width": 1280, "height": 1600})
                NotebookPage(page, lab, book).run_all()
                bare, panel = page.locator(".bare").first, page.locator(".gk-panel").first
                number = panel.get_by_label(box, exact=True)
                number.wait_for()
                parts = {
                    "bare": (bare, bare.locator(".noUi-handle"), "ArrowRight"),
                    "own": (panel, number, "ArrowUp"),
                }
                for whole, _, _ in parts.values():
                    whole.evaluate(WATCH)
                found: dict[str, list[float]] = {"bare": [], "own": []}
                for count in range(presses + 5):
                    for part, (whole, control, key) in parts.items():
                        control.press(key)
                        page.wait_for_timeout(400)
                        page.wait_for_function(ANSWERED, arg=whole.element_handle())
                        if count >= 5:  # the first ones warm up
                            found[part].append(whole.evaluate(READ))
                times[name] = found
                page.close()
                lab.end_kernels()
            browser.close()
    finally:
        lab.stop()
        shutil.rmtree(home, ignore_errors=True)
    return {name: {p: np.array(t) for p, t in parts.items()} for name, parts in times.items()}


def main() -> None:
    presses = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    names = sys.argv[2:] or list(EXPLORERS)
    print(f"key press to last change on screen, {presses} presses each, ms")
    print(f"{'explorer':>14}  bare median   p95   own median   p95   ratios      aim")
    for name, parts in measure(presses, names).items():
        floor, own = (np.percentile(parts[part], [50, 95]) for part in ("bare", "own"))
        ratio = own / floor
        if EXPLORERS[name][2]:
            aim, good = f"median ≤ {SOLVING:g} ms", own[0] <= SOLVING
        else:
            aim, good = f"≤ {MEDIAN:g}, {P95:g}", ratio[0] <= MEDIAN and ratio[1] <= P95
        print(
            f"{name:>14}  {floor[0]:11.1f} {floor[1]:5.1f}   {own[0]:10.1f} {own[1]:5.1f}   "
            f"{ratio[0]:.2f}, {ratio[1]:.2f}   {aim} {'met' if good else 'missed'}"
        )


if __name__ == "__main__":
    main()
