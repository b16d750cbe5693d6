"""What is looked for in a page: pale words, boxes cut off, names left out, focus that goes astray.

Each script takes an element and returns a list of what is wrong in it, empty where all is well.
"""

from __future__ import annotations

import re
import time
from io import BytesIO

import numpy as np
from labpage import CURRENT

LEAST = 4.5  # contrast of text, WCAG 2 level AA
LEAST_MARK = 3.0  # of what is drawn
# A control in the tree of a screen reader that has no name behind its role.
NAMELESS = re.compile(
    r"^\s*- (button|checkbox|combobox|img|link|radio|searchbox|slider|spinbutton|textbox)(?! \")",
    re.M,
)
# Texts whose contrast to what lies beneath (or to white paper) is too small; opacity and all.
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
# What sticks out of the notebook at the side, and what must be scrolled sideways to be read.
CUT_OFF = f"""root => {{
    const page = {CURRENT}.content.node.getBoundingClientRect();
    const out = e => e.getBoundingClientRect().right > page.right + 1
        || e.getBoundingClientRect().left < page.left - 1;
    const wide = e => e.scrollWidth > e.clientWidth + 1
        && /auto|scroll/.test(getComputedStyle(e).overflowX);
    return [...root.querySelectorAll('*')]
        .filter(e => e.checkVisibility() && (wide(e)
            || e.matches('.gk-number :is(label, input), select, button, p,'
                + 'svg:not(svg svg)') && out(e)))
        .map(e => e.outerHTML.slice(0, 80));
}}"""
# Cells of which a word is hidden: behind '…', or because it is wider than its cell.
CELL_CUT = """root => [...root.querySelectorAll('td, th, p, li')]
    .filter(e => e.checkVisibility() && (e.innerText.trimEnd().endsWith('…')
        || getComputedStyle(e).overflowX === 'hidden' && e.scrollWidth > e.clientWidth + 1))
    .map(e => e.innerText.slice(0, 80))"""
# The chart and the box of the controls, where they do not stand on the screen at once.
APART = f"""root => {{
    const page = {CURRENT}.content.node.getBoundingClientRect();
    return ['.gk-overlay', '.gk-side'].filter(part => {{
        const at = root.querySelector(part).getBoundingClientRect();
        return at.height > 0 && (at.top < page.top - 8 || at.bottom > page.bottom + 1);
    }});
}}"""
# Everything that takes the keyboard, in order; notes where the focus goes and whether it is seen.
WATCH_FOCUS = """root => {
    const kinds = 'input, select, textarea, button, a[href], summary, [tabindex="0"]';
    const all = [...root.querySelectorAll(kinds)]
        .filter(e => !e.disabled && e.tabIndex >= 0 && e.checkVisibility())
        .filter((e, at, all) => e.type !== 'radio' || e.checked  // a group is one stop
            || !all.some((r, n) => r.name === e.name && r !== e && (r.checked || n < at)));
    root.gkFocus = [];
    root.addEventListener('focusin', event => {
        const look = getComputedStyle(event.target);
        const seen = look.boxShadow !== 'none'
            || look.outlineStyle !== 'none' && parseFloat(look.outlineWidth) > 0;
        root.gkFocus.push([all.indexOf(event.target), seen]);
    });
    root.tabIndex = -1;
    root.focus();
    root.gkFocus = [];
    return all.map(e => e.outerHTML.slice(0, 80));
}"""
FOCUS_WENT = "root => { root.removeAttribute('tabindex'); return root.gkFocus; }"
INSIDE = "root => root.contains(document.activeElement)"
DOUBLE_IDS = """root => [...root.querySelectorAll('[id]')].map(e => e.id)
    .filter((id, at, all) => all.indexOf(id) !== at)"""
# The colours of each kind of mark in a drawing: fill and stroke, neutral ones left out.
MARKS = """root => {
    const colour = text => {
        const n = text?.startsWith('rgb(') ? text.match(/[\\d.]+/g).map(Number) : null;
        return n && Math.max(...n) - Math.min(...n) > 40 ? n : null;
    };
    const kinds = new Map();
    for (const e of root.querySelectorAll('path, rect, circle, polygon, ellipse')) {
        const look = getComputedStyle(e);
        const colours = [look.fill, look.stroke].map(colour).filter(Boolean);
        if (colours.length) kinds.set(JSON.stringify(colours), colours);
    }
    return [...kinds.values()];
}"""
SEEN_BY = ("none", "protanopia", "deuteranopia", "tritanopia", "achromatopsia")


def each(parts: list, script: str, *given) -> list:
    """Return what a script still finds in the parts once the page has settled, in one list.

    Style sheets and layouts come late on a loaded machine, so what is wrong is looked at again.
    """
    until = time.monotonic() + 15
    while True:
        found = [line for part in parts for line in part.evaluate(script, *given)]
        if not found or time.monotonic() > until:
            return found
        time.sleep(0.2)


def theme(page, name: str) -> None:
    """Change the theme of JupyterLab and wait until its style sheet is there."""
    ground = "getComputedStyle(document.body).getPropertyValue('--jp-layout-color1')"
    before = page.evaluate(ground)
    page.evaluate(
        "theme => { window.jupyterapp.commands.execute('apputils:change-theme', { theme }); }", name
    )
    light = str("Light" in name).lower()
    page.wait_for_function(f"() => document.body.dataset.jpThemeLight === '{light}'")
    page.wait_for_function(f"before => {ground} !== before", arg=before)
    page.locator("#jupyterlab-splash").wait_for(state="detached")


def marks_lost(page, drawing) -> list[str]:
    """Return the kinds of coloured mark that somebody cannot tell from what lies around them."""
    session = page.context.new_cdp_session(page)
    kinds = drawing.evaluate(MARKS)
    places = {}
    lost = []
    for who in SEEN_BY:
        session.send("Emulation.setEmulatedVisionDeficiency", {"type": who})
        seen = _pixels(drawing)
        for kind in kinds if who == "none" else ():
            masks = [np.abs(seen - np.array(colour)).max(-1) < 12 for colour in kind]
            places[str(kind)] = [(mask, _around(mask)) for mask in masks if mask.sum() > 8]
        for kind, parts in places.items():
            ratios = [contrast(seen[m].mean(0), np.median(seen[r], axis=0)) for m, r in parts]
            if ratios and max(ratios) < LEAST_MARK:
                lost.append(f"{who}: {kind} {max(ratios):.1f}")
    session.send("Emulation.setEmulatedVisionDeficiency", {"type": "none"})
    session.detach()
    return lost


def _around(mask: np.ndarray) -> np.ndarray:
    """The pixels around a mark, but for those of its softened edge."""
    from scipy.ndimage import binary_dilation

    return binary_dilation(mask, iterations=3) & ~binary_dilation(mask)


def contrast(one: np.ndarray, other: np.ndarray) -> float:
    """Return the contrast of two colours of 0 to 255, WCAG 2."""
    pale, dark = sorted((_light(one), _light(other)), reverse=True)
    return (pale + 0.05) / (dark + 0.05)


def _light(rgb: np.ndarray) -> float:
    share = np.asarray(rgb) / 255
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    return float(linear @ [0.2126, 0.7152, 0.0722])


def _pixels(drawing) -> np.ndarray:
    from PIL import Image  # comes with matplotlib

    return np.asarray(Image.open(BytesIO(drawing.screenshot())).convert("RGB"), dtype=float)
