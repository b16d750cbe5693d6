"""One look for all pictures: quiet frames, dark ink, marks told apart by shape and colour."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from threading import RLock
from typing import Any

INK = "#20262e"
QUIET = "#565f69"
WIDTH = 760
# Dark on pale and told apart by lightness too, so that they hold in grey and for the colour-blind.
COLOURS = ("#12497d", "#b34d12", "#0a7a63", "#6a1f1f", "#2b2f36", "#7b2fc0", "#6f9fd0", "#d9909e")
#: Names of the shapes, in the order in which they go with the colours.
SHAPES = ("circle", "square", "triangle", "diamond", "wedge", "cross", "hexagon", "kite")
MARKERS = dict(zip(SHAPES, ("o", "s", "^", "D", "v", "P", "H", "d"), strict=True))
# Pale fields by phase; what holds several is their mixture, the first named weighing more.
_PHASES = {"A": (0.84, 0.905, 0.955), "F": (0.975, 0.90, 0.77), "M": (0.885, 0.85, 0.925)}
_OTHER = ((0.90, 0.94, 0.90), (0.95, 0.93, 0.88), (0.91, 0.91, 0.94), (0.94, 0.90, 0.91))

#: Settings of matplotlib for every picture; used in a context, never set for good. One unit is one
#: pixel of the page, so sizes are pixels.
RC: dict[Any, Any] = {
    "figure.dpi": 72,
    "savefig.dpi": 72,
    "figure.facecolor": "white",
    "savefig.facecolor": "white",
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans", "Verdana", "Arial", "sans-serif"],
    "font.size": 12,
    "text.color": INK,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.linewidth": 1.0,
    "axes.labelsize": 12,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "axes.unicode_minus": True,
    "grid.color": "#e3e6e9",
    "grid.linewidth": 0.8,
    "xtick.color": INK,
    "ytick.color": INK,
    "xtick.labelsize": 11,
    "ytick.labelsize": 11,
    "xtick.direction": "out",
    "ytick.direction": "out",
    "lines.linewidth": 1.8,
    "lines.solid_capstyle": "round",
    "svg.fonttype": "none",
    "svg.hashsalt": "gradekit",
    "pdf.fonttype": 42,
    "path.simplify": True,
    "mathtext.default": "regular",
}


# The settings of matplotlib belong to the process: a second thread would draw with those of before.
_DRAWING = RLock()


@contextmanager
def styled() -> Iterator[None]:
    """Draw in the style of the library, one thread at a time; the settings of before come back."""
    from matplotlib import rc_context

    with _DRAWING, rc_context(RC):
        yield


def style_of(number: int) -> tuple[str, str]:
    """Return the colour and the marker of one among several, from the first again past the last.

    Examples
    --------
    >>> style_of(0) == style_of(len(COLOURS)), style_of(1)[1]
    (True, 's')
    """
    return COLOURS[number % len(COLOURS)], MARKERS[SHAPES[number % len(SHAPES)]]


def tint(label: str, number: int = 0) -> tuple[float, float, float]:
    """Return the pale colour of a field by the phases in its label.

    Examples
    --------
    >>> tint("A"), tint("A+F") == tint("F+A")
    ((0.84, 0.905, 0.955), False)
    """
    phases = [p for p in label.replace("+", "") if p.strip()]
    if not phases or any(p not in _PHASES for p in phases):
        return _OTHER[number % len(_OTHER)]
    weights = [1.0 / (1 + i) for i in range(len(phases))]
    red, green, blue = (
        sum(w * _PHASES[p][c] for w, p in zip(weights, phases, strict=True)) / sum(weights)
        for c in range(3)
    )
    return round(red, 3), round(green, 3), round(blue, 3)


def text_size(text: str, size: float) -> tuple[float, float]:
    """Return width and height of a line of text in pixels, on the safe side."""
    narrow = sum(c in "iIjl.,:;'|!() 1t-" for c in text)
    return (0.66 * (len(text) - narrow) + 0.42 * narrow) * size, 1.2 * size
