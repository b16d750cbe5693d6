"""The answer to a brief as a user meets it: a page, a text, a sheet, and other ways to go."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import pandas as pd

from gradekit.core.aliases import PathLike
from gradekit.core.errors import NOTHING, InputError
from gradekit.core.markup import panel
from gradekit.design.alternatives import Front, Routes, front, other_ways
from gradekit.design.answer import DesignAnswer
from gradekit.design.brief import Aim, objective
from gradekit.design.sheet import export
from gradekit.design.show import answer_lines, headline, lead_lines, pages, text


@dataclass(frozen=True, eq=False)
class Design(DesignAnswer):
    """An aim that meets a brief, or why there is none; shown, printed, and compared.

    `help(Design)` lists what is known of it; what is asked for is computed then.
    """

    @cached_property
    def headline(self) -> str:
        """Whether the brief is met and how surely, in one line."""
        return headline(self)

    def front(self, other: Aim | None = None, points: int = 50) -> Front:
        """Return the curve of the objective against another one.

        Parameters
        ----------
        other : as `Brief.minimise`, optional
            By default the second aim of the brief.
        points : int
        """
        self.met("front")
        if other is None:
            if len(self.brief.objectives) < 2:
                raise InputError(
                    "other aim", "given, or the brief must minimise two", self.brief.minimise,
                    "design.front('co2')",
                )  # fmt: skip
            other = self.brief.minimise[1]
        priced = self.prices.relations if self.prices else {}
        quantity = objective(other, priced)
        if quantity.awaited:
            raise InputError("prices", f"given, because {other} needs them", NOTHING)
        return front(self.problem, quantity, points, self.warning)

    def alternatives(
        self, allowed: float = 0.05, elements: tuple[str, ...] = ("N", "Cu", "Mn", "Ni")
    ) -> Routes:
        """Return ways that differ in kind and cost at most `allowed` (a fraction) more."""
        self.met("alternatives")
        return other_ways(
            self.problem, self.solution, self.scatter, allowed, tuple(elements), self.warning
        )

    def met(self, what: str = "answer") -> Design:
        """Return this design, or refuse in words where its brief cannot be met.

        Raises
        ------
        InputError
            Which limits cannot be kept together.
        """
        if not self.feasible:
            raise InputError(what, "asked of a brief that can be met", self.why_not.words)
        return self

    # --- showing ----------------------------------------------------------------------------

    def _repr_html_(self) -> str:
        return panel(*pages(self), lead=lead_lines(self))

    def __repr__(self) -> str:
        return text(self)

    def export(self, path: PathLike) -> Path:
        """Write the melt-shop sheet: .xlsx for a workbook, .html for a page to print.

        Returns
        -------
        Path
        """
        self.met("sheet")
        notes = pd.DataFrame({"note": [*answer_lines(self), *self.flags]})
        notes.index = pd.RangeIndex(1, len(notes) + 1, name="no.")
        tables = {
            "aim and window": self.sheet,
            "limits": self.limits,
            "certainty": self.certainty,
            "shadow prices": self.shadow_prices,
            "notes": notes,
        }
        title = f"Melt-shop sheet {self.brief.name}".strip()
        return export(path, title, self.headline, pages(self), tables)
