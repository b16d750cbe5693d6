"""The reading of a diagram that has lines of equal reading and no closed form."""

from __future__ import annotations

import numpy as np

from gradekit.diagrams.files import DiagramData

__all__ = ["BetweenLines"]


class BetweenLines:
    """The reading between iso-lines, linear along y; lines go on straight beyond their ends."""

    def __init__(self, data: DiagramData):
        self.lines = data.iso_lines
        self.values = np.array([line.value for line in self.lines])

    def _heights(self, x: np.ndarray) -> np.ndarray:
        """Return y of each line at each x, shape (lines, points)."""
        y = np.empty((len(self.lines), len(x)))
        for row, line in enumerate(self.lines):
            px, py = line.points.T
            y[row] = np.interp(x, px, py)
            for end, inner, beyond in ((0, 1, x < px[0]), (-1, -2, x > px[-1])):
                slope = (py[end] - py[inner]) / (px[end] - px[inner])
                y[row, beyond] = py[end] + slope * (x[beyond] - px[end])
        return y

    def value(self, x: np.ndarray, y: np.ndarray) -> np.ndarray:
        """Return the reading, going on straight beyond the outer lines; NaN where lines cross."""
        heights = self._heights(x)
        falls = np.diff(heights, axis=0)
        down = falls[0] < 0
        ordered = ((falls < 0) == down).all(axis=0)
        passed = np.where(down, heights >= y, heights <= y).sum(axis=0)
        k = np.clip(passed - 1, 0, len(self.lines) - 2)
        at = np.arange(len(x))
        share = (y - heights[k, at]) / falls[k, at]
        value = self.values[k] + share * np.diff(self.values)[k]
        return np.where(ordered & np.isfinite(y), value, np.nan)

    def y_at(self, x: np.ndarray, value: np.ndarray) -> np.ndarray:
        """Return y of a reading, NaN beyond the first and last line."""
        heights = self._heights(x)
        k = np.clip(np.searchsorted(self.values, value, "right") - 1, 0, len(self.lines) - 2)
        at = np.arange(len(x))
        share = (value - self.values[k]) / np.diff(self.values)[k]
        y = heights[k, at] + share * (heights[k + 1, at] - heights[k, at])
        return np.where((value >= self.values[0]) & (value <= self.values[-1]), y, np.nan)
