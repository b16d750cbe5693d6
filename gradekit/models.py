"""Model cards: what was learnt from measured heats, as numbers in JSON, evaluated by numpy alone.

A card holds a forest of regression trees (arrays of feature, threshold, child and value), the
training range, the held-out scores, the scale of the held-out errors by temperature and kind of
steel, and their conformal quantiles. No row of the measured tables is in it, and no pickle.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache, cached_property

import numpy as np
import pandas as pd

from gradekit.errors import InputError, nearest
from gradekit.flags import Flag
from gradekit.sources import REFERENCE

__all__ = ["MODELS", "Card", "card", "kind_of_steel", "local_scale"]

MODELS = REFERENCE / "models"
#: Stands in the feature table for what was not reported: the trees learnt it as a case of its own.
NOT_REPORTED = -1.0


def kind_of_steel(table: pd.DataFrame) -> np.ndarray:
    """Return the kind of annealed austenitic steel whose errors apply, by composition.

    Parameters
    ----------
    table : DataFrame with Mo, Ti, Nb, Ni in wt%; unknown counts as zero

    Examples
    --------
    >>> kind_of_steel(pd.DataFrame({"Mo": [.2, 2.2], "Ti": [0, 0], "Nb": [0, 0], "Ni": [8, 11]}))
    array(['plain', 'with Mo'], dtype='<U13')
    """
    mo, ti, nb, ni = (
        np.nan_to_num(table[e].to_numpy(dtype=float)) if e in table else np.zeros(len(table))
        for e in ("Mo", "Ti", "Nb", "Ni")
    )
    return np.select(
        [ni >= 25, mo >= 1.5, nb >= 0.3, ti >= 0.15],
        ["high nickel", "with Mo", "with Nb", "with Ti"],
        "plain        ".strip(),
    ).astype("<U13")


def local_scale(scale: dict, temperature: np.ndarray, kinds: np.ndarray) -> np.ndarray:
    """Return the size of error to expect at a temperature in a kind of steel."""
    band = np.searchsorted(scale["band_ends_C"], temperature, side="left")
    widest = max(scale["kinds"].values())
    factor = np.array([scale["kinds"].get(str(k), widest) for k in kinds])
    return np.asarray(scale["bands"])[band] * factor


@dataclass(frozen=True, eq=False)
class Card:
    """One model card."""

    data: dict

    @property
    def features(self) -> list[str]:
        """Names of the inputs, in the order of the trees."""
        return self.data["features"]

    @cached_property
    def _trees(self) -> list[tuple[np.ndarray, ...]]:
        return [
            (
                np.asarray(t["feature"], dtype=np.int16),
                np.asarray(t["threshold"], dtype=float),
                np.asarray(t["right"], dtype=np.int32),
                np.asarray(t["value"], dtype=float),
            )
            for t in self.data["trees"]
        ]

    def predict(self, table: np.ndarray) -> np.ndarray:
        """Return the estimate of each row of a feature table, shape (n, features)."""
        return predict_trees(self._trees, table)

    def table(self, columns: pd.DataFrame) -> np.ndarray:
        """Return a feature table; what is not reported stands at its typical value or as a case."""
        typical = self.data.get("typical", {})
        return columns[self.features].fillna(typical).fillna(NOT_REPORTED).to_numpy(dtype=float)

    def quantile(self, level: float) -> float:
        """Return the conformal quantile of scaled held-out errors at a level."""
        levels = np.array([float(x) for x in self.data["quantiles"]])
        if not levels[0] <= level <= levels[-1]:
            raise InputError("level", f"between {levels[0]:g} and {levels[-1]:g}", level)
        # the next level held, so that an interval is never narrower than asked
        return float(list(self.data["quantiles"].values())[np.searchsorted(levels, level - 1e-9)])

    def flags(self, table: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return flags and how many times wider the interval is outside the training data."""
        low, high = (np.array([self.data["range"][f][i] for f in self.features]) for i in (0, 1))
        known = table != NOT_REPORTED
        span = np.maximum(high - low, 1e-9)
        over = np.where(known, np.maximum(table - high, 0) / span, 0.0)
        under = np.where(known, np.maximum(low - table, 0) / span, 0.0)
        bits = np.zeros(len(table), dtype=np.uint16)
        bits |= np.where((over > 0).any(axis=1), np.uint16(Flag.ABOVE_RANGE), np.uint16(0))
        bits |= np.where((under > 0).any(axis=1), np.uint16(Flag.BELOW_RANGE), np.uint16(0))
        outside = (over + under).sum(axis=1)
        far = self._distance(table) / self.data["hull"]["limit"]
        bits |= np.where((outside > 0) | (far > 1), np.uint16(Flag.OUTSIDE_DATA), np.uint16(0))
        return bits, np.maximum(1.0 + 2.0 * outside, np.maximum(far, 1.0))

    def _distance(self, table: np.ndarray) -> np.ndarray:
        """Distance from the middle of the training compositions, in their own spread."""
        hull = self.data["hull"]
        at = [self.features.index(f) for f in hull["features"]]
        x = table[:, at]
        middle = np.asarray(hull["mean"])
        z = np.where(x == NOT_REPORTED, 0.0, x - middle)
        return np.sqrt(np.einsum("ij,jk,ik->i", z, np.asarray(hull["inverse_covariance"]), z))


def predict_trees(trees: list[tuple[np.ndarray, ...]], table: np.ndarray) -> np.ndarray:
    """Mean of the trees; the left child of a node is the next node."""
    table = np.asarray(table, dtype=np.float32).astype(float)  # thresholds were grown so
    total = np.zeros(len(table))
    rows = np.arange(len(table))
    for feature, threshold, right, value in trees:
        node = np.zeros(len(table), dtype=np.int32)
        live = feature[node] >= 0
        while live.any():
            at, here = rows[live], node[live]
            down = table[at, feature[here]] <= threshold[here]
            node[live] = np.where(down, here + 1, right[here])
            live = feature[node] >= 0
        total += value[node]
    return total / len(trees)


@cache
def card(name: str) -> Card:
    """Return one model card of the library, loaded on first use.

    Examples
    --------
    >>> card("proof_strength").data["unit"]
    'MPa'
    """
    path = MODELS / f"{name}.json"
    if not path.is_file():
        known = sorted(p.stem for p in MODELS.glob("*.json"))
        raise InputError("model card", ", ".join(known), name, nearest(str(name), known))
    return Card(json.loads(path.read_text("utf-8")))
