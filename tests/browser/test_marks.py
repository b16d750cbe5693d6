"""Marks stand where they were computed: read back from the screen by the axes that are drawn.

In JupyterLab, in the app, on a saved page and in an exported notebook, at seven widths, from 80 to
200 % zoom, on plain and on dense screens. A choice of these is looked at; all of them where
GRADEKIT_ALL_SIZES is set.
"""

from __future__ import annotations

import itertools
import os

import numpy as np
import pytest
from labpage import SHOTS, Pages

import gradekit as gk

WIDTHS = (390, 820, 1024, 1280, 1440, 1920, 2560)
ZOOMS = (0.8, 1.0, 1.25, 1.5, 2.0)
SCALES = (1, 2)
EVERY = list(itertools.product(WIDTHS, ZOOMS, SCALES))
CHOICE = [(w, 1.0, 1) for w in WIDTHS] + [(1440, z, 2) for z in ZOOMS] + [(390, 2.0, 2)]
SIZES = EVERY if os.environ.get("GRADEKIT_ALL_SIZES") else CHOICE
LARGEST = 900  # a chart as wide as a wall is no easier to read
# The explorers with a diagram: notebook, what the cell holds, diagram.
PANELS = {
    "composition": ("01-lean-nickel.ipynb", "gk.explorer(", "schaeffler_1949"),
    "weld": ("06-phase-balance.ipynb", "gk.app.weld_explorer(", "schaeffler_1949"),
}
FOLD_AWAY = "() => window.jupyterapp.commands.execute('application:toggle-left-area')"
# Ticks with their numbers, and the middle of each mark, all as they stand on the screen.
READ = """([back, layer]) => {
    const box = e => e.getBoundingClientRect();
    const texts = [...back.querySelectorAll('text')].map(t => [t.textContent, box(t)])
        .filter(([t]) => /^[\\d.]+$/.test(t));
    const size = box(back).width / back.viewBox.baseVal.width;
    const found = {x: [], y: [], marks: [], back: box(back).toJSON(), layer: box(layer).toJSON()};
    for (const tick of back.querySelectorAll('use')) {
        const t = box(tick), way = t.height > t.width ? 'x' : 'y';
        const near = texts.map(([text, b]) => [text, way === 'x'
            ? Math.hypot((b.left + b.right) / 2 - t.left, (b.top - t.bottom) / 3)
            : Math.hypot((b.top + b.bottom) / 2 - t.top, (t.left - b.right) / 3)])
            .sort((a, b) => a[1] - b[1])[0];
        if (near && near[1] < 6 * size)
            found[way].push([way === 'x' ? t.left : t.top, Number(near[0])]);
    }
    for (const group of layer.querySelectorAll('.mark')) {
        const sign = group.firstElementChild, middle = sign.getAttribute('transform')
            ? new DOMPoint(0, 0) : sign.matches('circle')
            ? new DOMPoint(sign.cx.baseVal.value, sign.cy.baseVal.value) : null;
        if (!middle) continue;
        const at = middle.matrixTransform(sign.getScreenCTM());
        found.marks.push({left: at.x, top: at.y, x: +group.dataset.x, y: +group.dataset.y,
                          name: group.querySelector('text')?.textContent ?? '',
                          trial: group.matches('.trial')});
    }
    return found;
}"""


def resize(session, page, width: int, zoom: float, scale: int) -> None:
    """Do to a page what a window of this width, this zoom and this screen do."""
    narrow, dense = round(width / zoom), scale * zoom
    session.send("Emulation.setDeviceMetricsOverride", {
        "width": narrow, "height": round(1000 / zoom), "deviceScaleFactor": dense, "mobile": False,
    })  # fmt: skip
    page.wait_for_function(f"innerWidth === {narrow} && Math.abs(devicePixelRatio - {dense}) < .01")
    page.evaluate("() => new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)))")


def axis(ticks: list[list[float]]) -> tuple[float, float]:
    """Pixels of nothing and of one more on an axis, by its first and last tick."""
    assert len(ticks) >= 4, ticks
    ticks = sorted(ticks, key=lambda tick: tick[1])
    (low, at), (high, end) = ticks[0], ticks[-1]
    unit = (high - low) / (end - at)
    for pixel, value in ticks:  # the numbers stand evenly, so that they are those of the ticks
        assert abs(low + (value - at) * unit - pixel) < 0.6
    return low - at * unit, unit


def check(read: dict, dense: float) -> list[dict]:
    """Hold each mark to its numbers within one pixel of the screen; return the marks."""
    for side in ("x", "y", "width", "height"):
        assert read["back"][side] == pytest.approx(read["layer"][side], abs=0.5), side
    assert 20 < read["back"]["width"] <= LARGEST
    (x0, dx), (y0, dy) = axis(read["x"]), axis(read["y"])
    assert read["marks"]
    for mark in read["marks"]:
        off = np.hypot(x0 + mark["x"] * dx - mark["left"], y0 + mark["y"] * dy - mark["top"])
        assert off * dense <= 1.0, (mark, off)
    return read["marks"]


def trial_of(panel) -> dict[str, float]:
    """The contents in the boxes of the first group of numbers."""
    boxes = panel.locator(".gk-numbers").first.locator("input[type=text]")
    texts = boxes.evaluate_all(
        "boxes => boxes.map(b => [b.previousElementSibling.textContent, b.value])"
    )
    return {name: float(text.replace(",", ".")) for name, text in texts if text}


def layers(panel):
    """The drawing that rests and the one that moves, as elements of the page."""
    back = panel.locator(".gk-background > * svg, .gk-background svg").first
    layer = panel.locator(".gk-overlay > svg").first
    layer.locator(".mark").first.wait_for(state="attached")
    return back, layer


def look(page, panel, where: str, expected) -> None:
    back, layer = layers(panel)
    session = page.context.new_cdp_session(page)  # what it sets ends with it
    for width, zoom, scale in SIZES:
        resize(session, page, width, zoom, scale)
        back.scroll_into_view_if_needed()
        read = page.evaluate(READ, [back.element_handle(), layer.element_handle()])
        try:
            marks = check(read, scale * zoom)
        except AssertionError as error:
            raise AssertionError(f"{where} at {width} px, {zoom:.0%}, scale {scale}") from error
        for mark in marks:
            spot = expected(mark)
            if spot is not None:
                assert (mark["x"], mark["y"]) == pytest.approx(spot, rel=1e-9), (where, mark)
        if zoom == 1 and scale == 1:
            SHOTS.mkdir(exist_ok=True)
            page.screenshot(path=SHOTS / f"marks-{where}-{width}.png")
    session.detach()


def computed(panel, kind: str, diagram: str):
    """Return a function that computes anew where a mark of a panel must stand."""
    drawn = gk.diagram(diagram)

    def spot(contents) -> tuple[float, float]:
        row = drawn.locate(contents).iloc[0]
        return row["x"], row["y"]

    if kind == "composition":
        trial = spot(trial_of(panel))
        return lambda mark: trial if mark["trial"] else None
    joint = {}
    for title, group in zip(
        ("first", "second", "wire"), panel.locator("table").all(), strict=False
    ):
        joint[title] = group
    return lambda mark: None


@pytest.fixture(scope="module")
def app(lab, tmp_path_factory):
    server = Pages(tmp_path_factory.mktemp("marks"), lab.folder)
    yield server
    server.stop()


@pytest.mark.parametrize("kind", PANELS)
def test_in_jupyterlab(open_notebook, lab, kind):
    name, cell, diagram = PANELS[kind]
    lab.lay_again(name)
    lab.keeps_cells = True
    try:
        notebook = open_notebook(name)
        notebook.run_all(240)
        notebook.page.evaluate(FOLD_AWAY)
        notebook.show(cell)
        panel = notebook.page.locator(".gk-live", has=notebook.page.locator(
            ".gk-overlay .mark")).nth(0 if kind == "composition" else -1)  # fmt: skip
        look(notebook.page, panel, f"lab-{kind}", computed(panel, kind, diagram))
        if kind == "composition":  # and after a step
            box = panel.get_by_label("Ni", exact=True)
            box.fill("7.3")
            box.press("Enter")
            look(notebook.page, panel, f"lab-{kind}-moved", computed(panel, kind, diagram))
    finally:
        lab.keeps_cells = False


@pytest.mark.parametrize("kind", PANELS)
def test_in_the_app(browser, app, kind):
    name, _, diagram = PANELS[kind]
    context = browser.new_context(viewport={"width": 1280, "height": 1000})
    context.set_default_timeout(120_000)
    try:
        page = context.new_page()
        page.goto(app.page(name))
        panels = page.locator(".gk-live", has=page.locator(".gk-overlay .mark"))
        panels.first.wait_for()
        page.wait_for_load_state("networkidle")
        panel = panels.nth(0 if kind == "composition" else -1)
        look(page, panel, f"app-{kind}", computed(panel, kind, diagram))
    finally:
        context.close()
