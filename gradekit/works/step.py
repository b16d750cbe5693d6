"""Heats at a step of the works, judged: a number beside its limit, with verdict, reason and source.

How a step is written
---------------------
A works step is a module of this room with

* `STEP`: its name, as it stands in the column `step`;
* `CONDITIONS`: mapping of each condition it asks for to what it means, unit included (several
  steps may ask for one; its words are then the same);
* `CAUTIONS`, where the step can hurt: sentences that are shown beside its rows;
* `checks(lot)`, which makes the rows: one for each heat and check. `lot` is a `Lot`: a clean batch
  (`as_batch` was there), a `Plant` and the conditions that the user gave.

and one entry in `STEPS` of `gradekit/works/walk.py`, in the order of the works. Everything else
the module offers (a pass schedule, a charge) is a plain function with a result object of its own,
which `checks` calls.

Three ways to make rows, which never mix judging with computing:

* `Lot.judge`: values against limits. A value or limit that is `Cited` (a content, a line of the
  plant, a condition) or a `Rule` of the trade brings its unit, source and evidence word, and what
  is missing where it is not known;
* `Lot.relation`: the same for a relation of a `Result`; its error and flags in words come with it;
* `Lot.state`: what is known in words only, or what would be needed to judge.

What cannot be judged is not left out: a value that is NaN, a limit that is NaN and a `gap` (see
`Plant.gap`) all give the verdict 'not assessed' with the reason.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from copy import copy
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given
from gradekit.core.flags import OUT, Flag
from gradekit.core.sources import weakest
from gradekit.families.kinds import kinds_of, words_each
from gradekit.heats.columns import amount, column, each_heat, unknown
from gradekit.relations.evaluate import Result, evaluate_batch
from gradekit.relations.groups import is_of
from gradekit.works.margin import agreement, limit_words, verdict_of
from gradekit.works.plant import Plant
from gradekit.works.row import Row, short
from gradekit.works.tables import Cited, Rule

# What every second relation would say of itself is not repeated in each row.
_QUIET = int(Flag.RANGE_NOT_STATED | Flag.ASSUMED_ZERO)
# Units as tables write them, and as a row shows them.
_SHOWN = {"C": "°C", "C/s": "°C/s", "um": "µm"}


class Lot:
    """Heats that stand at a step of the works together, and the rows that it makes of them.

    Parameters
    ----------
    heats : clean batch
    plant : Plant
    conditions : mapping of name to what was told, optional
    step : str
        Name of the step.

    Attributes
    ----------
    kinds : Series
        Kind of steel of each heat, 'duplex, super'.
    rows : list of Row
        What was judged and stated so far of the lot and of its parts.

    Examples
    --------
    >>> from gradekit.works.plant import as_plant
    >>> lot = Lot(pd.DataFrame({"Cr": [18.2, 9.8]}, ["H1", "H2"]), as_plant(None), step="finishing")
    >>> lot.judge("passivity", lot.content("Cr"), low=10.5)
    >>> [(row.heat, row.verdict, round(row.margin, 2)) for row in lot.rows]
    [('H1', 'ok', 7.7), ('H2', 'stop', -0.7)]
    """

    def __init__(
        self,
        heats: pd.DataFrame,
        plant: Plant,
        conditions: Mapping[str, Any] | None = None,
        step: str = "",
    ):
        self.heats, self.plant, self.step = heats, plant, step
        self.conditions: Mapping[str, Any] = conditions or {}
        self.kinds = kinds_of(heats, self.conditions.get("family"))
        self.rows: list[Row] = []

    @property
    def index(self) -> pd.Index:
        """Names of the heats."""
        return self.heats.index

    def __len__(self) -> int:
        return len(self.heats)

    def at(self, step: str) -> Lot:
        """Return the same heats at another step, with no rows yet."""
        lot = copy(self)
        lot.step, lot.rows = step, []
        return lot

    # --- parts of the lot; their rows are those of the whole ---

    def where(self, mask: Sequence[bool] | np.ndarray | pd.Series) -> Lot:
        """Return the heats for which the mask is true."""
        chosen = np.asarray(mask, dtype=bool)
        if chosen.all():
            return self
        lot = copy(self)
        lot.heats, lot.kinds = self.heats[chosen], self.kinds[chosen]
        return lot

    def of(self, *group: str) -> Lot:
        """Return the heats whose kind of steel, or its family, is in a group."""
        return self.where(self.is_of(*group))

    def but(self, *parts: Lot) -> Lot:
        """Return the heats that are in none of these parts."""
        return self.where(~np.any([self.index.isin(part.index) for part in parts], axis=0))

    # --- what is known of the heats ---

    def is_of(self, *group: str) -> np.ndarray:
        """Tell of each heat whether its kind of steel, or its family, is in a group."""
        return np.array([is_of(kind, *group) for kind in self.kinds], dtype=bool)

    def __getitem__(self, element: str) -> pd.Series:
        """Return the content of an element, wt%; NaN where it is not reported."""
        return column(self.heats, element)

    def amount(self, element: str) -> np.ndarray:
        """Return the content of an element, wt%; 0 where it is not reported."""
        return amount(self.heats, element)

    def unknown(self, *elements: str, otherwise: str = "") -> list[str]:
        """Say for each heat which of these elements is not reported; `otherwise` where none."""
        return unknown(self.heats, *elements, otherwise=otherwise)

    def content(self, element: str) -> Cited:
        """Return the content of an element to be judged."""
        return Cited(self[element], "wt%", gap=self.unknown(element))

    def condition(self, name: str, otherwise: float = np.nan) -> Cited:
        """Return a condition heat by heat, the other number where the user does not give it."""
        value = self.conditions.get(name, otherwise)
        values = each_heat(value, self.heats, name)
        # what is blank throughout, not only for heats of this lot, is not given either
        return Cited(values, gap=f"{name} is not given" if np.all(pd.isna(value)) else "")

    def word(self, name: str) -> pd.Series | None:
        """Return a condition that is a word, '' where a heat has none; None where it is not
        given."""
        value = self.conditions.get(name)
        return None if value is None else words_each(value, self.heats, name)

    def evaluate(self, what: str | Sequence[str], **conditions: Given) -> Result:
        """Return relations of the heats; see `evaluate_batch`."""
        return evaluate_batch(self.heats, what, **conditions)

    # --- rows ---

    def judge(
        self,
        check: str,
        value: Given | Cited,
        *,
        low: Given | Cited | Rule = None,
        high: Given | Cited | Rule = None,
        unit: str = "",
        source: str = "",
        status: Given = "",
        beyond: Given = "stop",
        reason: Given = "",
        beyond_reason: Given = "",
        error: Given = 0.0,
        near: Given = "",
        doubts: Given = "",
        gap: Given = "",
        forms: pd.DataFrame | None = None,
        aside: Given = "",
    ) -> None:
        """Judge one value a heat against limits.

        Parameters
        ----------
        check : str
            What is looked at.
        value : number, Series or Cited
            NaN means that there is no value.
        low, high : number, Series, Cited, Rule or None
            Limits; None leaves the side open, NaN means that the limit is not known. With both None
            the value is shown without a verdict.
        unit, source, status : str
            Of the value, where it does not bring them; `source` as it is to be read (see `short`).
            The sources of limits and value follow it, and the weakest status is shown.
        beyond : str or Series of str
            The verdict beyond the limit: 'stop' or 'caution'.
        reason, beyond_reason : str or Series of str
            What it means, and what is added where the limit is passed.
        error : number or Series
            Standard error of the value; NaN and 0 where none is known.
        near : str or Series of str
            A softer limit that is passed, in words: it turns 'ok' into 'caution'; '' where none is.
        doubts : str or Series of str
            What the value rests on (out of range, a mode that is undecided); it changes no verdict.
        gap : str or Series of str
            What else is missing to judge, beside what value and limits lack; then the verdict is
            'not assessed'.
        forms : DataFrame, shape (heats, forms), optional
            The same quantity by every published form, the shown one among them; the reason then
            says whether they agree on the side of the limit, and where they do not the verdict is
            'caution'.
        aside : str or Series of str
            What is to be said of the forms, such as how many are outside their range.
        """
        cited = [_cited(low, "low"), _cited(high, "high"), _cited(value)]
        unit = next(filter(None, (unit, *(c.unit for c in reversed(cited)))), "1")
        unit = _SHOWN.get(unit, unit)
        source = "; ".join(dict.fromkeys(filter(None, (source, *(c.source for c in cited)))))
        statuses = self._each(status)
        weaker = {word: weakest(word, *(c.status for c in cited)) for word in set(statuses)}
        lacking = (cited[2].gap, gap, cited[0].gap, cited[1].gap)
        gaps = [
            next(filter(None, each), "") for each in zip(*map(self._each, lacking), strict=True)
        ]
        lows, highs, shown, *columns = [
            self._each(x)
            for x in (*(c.value for c in cited), gaps, error, beyond, reason, beyond_reason, near,
                      doubts)
        ]  # fmt: skip
        values = np.asarray(shown, dtype=float).tolist()
        agreed = [("", True)] * len(self)
        if forms is not None:
            cells = zip(forms.to_numpy(dtype=float), lows, highs, self._each(aside), strict=True)
            agreed = [agreement(*cell, unit) for cell in cells]
        rows = zip(self.index, statuses, values, lows, highs, agreed, *columns, strict=True)
        for heat, known, x, lo, hi, *given in rows:
            margin, word, text = verdict_of(x, lo, hi, *given)
            limit = limit_words(lo, hi)
            self.rows.append(
                Row(heat, self.step, check, x, limit, unit, margin, word, text, source,
                    weaker[known])
            )  # fmt: skip

    def relation(
        self,
        check: str,
        name: str,
        result: Result | None = None,
        *,
        gap: Given = "",
        forms: pd.DataFrame | None = None,
        **limits: Any,
    ) -> None:
        """Judge a relation; its unit, source, status, error and flags come with it.

        Parameters
        ----------
        check : str
            What is looked at.
        name : str
            Of the relation.
        result : Result, optional
            Of the heats of the lot or more, holding it, where it is evaluated already.
        gap, forms, **limits
            As for `judge`.

        Examples
        --------
        >>> from gradekit.works.plant import as_plant
        >>> steel = {"Cr": [18.2], "Ni": [8.1], "Mo": [0.3], "N": [0.05]}
        >>> lot = Lot(pd.DataFrame(steel), as_plant(None))
        >>> lot.relation("pitting", "pren_16n", low=18)
        >>> lot.rows[0].verdict
        'ok'
        """
        result = self.evaluate(name) if result is None else result
        relation = next(r for r in result.relations if r.name == name)
        values, error = (
            frame[name].reindex(self.index) for frame in (result.values, result.standard_error)
        )
        flags = result.flags[name].reindex(self.index).tolist()
        if forms is not None:
            bits = result.flags.loc[self.index, list(forms)]
            forms = forms.loc[self.index].mask((bits & int(Flag.OTHER_FAMILY)).astype(bool))
            out = ((bits.to_numpy() & OUT) != 0) & forms.notna().to_numpy()
            limits["aside"] = [
                f"{n} of them outside their own range" if n else "" for n in out.sum(axis=1)
            ]
        words = [
            result.words(heat, name) if flag & ~_QUIET else ""
            for heat, flag in zip(self.index, flags, strict=True)
        ]
        known = np.isfinite(values).tolist()
        cells = list(zip(words, known, flags, strict=True))
        self.judge(
            check,
            values,
            unit=relation.unit,
            source=f"{name} ({short(*relation.source)})",
            status=relation.status,
            error=error,
            doubts=[w if k and f & OUT else "" for w, k, f in cells],
            gap=[
                g or (w if not k or f & Flag.OTHER_FAMILY else "")
                for g, (w, k, f) in zip(self._each(gap), cells, strict=True)
            ],
            forms=forms,
            **limits,
        )

    def state(
        self,
        check: str,
        verdict: Given,
        reason: Given,
        source: Given = "",
        status: Given = "",
        *,
        value: Given = np.nan,
        limit: str = "",
        unit: Given = "1",
    ) -> None:
        """State what is known of a check without a margin, or what would be needed to judge it.

        Parameters
        ----------
        check : str
            What is looked at.
        verdict, reason, source, status, value, unit : one for all, or one a heat
        limit : str
        """
        nan = float("nan")
        cells = (self._each(x) for x in (value, unit, verdict, reason, source, status))
        self.rows += [
            Row(heat, self.step, check, x, limit, of, nan, word, why, by, known)
            for heat, x, of, word, why, by, known in zip(self.index, *cells, strict=True)
        ]

    def _each(self, given: Given) -> list:
        """Return one entry a heat of a Series, an array or a single value."""
        if isinstance(given, (pd.Series, Mapping)):
            series = given if isinstance(given, pd.Series) else pd.Series(given)
            same = series.index.equals(self.index)
            return (series if same else series.reindex(self.index)).tolist()
        if isinstance(given, np.ndarray):
            return given.tolist()
        return list(given) if isinstance(given, (list, tuple)) else [given] * len(self)


def _cited(given: Given | Cited | Rule, side: str = "") -> Cited:
    """Return a value or limit with what stands beside it; of a rule, that end."""
    if isinstance(given, Rule):
        return Cited(getattr(given, side), given.unit, given.source, given.status)
    return given if isinstance(given, Cited) else Cited(given)
