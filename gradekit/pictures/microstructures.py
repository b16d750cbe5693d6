"""What the words on a constitution diagram look like under the microscope, sketched."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import cache
from typing import NamedTuple
from xml.etree.ElementTree import Element

import numpy as np

from gradekit.core.errors import one_of
from gradekit.core.svg import shape
from gradekit.pictures.grains import chord, grains, islands, joined, laths, plate, worm
from gradekit.pictures.paper import (
    LINE,
    frame,
    outline,
    paper,
    strokes,
    text_lines,
    thread,
    wrapped,
    writing,
)
from gradekit.pictures.sketch import Sketch
from gradekit.pictures.style import INK

# Told apart by lightness too: austenite is light, ferrite middle, martensite dark.
AUSTENITE, FERRITE, MARTENSITE = "#dbe8f4", "#dfa33f", "#6a5a91"
#: Of grains and crystals.
EDGE = "#46505c"
_W, _H = 228, 132  # of the field of view, pixels


class _Structure(NamedTuple):
    """One state: heading, what is seen, µm of its scale bar, µm of a pixel, and its drawing."""

    title: str
    words: str
    bar_um: float
    um: float
    draw: Callable[[], Iterator[Element]]


def _filled(cells: Iterable[np.ndarray], colour: str) -> Iterator[Element]:
    for cell in cells:
        yield outline(cell, fill=colour, stroke=EDGE, stroke_width=1)


def _twins(cells: list[np.ndarray]) -> Iterator[np.ndarray]:
    for k, cell in enumerate(cells[::2]):
        angle, across = 0.6 + 0.9 * k, np.array([3.0, -3.0])
        for off in (-1, 1):
            ends = chord(cell, cell.mean(axis=0) + off * across, angle)
            if ends is not None:
                yield ends


def _austenite() -> Iterator[Element]:
    cells = grains(_W, _H, 6, 3)
    yield from _filled(cells, AUSTENITE)
    yield strokes(_twins(cells), EDGE, 1.0)


def _vermicular() -> Iterator[Element]:
    yield from _filled(grains(_W, _H, 2, 5, 0.6), AUSTENITE)
    rng = np.random.default_rng(8)
    for x in np.arange(11.0, _W - 6, 19.0):
        low = 4.0
        while low < _H - 16:
            high = low + rng.uniform(18, 46)
            ring = worm(x + rng.uniform(-2, 2), low, min(high, _H - 4), 2.0, rng.uniform(0, 6))
            if len(ring) > 2:
                yield thread(ring, FERRITE, 4, 0)
            low = high + rng.uniform(5, 10)


def _lathy() -> Iterator[Element]:
    cells = grains(_W, _H, 3, 12)
    yield from _filled(cells, AUSTENITE)
    for k, cell in enumerate(cells):
        inner = cell.mean(axis=0) + 0.9 * (cell - cell.mean(axis=0))
        yield strokes(laths(inner, 0.4 + 1.1 * k, 6.0), FERRITE, 2.2)


def _some_martensite() -> Iterator[Element]:
    cells = grains(_W, _H, 5, 21)
    yield from _filled(cells, AUSTENITE)
    for k, cell in enumerate(cells):
        if k % 3 == 2:
            continue
        for angle, off in ((0.5 + k, -8.0), (0.5 + k, 7.0), (1.7 + k, 2.0)):
            side = np.array([-np.sin(angle), np.cos(angle)])
            ends = chord(cell, cell.mean(axis=0) + off * side, angle)
            if ends is not None and np.hypot(*(ends[1] - ends[0])) > 18:
                yield outline(plate(ends, 6.0), fill=MARTENSITE)


def _martensite() -> Iterator[Element]:
    cells = grains(_W, _H, 6, 30)
    yield from _filled(cells, MARTENSITE)
    for k, cell in enumerate(cells):
        yield strokes(laths(cell, 0.3 + 1.05 * k, 6.5), "#b9aed3", 1.1)
    for cell in grains(_W, _H, 3, 31):
        yield outline(cell, fill="none", stroke="#f4f1fa", stroke_width=2.4)


def _ferrite() -> Iterator[Element]:
    cells = grains(_W, _H, 6, 41)
    yield from _filled(cells, FERRITE)
    rng = np.random.default_rng(4)
    spots = [cell.mean(axis=0) + rng.uniform(-9, 9, (3, 2)) for cell in cells]
    dots = np.clip(np.vstack(spots), 4, (_W - 4, _H - 4))
    yield strokes((np.vstack([dot, dot + np.array([2, 0])]) for dot in dots), EDGE, 2.2)


def _ferrite_martensite() -> Iterator[Element]:
    yield shape("rect", x=0, y=0, width=_W, height=_H, fill=FERRITE)
    low, high = np.array([3.0, 3.0]), np.array([_W - 3.0, _H - 3.0])  # off the frame
    net = []
    for cell in grains(_W, _H, 4, 52):
        for a, b in zip(cell, np.roll(cell, -1, axis=0), strict=True):
            on_frame = np.isclose(a, b) & (np.isclose(a, 0) | np.isclose(a, (_W, _H)))
            if not on_frame.any():
                net.append(np.clip([a, b], low, high))
    yield strokes(net, MARTENSITE, 6)


def _duplex() -> Iterator[Element]:
    yield shape("rect", x=0, y=0, width=_W, height=_H, fill=FERRITE)
    for island in islands(_W, _H, 7, 63, 0.52):
        yield outline(island, fill=AUSTENITE, stroke=EDGE, stroke_width=1)


#: The states that the letters of a diagram stand for. Sizes are those of ordinary strip and arc
#: welds, from memory.
STRUCTURES: dict[str, _Structure] = {
    "A": _Structure(
        "A: austenite", "Even grains, many with the straight bands of annealing twins. Not "
        "magnetic.", 50, 0.75, _austenite),
    "A+F vermicular": _Structure(
        "A+F: ferrite like worms", "Weld metal that froze ferrite first: what is left of the "
        "ferrite winds along the cores of the dendrites. A few FN.", 50, 0.75, _vermicular),
    "A+F lathy": _Structure(
        "A+F: ferrite in laths", "More chromium, or a faster arc: thin parallel laths of ferrite "
        "through each grain. Some 10 FN and more.", 50, 0.75, _lathy),
    "A+M": _Structure(
        "A+M: plates in austenite", "Lean austenite that was cooled or bent: plates of martensite "
        "stop at the boundaries of the grains. Weakly magnetic.", 50, 0.9, _some_martensite),
    "M": _Structure(
        "M: martensite", "Packets of laths inside the austenite grains that there were. Hard, "
        "and magnetic.", 50, 0.6, _martensite),
    "F": _Structure(
        "F: ferrite", "Even grains without twins, a few carbides and nitrides in them. Magnetic; "
        "grows coarse beside a weld.", 50, 0.75, _ferrite),
    "F+M": _Structure(
        "F+M: a net of martensite", "A ferritic steel whose weld passed through austenite: what "
        "was austenite along the boundaries is martensite now.", 100, 1.2, _ferrite_martensite),
    "duplex": _Structure(
        "Duplex: half and half", "Rolled and annealed: flat islands of austenite in ferrite, "
        "a few µm thick. So fine a mixture is strong and tough.", 20, 0.35, _duplex),
}  # fmt: skip


def microstructures(*names: str) -> Sketch:
    """Sketch what the fields of a constitution diagram look like under the microscope.

    Parameters
    ----------
    *names : str
        Of 'A', 'A+F vermicular', 'A+F lathy', 'A+M', 'M', 'F', 'F+M', 'duplex'; all by default.

    Returns
    -------
    Sketch
        A picture a state with a scale bar and what is seen. Austenite is light, ferrite middle,
        martensite dark. They are sketches of ordinary strip and weld metal, not micrographs.

    Raises
    ------
    InputError
        Another name.

    Examples
    --------
    >>> microstructures("duplex").title
    'Duplex: half and half'
    """
    for name in names:
        one_of("structure", name, STRUCTURES)
    shown = [STRUCTURES[name] for name in names or STRUCTURES]
    title = shown[0].title if len(shown) == 1 else "Structures under the microscope, sketched"
    rests_on = (
        "Sketches, not micrographs: austenite light, ferrite ochre, martensite dark. The sizes are "
        "those of ordinary strip and arc welds, from memory."
    )
    return Sketch(tuple(_tile(one) for one in shown), title, rests_on, columns=4)


@cache
def _tile(one: _Structure) -> Element:
    lines = wrapped(one.words, _W - 4)
    bar = one.bar_um / one.um
    y = _H + 5
    ground = shape("rect", x=_W - bar - 15, y=_H - 27, width=bar + 10, height=23, fill="#fff")
    text = f"{one.bar_um:g} µm"
    scale = [
        ground,
        shape("rect", x=_W - bar - 10, y=_H - 9, width=bar, height=3, fill=INK),
        writing(text, _W - bar / 2 - 10, _H - 13, anchor="middle", size=12),
    ]
    rows = text_lines(lines, 2, y + 33)
    return paper(
        _W, y + 40 + LINE * (len(lines) - 1),
        *joined(one.draw()), *scale, frame(_W - 1, _H - 1, 0.5, 0.5),
        writing(one.title, 2, y + 15, size=13.5, bold=True), *rows,
        words=f"{one.title}. {one.words} The scale bar is {text}.",
    )  # fmt: skip
