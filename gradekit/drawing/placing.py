"""Where names go: labels that meet neither each other nor marks, and the middle of a field."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

__all__ = ["Box", "Placed", "middle_of", "place_labels"]

# Tried in this order: right, left, above, below, then the slants between.
_WAYS = np.deg2rad([0, 180, 90, 270, 40, 140, 320, 220, 65, 115, 295, 245])
_REACH = (0.0, 8.0, 18.0, 30.0, 46.0, 66.0)


class Box(NamedTuple):
    """A rectangle in pixels, y upwards or downwards as the caller has it."""

    left: float
    low: float
    right: float
    high: float


class Placed(NamedTuple):
    """Centre of a label, and where its leader ends if it stands apart from its mark."""

    x: float
    y: float
    leader: tuple[float, float] | None


def place_labels(
    anchors: np.ndarray,
    sizes: list[tuple[float, float]],
    box: Box,
    taken: list[Box] = (),
    mark: float = 5.0,
) -> list[Placed | None]:
    """Place one label for each anchor so that nothing overlaps.

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
    blocked = [np.array([x - mark, y - mark, x + mark, y + mark]) for x, y in anchors]
    blocked += [np.array(t, dtype=float) for t in taken]
    placed: list[Placed | None] = [None] * len(anchors)
    for i in _crowded_first(anchors):
        width, height = sizes[i]
        if not width:
            continue
        for reach in _REACH:
            found = _free(anchors[i], width, height, reach + mark + 2.0, box, np.array(blocked), i)
            if found is not None:
                x, y = found
                blocked.append(
                    np.array([x - width / 2, y - height / 2, x + width / 2, y + height / 2])
                )
                placed[i] = Placed(x, y, _leader(anchors[i], found, width, height, reach, mark))
                break
    return placed


def _free(anchor, width, height, gap, box, blocked, own) -> np.ndarray | None:
    for way in _WAYS:
        step = np.array([np.cos(way), np.sin(way)])
        # The label touches a circle round the mark with the side that faces it.
        centre = anchor + step * gap + np.round(step, 6) * np.array([width, height]) / 2
        if abs(step[0]) > 0.2:
            centre[0] = anchor[0] + step[0] * gap + np.sign(step[0]) * width / 2
        left, right = centre[0] - width / 2, centre[0] + width / 2
        low, high = centre[1] - height / 2, centre[1] + height / 2
        if left < box.left or right > box.right or low < box.low or high > box.high:
            continue
        meets = (
            (blocked[:, 0] < right)
            & (blocked[:, 2] > left)
            & (blocked[:, 1] < high)
            & (blocked[:, 3] > low)
        )
        if not meets.any():
            return centre
    return None


def _leader(anchor, centre, width, height, reach, mark) -> tuple[float, float] | None:
    if not reach:
        return None
    half = np.array([width, height]) / 2
    end = np.clip(anchor, centre - half, centre + half)
    return (float(end[0]), float(end[1])) if np.hypot(*(end - anchor)) > mark + 4 else None


def _crowded_first(anchors: np.ndarray) -> list[int]:
    if len(anchors) < 2:
        return list(range(len(anchors)))
    apart = np.hypot(*(anchors[:, None] - anchors[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    near = min(3, len(anchors) - 1)
    return np.argsort(np.sort(apart, axis=1)[:, :near].sum(axis=1), kind="stable").tolist()


def middle_of(polygon: np.ndarray, wide: float, high: float) -> tuple[float, float, float]:
    """Return the point of a polygon with most room for a label, and the room.

    Parameters
    ----------
    polygon : array, shape (n, 2), pixels
    wide, high : size of the label

    Returns
    -------
    tuple
        x, y, and how many times the label fits there (below 1 it does not).
    """
    scale = np.array([wide, high]) / 2
    ring = np.asarray(polygon) / scale
    low, top = ring.min(axis=0), ring.max(axis=0)
    best = (0.0, 0.0, -1.0)
    for _ in range(3):
        gx, gy = np.meshgrid(np.linspace(low[0], top[0], 41), np.linspace(low[1], top[1], 41))
        points = np.column_stack([gx.ravel(), gy.ravel()])
        room = np.where(_within(points, ring), _distance(points, ring), -1.0)
        k = int(room.argmax())
        if room[k] > best[2]:
            best = (points[k, 0], points[k, 1], float(room[k]))
        step = (top - low) / 20
        low, top = np.array(best[:2]) - step, np.array(best[:2]) + step
    return best[0] * scale[0], best[1] * scale[1], best[2] / np.sqrt(2)


def _within(points: np.ndarray, ring: np.ndarray) -> np.ndarray:
    inside = np.zeros(len(points), dtype=bool)
    for (ax, ay), (bx, by) in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        if ay == by:
            continue
        spans = (points[:, 1] >= min(ay, by)) & (points[:, 1] < max(ay, by))
        inside ^= spans & (points[:, 0] > ax + (points[:, 1] - ay) * (bx - ax) / (by - ay))
    return inside


def _distance(points: np.ndarray, ring: np.ndarray) -> np.ndarray:
    least = np.full(len(points), np.inf)
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        run = b - a
        share = np.clip((points - a) @ run / max(run @ run, 1e-12), 0, 1)
        least = np.minimum(least, np.hypot(*(points - a - share[:, None] * run).T))
    return least
