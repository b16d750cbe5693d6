"""Mill certificates: every claim tested on every analysis, with its reasons.

A certificate names designations and standards, the analysis of the cast, often product analyses and
test results. Each claim is tested on each of them; what cannot be tested is listed as such.
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from contextlib import suppress
from functools import cached_property
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np
import pandas as pd

from gradekit.core.aliases import Label, TableLike
from gradekit.core.errors import NOTHING, InputError, nearest, said
from gradekit.core.markup import details, items, panel, small, table
from gradekit.core.sources import weakest
from gradekit.core.verdicts import VERDICTS, worst
from gradekit.heats.batch import as_batch
from gradekit.heats.certificates.cells import grade_columns
from gradekit.heats.certificates.joining import join_batches, told_of
from gradekit.heats.certificates.parts import CertificatePart, taken_apart
from gradekit.heats.certificates.pasted import laid_out
from gradekit.heats.notes import about, messages, notes_of
from gradekit.heats.reading import read_heats_text
from gradekit.heats.writing import write_tables
from gradekit.standards.check import certifiable, check_windows
from gradekit.standards.claims import Claim, read_claims
from gradekit.standards.claims_shown import as_reported, at_a_glance, claim_reasons
from gradekit.standards.results import judge_result, read_results
from gradekit.standards.tables import Window

#: What is claimed: one text for all heats, or one a heat; None where the certificate says it.
Claimed: TypeAlias = str | Mapping[Any, str] | None
#: Columns beside the analysis and the grades that name what is claimed.
_CLAIMED = re.compile(r"standards?|claims?|specification|spec|norm", re.I)
_SAMPLE = re.compile(r"(?: \(product\))?(?: \(\d+\))?\Z")
_ANALYSES = ("heat analysis", "product analysis")
_VERDICTS = "heat claim designation standard looked_at verdict status reasons remarks".split()
_CONFIRM = (
    "A reading of the certificate against published limits, no approval: the standard in force, "
    "the order and the inspector decide. Limits from trade memory must be confirmed first."
)


class Certificate:
    """The claims of a certificate and what is to be said of each.

    Attributes
    ----------
    source : str
    heats : DataFrame
        The heat (ladle) analyses, wt%.
    products : DataFrame
        The product (check) analyses, wt%; empty where there are none.
    claims : DataFrame
        `heat`, `claim` as printed, `tested_by` (designation and standard), `remarks`.
    results : DataFrame
        Test results: `heat`, `property`, `value` (MPa, % or hardness), `printed`, `trouble`.
    table : DataFrame
        Every limit looked at, as `check_grade` gives it, with `claim` and `analysis`.
    verdicts : DataFrame
        One row a heat, claim and thing looked at ('heat analysis', 'product analysis', a test
        result): `verdict`, `status` (the evidence of what decided) and `reasons` in words.
    not_understood : tuple of str
        Lines of a pasted text that found no place.
    messages : list of str
        What was understood while reading, and printed limits wider than those claimed.
    """

    def __init__(
        self, batch: pd.DataFrame, claims: Claimed = None, product_form: str | None = None
    ) -> None:
        self.not_understood: tuple[str, ...] = ()
        self.source = str(notes_of(batch).get("source", "heats"))
        self._form = product_form
        beside = about(batch)
        kind = beside["analysis"] if "analysis" in beside else pd.Series("", index=batch.index)
        product = (kind == "product").to_numpy()
        self.heats, self.products = batch[~product], batch[product]
        self._beside = beside
        self._samples: dict[str, list[Label]] = {}  # the product analyses of each cast
        for label in self.products.index:
            self._samples.setdefault(_SAMPLE.sub("", str(label)), []).append(label)
        known = {str(label) for label in self.heats.index}
        #: The analyses of each heat, and of each cast of which only product analyses are given.
        self._analyses = {
            label: [label, *self._samples.get(str(label), [])] for label in self.heats.index
        } | {cast: own for cast, own in self._samples.items() if cast not in known}
        self._claims = self._read_claims(claims)
        self.messages = [*messages(batch), *self._wider_limits()]

    # --- what is claimed

    def _cells(self, columns: list) -> dict[Label, list]:
        """What stands in these columns beside the analyses of each heat."""
        cells = self._beside[columns].to_numpy().tolist()
        beside = dict(zip(self._beside.index, cells, strict=True))
        return {label: [beside[own] for own in every] for label, every in self._analyses.items()}

    def _read_claims(self, given: Claimed) -> dict[Label, list[Claim]]:
        if isinstance(given, Mapping):
            for key in given:
                if key not in self._analyses:
                    near = nearest(str(key), map(str, self._analyses))
                    raise InputError("heat in claims", "one of the certificate", key, near)
        grades = grade_columns(self._beside)
        columns = [c for c in self._beside if c in grades or _CLAIMED.fullmatch(str(c).strip())]
        claims: dict[Label, list[Claim]] = {}
        understood: dict[str, list[Claim]] = {}
        for label, printed in self._cells(columns).items():
            cells = dict.fromkeys(c for row in printed for c in row if isinstance(c, str))
            text = " | ".join(cells) if given is None else given
            if isinstance(given, Mapping):
                text = given.get(label, "")
            if not isinstance(text, str):
                raise InputError(f"claims of {label}", "text", text)
            if text not in understood:
                understood[text] = read_claims(text)
            claims[label] = understood[text]
        return claims

    @cached_property
    def claims(self) -> pd.DataFrame:
        rows = [
            (label, c.words, "; ".join(w.title for w in c.windows), "; ".join(c.remarks))
            for label, claims in self._claims.items()
            for c in claims
        ]
        return pd.DataFrame(rows, columns=["heat", "claim", "tested_by", "remarks"])

    @cached_property
    def results(self) -> pd.DataFrame:
        rows = [
            (label, r.property, r.value, r.printed, r.trouble)
            for label, results in self._results.items()
            for r in results
        ]
        table = pd.DataFrame(rows, columns=["heat", "property", "value", "printed", "trouble"])
        return table.astype({"value": float})

    @cached_property
    def _results(self) -> dict:
        columns = list(self._beside)
        return {
            label: [r for row in rows for r in read_results(pd.Series(row, columns))]
            for label, rows in self._cells(columns).items()
        }

    # --- what is found

    @cached_property
    def _checks(self) -> dict[tuple, list[dict]]:
        """The limits looked at, a row each, by (heat, title of the window, kind of analysis)."""
        claimed: dict[Window, dict[Label, None]] = {}
        for label, claims in self._claims.items():
            for part in (w for claim in claims for w in claim.windows):
                claimed.setdefault(part, {})[label] = None
        checks: dict[tuple, list[dict]] = {}
        for part, labels in claimed.items():
            known = [label for label in self.heats.index if label in labels]
            for row in check_windows(self.heats.loc[known], [part]).to_dict("records"):
                checks.setdefault((row["heat"], part.title, "heat analysis"), []).append(row)
            for label in labels:
                if samples := self._samples.get(str(label)):
                    declared = self.heats.loc[[label]] if label in known else None
                    checks[label, part.title, "product analysis"] = check_windows(
                        self.products.loc[samples], [part], "product", declared
                    ).to_dict("records")
        return checks

    @cached_property
    def table(self) -> pd.DataFrame:
        rows = [
            {"heat": row["heat"], "claim": claim.words, "analysis": analysis} | row
            for label, claims in self._claims.items()
            for claim in claims
            for part in claim.windows
            for analysis in _ANALYSES
            for row in self._checks.get((label, part.title, analysis), [])
        ]
        bare = ["heat", "element", "value", "verdict", "reason"]
        return pd.DataFrame(rows) if rows else pd.DataFrame(columns=bare)

    @cached_property
    def verdicts(self) -> pd.DataFrame:
        rows = []
        for label, claims in self._claims.items():
            if not claims:
                told = self._nothing_claimed(label)
                rows.append((label, "", "", "", "", "not assessed", "", *told))
            for claim in claims:
                remarks = "; ".join(claim.remarks)
                if not claim.windows:
                    rows.append((label, claim.words, "", "", "", "not assessed", "", remarks, ""))
                for part in claim.windows:
                    head = (label, claim.words, part.designation, part.standard)
                    remarked = "; ".join(filter(None, (remarks, self._unlisted(label, part))))
                    for analysis in _ANALYSES:
                        looked = self._checks.get((label, part.title, analysis))
                        if looked is not None:
                            word = worst(row["verdict"] for row in looked)
                            status = weakest(*(r["status"] for r in looked if r["verdict"] == word))
                            why = claim_reasons(looked)
                            rows.append((*head, analysis, word, status, why, remarked))
                    for result in self._results[label]:
                        judged = judge_result(result, part, self._form)
                        rows.append((*head, result.header, *judged, remarks))
        return pd.DataFrame(rows, columns=_VERDICTS)

    def _unlisted(self, label: Label, part: Window) -> str:
        """What is reported and has no limit is no freedom: it may not be added on purpose."""
        limited = {e for limit in part.limits for e in limit.needs}
        free = [e for e in self._reported.get(label, ()) if e not in limited]
        return f"reported without a limit there: {', '.join(free)}" if free else ""

    @cached_property
    def _reported(self) -> dict[Label, list[str]]:
        """The elements that each heat reports; of a cast without one, its product analyses."""
        batch = self.heats if len(self.heats) else self.products
        names = np.array(batch.columns)
        there = zip(batch.index, batch.notna().to_numpy(), strict=True)
        told = {label: list(names[known]) for label, known in there}
        for cast, samples in self._samples.items():
            told.setdefault(cast, list(names[self.products.loc[samples].notna().any().to_numpy()]))
        return told

    @cached_property
    def _fits(self) -> pd.DataFrame:
        fits = certifiable(self.heats) if len(self.heats) else pd.DataFrame(columns=["heat"])
        return fits[fits["verdict"] == "ok"] if len(fits) else fits

    def _nothing_claimed(self, label: Label) -> tuple[str, str]:
        own = self._fits[self._fits["heat"] == label]
        names = ", ".join(f"{r.designation} ({r.standard})" for r in own.itertuples())
        why = "no grade is named; one can be claimed by hand"
        return why, f"the analysis would fit {names}" if names else ""

    def _wider_limits(self) -> list[str]:
        """Say where the certificate prints limits that a designation claimed does not allow."""
        printed = notes_of(self.heats).get("limits", {})
        claimed = {w.title: w for c in self._claims.values() for x in c for w in x.windows}
        lines = []
        for title, part in claimed.items():
            for element, limit in part.by_element.items():
                for word, end, sign in (("min", limit.low, -1), ("max", limit.high, 1)):
                    value = printed.get(word, {}).get(element)
                    if value is not None and end is not None and sign * (value - float(end)) > 0:
                        lines.append(
                            f"the certificate prints {element} {word} {value:g}; {title} has {end}"
                        )
        return lines

    # --- how it is shown

    def __repr__(self) -> str:
        counts = self.verdicts["verdict"].value_counts()
        told = ", ".join(f"{counts[v]} {v}" for v in VERDICTS if v in counts)
        counted = {"heat": len(self._claims), "verdict": len(self.verdicts)}
        count = ", ".join(f"{n} {word}{'' if n == 1 else 's'}" for word, n in counted.items())
        return f"Certificate {self.source}: {count}: {told}"

    def _repr_html_(self) -> str:
        told = self.verdicts[["heat", "claim", "standard", "looked_at", "reasons"]]
        told = told[told["reasons"] != ""].set_index("heat")
        told = told.rename(columns={"looked_at": "looked at"})
        remarked = self.verdicts[self.verdicts["remarks"] != ""]
        remarks = (f"{r.claim or r.heat}: {r.remarks}" for r in remarked.itertuples())
        parts = [
            table(at_a_glance(self.verdicts), "Every claim", rows=400),
            table(told, "Reasons", wide=["reasons"], rows=400),
            small(_CONFIRM),
            details("Remarks on the claims", items(dict.fromkeys(remarks))),
            details("Heat analyses", table(as_reported(self.heats), "wt%")),
            details("Product analyses", table(as_reported(self.products), "wt%")),
            details("Understood while reading", items(dict.fromkeys(self.messages))),
        ]
        return panel(*parts, lead=repr(self))

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return what can be taken along: verdicts, limits, claims, results."""
        return {
            "verdicts": self.verdicts,
            "limits": self.table,
            "claims": self.claims,
            "results": self.results,
        }

    def write(self, path: str | os.PathLike) -> Path:
        """Write the verdicts (.csv), or all tables (.xlsx, .json); every text is inert.

        Parameters
        ----------
        path : path
        """
        if Path(path).suffix.lower() == ".csv":
            return write_tables({"verdicts": self.verdicts}, path)
        return write_tables(self.tables(), path)


def read_certificate(
    source: TableLike, claims: Claimed = None, product_form: str | None = None
) -> Certificate:
    """Read a certificate and test every claim on it.

    Parameters
    ----------
    source : path of a CSV or XLSX file, pasted text, bytes, or anything `as_batch` takes
        The designations stand in a column or line such as 'Grade: 1.4404 / 316L / S31603 to
        EN 10088-2 / ASTM A240'.
    claims : str, or dict of heat to str, optional
        Instead of what the certificate says, or where it says nothing.
    product_form : str, optional
        Part of the name of a product form ('strip', 'plate', 'bar'), for the minimum strengths.

    Returns
    -------
    Certificate

    Raises
    ------
    InputError
        With file, row and column of the first cell that says nothing known.

    Examples
    --------
    >>> line = "H1: C 0,021 Si 0,45 Mn 1,4 P 0,03 S 0,001 Cr 18,1 Ni 8,2 N 560 ppm"
    >>> paper = read_certificate(line, claims="1.4301/1.4306")
    >>> paper.verdicts[["claim", "verdict", "reasons"]].values.tolist()[1]
    ['1.4306', 'stop', 'Ni: 8.2 is 1.8 below the minimum 10.0']
    """
    if claims is not None and not isinstance(claims, (str, Mapping)):
        raise InputError("claims", "text, or a text for each heat", claims)
    if product_form is not None and not isinstance(product_form, str):
        raise InputError("product_form", "text such as 'strip'", product_form)
    if isinstance(source, str):
        if not source.strip():
            raise InputError("certificate", "a path or pasted text", NOTHING)
        if "\0" in source:
            raise InputError("certificate", "a path or pasted text", said("a zero byte"))
        if _is_text(source):
            return _pasted(source, claims, product_form)
    return Certificate(as_batch(source), claims, product_form)


def _pasted(text: str, claims: Claimed, product_form: str | None) -> Certificate:
    """A certificate of pasted text: block by block, what stands around an analysis told of it."""
    parts = taken_apart(text)
    try:
        read = [_block(part) for part in parts]
    except InputError:
        batch, left = read_heats_text(text), []  # the first refusal speaks of the text as pasted
    else:
        batch = read[0][0] if len(read) == 1 else join_batches([batch for batch, _ in read])
        left = [line for _, lines in read for line in lines]
    paper = Certificate(batch, claims, product_form)
    left += [match[1].strip() for told in messages(batch) if (match := _LEFT_OUT.search(told))]
    paper.not_understood = tuple(dict.fromkeys(left))
    paper.messages += [f"not understood: {line}" for line in left if line not in paper.messages]
    return paper


#: How the reader of tables says that a line is no analysis.
_LEFT_OUT = re.compile(r"no analysis, left out: '(.*)'$")


def _block(part: CertificatePart) -> tuple[pd.DataFrame, list[str]]:
    """The analyses of a block as a batch, and the lines that found no place."""
    pasted, left = laid_out(part.text), part.remarks
    try:
        batch = read_heats_text(part.text)
    except InputError:
        if pasted is None:
            raise
        batch, left = read_heats_text(pasted.table), list(pasted.left)
    else:
        # names with blanks in them are lost on the reader of tables
        if pasted is not None and all(re.fullmatch(r"heat \d+", str(n)) for n in batch.index):
            with suppress(InputError):
                batch, left = read_heats_text(pasted.table), list(pasted.left)
    told = {name: dict.fromkeys(batch.index, text) for name, text in part.tests.items()}
    if part.grade:
        told["Grade"] = dict.fromkeys(batch.index, part.grade)
    called = {
        heat: {*str(heat).split(), *map(str, row)}
        for heat, row in zip(batch.index, about(batch).to_numpy(), strict=True)
    }
    for label, line, tests in part.rows if len(batch) > 1 else part.rows[-1:]:
        own = [heat for heat in batch.index if called[heat] & set(label) or len(batch) == 1]
        left += [] if own else [f"{line} (whose results is not said)"]
        for heat in own:
            for name, text in tests.items():
                told.setdefault(name, {})[heat] = text
    return told_of(batch, part.heat, told), left


def _is_text(source: str) -> bool:
    """Tell pasted text from a path: it has several lines, or figures under no file's name."""
    if "\n" in source or "\r" in source:
        return True
    if re.search(r"\.(?:csv|tsv|txt|xlsx|xlsm|json)$", source.strip(), re.I):
        return False
    return bool(re.search(r"(?<![A-Za-z])[A-Z][a-z]?\s*[:=]?\s*[<\d]", source))
