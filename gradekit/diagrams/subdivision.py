"""Regions that tile a chart, as edges between neighbours: which region a point lies in.

A point belongs to the region to the right of the last edge at or left of it. Edges hold their
lower end and not their upper one, so each point of the chart, borders included, lies in exactly
one region, whatever the rounding of the corners.
"""

from __future__ import annotations

from itertools import groupby
from operator import itemgetter
from typing import NamedTuple

import numpy as np

from gradekit.core.errors import InputError, said
from gradekit.core.flags import Flag
from gradekit.diagrams.files import DiagramData, Region

Point = tuple[float, float]
# Corners nearer to each other than this share of the chart are one corner: error of digitising.
_SNAP = 1e-4


class Boundary(NamedTuple):
    """A line between two fields."""

    between: tuple[str, str]
    points: np.ndarray


class Subdivision:
    """The regions of a diagram, ready to find points in.

    Attributes
    ----------
    low, high : ndarray, shape (2,)
        Corners of the chart.
    below : float
        The highest y that counts as inside: the upper border belongs to the chart.
    upward : list of (lower end, upper end, number of the region to the right)
        The edges in the order in which `find` goes by them.

    Raises
    ------
    InputError
        Where the regions leave a gap or overlap.
    """

    def __init__(self, data: DiagramData):
        self.low = np.array([data.x.low, data.y.low])
        self.high = np.array([data.x.high, data.y.high])
        self.below = float(np.nextafter(data.y.high, data.y.low))
        self._name, self._labels = data.name, [r.label for r in data.regions]
        self._rings = self._snapped(data.regions)
        self._sides = self._edges()
        self._check_area()
        # Of edges that meet in a corner, the one that leans furthest right comes last and counts.
        self.upward = sorted(
            ((a, b, right) for (a, b), (_, right) in self._sides.items()
             if a[1] < b[1] and right >= 0),
            key=lambda e: (e[1][0] - e[0][0]) / (e[1][1] - e[0][1]),
        )  # fmt: skip

    def find(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the number of the region at each point, -1 outside, and flags."""
        (x0, y0), (x1, y1) = self.low, self.high
        with np.errstate(invalid="ignore"):
            inside = (x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)
        y = np.minimum(y, self.below)
        best = np.full(x.shape, -np.inf)
        code = np.full(x.shape, -1, dtype=np.int16)
        for (ax, ay), (bx, by), region in self.upward:
            at = np.flatnonzero((y >= ay) & (y < by))
            crossing = ax + (y[at] - ay) * ((bx - ax) / (by - ay))
            nearer = (crossing <= x[at]) & (crossing >= best[at])
            at = at[nearer]
            best[at] = crossing[nearer]
            code[at] = region
        code[~inside] = -1
        flag = np.where(inside, np.uint16(0), np.uint16(Flag.OUTSIDE_DIAGRAM))
        flag[np.isnan(x) | np.isnan(y)] = np.uint16(Flag.MISSING)
        return code, flag

    def boundaries(self) -> tuple[Boundary, ...]:
        """Return the lines between neighbouring regions."""
        lines = []
        for number, ring in enumerate(self._rings):
            edges = [(sum(self._sides[_rising(a, b)]) - number, a, b) for a, b in _pairs(ring)]
            # so that no line begins in its middle
            start = next((k for k, edge in enumerate(edges) if edge[0] != edges[k - 1][0]), 0)
            for other, run in groupby(edges[start:] + edges[:start], itemgetter(0)):
                if other > number:  # each line once, and no border of the chart
                    (_, first, second), *more = run
                    points = np.array([first, second, *(b for _, _, b in more)])
                    between = sorted((self._labels[number], self._labels[other]))
                    lines.append(Boundary((between[0], between[1]), points))
        return tuple(lines)

    def _snapped(self, regions: tuple[Region, ...]) -> list[list[Point]]:
        """Return rings of corners that turn left, close ones made one, and corners of others put
        on edges."""
        near = _SNAP * (self.high - self.low)
        known: list[np.ndarray] = []
        rings = []
        for region in regions:
            ring = []
            for corner in region.polygon:
                for border in (self.low, self.high):
                    corner = np.where(np.abs(corner - border) <= near, border, corner)
                same = [k for k in known if (np.abs(k - corner) <= near).all()]
                if not same:
                    known.append(corner)
                ring.append(same[0] if same else corner)
            rings.append(ring)
        whole = [
            [(float(x), float(y)) for a, b in _pairs(ring) for x, y in [a, *_on(a, b, known, near)]]
            for ring in rings
        ]
        return [ring[::-1] if _area(ring) < 0 else ring for ring in whole]

    def _edges(self) -> dict[tuple[Point, Point], list[int]]:
        """Return {(lower end, upper end): [region left of it, region right of it]}."""
        sides: dict[tuple[Point, Point], list[int]] = {}
        for number, ring in enumerate(self._rings):
            for a, b in _pairs(ring):
                pair = sides.setdefault(_rising(a, b), [-1, -1])
                side = 0 if _rising(a, b) == (a, b) else 1
                if pair[side] >= 0:
                    other = self._labels[pair[side]]
                    raise self._refused(number, a, b, f"not covered by '{other}'")
                pair[side] = number
        for (a, b), pair in sides.items():
            if min(pair) < 0 and not self._on_border(a, b):
                must = "shared with a neighbour, corner by corner, or on the border"
                raise self._refused(max(pair), a, b, must)
        return sides

    def _check_area(self) -> None:
        whole = float(np.prod(self.high - self.low))
        covered = sum(map(_area, self._rings))
        if abs(covered - whole) > 1e-6 * whole:
            raise InputError(
                f"diagram '{self._name}', regions",
                "such that they fill the chart without gap or overlap",
                said(f"{100 * covered / whole:.4g} % of the chart covered"),
            )

    def _on_border(self, a: Point, b: Point) -> bool:
        return any(a[i] == b[i] and a[i] in (self.low[i], self.high[i]) for i in (0, 1))

    def _refused(self, number: int, a: Point, b: Point, must: str) -> InputError:
        return InputError(
            f"diagram '{self._name}', region '{self._labels[number]}', edge",
            must,
            said(f"({a[0]:g}, {a[1]:g}) to ({b[0]:g}, {b[1]:g})"),
        )


def _pairs(ring: list) -> list[tuple]:
    return list(zip(ring, [*ring[1:], ring[0]], strict=True))


def _rising(a: Point, b: Point) -> tuple[Point, Point]:
    """Return the ends of an edge, the lower one first, of a level one the left one."""
    return (a, b) if (a[1], a[0]) < (b[1], b[0]) else (b, a)


def _area(ring: list[Point]) -> float:
    return 0.5 * sum(a[0] * b[1] - b[0] * a[1] for a, b in _pairs(ring))


def _on(a: np.ndarray, b: np.ndarray, known: list[np.ndarray], near: np.ndarray) -> list:
    """Return the known corners that lie on the edge from a to b, in order."""
    run = b - a
    between = []
    for corner in known:
        share = np.dot(corner - a, run) / np.dot(run, run)
        if 0 < share < 1 and (np.abs(a + share * run - corner) <= near).all():
            if not (np.array_equal(corner, a) or np.array_equal(corner, b)):
                between.append((share, corner))
    return [corner for _, corner in sorted(between, key=itemgetter(0))]
