"""Two pictures of an answer to a substitution: the ladder of corrosion classes, property bars.

Drawn as SVG elements: few marks, large letters, told apart by shape and hatch, so that they hold
on a black-and-white printer.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from gradekit.core.svg import FONT, drawing, shape
from gradekit.pictures.canvas import shorten
from gradekit.pictures.paper import NAME, writing
from gradekit.pictures.style import INK, QUIET

_WIDTH = 460
_HATCHED = "url(#gk-hatch)"


@dataclass(frozen=True)
class Bar:
    """One steel in one property: from `low` to `high`, or a least value where they are equal."""

    name: str
    low: float | None
    high: float | None
    words: str


def ladder(
    classes: Sequence[tuple[str, Iterable[str]]],
    asked: str,
    own: Sequence[tuple[str, str | None]],
) -> Element:
    """Draw the corrosion classes as steps, the one that is asked for, and where each steel stands.

    Parameters
    ----------
    classes : (class, grades listed in it), the mildest first
    asked : str
        The class of the place.
    own : (name of a steel, its class or None)

    Returns
    -------
    Element
    """
    names = [c for c, _ in classes]
    step, high, base = _WIDTH / len(names), 13, 72
    parts, told = [], []
    most = max([sum(c == n for _, c in own) for n in names], default=1)
    top = 24 + 15 * max(1, most)
    for k, name in enumerate(names):
        x, y = k * step + 3, top + base - (k + 1) * high
        wanted = name == asked
        parts.append(
            shape("rect", x=x, y=y, width=step - 6, height=(k + 1) * high, stroke=INK,
                  fill=_HATCHED if wanted else "#eef0f2", stroke_width=2.2 if wanted else 0.8)
        )  # fmt: skip
        middle = x + step / 2 - 3
        parts.append(
            writing(
                f"class {name}", middle, top + base + 16, size=NAME, bold=wanted, anchor="middle"
            )
        )
        here = [n for n, c in own if c == name]
        for row, steel in enumerate(here):
            line = y - 8 - 15 * (len(here) - 1 - row)
            parts.append(
                writing(
                    f"▼ {shorten(steel, 11)}", middle, line, size=NAME, bold=True, anchor="middle"
                )
            )
        if wanted:
            parts.append(writing("asked for", middle, top + base + 31, size=11.5, anchor="middle"))
    lost = [n for n, c in own if c is None]
    foot = top + base + 40
    if lost:
        foot += 16
        parts.append(writing(f"In no class: {', '.join(lost)}", 3, foot - 4, size=11))
    told = [f"{n}: {'class ' + c if c else 'in no class'}" for n, c in own]
    return _svg(
        foot + 4, parts, "Corrosion class",
        f"The place asks for class {asked} of I to V. {'; '.join(told)}.",
    )  # fmt: skip


def property_bars(groups: Sequence[tuple[str, str, Sequence[Bar]]]) -> Element:
    """Draw bars of several properties, a block each, every number written beside its bar.

    Parameters
    ----------
    groups : (title, unit, bars)

    Returns
    -------
    Element
        A bar between two values is hatched, a least value is plain.
    """
    parts, told, y = [], [], 4
    left, right = 112, 150
    room = _WIDTH - left - right
    for title, unit, bars in groups:
        most = max((b.high for b in bars if b.high is not None), default=1.0) or 1.0
        parts.append(
            writing(f"{title}, {unit}" if unit else title, 3, y + 12, size=NAME, bold=True)
        )
        y += 20
        for k, bar in enumerate(bars):
            parts.append(writing(shorten(bar.name, 16), left - 8, y + 12, anchor="end", size=11.5))
            end = float(left)
            if bar.low is not None and bar.high is not None:
                start = bar.low / most * room if bar.low != bar.high else 0.0
                end = left + bar.high / most * room
                fill = ("#3c434b" if k == 0 else "#aab2ba") if start == 0 else _HATCHED
                parts.append(
                    shape("rect", x=left + start, y=y + 2, width=max(end - left - start, 1.5),
                          height=12, fill=fill, stroke=INK, stroke_width=0.8)
                )  # fmt: skip
            parts.append(writing(bar.words, end + 6, y + 12, size=11.5))
            told.append(f"{title}, {bar.name}: {bar.words}")
            y += 18
        parts.append(shape("path", d=f"M{left} {y - 18 * len(bars)}V{y}", stroke=INK, fill="none"))
        y += 8
    return _svg(y, parts, "Properties side by side", f"{'. '.join(told)}.")


def _svg(height: float, parts: Iterable[Element], title: str, words: str) -> Element:
    hatch = shape(
        "pattern",
        shape("rect", width=6, height=6, fill="#fff"),
        shape("path", d="M0 0V6", stroke=QUIET, stroke_width=2.4),
        id="gk-hatch", width=6, height=6, patternUnits="userSpaceOnUse",
        patternTransform="rotate(45)",
    )  # fmt: skip
    parts = [shape("defs", hatch), *parts]
    return drawing(_WIDTH, height, *parts, title=title, words=words, font_family=FONT)
