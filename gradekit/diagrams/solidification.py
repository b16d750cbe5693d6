"""Which phase solidifies first: A, AF, FA or F by every criterion, each with its own equivalents.

A limit belongs to the equivalents with which it was found. Here they are one object, made from one
table: there is no call that takes a limit of one and a ratio of another.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import cache, cached_property, partial

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike, Label
from gradekit.core.flags import Flag
from gradekit.core.formula import Formula
from gradekit.core.markup import details, items, panel, small, table
from gradekit.core.sources import cited
from gradekit.diagrams.constitution import Diagram, diagram
from gradekit.diagrams.criteria import MODES, Band, criteria, limits
from gradekit.heats.batch import as_batch
from gradekit.heats.columns import amount
from gradekit.relations.evaluate import evaluate_batch
from gradekit.relations.groups import MARTENSITIC
from gradekit.relations.steels import families_by_votes

_FIRST = {"A": "austenite", "AF": "austenite", "FA": "ferrite", "F": "ferrite"}
_CHART = "wrc_1992"
_FIELDS = f"{_CHART}_fields"
_SILENT = Band((), np.nan, np.nan, "", "", "")  # of a criterion that says nothing
_CARBON = 0.25  # wt% C of martensitic steel, to which the axes of Schaeffler's chart were drawn


class Solidification:
    """Solidification modes of a batch.

    Attributes
    ----------
    modes : DataFrame, shape (heats, criteria)
        'A', 'AF', 'FA', 'F', or what cannot be told apart: 'A or AF'; '' where a criterion says
        nothing (an element is missing, the heat lies outside the diagram, or it was made from
        steels of another family).
    ratios : DataFrame, same heats, one column a ratio
    first : Series
        Phase that solidifies first: 'austenite', 'ferrite', 'disputed' or 'not assessed'.
    agreement : Series
        In words how far the criteria agree.
    impurities : DataFrame
        P + S against the limit that holds where austenite solidifies first.
    """

    def __init__(self, heats: pd.DataFrame):
        self.heats = heats
        self._chart: Diagram = diagram(_CHART)
        ratios = list(dict.fromkeys(c.relation for c in criteria()))
        self._result = evaluate_batch(heats, list(dict.fromkeys([*ratios, *self._chart.axes])))
        self.ratios = self._result.values[ratios]
        self._placed = self._chart.locate(self._result)

    def _readings(self) -> Iterator[tuple[str, str, pd.Series, list[Band], Callable[[Label], str]]]:
        """Yield name, equivalents, ratio, bands and words by heat of each column of `modes`."""
        for criterion in criteria():
            ratio = self.ratios[criterion.relation]
            own = ratio.where(self.speaks(criterion.relation))
            bands = [criterion.band(r) or _SILENT for r in own]
            words = partial(self._result.words, name=criterion.relation)
            yield criterion.name, criterion.relation, ratio, bands, words
        chart, placed = self._chart, self._placed
        speaks = self.speaks(chart.axes[0])
        source = " ".join(chart.data.source)
        fields = {
            label: Band((label,), np.nan, np.nan, "", chart.caution, source)
            for label in (*chart.labels, "")
        }
        bands = [fields[r] for r in placed["region"].astype(str).where(speaks, "")]
        flags = placed["flag"] | np.where(speaks, 0, Flag.OTHER_FAMILY)
        no_ratio = pd.Series(np.nan, self.heats.index)

        def said(heat: Label) -> str:
            return Flag(int(flags[heat])).words()

        yield _FIELDS, ", ".join(chart.axes), no_ratio, bands, said

    def speaks(self, relation: str) -> pd.Series:
        """Whether a ratio was made from steels of the family of each heat.

        Schaeffler's chart spans all families, but not the carbon of knives: 14Cr-0.5C freezes as
        ferrite, where the ratio says austenite.
        """
        own = (self._result.flags[relation] & int(Flag.OTHER_FAMILY)) == 0
        hard = families_by_votes(self.heats).isin(MARTENSITIC)
        return own & ~(hard & (amount(self.heats, "C") > _CARBON))

    @cached_property
    def modes(self) -> pd.DataFrame:
        columns = {n: [b.word for b in bands] for n, _, _, bands, _ in self._readings()}
        return pd.DataFrame(columns, index=self.heats.index)

    @property
    def titles(self) -> dict[str, str]:
        """What each column of `modes` is called."""
        named = {c.name: c.title for c in criteria()}
        return named | {_FIELDS: f"fields of the {self._chart.title}"}

    def long(self) -> pd.DataFrame:
        """Return one row a heat and criterion: ratio, mode, limits, flag, status, source."""
        titles = self.titles
        rows = [
            {
                "heat": heat,
                "criterion": titles[name],
                "equivalents": equivalents,
                "ratio": ratio[heat],
                "mode": band.word,
                "above": band.lower,
                "up to": band.upper,
                "flag": words(heat),
                "status": band.status,
                "source": cited(band.source),
            }
            for name, equivalents, ratio, bands, words in self._readings()
            for heat, band in zip(self.heats.index, bands, strict=True)
        ]
        by_heat = [row for k in range(len(self.heats)) for row in rows[k :: len(self.heats)]]
        return pd.DataFrame(by_heat).replace([np.inf, -np.inf], np.nan)

    @cached_property
    def first(self) -> pd.Series:
        return self._by_heat(_first_phase, "solidifies first")

    @cached_property
    def agreement(self) -> pd.Series:
        return self._by_heat(_agreement, "agreement")

    def _by_heat(self, told: Callable[[dict[str, str]], str], name: str) -> pd.Series:
        words = [told(row) for row in self.modes.to_dict("records")]
        return pd.Series(words, self.heats.index, name=name)

    @cached_property
    def impurities(self) -> pd.DataFrame:
        """P + S (wt%), its limit (wt%) where the given ratio asks for one, and the margin.

        The limit is a rule recalled, not read; its status stands beside it. It says nothing of
        heats whose P, S or ratio is unknown.
        """
        row = limits().loc["s15"]
        ratio_name, below = (part.strip() for part in row["given"].split("<"))
        content = _formula(row["relation"])
        unknown = np.full(len(self.heats), np.nan)
        given = {e: self.heats.get(e, unknown) for e in content.names}
        total = pd.Series(content.on(given), index=self.heats.index, dtype=float)
        ratio = self.ratios[ratio_name]
        limit = pd.Series(np.where(ratio < float(below), row["upper"], np.nan), self.heats.index)
        known = total.notna() & ratio.notna()
        return pd.DataFrame(
            {
                "P + S": total,
                "ratio": ratio,
                "limit": limit,
                "margin": limit - total,
                "verdict": np.select(
                    [~known, limit.isna(), total <= limit],
                    ["not assessed", "ok: ferrite first, no limit in practice", "ok"],
                    "caution: above the limit for austenite first",
                ),
                "status": row["status"],
                "source": _source(row["source"]),
            }
        )

    def _repr_html_(self) -> str:
        if len(self.heats) == 1:
            long = self.long()
            shown = pd.DataFrame(
                {
                    "mode": long["mode"],
                    "ratio": long["ratio"],
                    "holds": list(map(_stretch, long["above"], long["up to"])),
                    "status": long["status"].str.split(",").str[0].str.lower(),
                    "remark": long["flag"],
                }
            ).set_index(pd.Index(long["criterion"], name="criterion"))
            lead = f"{self.heats.index[0]}: {self.agreement.iloc[0]}"
            body = table(shown, "Solidification mode", wide=["status", "remark"])
        else:
            counts = self.first.value_counts()
            told = ", ".join(f"{n} {phase}" for phase, n in counts.items())
            lead = f"What {len(self.heats)} heats freeze to first: {told}"
            frame = pd.concat([self.first, self.modes, self.agreement], axis=1)
            body = table(frame, "Solidification mode by criterion", wide=["agreement"])
        facts = [
            f"{c.name}: {c.title}, limits of {c.relation}. {_source(*(b.source for b in c.bands))}"
            for c in criteria()
        ]
        facts.append(f"{_FIELDS}: {self.titles[_FIELDS]}. {_source(*self._chart.data.source)}")
        caution = small(f"{self._chart.title}: {self._chart.caution}")
        return panel(body, caution, details("Sources", items(facts)), lead=lead)

    def __repr__(self) -> str:
        return f"Solidification of {len(self.heats)} heats\n{self.modes!r}\n{self._chart.caution}"


@cache
def _formula(text: str) -> Formula:
    return Formula(text)


def _source(*keys: str) -> str:
    return " | ".join(cited(k) for k in dict.fromkeys(keys))


def _stretch(above: float, up_to: float) -> str:
    """Say a stretch of a ratio in words."""
    ends = (("above", above), ("up to", up_to))
    return ", ".join(f"{word} {end:g}" for word, end in ends if not np.isnan(end))


def _said(row: dict[str, str]) -> dict[str, set[str]]:
    return {name: set(word.split(" or ")) for name, word in row.items() if word}


def _first_phase(row: dict[str, str]) -> str:
    phases = {_FIRST[mode] for modes in _said(row).values() for mode in modes}
    if not phases:
        return "not assessed"
    return phases.pop() if len(phases) == 1 else "disputed"


def _agreement(row: dict[str, str]) -> str:
    said = _said(row)
    if not said:
        return "no criterion can be read"
    count = "the one criterion" if len(said) == 1 else f"all {len(said)} criteria"
    common = set.intersection(*said.values())
    if common:
        return f"{' or '.join(m for m in MODES if m in common)} fits {count}"
    first = _first_phase(row)
    agreed = first != "disputed"
    by_word: dict[str, list[str]] = {}
    for name, modes in said.items():
        if len(modes) == 1 or not agreed:
            by_word.setdefault(row[name], []).append(name)
    parts = "; ".join(f"{word} by {', '.join(names)}" for word, names in by_word.items())
    lead = f"{first} first by {count}, then" if agreed else "criteria disagree on the first phase:"
    return f"{lead} {parts}"


def solidification(heats: HeatsLike) -> Solidification:
    """Tell by every criterion which phase solidifies first.

    Parameters
    ----------
    heats : anything `as_batch` takes
        Compositions in wt%.

    Returns
    -------
    Solidification
        `.modes`, `.ratios`, `.first`, `.agreement`, `.impurities`, `.long()`. Each criterion
        comes with its status and source; the fields of the WRC-1992 diagram are a reconstruction
        and not for code acceptance.

    Raises
    ------
    InputError
        Heats that cannot be read (see `as_batch`).

    Notes
    -----
    Sources: Suutala, Takalo, Moisio 1980 (Schaeffler ratio), Suutala 1983 (Hammar-Svensson
    ratio); the table of `solidification_limits` has all.

    Examples
    --------
    >>> weld = {"C": .02, "Si": .8, "Mn": 1.7, "Cr": 20.0, "Ni": 10.0, "N": .05}
    >>> s = solidification(weld)
    >>> s.first["heat 1"], s.agreement["heat 1"]
    ('ferrite', 'FA fits all 6 criteria')
    """
    return Solidification(as_batch(heats))
