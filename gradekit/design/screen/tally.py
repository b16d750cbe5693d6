"""One block of a screening: which compositions keep which constraint, counted and the best kept.

Linear constraints of all compositions of a chunk come from one product, made once: between chunks
only what the other elements add to it differs. Which constraints a composition breaks is a bit of
64 compositions at a time, so that pairs of constraints are counted by the word.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import zip_longest

import numpy as np

from gradekit.design.constraints import Constraint
from gradekit.design.problem import Problem, nothing_of
from gradekit.design.quantities import Quantity
from gradekit.design.screen.space import Block, Space

# What a linear form may miss its bound by and still keep it, as for a designed composition.
_TOLERANCE = 1e-9
#: The objectives of a composition, and its number.
Scored = tuple[tuple[float, ...], int]


@dataclass(eq=False)
class Tally:
    """Counts over compositions; tallies of blocks add up in any order.

    Attributes
    ----------
    counts : dict of name to ndarray of int
        Compositions: 'evaluated'; 'kept' (that keep all); 'broken', shape (constraints,
        constraints), that break both, on the diagonal the one; 'alone', that break this constraint
        and no other. Under the name of an element, at each of its contents, those that keep all;
        under those of two elements ('Ni N'), at each pair of contents, and with 'broken' before
        them, shape (constraints, levels, levels), those that break each constraint there.
    least : dict of 'element element' to ndarray, shape (levels, levels)
        The least objective of those that keep all at each pair of contents, NaN where there is
        none.
    best : list of lists of (objectives, number)
        For each objective the compositions that are best in it, the best first.
    front : list of (objectives, number)
        Of two or three objectives, those of which no other is better in all; more of them until
        `settle` is called.
    """

    counts: dict[str, np.ndarray] = field(default_factory=dict)
    least: dict[str, np.ndarray] = field(default_factory=dict)
    best: list[list[Scored]] = field(default_factory=list)
    front: list[Scored] = field(default_factory=list)
    _settled: int = 0

    def add(self, other: Tally, k: int) -> None:
        """Take another tally in."""
        for name, count in other.counts.items():
            self.counts[name] = self.counts.get(name, 0) + count
        for name, least in other.least.items():
            self.least[name] = np.fmin(self.least.get(name, np.nan), least)
        both = zip_longest(self.best, other.best, fillvalue=())
        self.best = [
            sorted([*own, *new], key=lambda row: (row[0][j], row[1]))[:k]
            for j, (own, new) in enumerate(both)
        ]
        self.front += other.front
        # sorted out when there are twice as many, so that the work grows with what is added
        if len(self.front) > 2 * self._settled + 1000:
            self.settle()

    def settle(self) -> None:
        """Leave in the front only what no other composition is better than, in order."""
        if self.front:
            values = np.array([row[0] for row in self.front]).T
            numbers = np.array([row[1] for row in self.front])
            self.front = [self.front[i] for i in undominated(values, numbers)]
        self._settled = len(self.front)

    def data(self) -> dict:
        """Return it as plain data."""
        self.settle()
        counts = {name: count.tolist() for name, count in self.counts.items()}
        least = {  # JSON has no NaN; None is read as one
            name: np.where(np.isnan(value), np.array(None), value).tolist()
            for name, value in self.least.items()
        }
        return {"counts": counts, "least": least, "best": self.best, "front": self.front}

    @classmethod
    def from_data(cls, data: dict) -> Tally:
        """Return the tally that `data` wrote."""
        return cls(
            {name: np.array(count, dtype=np.int64) for name, count in data["counts"].items()},
            {name: np.array(least, dtype=float) for name, least in data["least"].items()},
            [[(tuple(values), number) for values, number in rows] for rows in data["best"]],
            [(tuple(values), number) for values, number in data["front"]],
        )


class Judge:
    """Holds compositions of a space against a problem.

    Parameters
    ----------
    space : Space
    problem : Problem
    objectives : list of Quantity
        One to three, to be least.
    k : int
        How many of the best are kept.
    maps : list of (element, element)
        Pairs whose contents are counted together.
    """

    def __init__(
        self,
        space: Space,
        problem: Problem,
        objectives: list[Quantity],
        k: int,
        maps: Sequence[tuple[str, str]] = (),
    ):
        self.space, self.problem, self.k, self.maps = space, problem, k, list(maps)
        self.objectives = objectives
        self.constraints: list[Constraint] = problem.constraints
        self.labels = [c.label for c in self.constraints]
        self._nothing = nothing_of([*objectives, *(c.quantity for c in self.constraints)])
        # `hard_rows`: iron is left, and what a ratio divides by is positive.
        below = [f"sum below a ratio > 0 ({k})" for k in range(1, len(problem.hard_ends))]
        self.labels += ["sum of the contents ≤ 100", *below]
        at = [problem.index[e] for e in space.elements]
        rows = np.vstack([problem.rows, problem.hard_rows])[:, at]
        ends = np.append(problem.ends, problem.hard_ends)
        ends += _TOLERANCE * np.maximum(1.0, np.abs(ends))
        # What no composition of the space can break is not looked at.
        low, high = np.array([(v[0], v[-1]) for v in space.levels.values()]).T
        self._places = np.flatnonzero(np.maximum(rows * low, rows * high).sum(axis=1) > ends)
        self._rows, self._ends = rows[self._places], ends[self._places]
        self._curved: dict[str, list[int]] = {}
        for place in problem.curved:
            constraint = self.constraints[place]
            same = f"{constraint.quantity.key} {constraint.bare}"
            self._curved.setdefault(same, []).append(place)

    def block(self, number: int) -> tuple[Tally, np.ndarray]:
        """Judge a block; return its tally and the numbers of the compositions that keep all."""
        total, kept = Tally(), []
        for start in self.space.chunks(number):
            tally, numbers = self.chunk(self.space.at(start))
            total.add(tally, self.k)
            kept.append(numbers)
        return total, np.concatenate(kept)

    def chunk(self, block: Block) -> tuple[Tally, np.ndarray]:
        """Judge one chunk."""
        broken = self._broken(block)
        words = np.packbits(broken, axis=1, bitorder="little")
        words = np.pad(words, ((0, 0), (0, -words.shape[1] % 8))).view(np.uint64)
        once = np.zeros_like(words[0])
        twice = np.zeros_like(words[0])
        for row in words:
            twice |= once & row
            once |= row
        single = once & ~twice
        size = len(words)
        pairs = np.zeros((size, size), dtype=np.int64)
        for i in range(size):
            both = np.bitwise_count(words[i] & words[i:]).sum(axis=1, dtype=np.int64)
            pairs[i, i:] = pairs[i:, i] = both
        alone = np.bitwise_count(words & single).sum(axis=1, dtype=np.int64)
        at = np.flatnonzero(~broken.any(axis=0))
        counts = {"evaluated": block.size, "kept": len(at), "broken": pairs, "alone": alone}
        tally = Tally({name: np.asarray(count) for name, count in counts.items()})
        tally.counts |= self._levels(block, at)
        values = np.empty((len(self.objectives), 0))
        if len(at):
            values = self._objectives(block, at)
            tally.best, tally.front = self._best(values, block.start + at)
        for pair in self.maps:
            self._map(pair, block, broken, at, values[0], tally)
        return tally, block.start + at

    # --- the values ---------------------------------------------------------------------------

    @cached_property
    def _inner(self) -> tuple[np.ndarray, np.ndarray]:
        """What the inner elements add to each linear form, and which columns the others are."""
        inner = np.isin(self.space.elements, self.space.inner)
        grid = np.array([self.space.at(0).varied[e] for e in self.space.inner])
        return self._rows[:, inner] @ grid, np.flatnonzero(~inner)

    def _broken(self, block: Block) -> np.ndarray:
        broken = np.zeros((len(self.labels), block.size), dtype=bool)
        if block.fixed or not self.space.method:
            base, outer = self._inner
            fixed = np.array([block.fixed[self.space.elements[k]] for k in outer])
            left = self._ends - self._rows[:, outer] @ fixed
            for row, place in enumerate(self._places):
                np.greater(base[row], left[row], out=broken[place])
        else:
            contents = np.array([block.varied[e] for e in self.space.elements])
            broken[self._places] = self._rows @ contents > self._ends[:, None]
        if self._curved:
            space = self._space(block, slice(None))
            with np.errstate(all="ignore"):
                for places in self._curved.values():
                    value = _value(self.constraints[places[0]], space)
                    for i in places:
                        np.logical_not(self.constraints[i].kept(value), out=broken[i])
        return broken

    def _space(self, block: Block, at: slice | np.ndarray) -> dict[str, np.ndarray | float]:
        space: dict[str, np.ndarray | float] = {**self._nothing}
        space |= {e: np.float64(v) for e, v in block.fixed.items()}
        space |= {e: v[at] for e, v in block.varied.items()}
        varied = sum((v[at] for v in block.varied.values()), start=np.zeros(1))
        space["Fe"] = 100.0 - sum(block.fixed.values()) - varied
        return space | {c: np.float64(v) for c, v in self.problem.conditions.items()}

    def _objectives(self, block: Block, at: np.ndarray) -> np.ndarray:
        space = self._space(block, at)
        with np.errstate(all="ignore"):
            rows = [np.broadcast_to(q.value(space), len(at)) for q in self.objectives]
        return np.array(rows)

    def _best(self, values: np.ndarray, numbers: np.ndarray) -> tuple[list, list]:
        known = np.isfinite(values).all(axis=0)
        values, numbers = values[:, known], numbers[known]

        def rows(at: np.ndarray) -> list[Scored]:
            return list(
                zip(map(tuple, values[:, at].T.tolist()), numbers[at].tolist(), strict=True)
            )

        best = []
        for own in values:
            near = np.arange(len(own))
            if len(own) > self.k:  # equals are told by their number
                near = np.flatnonzero(own <= np.partition(own, self.k - 1)[self.k - 1])
            best.append(rows(near[np.lexsort((numbers[near], own[near]))][: self.k]))
        return best, rows(undominated(values, numbers)) if len(values) > 1 else []

    def _map(
        self, pair: tuple[str, str], block: Block, broken: np.ndarray, at: np.ndarray,
        values: np.ndarray, tally: Tally,
    ) -> None:  # fmt: skip
        name, shape = " ".join(pair), tuple(len(self.space.levels[e]) for e in pair)
        size = shape[0] * shape[1]
        place = np.broadcast_to(block.level[pair[0]] * shape[1] + block.level[pair[1]], block.size)
        least = np.full(size, np.nan)
        np.fmin.at(least, place[at], values)
        counts = [np.bincount(place[row], minlength=size) for row in broken]
        tally.least[name] = least.reshape(shape)
        tally.counts[name] = np.bincount(place[at], minlength=size).reshape(shape)
        tally.counts[f"broken {name}"] = np.array(counts).reshape(-1, *shape)

    def _levels(self, block: Block, at: np.ndarray) -> dict[str, np.ndarray]:
        return {
            element: np.bincount(
                np.broadcast_to(block.level[element], block.size)[at], minlength=len(levels)
            )
            for element, levels in self.space.levels.items()
        }


def _value(constraint: Constraint, space: dict) -> np.ndarray:
    """Return the value that a user reads: ended where the scale ends, but not where ranges ask."""
    relations = {} if constraint.bare else constraint.quantity.named
    read = {n: np.clip(r.value(space), r.floor, r.ceiling) for n, r in relations.items()}
    return constraint.quantity.value(space, read or None)


def undominated(values: np.ndarray, numbers: np.ndarray) -> np.ndarray:
    """Return the places of the columns that no other column is below or equal to in every row.

    In rising order of the first row; of equal columns the one with the least number.

    Examples
    --------
    >>> undominated(np.array([[1, 2, 3, 2], [9, 5, 6, 5]]), np.arange(4)).tolist()
    [0, 1]
    """
    left = np.lexsort((numbers, *values[::-1]))
    values, kept = values[:, left], []
    # The first of what is left is smallest in its first row: nothing left can be better in all.
    while len(left):
        kept.append(left[0])
        better = (values < values[:, :1]).any(axis=0)
        left, values = left[better], values[:, better]
    return np.array(kept, dtype=np.intp)
