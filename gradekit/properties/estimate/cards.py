"""Model cards: what was learnt from measured heats, as numbers in JSON, evaluated by numpy alone.

A card holds a forest of regression trees (arrays of feature, threshold, child and value), which
published relation adds the effect of nitrogen and grain size, the training range, the held-out
scores, the scale of the held-out errors by temperature and kind of steel, and their conformal
quantiles. No row of the measured tables is in it, and no pickle.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache, cached_property
from typing import NamedTuple

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError, nearest
from gradekit.core.flags import Flag
from gradekit.core.sources import REFERENCE
from gradekit.heats.columns import amount
from gradekit.properties.estimate.card_page import card_page_of
from gradekit.properties.estimate.published_shift import INPUTS, shift
from gradekit.relations.judgements import JUDGED

MODELS = REFERENCE / "models"
# Rows that step down the trees together: with 64 trees their arrays stay in the cache.
_CHUNK = 512


def kind_of_steel(table: pd.DataFrame) -> np.ndarray:
    """Return the kind of annealed austenitic steel whose errors apply, by composition.

    Parameters
    ----------
    table : DataFrame with Mo, Ti, Nb, Ni in wt%; unknown counts as zero

    Examples
    --------
    >>> kind_of_steel(pd.DataFrame({"Mo": [.2, 2.2], "Ti": [0, 0], "Nb": [0, 0], "Ni": [8, 11]}))
    array(['plain', 'with Mo'], dtype='<U11')
    """
    mo, ti, nb, ni = (amount(table, e) for e in ("Mo", "Ti", "Nb", "Ni"))
    return np.select(
        [ni >= 25, mo >= 1.5, nb >= 0.3, ti >= 0.15],
        ["high nickel", "with Mo", "with Nb", "with Ti"],
        "plain",
    )


def local_scale(scale: dict, temperature: np.ndarray, kinds: np.ndarray) -> np.ndarray:
    """Return the size of error to expect at a temperature in a kind of steel.

    Parameters
    ----------
    scale : dict
        `sizes` at the rising temperatures `at_C`, and a factor for each of `kinds`.
    temperature : ndarray, shape (n,), °C
    kinds : ndarray of str, shape (n,)
        As of `kind_of_steel`; one that the scale does not know counts as its widest.

    Returns
    -------
    ndarray, in the unit of `sizes`
        In straight lines between the temperatures of the scale, so that no interval jumps from one
        degree to the next; beyond the last one as there.

    Examples
    --------
    >>> scale = {"at_C": [20, 100], "sizes": [40, 20], "kinds": {"plain": 1, "with Mo": 1.5}}
    >>> local_scale(scale, np.array([60.0, 700.0]), np.array(["plain", "with Mo"]))
    array([30., 30.])
    """
    widest = max(scale["kinds"].values())
    factor = np.array([scale["kinds"].get(str(k), widest) for k in kinds])
    return np.interp(temperature, scale["at_C"], scale["sizes"]) * factor


class Forest(NamedTuple):
    """All trees of a card in one set of arrays; the left child of a node is the next node."""

    roots: np.ndarray
    feature: np.ndarray
    threshold: np.ndarray
    #: Left and right child of each node in turn; a leaf is its own child.
    children: np.ndarray
    value: np.ndarray
    leaf: np.ndarray

    @classmethod
    def of(cls, trees: list[dict]) -> Forest:
        """Join the trees of a card: `feature`, `threshold`, `right` and `value` of each node."""
        sizes = [len(tree["feature"]) for tree in trees]
        roots = np.cumsum([0, *sizes[:-1]])
        feature, threshold, value = (
            np.concatenate([tree[name] for tree in trees])
            for name in ("feature", "threshold", "value")
        )
        right = np.concatenate(
            [np.add(tree["right"], r) for tree, r in zip(trees, roots, strict=True)]
        )
        leaf, own = feature < 0, np.arange(len(feature))
        children = np.column_stack([np.where(leaf, own, own + 1), np.where(leaf, own, right)])
        return cls(roots, np.maximum(feature, 0), threshold, children.ravel(), value, leaf)

    def mean(self, table: np.ndarray) -> np.ndarray:
        """Return the mean of the trees for each row; all trees step down a level at once."""
        table = np.asarray(table, dtype=np.float32).astype(float)  # thresholds were grown so
        chunks = [self._sum(table[k : k + _CHUNK]) for k in range(0, len(table), _CHUNK)]
        return np.concatenate([np.empty(0), *chunks]) / len(self.roots)

    def _sum(self, table: np.ndarray) -> np.ndarray:
        count, width = table.shape
        flat, total = table.ravel(), np.zeros(count)
        node = np.repeat(self.roots, count)
        row = np.tile(np.arange(count), len(self.roots))
        while len(node):
            right = flat.take(row * width + self.feature.take(node)) > self.threshold.take(node)
            node = self.children.take(2 * node + right)
            done = self.leaf.take(node)
            # sorting out what has arrived costs as much as a step, so a quarter must have
            if 4 * np.count_nonzero(done) > len(done):
                total += np.bincount(row[done], self.value.take(node[done]), count)
                node, row = node[~done], row[~done]
        return total


@dataclass(frozen=True, eq=False)
class Card:
    """One model card; `model_card` reads it, and its page says what it rests on."""

    data: dict

    @property
    def features(self) -> list[str]:
        """Names of the inputs, in the order of the trees."""
        return self.data["features"]

    @cached_property
    def _forest(self) -> Forest:
        return Forest.of(self.data["trees"])

    @property
    def inputs(self) -> list[str]:
        """Names of all that a heat may tell: of the trees, and of the published effect."""
        return list(self.data["range"])

    def predict(self, columns: pd.DataFrame) -> np.ndarray:
        """Return the estimate of each row.

        Parameters
        ----------
        columns : DataFrame
            `inputs`; unknown as NaN. For the trees it stands at its typical value; a published
            effect it has none.
        """
        known = columns[self.features].fillna(self.data["typical"])
        trees = self._forest.mean(known.to_numpy(dtype=float))
        return trees + shift(self.data["shift"], columns)

    def quantile(self, level: float) -> float:
        """Return the conformal quantile of scaled held-out errors at a level."""
        levels = np.array([float(x) for x in self.data["quantiles"]])
        if not levels[0] - 1e-9 <= level <= levels[-1] + 1e-9:
            raise InputError("level", f"between {levels[0]:g} and {levels[-1]:g}", level)
        # the next level held, so that an interval is never narrower than asked
        return float(list(self.data["quantiles"].values())[np.searchsorted(levels, level - 1e-9)])

    def flags(self, columns: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
        """Return flags and how many times wider the interval is outside the training data."""
        told = columns[self.inputs].to_numpy(dtype=float)
        low, high = np.array(list(self.data["range"].values())).T
        span = np.maximum(high - low, 1e-9)
        over, under = (np.fmax(by / span, 0.0) for by in (told - high, low - told))
        far = self._distance(columns) / self.data["hull"]["limit"]
        bits = np.zeros(len(told), dtype=np.uint16)
        bits[(over > 0).any(axis=1)] |= int(Flag.ABOVE_RANGE)
        bits[(under > 0).any(axis=1)] |= int(Flag.BELOW_RANGE)
        bits[(bits > 0) | (far > 1)] |= int(Flag.OUTSIDE_DATA)
        outside = (over + under)[:, : len(self.features)].sum(axis=1)
        return bits, np.maximum(1.0 + 2.0 * outside, np.maximum(far, 1.0))

    def far_shift(self, columns: pd.DataFrame) -> np.ndarray:
        """Return the standard error of a published effect beyond the range of the heats.

        Inside it the held-out errors know the effect; beyond it the share of the effect that the
        heats show, at room temperature, is known to its own standard error only.
        """
        data = self.data["shift"]
        if data is None:
            return np.zeros(len(columns))
        ends = {name: columns[name].clip(*self.data["range"][name]) for name in INPUTS}
        near = columns.assign(**ends)
        if all(near[name].equals(columns[name]) for name in INPUTS):
            return np.zeros(len(columns))
        unsure = max(data["found"][0][name]["standard_error"] for name in INPUTS)
        return unsure * np.abs(shift(data, columns) - shift(data, near))

    def outside(self, columns: pd.DataFrame) -> np.ndarray:
        """Say of each row which inputs lie outside the training range, '' where none does."""
        words = np.full(len(columns), "", dtype=object)
        for name, (low, high) in self.data["range"].items():
            told = columns[name].to_numpy(dtype=float)
            rows = np.flatnonzero((told < low) | (told > high))
            values, which = np.unique(told[rows], return_inverse=True)
            said = [f"; {name} {value:g}, measured {low:g} to {high:g}" for value in values]
            words[rows] += np.array(said, dtype=object)[which]
        return words

    def _repr_html_(self) -> str:
        return card_page_of(self.data)

    def __repr__(self) -> str:
        data = self.data
        return (
            f"Card: {data['quantity']}, {data['what']}; {data['heats']} heats, mean error "
            f"{data['held_out']['mae']:.3g} {data['unit']} on heats held out"
        )

    def _distance(self, columns: pd.DataFrame) -> np.ndarray:
        """Distance from the middle of the training compositions, in their own spread."""
        hull = self.data["hull"]
        x = columns[hull["features"]].to_numpy(dtype=float)
        z = np.nan_to_num(x - np.asarray(hull["mean"]))
        return np.sqrt(np.einsum("ij,jk,ik->i", z, np.asarray(hull["inverse_covariance"]), z))


@cache
def model_card(name: str) -> Card:
    """Return one model card of the library, loaded on first use.

    Parameters
    ----------
    name : str
        `proof_strength`, `tensile_strength`, `elongation`; with `_by_composition` the card for
        heats whose annealing is not told.

    Returns
    -------
    Card
        Its page shows errors and coverage on held-out heats, ranges and what the heats say of the
        published effects of nitrogen and grain size; `data` holds all of it as plain numbers.

    Raises
    ------
    InputError
        An unknown name.

    Examples
    --------
    >>> model_card("proof_strength").data["unit"]
    'MPa'
    """
    path = MODELS / f"{name}.json"
    if path == JUDGED or not path.is_file():
        known = sorted(p.stem for p in MODELS.glob("*.json") if p.stem != JUDGED.stem)
        raise InputError("model card", ", ".join(known), name, nearest(str(name), known))
    return Card(json.loads(path.read_text("utf-8")))
