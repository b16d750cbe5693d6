"""Every explorer of every notebook as its user may meet it: named controls, dark theme, large
letters, on paper, opened again, and left behind by its kernel.

What an explorer does is held elsewhere, in the test of its notebook.
"""

from __future__ import annotations

import re
import time

import pytest
from labpage import CURRENT
from playwright.sync_api import TimeoutError

from gradekit import launch

NOTEBOOKS = sorted(p.name for p in (launch.ROOT / "notebooks").glob("[0-9]*.ipynb"))
LEAST = 4.5  # contrast of text, WCAG 2 level AA
PROMISED = 2.0  # seconds from the output of a cell to the picture in it
REVIVE = "Run All Cells"
# A control in the tree of a screen reader that has no name behind its role.
NAMELESS = re.compile(
    r"^\s*- (button|checkbox|combobox|link|radio|searchbox|slider|spinbutton|textbox)(?! \")", re.M
)
# Off screen a cell is not in the page: have them all, to look at all of them at once.
KEEP_ALL = f"""() => {{ const book = {CURRENT}.content;
    book.notebookConfig = {{ ...book.notebookConfig, windowingMode: 'none' }}; }}"""
LIVE = f"""{CURRENT}.content.widgets.filter(cell => (cell.model.toJSON().outputs || [])
    .some(o => o.data?.['application/vnd.jupyter.widget-view+json']))"""
# Notes when the first output of a live cell came and when there was something to look at in it.
CLOCK = f"""() => {{
    window.gkTimes = new Map();
    const seen = () => {{
        for (const [cell, time] of window.gkTimes)
            if (!time.picture && cell.node.querySelector(
                '.gk-live :is(svg, table, input, button)')) time.picture = performance.now();
    }};
    for (const cell of {LIVE})
        cell.model.outputs.changed.connect((_, change) => {{
            if (change.type === 'add' && !window.gkTimes.has(cell))
                window.gkTimes.set(cell, {{ output: performance.now() }});
        }});
    new MutationObserver(seen).observe(
        {CURRENT}.content.node, {{ childList: true, subtree: true }});
}}"""
SECONDS = """() => [...window.gkTimes.values()].filter(t => t.picture)
    .map(t => (t.picture - t.output) / 1000)"""
ALL_THERE = f"""() => {LIVE}.every(cell => cell.node.querySelector(
    '.gk-live .widget-html svg, .gk-live table, .gk-live [role=status]'))"""
# Texts of a panel whose contrast to what lies beneath (or to white paper) is too small.
PALE = """(root, [least, paper]) => {
    const parts = text => {
        const n = text.match(/[\\d.]+/g).map(Number);
        const scale = text.startsWith('color(') ? 1 : 255;
        return [...n.slice(0, 3).map(v => v / scale), n[3] ?? 1];
    };
    const over = (top, below, share) => below.map((v, i) => share * top[i] + (1 - share) * v);
    const light = rgb => rgb.map(v => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4)
        .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
    const ground = element => {
        if (paper || !element) return [1, 1, 1];
        const [r, g, b, share] = parts(getComputedStyle(element).backgroundColor);
        return share === 1 ? [r, g, b] : over([r, g, b], ground(element.parentElement), share);
    };
    const found = [];
    const look = (element, text) => {
        if (!text || !element.checkVisibility() || element.matches(':disabled, option, style')
            || element.closest('svg, style, :disabled')) return;
        let share = 1;
        for (let e = element; e && e !== root; e = e.parentElement)
            share *= Number(getComputedStyle(e).opacity);
        const [r, g, b, alpha] = parts(getComputedStyle(element).color);
        const below = ground(element);
        const [low, high] = [light(below), light(over([r, g, b], below, alpha * share))]
            .sort((a, b) => a - b);
        const ratio = (high + 0.05) / (low + 0.05);
        if (ratio < least) found.push(`${ratio.toFixed(1)} ${text.slice(0, 60)}`);
    };
    const walk = document.createTreeWalker(root, NodeFilter.SHOW_TEXT);
    while (walk.nextNode()) look(walk.currentNode.parentElement, walk.currentNode.data.trim());
    for (const box of root.querySelectorAll('input[type=text], input[type=number], select'))
        look(box, box.value);
    return found;
}"""
# Boxes and their words that stick out of the notebook at the side.
CUT_OFF = f"""root => {{
    const page = {CURRENT}.content.node.getBoundingClientRect();
    return [...root.querySelectorAll('.gk-number :is(label, input[type=text]), select, button')]
        .filter(e => e.checkVisibility() && !e.closest('[tabindex="0"]:not(input, button, select)'))
        .filter(e => e.getBoundingClientRect().right > page.right + 1
            || e.getBoundingClientRect().left < page.left - 1)
        .map(e => e.outerHTML.slice(0, 80));
}}"""
REST = """root => getComputedStyle(root, '::before').content"""


def each(panels, script: str, *given) -> list:
    """Return what a script still finds in the panels once the page has settled, in one list."""
    until = time.monotonic() + 15  # style sheets and layouts come late on a loaded machine
    while True:
        found = [line for panel in panels.all() for line in panel.evaluate(script, *given)]
        if not found or time.monotonic() > until:
            return found
        time.sleep(0.5)


def keep_all(page, wanted) -> None:
    """Keep every cell in the page until the wanted text is seen.

    The settings of the notebook arrive late on a loaded machine and undo what was set before.
    """
    for _ in range(30):
        page.evaluate(KEEP_ALL)
        try:
            return wanted.wait_for(timeout=2000)
        except TimeoutError:
            continue
    wanted.wait_for()


def theme(page, name: str) -> None:
    page.evaluate(
        "theme => { window.jupyterapp.commands.execute('apputils:change-theme', { theme }); }", name
    )
    light = str("Light" in name).lower()
    page.wait_for_function(f"() => document.body.dataset.jpThemeLight === '{light}'")
    page.wait_for_timeout(300)  # its style sheet comes after its name


@pytest.mark.parametrize("name", NOTEBOOKS)
def test_every_explorer(open_notebook, name, record_property):
    notebook = open_notebook(name)
    page, stem = notebook.page, f"every-{name[:2]}"
    live = page.evaluate(f"() => {LIVE}.length")
    if live:
        # Not run yet: a picture of each stands there, with how to revive it.
        keep_all(page, notebook.outputs.get_by_text(REVIVE).first)
        page.evaluate(CLOCK)
    notebook.run_all()
    assert page.evaluate(f"() => {LIVE}.length") >= live
    if not live:
        return
    page.evaluate(KEEP_ALL)
    page.wait_for_function(ALL_THERE)
    panels = page.locator(".gk-live")
    assert panels.count() >= live
    times = page.evaluate(SECONDS)
    record_property("slowest_picture_s", max(times))
    print(f"\n{name}: {live} live, first picture after {times[0]:.2f} s, slowest {max(times):.2f} s"
          f" (promised {PROMISED:g})")  # fmt: skip

    trees = [panel.aria_snapshot() for panel in panels.all()]
    assert [m.group().strip() for tree in trees for m in NAMELESS.finditer(tree)] == []

    show = panels.first.evaluate_handle("e => e")
    show.evaluate("e => e.scrollIntoView()")
    notebook.shot(f"{stem}-light")
    assert each(panels, PALE, [LEAST, False]) == []
    theme(page, "JupyterLab Dark")
    notebook.shot(f"{stem}-dark")
    assert each(panels, PALE, [LEAST, False]) == []
    page.emulate_media(media="print")
    assert each(panels, PALE, [LEAST, True]) == []
    page.emulate_media(media="screen")
    theme(page, "JupyterLab Light")

    # At 200 % a window of 1280 pixels has 640; the file browser is folded away there.
    page.evaluate("() => window.jupyterapp.commands.execute('application:toggle-left-area')")
    page.set_viewport_size({"width": 640, "height": 450})
    page.wait_for_timeout(300)
    assert each(panels, CUT_OFF) == []
    show.evaluate("e => e.scrollIntoView()")
    notebook.shot(f"{stem}-zoomed")

    # Its kernel gone, a panel keeps its last values and says how to revive it.
    page.evaluate(f"() => {CURRENT}.sessionContext.restartKernel().then(() => null)")
    page.wait_for_function(
        "() => [...document.querySelectorAll('.gk-live')]"
        ".every(e => e.matches('.jupyter-widgets-disconnected'))"
    )
    assert all(REVIVE in panel.evaluate(REST) for panel in panels.all())
    assert panels.first.is_visible()
    notebook.shot(f"{stem}-restarted")
