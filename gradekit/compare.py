"""Answering a substitution: criterion by criterion, what decides, and what would change it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import pandas as pd

from gradekit.errors import InputError
from gradekit.evaluate import evaluate
from gradekit.grades import grades
from gradekit.html import escape, panel, table, verdict
from gradekit.service import corrosion, working
from gradekit.service.candidate import Candidate, candidate
from gradekit.service.finding import VERDICTS, Finding, worst
from gradekit.service.needs import Service

__all__ = ["Comparison", "compare_grades"]

# Criteria in the order in which the first shortfall decides.
_ORDER = (
    "product form", "atmosphere", "water", "free chlorine", "stress corrosion", "weld", "heat",
    "cold", "magnetism", "skin contact", "finish", "pitting index", "proof strength", "forming",
    "chemicals", "food contact", "pressure", "sour service", "load bearing",
)  # fmt: skip
WHO = (
    "No comparison approves a material. The customer's engineer, the design code and the standard "
    "in force decide, on the heat's own certificate and, where said, on tests."
)


def findings(steel: Candidate, reference: Candidate, service: Service) -> list[Finding]:
    """Return every criterion that the service asks for, on one steel."""
    found = [
        corrosion.air(steel, service),
        corrosion.water(steel, service),
        corrosion.chlorine(steel, service),
        corrosion.cracking(steel, service),
        corrosion.weld(steel, service),
        corrosion.chemicals(steel, service),
        corrosion.pitting_index(steel, reference),
        working.strength(steel, reference, service),
        working.forming(steel, reference, service),
        working.magnetism(steel, service),
        working.heat(steel, service),
        working.cold(steel, service),
        working.finish(steel, service),
        working.skin(steel, service),
        working.food(steel, service),
        *working.codes(steel, service),
    ]
    kept = [f for f in found if f is not None]
    if any(f.criterion in ("atmosphere", "water") and f.verdict != "not assessed" for f in kept):
        # a direct answer on corrosion outranks the index, which only ranks steels in a test
        kept = [
            replace(f, verdict=_softened(f)) if f.criterion == "pitting index" else f for f in kept
        ]
    return sorted(kept, key=lambda f: _ORDER.index(f.criterion))


def _softened(finding: Finding) -> str:
    return "marginal" if finding.verdict == "falls short" else finding.verdict


@dataclass(frozen=True, eq=False)
class Comparison:
    """The answer to a substitution.

    Attributes
    ----------
    reference : Candidate
    candidates : tuple of Candidate
    service : Service
    prices : object or None
        What alloy cost is reckoned with.
    """

    reference: Candidate
    candidates: tuple[Candidate, ...]
    service: Service
    prices: object = None

    @cached_property
    def findings(self) -> dict[str, list[Finding]]:
        """Findings by name of the candidate."""
        return {c.name: findings(c, self.reference, self.service) for c in self.candidates}

    @cached_property
    def table(self) -> pd.DataFrame:
        """One row a criterion and grade: verdict, number, limit, unit, reason, source, evidence."""
        rows = [
            {
                "criterion": f.criterion, "grade": name, "verdict": f.verdict,
                "number": np.nan if f.number is None else f.number,
                "limit": np.nan if f.limit is None else f.limit,
                "unit": f.unit, "reason": f.reason, "what would change it": f.remedy,
                "source": f.source, "evidence": f.status,
            }
            for name, found in self.findings.items()
            for f in found
        ]  # fmt: skip
        return pd.DataFrame(rows)

    @cached_property
    def decisive(self) -> pd.DataFrame:
        """For each grade the criterion that decides: the first shortfall, else the weakest."""
        rows = []
        for name, found in self.findings.items():
            poorest = worst([f for f in found if f.verdict != "not assessed"] or found)
            first = next(f for f in found if f.verdict == poorest)
            open_points = [f.criterion for f in found if f.verdict == "not assessed"]
            rows.append(
                {
                    "grade": name,
                    "answer": _answer(poorest, open_points),
                    "decisive": "none" if poorest == "meets" else first.criterion,
                    "why": "every assessed criterion is met"
                    if poorest == "meets"
                    else first.reason,
                    "what would change it": first.remedy if poorest != "meets" else "",
                    "not assessed": ", ".join(open_points),
                    "cost difference": self._cost_difference(name),
                }
            )
        return pd.DataFrame(rows).set_index("grade")

    @property
    def cost_unit(self) -> str:
        return getattr(self.prices, "unit", "")

    def _cost_difference(self, name: str) -> float:
        if self.prices is None:
            return float("nan")
        steel = next(c for c in self.candidates if c.name == name)
        return self._cost(steel) - self._cost(self.reference)

    def _cost(self, steel: Candidate) -> float:
        """Alloy cost at the cheap end of the window, where producers melt."""
        relation = self.prices.cost
        heat = {e: steel.least.get(e, 0.0) for e in relation.elements if e != "Fe"}
        return float(evaluate(heat, relation).values.iloc[0, 0])

    @property
    def short_answer(self) -> str:
        """The answer in a sentence or two."""
        lines = []
        for name, row in self.decisive.iterrows():
            line = f"{name} for {self.reference.name}: {row['answer']}"
            if row["decisive"] != "none":
                line += f" ({row['decisive']})"
            lines.append(line)
        return "; ".join(lines) + "."

    def report(self, path: str, paper: str = "A4"):
        """Write the printable sheet, `.html` or `.pdf`; see `gradekit.report`."""
        from gradekit.report import write_answer  # a layer above: the sheet needs the pictures

        return write_answer(self, path, paper=paper)

    def _repr_html_(self) -> str:
        shown = self.decisive.drop(columns=["cost difference"] if self.prices is None else [])
        parts = [table(shown, "What decides", wide=["why", "what would change it", "not assessed"])]
        for name, found in self.findings.items():
            frame = pd.DataFrame(
                {
                    "verdict": [verdict(f.verdict) for f in found],
                    "reason": [f.reason for f in found],
                    "what would change it": [f.remedy for f in found],
                    "source": [f.source for f in found],
                    "evidence": [f.status for f in found],
                },
                index=pd.Index([f.criterion for f in found], name="criterion"),
            )
            wide = ["reason", "what would change it", "source"]
            parts.append(table(frame, f"{name} for {self.reference.name}", wide=wide))
        parts.append(f'<p class="s">{escape(WHO)}</p>')
        return panel(*parts, lead=self.short_answer)


def _answer(poorest: str, open_points: list[str]) -> str:
    if poorest == "falls short":
        return "speaks against it"
    said = "supported" if poorest == "meets" else "supported with reservations"
    if poorest == "not assessed":
        said = "cannot be judged from composition"
    return f"{said}, {len(open_points)} open" if open_points else said


def compare_grades(
    reference: object,
    candidates: object,
    service: Service,
    *,
    prices: object = None,
    most: int = 5,
) -> Comparison:
    """Compare candidates with the grade that was asked for, in one service.

    Parameters
    ----------
    reference : str, Grade, or one heat
        What the customer asked for.
    candidates : str, heat, list of these, or 'suggest'
        Standard grades, the works' own heats, or 'suggest' to search all grades.
    service : Service
    prices : Prices, optional
        From `read_prices`, for the difference in alloy cost.
    most : int
        How many grades 'suggest' returns.

    Returns
    -------
    Comparison
        `.table`, `.decisive`, `.short_answer`, `.report(path)`. It says what supports a
        substitution and what speaks against it; it never approves one.

    Examples
    --------
    >>> from gradekit.service.exposure import Atmosphere
    >>> c = compare_grades("1.4301", "1.4016", Service(atmosphere=Atmosphere(indoors=True)))
    >>> c.table.set_index("criterion").loc["atmosphere", "verdict"]
    'meets'
    """
    if not isinstance(service, Service):
        raise InputError("service", "a gk.Service(...)", service)
    asked = candidate(reference)
    if isinstance(candidates, str) and candidates == "suggest":
        chosen = suggest(asked, service, most)
    elif (
        isinstance(candidates, (str, Candidate))
        or not isinstance(candidates, Iterable)
        or isinstance(candidates, (dict, pd.Series))
    ):
        chosen = [candidate(candidates)]
    elif isinstance(candidates, pd.DataFrame):
        chosen = [candidate(candidates.loc[[heat]]) for heat in candidates.index]
    else:
        chosen = [candidate(c) for c in candidates]
    if not chosen:
        raise InputError("candidates", "at least one grade or heat", candidates)
    return Comparison(asked, tuple(chosen), service, prices)


def suggest(reference: Candidate, service: Service, most: int) -> list[Candidate]:
    """Return the grades that the criteria speak least against, the nearest reference first."""
    ranked = []
    for number in dict.fromkeys(grades()["grade"]):
        if number == reference.number:
            continue
        steel = candidate(number)
        found = findings(steel, reference, service)
        counts = [sum(f.verdict == v for f in found) for v in reversed(VERDICTS)]
        # of equals the leaner comes first: it is what a substitution is asked for
        ranked.append((*counts[:1], counts[1] + counts[2], _dear(steel), number, steel))
    ranked.sort(key=lambda r: r[:4])
    return [r[-1] for r in ranked[:most]]


def _dear(steel: Candidate) -> float:
    """Nickel and molybdenum at the cheap end, as the order of what a grade costs."""
    return steel.least.get("Ni", 0.0) + 2.0 * steel.least.get("Mo", 0.0)
