"""Regions that tile a chart, as edges between neighbours: which region a point lies in.

A point belongs to the region to the right of the last edge at or left of it. Edges hold their
lower end and not their upper one, so each point of the chart, borders included, lies in exactly
one region, whatever the rounding of the corners.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from gradekit.core.errors import InputError, said
from gradekit.core.flags import Flag
from gradekit.diagrams.files import DiagramData, Region

# Corners nearer to each other than this share of the chart are one corner: error of digitising.
_SNAP = 1e-4
Point = tuple[float, float]


class Boundary(NamedTuple):
    """A line between two fields."""

    between: tuple[str, str]
    points: np.ndarray


class Subdivision:
    """The regions of a diagram, ready to find points in.

    Raises
    ------
    InputError
        Where the regions leave a gap or overlap.
    """

    def __init__(self, data: DiagramData):
        self._low = np.array([data.x.low, data.y.low])
        self._high = np.array([data.x.high, data.y.high])
        self._labels = [r.label for r in data.regions]
        numbers = {label: i for i, label in enumerate(dict.fromkeys(self._labels))}
        self._codes = [numbers[label] for label in self._labels]
        polygons = self._snapped(data.regions)
        self._sides = self._edges(polygons, data)
        self._check_area(polygons, data)
        edges = [
            (a, b, self._codes[right])
            for (a, b), (_, right) in self._sides.items()
            if a[1] < b[1] and right >= 0
        ]
        # Of edges that meet in a corner, the one that leans furthest right comes last and counts.
        edges.sort(key=lambda e: (e[1][0] - e[0][0]) / (e[1][1] - e[0][1]))
        self._upward = edges

    def find(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return the number of the region at each point, -1 outside, and flags."""
        (x0, y0), (x1, y1) = self._low, self._high
        with np.errstate(invalid="ignore"):
            inside = (x >= x0) & (x <= x1) & (y >= y0) & (y <= y1)
        y = np.minimum(y, np.nextafter(y1, y0))  # the upper border belongs to the chart
        best = np.full(x.shape, -np.inf)
        code = np.full(x.shape, -1, dtype=np.int16)
        for (ax, ay), (bx, by), region in self._upward:
            at = np.flatnonzero((y >= ay) & (y < by))
            crossing = ax + (y[at] - ay) * ((bx - ax) / (by - ay))
            nearer = (crossing <= x[at]) & (crossing >= best[at])
            at = at[nearer]
            best[at] = crossing[nearer]
            code[at] = region
        code[~inside] = -1
        unknown = np.isnan(x) | np.isnan(y)
        flag = np.where(inside, 0, np.uint16(Flag.OUTSIDE_DIAGRAM)).astype(np.uint16)
        flag[unknown] = np.uint16(Flag.MISSING)
        return code, flag

    def upward(self) -> tuple[list[float], list[float], float, list]:
        """Return what `find` goes by: corners of the chart, its last inner y, edges in order."""
        below = float(np.nextafter(self._high[1], self._low[1]))
        return self._low.tolist(), self._high.tolist(), below, self._upward

    def boundaries(self) -> tuple[Boundary, ...]:
        """Return the lines between neighbouring regions."""
        pairs: dict[tuple[str, str], list[tuple[Point, Point]]] = {}
        for (a, b), (left, right) in self._sides.items():
            if left >= 0 and right >= 0 and self._labels[left] != self._labels[right]:
                key = tuple(sorted((self._labels[left], self._labels[right])))
                pairs.setdefault(key, []).append((a, b))
        return tuple(
            Boundary(key, np.array(line)) for key, edges in pairs.items() for line in _chains(edges)
        )

    def _snapped(self, regions: tuple[Region, ...]) -> list[list[Point]]:
        """Return corners as tuples, close ones made one, and corners of others put on edges."""
        near = _SNAP * (self._high - self._low)
        known: list[np.ndarray] = []
        rings = []
        for region in regions:
            ring = []
            for corner in region.polygon:
                corner = np.where(np.abs(corner - self._low) <= near, self._low, corner)
                corner = np.where(np.abs(corner - self._high) <= near, self._high, corner)
                same = [k for k in known if (np.abs(k - corner) <= near).all()]
                if not same:
                    known.append(corner)
                ring.append(same[0] if same else corner)
            rings.append(ring)
        return [
            [
                (float(p[0]), float(p[1]))
                for a, b in _pairs(ring)
                for p in [a, *_on(a, b, known, near)]
            ]
            for ring in rings
        ]

    def _edges(self, polygons: list[list[Point]], data: DiagramData) -> dict:
        """Return {(lower end, upper end): [region left of it, region right of it]}."""
        sides: dict[tuple[Point, Point], list[int]] = {}
        for number, ring in enumerate(polygons):
            if _area(ring) < 0:
                ring = ring[::-1]
            for a, b in _pairs(ring):
                up = (a[1], a[0]) < (b[1], b[0])
                side = 0 if up else 1
                pair = sides.setdefault((a, b) if up else (b, a), [-1, -1])
                if pair[side] >= 0:
                    other = self._labels[pair[side]]
                    raise self._refused(data, number, a, b, f"not covered by '{other}'")
                pair[side] = number
        for (a, b), pair in sides.items():
            if min(pair) < 0 and not self._on_border(a, b):
                number = max(pair)
                raise self._refused(
                    data,
                    number,
                    a,
                    b,
                    "shared with a neighbour, corner by corner, or on the border",
                )
        return sides

    def _check_area(self, polygons: list[list[Point]], data: DiagramData) -> None:
        whole = float(np.prod(self._high - self._low))
        covered = sum(abs(_area(ring)) for ring in polygons)
        if abs(covered - whole) > 1e-6 * whole:
            raise InputError(
                f"diagram '{data.name}', regions",
                "such that they fill the chart without gap or overlap",
                said(f"{100 * covered / whole:.4g} % of the chart covered"),
            )

    def _on_border(self, a: Point, b: Point) -> bool:
        return any(a[i] == b[i] and a[i] in (self._low[i], self._high[i]) for i in (0, 1))

    def _refused(self, data: DiagramData, number: int, a: Point, b: Point, must: str) -> InputError:
        return InputError(
            f"diagram '{data.name}', region '{self._labels[number]}', edge",
            must,
            said(f"({a[0]:g}, {a[1]:g}) to ({b[0]:g}, {b[1]:g})"),
        )


def _pairs(ring: list) -> list[tuple]:
    return list(zip(ring, [*ring[1:], ring[0]], strict=True))


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
    return [corner for _, corner in sorted(between, key=lambda f: f[0])]


def _chains(edges: list[tuple[Point, Point]]) -> list[list[Point]]:
    """Join edges end to end."""
    left = list(edges)
    lines = []
    while left:
        line = list(left.pop(0))
        grown = True
        while grown:
            grown = False
            for edge in left:
                for here, there in (edge, edge[::-1]):
                    if here == line[-1]:
                        line.append(there)
                    elif here == line[0]:
                        line.insert(0, there)
                    else:
                        continue
                    left.remove(edge)
                    grown = True
                    break
                if grown:
                    break
        lines.append(line)
    return lines
