"""How a weld freezes: four modes, four states each, and where the last melt lies."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import NamedTuple
from xml.etree.ElementTree import Element

import numpy as np

from gradekit.core.errors import one_of
from gradekit.core.svg import shape
from gradekit.diagrams.criteria import MODES, criteria
from gradekit.pictures.grains import dendrite, joined, worm
from gradekit.pictures.microstructures import AUSTENITE, EDGE, FERRITE
from gradekit.pictures.paper import (
    LINE,
    frame,
    outline,
    paper,
    shifted,
    text_lines,
    thread,
    wrapped,
    writing,
)
from gradekit.pictures.sketch import Sketch
from gradekit.pictures.style import INK, QUIET

MELT, FILM = "#fbf1d6", "#a3252f"
_STATES = ("begins", "half frozen", "last melt", "cold")
_W, _H, _GAP = 98, 90, 7
_COLUMNS = 3  # dendrites side by side
_STEP = _W / _COLUMNS
_BOUNDARIES = [n * _STEP for n in range(1, _COLUMNS)]
#: Thickness of the straight films of the last melt.
_FILMS = {"A": 4.5, "AF": 3.5, "F": 2.5}
#: How a film has torn in the cold weld: y of its four corners, and half its width.
_TEARS = {"A": (6, 40, _H - 12, 46, 4), "AF": (62, 76, _H - 3, 76, 3)}
_TOP = 44
_WIDTH = 4 * _W + 3 * _GAP


class _Mode(NamedTuple):
    title: str
    words: str
    cracks: str


_TOLD = {
    "A": _Mode(
        "A: austenite alone",
        "Austenite takes up little phosphorus and sulphur: both are pushed ahead of it. The last "
        "melt is a straight film that wets the whole boundary and stays liquid far below the rest.",
        "When the weld shrinks the film tears: a hot crack, unless P + S are very low."),
    "AF": _Mode(
        "AF: austenite first, then a little ferrite",
        "The last melt is rich in chromium and freezes as ferrite between the dendrites. The "
        "ferrite takes up some of the phosphorus and sulphur, but the film was there before it.",
        "Cracks less than A, and still asks for low P + S."),
    "FA": _Mode(
        "FA: ferrite first, then austenite",
        "Ferrite takes up phosphorus and sulphur while it grows. Austenite then grows around it, "
        "and the last melt lies between unlike crystals: broken up, crooked, badly wetted.",
        "A crack finds no straight way. This is the mode that welds of 300-series steel aim at."),
    "F": _Mode(
        "F: ferrite alone",
        "No second phase until all is solid; boundaries are straight again, but the ferrite holds "
        "the phosphorus and sulphur. Austenite comes later, out of the solid, from the boundaries.",
        "Cracks less than A and more than FA, and the grains grow coarse."),
}  # fmt: skip


def freezing_modes(*modes: str) -> Sketch:
    """Sketch how a weld freezes in each mode, and why films of melt crack it.

    Parameters
    ----------
    *modes : str
        Of 'A', 'AF', 'FA', 'F'; all of them by default, and then the ratio that tells them apart
        by `gradekit.diagrams.criteria`.

    Returns
    -------
    Sketch
        A strip of four states a mode: the first crystals, half frozen, the last melt, cold.

    Raises
    ------
    InputError
        Another mode.

    Examples
    --------
    >>> freezing_modes("FA").title
    'FA: ferrite first, then austenite'
    """
    for mode in modes:
        one_of("mode", mode, MODES)
    parts = tuple(_strip(mode) for mode in modes or MODES)
    title = _TOLD[modes[0]].title if len(modes) == 1 else "How a weld freezes"
    rests_on = (
        "Sketches, not micrographs: melt yellow, austenite light blue, ferrite ochre, the last "
        "film of melt, rich in phosphorus and sulphur, dark red."
    )
    if not modes:
        parts = (*parts, mode_scale())
        rests_on += " The limits of the ratio are those of the library, with their status."
    return Sketch(parts, title, rests_on, columns=1)


def mode_scale(ratio: float | None = None, criterion: str = "schaeffler_bands") -> Element:
    """Draw the ratio of the equivalents with the modes between its limits.

    Parameters
    ----------
    ratio : float, optional
        Of a steel, which is marked.
    criterion : str
        Name of one of `gradekit.diagrams.criteria.criteria`.

    Returns
    -------
    Element
        Drawn from 1.0 to 2.4; bands whose limit is not verified say so.
    """
    rule = next(one for one in criteria() if one.name == criterion)
    low, high = 1.0, 2.4
    left, right, y = 4.0, _WIDTH - 4.0, 42.0

    def at(value: float) -> float:
        return left + (min(max(value, low), high) - low) / (high - low) * (right - left)

    parts = [writing(rule.title, 2, 15, size=13.5, bold=True)]
    colours = {"A": AUSTENITE, "AF": "#c3d4e4", "FA": "#ecc98c", "F": FERRITE}
    told = []
    for band in rule.bands:
        start, end = at(band.lower), at(band.upper)
        colour = colours[band.modes[0]]
        parts.append(shape("rect", x=start, y=y, width=end - start, height=26, fill=colour,
                           stroke="#fff", stroke_width=1))  # fmt: skip
        parts.append(writing(band.word, (start + end) / 2, y + 18, anchor="middle", bold=True))
        told.append(f"{band.word} up to {band.upper:g}" if np.isfinite(band.upper)
                    else f"{band.word} above")  # fmt: skip
        if np.isfinite(band.upper):
            parts.append(writing(f"{band.upper:g}", end, y + 42, anchor="middle"))
    words = f"{rule.title}: {', '.join(told)}."
    if ratio is not None and np.isfinite(ratio):
        x = at(ratio)
        tip = np.array([[x, y + 1], [x - 7, y - 11], [x + 7, y - 11]])
        parts.append(outline(tip, fill=INK))
        parts.append(writing(f"{ratio:.2f}", min(max(x, 20), _WIDTH - 20), y - 14, anchor="middle",
                             bold=True))  # fmt: skip
        words += f" This steel: {ratio:.2f}."
    status = "; ".join(f"{band.word} {band.status}" for band in rule.bands)
    parts.append(writing(f"Status: {status}.", 2, y + 62, size=11.5, colour=QUIET))
    return paper(_WIDTH, y + 70, *parts, words=words)


@cache
def _strip(mode: str) -> Element:
    told = _TOLD[mode]
    parts = [writing(told.title, 2, 15, size=13.5, bold=True)]
    for k, state in enumerate(_STATES):
        x = k * (_W + _GAP)
        parts.append(writing(state, x + 2, 35, size=12, colour=QUIET))
        parts += [shifted(joined(_state(mode, k)), x, _TOP), frame(_W, _H, x, _TOP)]
    y = _TOP + _H + 17
    first, then = wrapped(told.words, _WIDTH - 4), wrapped(told.cracks, 0.92 * _WIDTH)
    parts += text_lines(first, 2, y) + text_lines(then, 2, y + LINE * len(first), bold=True)
    words = f"{told.title}. {told.words} {told.cracks}"
    return paper(_WIDTH, y + LINE * (len(first) + len(then)) - 4, *parts, words=words)


def _state(mode: str, k: int) -> Iterator[Element]:
    """One state: the ground, then what has grown on it."""
    first = FERRITE if mode.startswith("F") else AUSTENITE
    solid = k == 3
    yield shape("rect", width=_W, height=_H, fill=MELT if k < 2 else first)
    if k < 2:
        half, tip = ((0.30, 52.0), (0.43, 12.0))[k]
        for n in range(_COLUMNS):
            x = (n + 0.5) * _STEP
            ring = dendrite(x, half * _STEP, tip + (6, 0, 9)[n], _H, 0.62)
            yield outline(ring, fill=first, stroke=EDGE, stroke_width=0.8)
            if mode == "FA" and k:  # austenite covers the ferrite, which is its core
                core = dendrite(x, 0.2 * _STEP, tip + 14, _H, 0.62)
                yield outline(ring, fill=AUSTENITE, stroke=EDGE, stroke_width=0.8)
                yield outline(core, fill=FERRITE)
        return
    if mode == "FA":
        yield from _cores(solid)
        return
    for n, x in enumerate(_BOUNDARIES):
        look = (EDGE, 1.0) if solid else (FILM, _FILMS[mode])
        yield thread([(x, 0), (x, _H)], *look)
        if mode == "AF":
            for low in np.arange(5.0 + 5 * (n % 2), _H - 8, 22.0):
                yield thread([(x, low), (x, low + 12)], FERRITE, 5.5)
        if solid and (mode == "A" or (mode == "AF" and n)):
            top, right, low, left, half = _TEARS[mode]
            tear = [(x, top), (x + half, right), (x, low), (x - half, left)]
            yield outline(tear, fill="#20262e")
        if solid and mode == "F":
            yield from _needles(n, x)


def _needles(n: int, x: float) -> Iterator[Element]:
    """Austenite that has grown from a boundary into the ferrite."""
    for k, low in enumerate(np.arange(9.0 + 5 * (n % 2), _H - 6, 14.0)):
        way = 1 if (k + n) % 2 else -1
        tip = np.clip([x + way * 12.0, low - 9.0], 1.5, (_W - 1.5, _H))
        needle = [(x, low - 2.5), tip, (x, low + 2.5)]
        yield outline(needle, fill=AUSTENITE, stroke=EDGE, stroke_width=0.5)


def _cores(solid: bool) -> Iterator[Element]:
    """Ferrite in the cores, austenite around it, and between them crooked rests of melt."""
    yield shape("rect", width=_W, height=_H, fill=AUSTENITE)
    for n in range(_COLUMNS):
        x = (n + 0.5) * _STEP
        for low in np.arange(3.0 + 6 * (n % 2), _H - 12, 31.0):
            ring = worm(x, low, min(low + (22 if solid else 30), _H - 3), 2.2, n + low)
            yield thread(ring, FERRITE, 4.0 if solid else 8.0)
    for n, x in enumerate(_BOUNDARIES):
        ring = worm(x, 2.0, _H - 1, 2.4, 2.0 * n)
        if solid:
            yield thread(ring, EDGE, 1.0)
            continue
        for start in range(n % 2, len(ring) - 2, 6):
            yield thread(ring[start : start + 3], FILM, 3.0)
