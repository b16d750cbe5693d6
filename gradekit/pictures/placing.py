"""Where names go: labels that meet neither each other nor marks, and the middle of a field."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

# Tried in this order: right, left, above, below, then the slants between.
_WAYS = np.deg2rad([0, 180, 90, 270, 40, 140, 320, 220, *range(10, 360, 15)])
_STEPS = np.round(np.column_stack([np.cos(_WAYS), np.sin(_WAYS)]), 6)
# Pixels that a mark reaches from its middle.
_MARK = 7.0
_REACH = (0.0, 8.0, 18.0, 30.0, 46.0, 66.0, 90.0)


class LabelBox(NamedTuple):
    """A rectangle in pixels, y upwards or downwards as the caller has it."""

    left: float
    low: float
    right: float
    high: float

    @classmethod
    def around(cls, x: float, y: float, wide: float, high: float) -> LabelBox:
        """Return the box of this size about a middle."""
        return cls(x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)


class Placed(NamedTuple):
    """Centre of a label, and where its leader ends if it stands apart from its mark."""

    x: float
    y: float
    leader: tuple[float, float] | None


def place_labels(
    anchors: np.ndarray,
    sizes: list[tuple[float, float]],
    box: LabelBox,
    taken: Sequence[LabelBox] = (),
    mark: float = 5.0,
) -> list[Placed | None]:
    """Place one label for each anchor so that no label, mark or leader runs over another.

    Parameters
    ----------
    anchors : array, shape (n, 2), pixels
    sizes : (width, height) of each label; (0, 0) where an anchor only blocks its place
    box : labels stay inside
    taken : rectangles that are occupied
    mark : half size of a mark

    Returns
    -------
    list
        None where there is no room.
    """
    anchors = np.asarray(anchors, dtype=float).reshape(-1, 2)
    marks = np.hstack([anchors - mark, anchors + mark])
    blocked = np.vstack([marks, np.array(taken, dtype=float).reshape(-1, 4)])
    labels = np.empty((0, 4))
    trails = np.empty((0, 2))
    placed: list[Placed | None] = [None] * len(anchors)
    for i in _crowded_first(anchors):
        if not sizes[i][0]:
            continue
        half = np.array(sizes[i]) / 2
        # A leader may graze a neighbouring mark, not cross its middle.
        cores = np.delete(np.hstack([anchors - mark / 2, anchors + mark / 2]), i, axis=0)
        others = np.vstack([cores, labels])
        for reach, centre in _centres(anchors, i, half, mark):
            label = np.concatenate([centre - half, centre + half])
            if _leaves(label, box) or meets(label, blocked) or meets(label, labels):
                continue
            if _holds(label[None], trails):
                continue
            trail = _trail(anchors[i], centre, half, mark) if reach else None
            if trail is not None and _holds(others, trail):
                continue
            labels = np.vstack([labels, label])
            end = None
            if trail is not None:
                trails = np.vstack([trails, trail])
                end = float(trail[-1, 0]), float(trail[-1, 1])
            placed[i] = Placed(float(centre[0]), float(centre[1]), end)
            break
    return placed


def _outward(anchors: np.ndarray, i: int) -> np.ndarray:
    """Return the way out of the crowd round one anchor."""
    off = anchors[i] - anchors
    weight = 1.0 / (np.hypot(*off.T) + 10.0) ** 2
    return (off * weight[:, None]).sum(axis=0)


def _centres(
    anchors: np.ndarray, i: int, half: np.ndarray, mark: float
) -> Iterator[tuple[float, np.ndarray]]:
    """Yield centres of a label with their distance from its mark, the nearest first.

    There it touches the mark; further away it goes out of the crowd first.
    """
    away = _STEPS[np.argsort(-_STEPS @ _outward(anchors, i), kind="stable")]
    for reach in _REACH:
        gap = reach + mark + 2.0
        for step in away if reach else _STEPS:
            centre = anchors[i] + step * (gap + half)
            if abs(step[0]) > 0.2:
                centre[0] = anchors[i][0] + step[0] * gap + np.sign(step[0]) * half[0]
            yield reach, centre


def _leaves(label: np.ndarray, box: LabelBox) -> bool:
    return bool(
        label[0] < box.left or label[2] > box.right or label[1] < box.low or label[3] > box.high
    )


def meets(label: np.ndarray, others: np.ndarray) -> bool:
    """Tell whether a box meets any of the others, arrays of shape (4,) and (n, 4)."""
    across, up = ((others[:, :2] < label[2:]) & (others[:, 2:] > label[:2])).T
    return bool((across & up).any())


def _holds(boxes: np.ndarray, points: np.ndarray) -> bool:
    """Tell whether any of the points lies in any of the boxes."""
    x, y = points[:, :1], points[:, 1:]
    inside = (x > boxes[:, 0]) & (x < boxes[:, 2]) & (y > boxes[:, 1]) & (y < boxes[:, 3])
    return bool(inside.any())


def _trail(anchor, centre, half, mark) -> np.ndarray | None:
    """Return points along the line from a mark to its label; None where they nearly touch."""
    end = np.clip(anchor, centre - half, centre + half)
    length = float(np.hypot(*(end - anchor)))
    if length <= mark + 4:
        return None
    share = np.linspace(mark / length, 1.0, max(3, int(length / 4)))
    return anchor + share[:, None] * (end - anchor)


def _crowded_first(anchors: np.ndarray) -> list[int]:
    if len(anchors) < 2:
        return list(range(len(anchors)))
    apart = np.hypot(*(anchors[:, None] - anchors[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    near = min(3, len(anchors) - 1)
    return np.argsort(np.sort(apart, axis=1)[:, :near].sum(axis=1), kind="stable").tolist()


def middle_of(
    polygon: np.ndarray, wide: float, high: float, marks: np.ndarray | None = None
) -> tuple[float, float, float]:
    """Return the point of a polygon with most room for a label, and the room.

    Parameters
    ----------
    polygon : array, shape (n, 2), pixels
    wide, high : size of the label
    marks : array, shape (m, 2), pixels, optional
        Where no label is to lie, unless there is nowhere else.

    Returns
    -------
    tuple
        x, y, and how many times the label fits there (below 1 it does not).
    """
    from matplotlib.path import Path

    scale = np.array([wide, high]) / 2
    ring = np.asarray(polygon) / scale
    within = Path(np.vstack([ring, ring[:1]]), closed=True)
    low, top = ring.min(axis=0), ring.max(axis=0)
    best = (0.0, 0.0, -1.0)
    for _ in range(3):
        gx, gy = np.meshgrid(np.linspace(low[0], top[0], 41), np.linspace(low[1], top[1], 41))
        points = np.column_stack([gx.ravel(), gy.ravel()])
        room = np.where(within.contains_points(points), _distance(points, ring), -1.0)
        if marks is not None and len(marks):
            off = np.abs(points[:, None] * scale - marks) < scale + _MARK
            room = np.where(off.all(axis=2).any(axis=1), np.minimum(room, 0.5), room)
        k = int(room.argmax())
        if room[k] > best[2]:
            best = (points[k, 0], points[k, 1], float(room[k]))
        step = (top - low) / 20
        low, top = np.array(best[:2]) - step, np.array(best[:2]) + step
    return best[0] * scale[0], best[1] * scale[1], best[2] / np.sqrt(2)


def _distance(points: np.ndarray, ring: np.ndarray) -> np.ndarray:
    least = np.full(len(points), np.inf)
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        run = b - a
        share = np.clip((points - a) @ run / max(run @ run, 1e-12), 0, 1)
        least = np.minimum(least, np.hypot(*(points - a - share[:, None] * run).T))
    return least
