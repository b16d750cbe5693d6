"""Marks stand where they were computed: read back from the screen by the axes that are drawn.

In JupyterLab, in the app, on a saved page and in an exported notebook, at seven widths, from 80 to
200 % zoom, on plain and on dense screens. A choice of these is looked at; all of them where
GRADEKIT_ALL_SIZES is set.
"""

from __future__ import annotations

import base64
import itertools
import os

import nbformat
import numpy as np
import pandas as pd
import pytest
from labpage import SHOTS, Pages

import gradekit as gk
from gradekit.app.panels.composition import explorer
from gradekit.app.panels.weld import weld_explorer
from gradekit.app.widgets.panel import Panel
from gradekit.diagrams.dilution import weld
from gradekit.lessons.steels import STEELS as COURSE_STEELS

WIDTHS = (390, 820, 1024, 1280, 1440, 1920, 2560)
ZOOMS = (0.8, 1.0, 1.25, 1.5, 2.0)
SCALES = (1, 2)
EVERY = list(itertools.product(WIDTHS, ZOOMS, SCALES))
CHOICE = [(w, 1.0, 1) for w in WIDTHS] + [(1440, z, 2) for z in ZOOMS] + [(390, 2.0, 2)]
ALL = bool(os.environ.get("GRADEKIT_ALL_SIZES"))
SIZES = EVERY if ALL else CHOICE
LARGEST = 900  # a chart as wide as a wall is no easier to read
# The explorers with a diagram: notebook, what the cell holds, diagram.
PANELS = {
    "composition": ("01-lean-nickel.ipynb", "gk.explorer(", "schaeffler_1949"),
    "weld": ("06-phase-balance.ipynb", "gk.app.weld_explorer(", "wrc_1992"),
}
FOLD_AWAY = "() => window.jupyterapp.commands.execute('application:toggle-left-area')"
#: The steels that notebook 06 welds, the wire last.
COURSE = gk.as_batch(COURSE_STEELS).loc[["mild steel", "18Cr-8Ni", "23Cr-13Ni wire"]]
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


def shot(session, name: str) -> None:
    """Keep a picture of the page as it is; playwright's own would set its size back."""
    SHOTS.mkdir(exist_ok=True)
    picture = session.send("Page.captureScreenshot", {"format": "png"})["data"]
    (SHOTS / f"marks-{name}.png").write_bytes(base64.b64decode(picture))


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


def trial_of(root) -> dict[str, float]:
    """The contents in the boxes of the first group of numbers."""
    boxes = root.locator(".gk-numbers, fieldset").first.locator("input[type=text]")
    texts = boxes.evaluate_all(
        "boxes => boxes.map(b => [b.previousElementSibling.textContent, b.value])"
    )
    return {name: float(text.replace(",", ".")) for name, text in texts if text}


def computed(root, kind: str, diagram: str, steels) -> list[tuple[float, float]]:
    """Where marks must stand, computed anew: of what is in the boxes, or of the weld of steels."""
    if kind == "composition":
        metals = gk.as_batch(trial_of(root))
    else:
        joint = weld(*(steels.loc[part] for part in ("mild steel", "18Cr-8Ni", steels.index[-1])))
        metals = pd.concat([joint.at(0.2).rename(index=lambda _: "weld"), joint.layers(0.2, 3)])
    spots = gk.diagram(diagram).locate(metals)
    return list(zip(spots["x"], spots["y"], strict=True))


def layers(panel):
    """The drawing that rests and the one that moves, as elements of the page."""
    back = panel.locator(".gk-background > * svg, .gk-background svg").first
    layer = panel.locator(".gk-overlay > svg").first
    layer.locator(".mark").first.wait_for(state="attached")
    return back, layer


def look(page, root, parts, where: str, kind: str, diagram: str, steels=None) -> None:
    """Look at an explorer in all sizes; `parts` are its resting and its moving drawing."""
    back, layer = parts
    session = page.context.new_cdp_session(page)  # what it sets ends with it
    for width, zoom, scale in SIZES:
        resize(session, page, width, zoom, scale)
        read = page.evaluate(READ, [back.element_handle(), layer.element_handle()])
        try:
            marks = check(read, scale * zoom)
        except AssertionError as error:
            raise AssertionError(f"{where} at {width} px, {zoom:.0%}, scale {scale}") from error
        spots = computed(root, kind, diagram, steels)
        assert spots
        for spot in spots:
            stands = [(m["x"], m["y"]) for m in marks]
            assert any(spot == pytest.approx(s, rel=1e-9) for s in stands), (where, spot, stands)
        if zoom == 1 and scale == 1:
            back.evaluate("e => e.scrollIntoView({ block: 'center' })")
            shot(session, f"{where}-{width}")
    session.detach()


@pytest.fixture(scope="module")
def app(lab, tmp_path_factory):
    server = Pages(tmp_path_factory.mktemp("marks"), lab.folder)
    yield server
    server.stop()


@pytest.mark.parametrize("kind", PANELS if ALL else ["composition"])
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
        look(notebook.page, panel, layers(panel), f"lab-{kind}", kind, diagram, COURSE)
        if kind == "composition":  # and after a step
            box = panel.get_by_label("Ni", exact=True)
            box.fill("7.3")
            box.press("Enter")
            look(notebook.page, panel, layers(panel), f"lab-{kind}-moved", kind, diagram)
    finally:
        lab.keeps_cells = False


@pytest.mark.parametrize("kind", PANELS if ALL else ["weld"])
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
        look(page, panel, layers(panel), f"app-{kind}", kind, diagram, COURSE)
    finally:
        context.close()


STEELS = {
    "heat": ["mild steel", "18Cr-8Ni", "wire"],
    "C": [0.15, 0.03, 0.015], "Si": [0.3, 0.4, 0.4], "Mn": [1.2, 1.4, 1.6], "Cr": [0.1, 18.2, 23.5],
    "Ni": [0.1, 9.1, 13.0], "Mo": [0.0, 0.3, 0.1], "N": [0.005, 0.05, 0.06], "Cu": [0.1, 0.2, 0.1],
    "Nb": [0.0, 0.01, 0.0],
}  # fmt: skip


def panels_of_its_own() -> dict[str, Panel]:
    heats = gk.as_batch(STEELS)
    return {
        "composition": explorer(heats.iloc[1:], "wrc_1992", reference="wire"),
        "weld": weld_explorer(heats, "mild steel", "18Cr-8Ni", "wire", dilution=20),
    }


@pytest.mark.parametrize("kind", PANELS)
def test_on_a_saved_page(browser, tmp_path, kind):
    path = panels_of_its_own()[kind].save_page(tmp_path / "page.html")
    context = browser.new_context(viewport={"width": 1280, "height": 1000})
    try:
        page = context.new_page()
        page.goto(path.as_uri())
        root = page.locator("body")
        chart = page.locator(".chart:not([hidden])")
        parts = chart.locator("> svg").first, chart.locator("svg.moving")
        parts[1].locator(".mark").first.wait_for(state="attached")
        look(page, root, parts, f"saved-{kind}", kind, "wrc_1992", gk.as_batch(STEELS))
    finally:
        context.close()


# Lays the drawing of an image in its very place into the page, and marks each sign of it.
OPENED = """async image => {
    const text = await (await fetch(image.src)).text();
    const drawn = new DOMParser().parseFromString(text, 'image/svg+xml').documentElement;
    const place = image.getBoundingClientRect();
    drawn.setAttribute('style', `position:absolute;left:${place.left + scrollX}px;` +
        `top:${place.top + scrollY}px;width:${place.width}px;height:${place.height}px`);
    document.querySelectorAll('.opened').forEach(e => e.remove());
    drawn.classList.add('opened');
    document.body.append(document.importNode(drawn, true));
    const layers = [...document.querySelectorAll('.opened > svg')];
    return layers[layers.length - 1].querySelectorAll('[stroke-width="1.3"]').length;
}"""
SIGNS = """([back, layer]) => [...layer.querySelectorAll('[stroke-width="1.3"]')].map(sign => {
    const points = sign.matches('circle') ? [[sign.cx.baseVal.value, sign.cy.baseVal.value]]
        : sign.getAttribute('points').split(' ').map(p => p.split(',').map(Number));
    const mean = k => points.reduce((sum, p) => sum + p[k], 0) / points.length;
    const at = new DOMPoint(mean(0), mean(1)).matrixTransform(sign.getScreenCTM());
    return [at.x, at.y];
})"""


def test_in_an_exported_notebook(browser, lab, tmp_path):
    panel = panels_of_its_own()["composition"]
    output = nbformat.v4.new_output("display_data", {"text/html": panel._repr_html_()})
    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell("panel", outputs=[output])])
    nbformat.write(book, lab.folder / "notebooks" / "exported.ipynb")
    path = tmp_path / "exported.html"
    path.write_bytes(lab.ask("GET", "/nbconvert/html/notebooks/exported.ipynb?download=true"))
    steels = {"trial": panel.state.composition, "wire": gk.as_batch(STEELS).loc["wire"].to_dict()}
    spots = gk.diagram("wrc_1992").locate(gk.as_batch(steels))
    context = browser.new_context(viewport={"width": 1280, "height": 1000})
    try:
        page = context.new_page()
        page.goto(path.as_uri())
        session = page.context.new_cdp_session(page)
        image = page.locator(".jp-OutputArea-output img").first
        for width, zoom, scale in SIZES:
            resize(session, page, width, zoom, scale)
            assert image.evaluate(OPENED) >= 2
            back = page.locator(".opened > svg").first
            both = [back.element_handle(), page.locator(".opened > svg").last.element_handle()]
            read = page.evaluate(READ, both)
            (x0, dx), (y0, dy) = axis(read["x"]), axis(read["y"])
            signs = np.array(page.evaluate(SIGNS, both))
            for x, y in zip(spots["x"], spots["y"], strict=True):
                off = np.hypot(*(signs - [x0 + x * dx, y0 + y * dy]).T).min()
                assert off * scale * zoom <= 1.0, (width, zoom, scale, off)
            if zoom == 1 and scale == 1:
                shot(session, f"exported-{width}")
    finally:
        context.close()
