"""A space of compositions: what each element may be, and the compositions by their number.

Compositions are counted through like the digits of a number, so that any stretch of them can be
made anywhere without making those before it, and always comes out the same.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from gradekit.core.aliases import HeatsLike
from gradekit.core.elements import require_element
from gradekit.core.errors import NOTHING, InputError, one_of, said

#: Compositions that are held against a brief at once.
STRIP = 1 << 15
#: Compositions of a block: what one worker does at a time, and what is done again after a stop.
BLOCK = 1 << 22
# A Latin sample keeps an order of all its strata for each element.
_MOST_LATIN = 5_000_000
_MOST_LEVELS = 100_000
Levels = Sequence[float] | tuple[float, float, float] | float


@dataclass(frozen=True, eq=False)
class Block:
    """Compositions that share the contents of some elements.

    Attributes
    ----------
    start : int
        Number of the first.
    fixed : dict of element to number
    varied : dict of element to ndarray
    level : dict of element to ndarray or int
        Which of its levels each content is.
    size : int
    """

    start: int
    fixed: dict[str, float]
    varied: dict[str, np.ndarray]
    level: dict[str, np.ndarray | int]
    size: int


@dataclass(frozen=True, eq=False)
class Space:
    """What each element may be.

    Attributes
    ----------
    levels : dict of element to ndarray
        Contents in wt%, rising.
    method : str
        '' for every composition; else how they are sampled.
    count : int
        Compositions to be looked at.
    seed : int
    """

    levels: dict[str, np.ndarray]
    method: str
    count: int
    seed: int

    @property
    def elements(self) -> list[str]:
        """The elements, in the order in which they were given."""
        return list(self.levels)

    @cached_property
    def inner(self) -> list[str]:
        """The last elements, whose compositions together are one chunk."""
        chosen: list[str] = []
        size = 1
        for element in reversed(self.elements):
            if chosen and size * len(self.levels[element]) > STRIP:
                break
            size *= len(self.levels[element])
            chosen.insert(0, element)
        return chosen

    @cached_property
    def inner_size(self) -> int:
        """Compositions of the inner elements."""
        return math.prod(len(self.levels[e]) for e in self.inner)

    @cached_property
    def _inner_levels(self) -> dict[str, np.ndarray]:
        shape = [len(self.levels[e]) for e in self.inner]
        grid = np.indices(shape, dtype=np.int32).reshape(len(shape), -1)
        return dict(zip(self.inner, grid, strict=True))

    @cached_property
    def _inner_contents(self) -> dict[str, np.ndarray]:
        return {e: self.levels[e][at] for e, at in self._inner_levels.items()}

    @cached_property
    def chunk(self) -> int:
        """Compositions of one chunk."""
        return STRIP if self.method else self.inner_size

    @cached_property
    def block(self) -> int:
        """Compositions of one block: whole chunks."""
        return max(1, BLOCK // self.chunk) * self.chunk

    @property
    def blocks(self) -> int:
        """Number of blocks."""
        return -(-self.count // self.block)

    def chunks(self, number: int) -> list[int]:
        """Return the first composition of each chunk of a block."""
        first = number * self.block
        return list(range(first, min(first + self.block, self.count), self.chunk))

    def at(self, start: int) -> Block:
        """Return the chunk that begins at a composition."""
        size = min(self.chunk, self.count - start)
        if self.method:
            level = self._sampled(start, size)
            contents = {e: self.levels[e][at] for e, at in level.items()}
            return Block(start, {}, contents, dict(level), size)
        rest = start // self.inner_size
        fixed: dict[str, int] = {}
        for element in reversed(self.elements[: len(self.elements) - len(self.inner)]):
            rest, fixed[element] = divmod(rest, len(self.levels[element]))
        values = {e: float(self.levels[e][at]) for e, at in fixed.items()}
        return Block(start, values, self._inner_contents, {**fixed, **self._inner_levels}, size)

    def contents(self, numbers: Sequence[int] | np.ndarray) -> np.ndarray:
        """Return compositions by their numbers, shape (compositions, elements), wt%."""
        rows = np.empty((len(numbers), len(self.levels)))
        chunks: dict[int, list[int]] = {}
        for row, number in enumerate(numbers):
            chunks.setdefault(int(number) // self.chunk * self.chunk, []).append(row)
        for start, members in chunks.items():
            block = self.at(start)
            at = np.array([int(numbers[m]) - start for m in members])
            for column, element in enumerate(self.elements):
                level = np.broadcast_to(block.level[element], block.size)[at]
                rows[members, column] = self.levels[element][level]
        return rows

    def _sampled(self, start: int, size: int) -> dict[str, np.ndarray]:
        shares = _SHARES[self.method](self, start, size)
        return {
            e: np.minimum((shares[k] * len(v)).astype(np.int32), len(v) - 1)
            for k, (e, v) in enumerate(self.levels.items())
        }


def _random(space: Space, start: int, size: int) -> np.ndarray:
    # One stream a chunk, whichever worker draws it.
    rng = np.random.default_rng([space.seed, start])
    return rng.random((len(space.levels), size))


def _sobol(space: Space, start: int, size: int) -> np.ndarray:
    from scipy.stats import qmc

    engine = qmc.Sobol(len(space.levels), scramble=True, rng=np.random.default_rng(space.seed))
    if start:
        engine.fast_forward(start)
    return engine.random(size).T


def _latin(space: Space, start: int, size: int) -> np.ndarray:
    rows = []
    for column in range(len(space.levels)):
        rng = np.random.default_rng([space.seed, column])
        order = rng.permutation(space.count)[start : start + size]
        within = np.random.default_rng([space.seed, column, start]).random(size)
        rows.append((order + within) / space.count)
    return np.array(rows)


_SHARES = {"sobol": _sobol, "random": _random, "latin": _latin}


def space_of(space: Mapping[str, Levels], sample: HeatsLike, seed: int) -> Space:
    """Read a space.

    Parameters
    ----------
    space : mapping of element to (low, high, step), a list of contents, or one content, wt%
    sample : None, int, or (method, int)
        Every composition, or so many of them.
    seed : int

    Raises
    ------
    InputError
        What is no element, no content, or too much.
    """
    if not isinstance(space, Mapping) or not space:
        raise InputError("space", "contents by element, as {'Ni': (1, 5, 0.1)}", space or NOTHING)
    levels = {require_element(e, "space, element"): _levels(e, v) for e, v in space.items()}
    whole = math.prod(map(len, levels.values()))
    if sample is None:
        return Space(levels, "", whole, seed)
    method, count = sample if isinstance(sample, (tuple, list)) else ("sobol", sample)
    one_of("method of the sample", method, _SHARES)
    if not isinstance(count, int) or isinstance(count, bool) or count < 1:
        raise InputError("sample", "a count, or (method, count)", sample)
    if method == "latin" and count > _MOST_LATIN:
        raise InputError(
            "sample", f"at most {_MOST_LATIN:,} for a Latin one", count, "('sobol', …)"
        )
    return Space(levels, method, count, seed)


def _levels(element: str, given: Any) -> np.ndarray:
    what = f"space, {element}"
    if isinstance(given, (int, float)) and not isinstance(given, bool):
        given = [given]
    try:
        values = [float(v) for v in given]
    except (TypeError, ValueError):
        raise InputError(what, "(low, high, step), a list or one content, wt%", given) from None
    if isinstance(given, tuple):
        if len(values) != 3 or not values[2] > 0 or values[0] > values[1]:
            raise InputError(what, "(low, high, step) with low not above high", given)
        low, high, step = values
        count = math.floor((high - low) / step + 1e-9) + 1
        if count > _MOST_LEVELS:
            raise InputError(
                what, f"at most {_MOST_LEVELS:,} contents", said(f"{count:,} contents")
            )
        # A content is a decimal that a laboratory writes, not a sum of binary fractions.
        values = [round(low + k * step, 9) for k in range(count)]
    array = np.unique(np.array(values))
    if not array.size or not np.isfinite(array).all() or array[0] < 0 or array[-1] > 100:
        raise InputError(what, "contents from 0 to 100 wt%", given)
    return array
