"""Grains, plates, laths and worms as shapes: the parts of a sketched microstructure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from xml.etree.ElementTree import Element

import numpy as np

from gradekit.core.svg import shape


def grains(
    width: float, height: float, across: int, seed: int, stretch: float = 1.0
) -> list[np.ndarray]:
    """Return grains that fill a rectangle: cells of points that lie a little off a honeycomb.

    Parameters
    ----------
    width, height : float
        Pixels.
    across : int
        Grains side by side.
    seed : int
        The same number gives the same grains.
    stretch : float
        How many times longer than high they are.

    Returns
    -------
    list of ndarray, shape (corners, 2)

    Examples
    --------
    >>> cells = grains(200, 120, 5, 1)
    >>> after = [np.roll(c, -1, axis=0) for c in cells]
    >>> twice = [abs((c[:, 0] * n[:, 1] - c[:, 1] * n[:, 0]).sum()) for c, n in zip(cells, after)]
    >>> round(sum(twice) / 2)
    24000
    """
    from scipy.spatial import Voronoi

    rng = np.random.default_rng(seed)
    step = width / across
    high = step * 0.87 / stretch
    rows = max(2, round(height / high))
    points = np.array([
        ((k + 0.5 + 0.25 * (-1) ** row) * step, (row + 0.5) * height / rows)
        for row in range(rows) for k in range(across)
    ])  # fmt: skip
    points += rng.uniform(-0.28, 0.28, points.shape) * (step, high)
    points = np.clip(points, 1.0, (width - 1.0, height - 1.0))
    # Mirrored at the four borders, the cells of the inner points end at these borders.
    mirrored = [points * (-1, 1), points * (1, -1), (2 * width, 0) - points * (1, -1),
                (0, 2 * height) - points * (-1, 1)]  # fmt: skip
    cells = Voronoi(np.vstack([points, *mirrored]))
    own = (cells.regions[cells.point_region[k]] for k in range(len(points)))
    return [np.clip(cells.vertices[region], 0, (width, height)) for region in own]


def chord(ring: np.ndarray, through: np.ndarray, angle: float) -> np.ndarray | None:
    """Return both ends of a straight line across a grain, None where it passes beside it."""
    way = np.array([np.cos(angle), np.sin(angle)])
    off = (ring - through) @ np.array([-way[1], way[0]])
    after = np.roll(off, -1)
    cut = np.flatnonzero((off < 0) != (after < 0))
    if len(cut) != 2:
        return None
    share = (off[cut] / (off[cut] - after[cut]))[:, None]
    return ring[cut] + share * (np.roll(ring, -1, axis=0)[cut] - ring[cut])


def laths(ring: np.ndarray, angle: float, apart: float) -> Iterator[np.ndarray]:
    """Yield parallel lines across a grain."""
    across = np.array([-np.sin(angle), np.cos(angle)])
    reach = (ring - ring.mean(axis=0)) @ across
    for off in np.arange(reach.min() + apart / 2, reach.max(), apart):
        ends = chord(ring, ring.mean(axis=0) + off * across, angle)
        if ends is not None:
            yield ends


def plate(ends: np.ndarray, thick: float) -> np.ndarray:
    """Return a lens between two points."""
    way = ends[1] - ends[0]
    side = np.array([-way[1], way[0]]) / max(float(np.hypot(*way)), 1e-9) * thick / 2
    shares = np.array([0.0, 0.25, 0.5, 0.75, 1.0])
    bulge = np.sin(np.pi * shares)[:, None]
    middle = ends[0] + shares[:, None] * way
    return np.vstack([middle + bulge * side, (middle - bulge * side)[-2:0:-1]])


def worm(x: float, low: float, high: float, swing: float, turn: float) -> np.ndarray:
    """Return a line that winds upwards."""
    y = np.arange(low, high, 6.0)
    return np.column_stack([x + swing * np.sin(y / 6.5 + turn) + swing * np.sin(y / 4.1), y])


def dendrite(
    x: float, half: float, tip: float, foot: float, low: float, arms: float = 5.5
) -> np.ndarray:
    """Return a dendrite that grows upwards from a cold wall.

    Parameters
    ----------
    x : float
        Of its trunk.
    half : float
        Half its width, arms included.
    tip, foot : float
        y of its upper end and of the wall.
    low : float
        Share of the width that is trunk.
    arms : float
        Pixels between two arms.
    """
    y = np.arange(foot, tip, -arms)
    taper = np.clip((y - tip) / (0.35 * (foot - tip)), 0.15, 1.0)
    wave = np.where(np.arange(len(y)) % 2, 1.0, low)
    right = np.column_stack([x + half * taper * wave, y])
    left = np.column_stack([x - half * taper * wave, y])
    return np.vstack([right, [[x, tip]], left[::-1]])


def islands(
    width: float, height: float, rows: int, seed: int, share: float
) -> Iterator[np.ndarray]:
    """Yield flat islands in rows that make up about so much of a rectangle."""
    rng = np.random.default_rng(seed)
    high = height / rows
    for row in range(rows):
        x = -rng.uniform(5, 60)
        while x < width:
            long = rng.uniform(50, 130)
            # a lens takes two thirds of its rectangle
            thick = min(share * 1.5 * high, 1.25 * high)
            y = (row + 0.5) * high + rng.uniform(-0.12, 0.12) * high
            ends = np.array([[x, y], [x + long, y + rng.uniform(-3, 3)]])
            ring = np.clip(plate(ends, thick), 0, (width, height))
            if np.ptp(ring[:, 0]) > 8:
                yield ring
            x += long + rng.uniform(3, 12)


def joined(parts: Iterable[Element]) -> list[Element]:
    """Return shapes of one look that follow each other as one path: a third of the letters.

    Examples
    --------
    >>> from gradekit.pictures.paper import outline
    >>> ring = np.array([[0, 0], [4, 0], [0, 3]])
    >>> [part.get("d") for part in joined(outline(ring + (x, 0), fill="#fff") for x in (0, 9))]
    ['M0 0 4 0 0 3ZM9 0 13 0 9 3Z']
    """
    out: list[Element] = []
    last: tuple = ()
    for part in parts:
        look = {k: v for k, v in part.attrib.items() if k != "points"}
        if part.tag not in ("polygon", "polyline"):
            out.append(part)
            last = ()
            continue
        piece = "M" + part.get("points", "").replace(",", " ") + "Z" * (part.tag == "polygon")
        if (part.tag, look) == last:
            out[-1].set("d", out[-1].get("d", "") + piece)
        else:
            out.append(shape("path", d=piece))
            out[-1].attrib |= look
            last = part.tag, look
    return out
