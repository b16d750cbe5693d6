"""Answering a substitution: criterion by criterion, what decides, and what would change it."""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, cached_property, partial
from pathlib import Path

import numpy as np
import pandas as pd

from gradekit.core.errors import NOTHING, InputError, said
from gradekit.core.markup import panel, table, verdict
from gradekit.core.pages import page
from gradekit.core.verdicts import Verdict, worst
from gradekit.design.prices import Prices
from gradekit.service.candidate import Candidate, CandidateLike, candidate, standard_candidates
from gradekit.service.criteria import CHOSEN_FOR, ORDER, findings, left_open
from gradekit.service.exposure import figures_of
from gradekit.service.figures import figures
from gradekit.service.finding import Finding, no_worse
from gradekit.service.needs import Service
from gradekit.service.search import suggest
from gradekit.service.stock import Stock
from gradekit.service.surcharge import alloy_cost, footprint, surcharge_table


@dataclass(frozen=True, eq=False)
class Comparison:
    """The answer to a substitution.

    Attributes
    ----------
    reference : Candidate
    candidates : tuple of Candidate
    service : Service
    prices : Prices or None
        What alloy cost is reckoned with.
    searched : DataFrame or None
        After 'suggest': every grade of the tables with what speaks against it, what is reserved
        and open, and whether it is on the short list.
    customer : str
        Whose question it is, for the head of the sheet; '' where that is not said.
    """

    reference: Candidate
    candidates: tuple[Candidate, ...]
    service: Service
    prices: Prices | None = None
    searched: pd.DataFrame | None = None
    customer: str = ""
    stock: Stock | None = None

    @cached_property
    def findings(self) -> dict[str, list[Finding]]:
        """Findings by name of the candidate."""
        return {c.name: findings(c, self.reference, self.service) for c in self.candidates}

    @property
    def criteria(self) -> list[str]:
        """The criteria that the service asks for, in the order in which they decide."""
        asked = {f.criterion for of_grade in self.findings.values() for f in of_grade}
        return [name for name in ORDER if name in asked]

    @cached_property
    def baseline(self) -> list[Finding]:
        """The same criteria on the reference: what it leaves open, a candidate may leave open."""
        return findings(self.reference, self.reference, self.service)

    @cached_property
    def table(self) -> pd.DataFrame:
        """One row a criterion and grade: verdict, number, limit, unit, reason, source, evidence."""
        rows = [
            (f.criterion, name, f.verdict, *np.array((f.number, f.limit), dtype=float), f.unit,
             f.reason, f.remedy, f.source, f.status)
            for name, own in self.findings.items()
            for f in own
        ]  # fmt: skip
        return pd.DataFrame(rows, columns=_COLUMNS)

    @cached_property
    def decisive(self) -> pd.DataFrame:
        """For each grade the criterion that decides: the first shortfall, else the weakest.

        Of several, one in which the present grade stands better decides; where there is none,
        'beside now' says how the present grade stands in it.
        """
        rows, now = [], {f.criterion: f for f in self.baseline}
        for steel in self.candidates:
            of_grade = self.findings[steel.name]
            poorest = worst((f.verdict for f in of_grade), assessed=True)
            opened = self._open(of_grade, poorest, now)
            met = poorest == "ok" and not any(f.criterion in self._the_question for f in opened)
            if opened:
                poorest = "not assessed"
            # a stable order: the first that is the candidate's own weakness, else the first
            first = min(
                opened or [f for f in of_grade if f.verdict == poorest],
                key=lambda f: _of_both(f, now.get(f.criterion)),
            )
            both = no_worse(first, now.get(first.criterion))
            if poorest == "caution" and (both or first.criterion not in _ATTACKS):
                # no caution of its own, or of another kind: where the grade now holds in air and
                # water, what nobody could assess of them in this one decides, but in a dry room
                unknown = [
                    f for f in of_grade
                    if f.verdict == "not assessed" and f.criterion in _ATTACKS
                    and (both or (now[f.criterion].verdict == "ok" and f.limit != 1))
                ]  # fmt: skip
                first = next(iter(unknown), first)
            row = {
                "grade": steel.name, "sign": verdict(poorest).split()[0], "answer": "",
                "decisive": "none", "beside now": "", "why": "every assessed criterion is met",
                "what would change it": "",
            }  # fmt: skip
            if poorest != "ok":
                row["decisive"] = _named(first, of_grade, now)
                row["beside now"] = _beside(first, now.get(first.criterion))
                row["why"], row["what would change it"] = first.reason, first.remedy
            open_points = [f.criterion for f in of_grade if f.verdict == "not assessed"]
            row["answer"] = _answer(poorest, open_points, bool(row["beside now"]), met)
            row["not assessed"] = ", ".join(open_points)
            rows.append(row | {"cost difference": self._cost_difference(steel)})
        return pd.DataFrame(rows).set_index("grade")

    def _open(
        self, of_grade: list[Finding], poorest: Verdict, now: dict[str, Finding]
    ) -> list[Finding]:
        """The open points that decide: what was named and nobody assessed never ends in an ok; what
        was asked for before all, or what the present grade was chosen for, outweighs a caution."""
        if poorest not in ("ok", "caution"):
            return []
        opened = left_open(of_grade)
        first = [f for f in opened if f.criterion in self._the_question] or [
            f for f in opened if f.criterion in CHOSEN_FOR and not no_worse(f, now.get(f.criterion))
        ]
        return first or (opened if poorest == "ok" else [])

    @property
    def _the_question(self) -> tuple[str, ...]:
        """Criteria that are what was asked for, so that nothing else answers it."""
        s = self.service
        alone = s.water == "none" and s.atmosphere is None and not s.dry_heat
        return ("hot gas", "sour service", *(("chemicals",) if alone else ()))

    @property
    def steels(self) -> tuple[Candidate, ...]:
        """The present grade, then the candidates: one that is the present grade stands once."""
        others = (c for c in self.candidates if c.name != self.reference.name)
        return self.reference, *others

    @cached_property
    def figures(self) -> pd.DataFrame:
        """What customers ask next, side by side: strengths, weight, expansion, filler ..., with
        prices the alloy cost and footprint of the leanest heat, with a stock table what is to be
        had."""
        steels = self.steels
        compared = figures(steels, self.service)
        if self.prices is not None:
            compared.loc["alloy cost against now"] = [
                f"{self._cost_difference(s):+.0f} {self.cost_unit}" for s in steels
            ]
            compared.loc["CO2 of the alloys"] = [footprint(self.prices, s) for s in steels]
        if self.stock is not None:
            compared.loc["to be had"] = [self.stock.words(s.number, self.service) for s in steels]
        return compared

    @cached_property
    def surcharge(self) -> pd.DataFrame:
        """The difference of alloy cost element by element, contents and prices named; empty
        without prices."""
        if self.prices is None:
            return pd.DataFrame()
        return surcharge_table(self.prices, self.steels)

    @property
    def cost_unit(self) -> str:
        return getattr(self.prices, "unit", "")

    @property
    def cost_basis(self) -> str:
        """What a cost difference rests on: which contents, and what the prices are."""
        if self.prices is None:
            return ""
        return f"at lowest contents, prices {self.prices.cost.status}"

    def _cost_difference(self, steel: Candidate) -> float:
        if self.prices is None:
            return float("nan")
        return alloy_cost(self.prices, steel) - alloy_cost(self.prices, self.reference)

    @property
    def short_answer(self) -> str:
        """The answer in a sentence or two."""
        lines = [self.present_shortfall] if self.present_shortfall else []
        for name, row in self.decisive.iterrows():
            lines.append(f"{name} for {self.reference.name}: {row['answer']}")
            if row["decisive"] != "none":
                lines[-1] += f" ({', '.join(filter(None, (row['decisive'], row['beside now'])))})"
        return "; ".join(lines) + "."

    @property
    def present_shortfall(self) -> str:
        """Where the present grade itself falls short of the service, in words, or ''."""
        short = [
            f.criterion
            if f.number is None or f.limit is None
            else f"{f.criterion}, {figures_of(f, 'against')}"
            for f in self.baseline
            if f.verdict == "stop"
        ]
        named = f"{self.reference.name}, the present grade, itself falls short"
        return f"{named}: {'; '.join(short)}" if short else ""

    @property
    def inputs(self) -> dict:
        """What gives this answer again, as plain data; contents (wt%) of heats as low and high."""
        given = {
            "reference": self.reference.name,
            "candidates": [s.name for s in self.candidates],
            "service": self.service.as_dict(),
            "customer": self.customer,
            "heats_wt_pct": {
                s.name: {e: [s.least.get(e), s.most.get(e)] for e in {**s.least, **s.most}}
                for s in self.steels
                if s.is_heat
            },
            "prices": getattr(self.prices, "source", None),
        }
        return {k: v for k, v in given.items() if v}

    def report(
        self,
        path: str | os.PathLike,
        paper: str = "A4",
        *,
        sender: str | os.PathLike | None = None,
        language: str = "en",
    ) -> Path:
        """Write the printable sheet, `.html` or `.pdf`: the answer on one page, figures behind it.

        Parameters
        ----------
        path : path
        paper : 'A4' or 'Letter'
        sender : path, optional
            A text file with the sender's own head, a line a line.
        language : str
            Of the sheet's fixed words: 'en', 'de', or any for which there is a words table.

        Returns
        -------
        Path

        Raises
        ------
        InputError
            No customer or no question: no sheet goes out that does not name both. Another ending,
            paper or language; a PDF where no browser is installed.

        Examples
        --------
        >>> import tempfile
        >>> asked = Service(question="May the trays be of 1.4016?")
        >>> answer = compare_grades("1.4301", "1.4016", asked, customer="Orrin Cutlery")
        >>> answer.report(tempfile.mkdtemp() + "/answer.html").suffix
        '.html'
        """
        sheet = page("substitution")
        return sheet.write_answer(self, path, paper, sender=sender, language=language)

    def __repr__(self) -> str:
        return self.short_answer

    def _repr_html_(self) -> str:
        parts = page("substitution").answer_block(self)
        if self.searched is not None:
            kept = self.searched[self.searched["place"] != ""].drop(columns=["rank"])
            many = f"Short list out of {len(self.searched)} grades"
            many += f", cost {self.cost_basis}" if self.cost_basis else ""
            parts.append(table(kept, many, wide=["why"], rows=40))
        return panel(*parts)


_COLUMNS = ["criterion", "grade", "verdict", "number", "limit", "unit", "reason",
            "what would change it", "source", "evidence"]  # fmt: skip
#: Ways in which water and air attack: two of them are named together.
_ATTACKS = ("atmosphere", "water", "free chlorine", "stress corrosion")


def _named(first: Finding, of_grade: list[Finding], now: dict[str, Finding]) -> str:
    """The criterion that decides, with a second attack of the same verdict beside it."""
    tied = [
        f.criterion
        for f in of_grade
        if f.criterion in _ATTACKS and f.verdict == first.verdict == "stop"
        and not no_worse(f, now.get(f.criterion))
    ]  # fmt: skip
    return " and ".join(tied[:2]) if first.criterion in tied else first.criterion


def _of_both(finding: Finding, now: Finding | None) -> bool:
    """Whether a finding is no weakness of the candidate's own; where the present grade stops and
    the candidate does not, the question is asked for its sake."""
    asked = now is not None and now.verdict == "stop" != finding.verdict
    return no_worse(finding, now) and not asked


def _beside(finding: Finding, now: Finding | None) -> str:
    """How the present grade stands in a criterion in which it is no better, or ''."""
    if now is None or not no_worse(finding, now):
        return ""
    same = now.verdict == finding.verdict
    return "the present grade too" if same else f"the present grade: {now.verdict}"


def _answer(poorest: str, open_points: list[str], shared: bool, met: bool) -> str:
    """The answer in words; `shared` tells that the present grade stands no better."""
    if poorest == "stop":
        return "not supported, nor is the present grade" if shared else "not supported"
    said = "supported" if poorest == "ok" else "supported with reservations"
    if poorest == "not assessed":
        said = "cannot be judged from composition"
        if shared and met:
            said = "supported as far as assessed"
    return f"{said}, {len(open_points)} open" if open_points else said


def compare_grades(
    reference: CandidateLike,
    candidates: CandidateLike,
    service: Service | None = None,
    *,
    prices: Prices | None = None,
    most: int = 5,
    customer: str = "",
    stock: Stock | None = None,
) -> Comparison:
    """Compare candidates with the grade that was asked for, in one service.

    Parameters
    ----------
    reference : str, Grade, or one heat
        What the customer asked for.
    candidates : str, heat, list of these, or 'suggest'
        Standard grades, the works' own heats, or 'suggest' to search all grades.
    service : Service, optional
        Without one nothing is known of the service, and what depends on it stays open.
    prices : Prices, optional
        From `read_prices`, for the difference in alloy cost.
    most : int
        How many grades 'suggest' returns.
    customer : str
        Whose question it is: it stands at the head of the sheet, which needs it.
    stock : Stock, optional
        From `read_stock`: what is to be had, for the figures.

    Returns
    -------
    Comparison
        `.table`, `.decisive`, `.short_answer`, `.report(path)`. It says what supports a
        substitution and what speaks against it; it never approves one.

    Raises
    ------
    InputError
        A grade that is not known, no candidate or one twice, a service or prices of another
        kind.

    Examples
    --------
    >>> from gradekit.service.exposure import Atmosphere
    >>> c = compare_grades("1.4301", "1.4016", Service(atmosphere=Atmosphere(indoors=True)))
    >>> c.table.set_index("criterion").loc["atmosphere", "verdict"]
    'ok'
    """
    service = Service() if service is None else service
    if not isinstance(service, Service):
        raise InputError("service", "a gk.Service(...)", service)
    if not (isinstance(most, int) and most >= 1):
        raise InputError("most", "a whole number, at least 1", most)
    if prices is not None and not isinstance(prices, Prices):
        raise InputError("prices", "what gk.read_prices(...) returned", prices)
    if not isinstance(customer, str):
        raise InputError("customer", "a name", customer)
    if stock is not None and not isinstance(stock, Stock):
        raise InputError("stock", "what gk.service.read_stock(...) returned", stock)
    asked, searched = candidate(reference), None
    if isinstance(candidates, str) and candidates.strip().lower() == "suggest":
        cost = None if prices is None else cache(partial(alloy_cost, prices))
        searched = suggest(asked, service, most, cost, getattr(prices, "unit", ""))
        steels = {steel.number: steel for steel in standard_candidates()}
        chosen = [steels[number] for number in searched.index[:most]]
    else:
        chosen = [candidate(c) for c in _each(candidates)]
    if not chosen:
        raise InputError("candidates", "at least one grade or heat", NOTHING)
    names = [c.name for c in chosen]
    if twice := {n for n in names if names.count(n) > 1}:
        raise InputError("candidates", "each one once", said(f"{', '.join(twice)} twice"))
    return Comparison(asked, tuple(chosen), service, prices, searched, customer.strip(), stock)


def _each(candidates: CandidateLike) -> Iterable:
    """One candidate, or several, as several."""
    if isinstance(candidates, pd.DataFrame):
        return [candidates.loc[[heat]] for heat in candidates.index]
    one = (str, Candidate, dict, pd.Series)
    if isinstance(candidates, one) or not isinstance(candidates, Iterable):
        return [candidates]
    return candidates
