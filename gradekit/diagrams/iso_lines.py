"""The reading of a diagram without a closed form, as algebra made from its lines of equal reading.

Between two lines the reading is linear along y; beyond the outer lines, and beyond the ends of a
line, it goes straight on. Where lines cross there is none.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce

import numpy as np

_NO_VALUE = "log10(0)"  # which is no number
_Line = tuple[float, np.ndarray]


def value_between(lines: Sequence[_Line]) -> str:
    """Return the reading as a formula of `x` and `y`.

    Parameters
    ----------
    lines : (value, points) pairs by rising value, x of the points rising

    Examples
    --------
    >>> from gradekit.core.formula import Formula
    >>> flat = [(0.0, np.array([[0, 4], [9, 4]])), (5.0, np.array([[0, 2], [9, 2]]))]
    >>> Formula(value_between(flat))(x=np.array([1.0]), y=np.array([3.0])).tolist()
    [2.5]
    """
    count = len(lines)
    rising = [f"(h{k + 1} - h{k})*up" for k in range(count - 1)]
    between = [
        f"{v!r} + (y - h{k})*{lines[k + 1][0] - v!r}/(h{k + 1} - h{k})"
        for k, (v, _) in enumerate(lines[:-1])
    ]
    text = between[-1]
    for k in reversed(range(count - 2)):
        text = f"{between[k]} if y*up < h{k + 1}*up else {text}"
    ordered = f"{reduce('min({}, {})'.format, rising)} > 0"
    heights = "; ".join(f"h{k} = {_height(points)}" for k, (_, points) in enumerate(lines))
    return f"{heights}; up = 1 if h1 > h0 else 0 - 1; ({text}) if {ordered} else {_NO_VALUE}"


def inverse_between(lines: Sequence[_Line]) -> str:
    """Return y as a formula of `x` and `value`; no value beyond the first and last line."""
    values = [float(v) for v, _ in lines]
    between = [
        f"h{k} + (h{k + 1} - h{k})*(value - {v!r})/{values[k + 1] - v!r}"
        for k, v in enumerate(values[:-1])
    ]
    text = between[-1]
    for k in reversed(range(len(lines) - 2)):
        text = f"{between[k]} if value < {values[k + 1]!r} else {text}"
    heights = "; ".join(f"h{k} = {_height(points)}" for k, (_, points) in enumerate(lines))
    within = f"value >= {values[0]!r} and value <= {values[-1]!r}"
    return f"{heights}; ({text}) if {within} else {_NO_VALUE}"


def _height(points: np.ndarray) -> str:
    """Return y of one line: straight pieces as a sum of bends."""
    (x0, y0), slopes = points[0].tolist(), (np.diff(points[:, 1]) / np.diff(points[:, 0])).tolist()
    bends = zip(points[1:-1, 0].tolist(), np.diff(slopes).tolist(), strict=True)
    parts = [
        f"{y0!r} + {slopes[0]!r}*(x - {x0!r})",
        *(f"{b!r}*max(x - {x!r}, 0)" for x, b in bends),
    ]
    return " + ".join(parts)
