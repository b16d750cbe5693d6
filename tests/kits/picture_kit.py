"""Reading pictures back: their words with the boxes they take, their marks, their scales."""

from __future__ import annotations

import itertools
from xml.etree.ElementTree import Element

import numpy as np

from gradekit.pictures.graph import Graph
from gradekit.pictures.style import text_size

Rectangle = tuple[float, float, float, float]


def texts(part: Element) -> list[tuple[str, Rectangle]]:
    """Return the words of a picture with their boxes; letters are taken to be broad."""
    found = []
    for node in part.iter("text"):
        size = float(node.get("font-size", 0))
        wide = text_size(node.text or "", size)[0] * 0.94
        x, y = float(node.get("x", 0)), float(node.get("y", 0))
        left = x - {"start": 0, "middle": 0.5, "end": 1}[node.get("text-anchor", "start")] * wide
        found.append((node.text or "", (left, y - 0.75 * size, left + wide, y + 0.2 * size)))
    return found


def collisions(part: Element) -> list[tuple[str, str]]:
    """Return the pairs of words that run into each other."""
    return [
        (one, other) for (one, a), (other, b) in itertools.combinations(texts(part), 2)
        if not (a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1])
    ]  # fmt: skip


def mark(part: Element, graph: Graph, name: str) -> tuple[float, float]:
    """Return where a named point lies, in the units of the axes."""
    (text,) = [n for n in part.iter("text") if n.text in (name, f"{name} (outside)")]
    at = np.array([float(text.get("x", 0)), float(text.get("y", 0))])
    centres = [_centre(n) for n in part.iter() if n.get("stroke-width") == "1.3"]
    px, py = min(centres, key=lambda c: float(np.hypot(*(c - at))))
    (x0, x1), (y0, y1) = graph.to_px.x_range, graph.to_px.y_range
    left, top, right, bottom = graph.to_px.box
    return (
        float(x0 + (px - left) / (right - left) * (x1 - x0)),
        float(y0 + (bottom - py) / (bottom - top) * (y1 - y0)),
    )


def _centre(node: Element) -> np.ndarray:
    if node.tag == "circle":
        return np.array([float(node.get("cx", 0)), float(node.get("cy", 0))])
    pairs = [p.split(",") for p in node.get("points", "").split()]
    ring = np.array(pairs, dtype=float)
    return (ring.min(axis=0) + ring.max(axis=0)) / 2
