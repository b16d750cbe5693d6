"""White paper for small pictures of SVG elements: words, rings, threads and frames on it."""

from __future__ import annotations

from collections.abc import Iterable
from xml.etree.ElementTree import Element

import numpy as np

from gradekit.core.svg import FONT, drawing, shape
from gradekit.pictures.style import INK, text_size

#: Size of small letters, and of the names of places.
LETTERS, NAME = 12.5, 12.0
#: From one line of small letters to the next.
LINE = 15.5
# Around letters that stand on lines.
_HALO = {"stroke": "#fff", "stroke_width": "3", "paint_order": "stroke"}


def paper(
    width: float, height: float, *parts: Element, title: str = "", words: str = "", **look: float
) -> Element:
    """Return a picture on a ground of its own, so that a dark page hides nothing."""
    ground = shape("rect", width=width, height=height, fill="#fff")
    return drawing(
        width, height, ground, *parts, title=title, words=words, font_family=FONT, **look
    )


def writing(
    text: str, x: float, y: float, *, anchor: str = "start", size: float = LETTERS,
    colour: str = INK, bold: bool = False, halo: bool = False,
) -> Element:  # fmt: skip
    """Return a line of text whose baseline begins at a point."""
    return shape(
        "text", text, x=x, y=y, font_size=size, fill=colour,
        text_anchor=None if anchor == "start" else anchor,
        font_weight="700" if bold else None, **(_HALO if halo else {}),
    )  # fmt: skip


def centred(text: str, x: float, y: float, *, colour: str = INK, bold: bool = False) -> Element:
    """Return the name of a place, to stand on whatever is drawn there; its middle is given."""
    return shape(
        "text", text, x=x, y=y + 0.35 * NAME, font_size=NAME, font_family=FONT, fill=colour,
        text_anchor="middle", font_weight="700" if bold else None, **_HALO,
    )  # fmt: skip


def wrapped(text: str, width: float, size: float = LETTERS) -> list[str]:
    """Break a text into lines of at most so many pixels.

    Examples
    --------
    >>> wrapped("austenite alone, no ferrite", 110)
    ['austenite', 'alone, no', 'ferrite']
    """
    lines = [""]
    for word in text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and text_size(longer, size)[0] > width:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines


def text_lines(lines: Iterable[str], x: float, y: float, bold: bool = False) -> list[Element]:
    """Return lines of text one below the other."""
    return [writing(line, x, y + LINE * k, bold=bold) for k, line in enumerate(lines)]


def corners(ring: np.ndarray | Iterable, digits: int = 1) -> str:
    """Return points as the elements of a picture name them.

    Examples
    --------
    >>> corners([(0, 1.25), (20, 30)]), corners([(0.6, 2)], 0)
    ('0.0,1.2 20.0,30.0', '1,2')
    """
    pair = f"%.{digits}f,%.{digits}f"
    return " ".join([pair % (x, y) for x, y in ring])


def outline(ring: np.ndarray | Iterable, digits: int = 0, **look: str | float | None) -> Element:
    """Return a filled shape."""
    return shape("polygon", points=corners(ring, digits), **look)


def thread(ring: np.ndarray | Iterable, colour: str, size: float, digits: int = 1) -> Element:
    """Return a line through points."""
    return shape(
        "polyline", points=corners(ring, digits), fill="none", stroke=colour, stroke_width=size
    )


def strokes(pairs: Iterable[np.ndarray], colour: str, size: float) -> Element:
    """Return straight lines, each between two points."""
    data = "".join(f"M{round(a[0])} {round(a[1])}L{round(b[0])} {round(b[1])}" for a, b in pairs)
    return shape("path", d=data, fill="none", stroke=colour, stroke_width=size)


def frame(width: float, height: float, x: float, y: float) -> Element:
    """Return the border of a field of view."""
    return shape("rect", x=x, y=y, width=width, height=height, fill="none", stroke=INK,
                 stroke_width=1)  # fmt: skip


def shifted(parts: Iterable[Element], x: float, y: float) -> Element:
    """Return shapes whose corner lies at a point."""
    return shape("svg", *parts, x=x, y=y, overflow="visible")
