"""What a screening tells: how much of a space keeps a brief, what closes it, and the best of it."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import pandas as pd

from gradekit.core.errors import InputError, one_of
from gradekit.core.markup import details, number, panel, table
from gradekit.design.brief import Brief
from gradekit.design.screen.space import Space
from gradekit.design.screen.tally import Scored, Tally


@dataclass(frozen=True, eq=False, repr=False)
class Screening:
    """The answer of `screen`.

    Attributes
    ----------
    space : Space
    brief : Brief
    labels : list of str
        The constraints.
    objectives : list of str
    tally : Tally
    """

    space: Space
    brief: Brief
    labels: list[str]
    objectives: list[str]
    tally: Tally

    @property
    def evaluated(self) -> int:
        """Compositions that were looked at."""
        return int(self.tally.counts["evaluated"])

    @property
    def kept(self) -> int:
        """Compositions that keep every constraint."""
        return int(self.tally.counts["kept"])

    @cached_property
    def best(self) -> pd.DataFrame:
        """The best compositions that keep everything, best first: a column an element, wt%.

        Best by the first objective; see `best_by`. The objectives are the last columns.
        """
        return self.best_by(self.objectives[0])

    def best_by(self, objective: str) -> pd.DataFrame:
        """Return the compositions that keep everything and are best by one of the objectives.

        Raises
        ------
        InputError
            A name that is none of `objectives`.
        """
        one_of("objective", objective, self.objectives)
        place = self.objectives.index(objective)
        return self._frame(self.tally.best[place] if self.tally.best else [])

    @cached_property
    def front(self) -> pd.DataFrame:
        """Of two or three objectives: the compositions of which no other is better in all."""
        self.tally.settle()
        return self._frame(self.tally.front)

    def _frame(self, rows: list[Scored]) -> pd.DataFrame:
        numbers = [number for _, number in rows]
        contents = self.space.contents(numbers) if numbers else None
        frame = pd.DataFrame(contents, columns=self.space.elements, dtype=float)
        for place, key in enumerate(self.objectives):
            frame[key] = pd.Series([values[place] for values, _ in rows], dtype=float)
        return frame

    @cached_property
    def by_constraint(self) -> pd.DataFrame:
        """What each constraint does to the space, the one that closes most first.

        `kept` and `share` count compositions that keep it, whatever else they break; `alone` those
        that it alone refuses: what would be gained without it.
        """
        broken = np.diag(self.tally.counts["broken"])
        frame = pd.DataFrame(
            {
                "kept": self.evaluated - broken,
                "share": 1.0 - broken / max(1, self.evaluated),
                "alone": self.tally.counts["alone"],
            },
            index=pd.Index(self.labels, name="constraint"),
        )
        return frame.sort_values(["share", "alone"], ascending=[True, False], kind="stable")

    @cached_property
    def pairs(self) -> pd.DataFrame:
        """Share of the space that keeps both of two constraints."""
        own = np.diag(self.tally.counts["broken"])
        either = own[:, None] + own[None, :] - self.tally.counts["broken"]
        shares = 1.0 - either / max(1, self.evaluated)
        return pd.DataFrame(shares, index=self.labels, columns=self.labels)

    @cached_property
    def ranges(self) -> pd.DataFrame:
        """Where the compositions that keep everything lie, a row an element, wt%.

        `min` and `max` among them, the middle half of them (`lower`, `upper`, quartiles), and
        `low`, `high` of the space.
        """
        rows = {}
        for element, levels in self.space.levels.items():
            below = np.cumsum(self.tally.counts[element])
            at = np.searchsorted(below, np.maximum(1, below[-1] * np.array([0.0, 1.0, 0.25, 0.75])))
            rows[element] = [*levels[[0, -1]], *(levels[at] if below[-1] else [np.nan] * 4)]
        columns = ["low", "high", "min", "max", "lower", "upper"]
        return pd.DataFrame.from_dict(rows, orient="index", columns=columns, dtype=float)

    def histogram(self, element: str) -> pd.Series:
        """Return how many of the compositions that keep everything have each content."""
        levels = pd.Index(self.space.levels[element], name=f"{element}, wt%")
        return pd.Series(self.tally.counts[element], index=levels, name="compositions")

    def map(self, across: str, up: str) -> pd.DataFrame:
        """Return the space over the contents of two elements, a row a pair of contents.

        Parameters
        ----------
        across, up : elements of a pair of `maps`

        Returns
        -------
        DataFrame
            Both contents (wt%), `kept` (compositions there that keep everything), `least` (the
            least objective among them, NaN where there is none) and `closed by`: the constraint
            that most compositions there break, '' where some keep everything.

        Raises
        ------
        InputError
            A pair that was not asked for.
        """
        counts, known = self.tally.counts, self.tally.least
        pair = next((p for p in ((across, up), (up, across)) if " ".join(p) in known), None)
        if pair is None:
            there = f"a pair of maps= (there are: {', '.join(known) or 'none'})"
            raise InputError("map", there, f"{across} {up}")
        name = " ".join(pair)
        levels = [self.space.levels[e] for e in pair]
        frame = pd.DataFrame(
            {
                pair[0]: np.repeat(levels[0], len(levels[1])),
                pair[1]: np.tile(levels[1], len(levels[0])),
                "kept": counts[name].ravel(),
                "least": known[name].ravel(),
            }
        )
        worst = counts[f"broken {name}"].reshape(len(self.labels), -1).argmax(axis=0)
        closed = np.array(self.labels, dtype=object)[worst]
        return frame.assign(**{"closed by": np.where(frame["kept"] > 0, "", closed)})

    @property
    def sentence(self) -> str:
        """What was found, in a sentence."""
        whole = f"{self.evaluated:,} compositions".replace(",", " ")
        if not self.kept:
            closest = self.by_constraint.index[0]
            return f"None of {whole} keeps the brief; {closest} leaves least of the space."
        share = 100 * self.kept / self.evaluated
        first = ", ".join(f"{e} {number(v, 4)}" for e, v in self.best.iloc[0].items())
        return f"{number(share, 3)} % of {whole} keep the brief. The best: {first}."

    def __repr__(self) -> str:
        return self.sentence

    def _repr_html_(self) -> str:
        return panel(
            table(self.best.head(5), "The best, wt%"),
            details(
                "What each constraint leaves of the space",
                table(self.by_constraint, "Compositions that keep it"),
            ),
            details(
                "Where the compositions that keep everything lie",
                table(self.ranges, "wt%"),
            ),
            lead=self.sentence,
        )
