"""What a certificate shows: verdicts at a glance, reasons in words, analyses as reported."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from gradekit.core.markup import verdict
from gradekit.core.sources import weakest
from gradekit.core.verdicts import VERDICTS, Verdict, worst
from gradekit.heats.notes import bounds
from gradekit.standards.judge import FROM_MEMORY


def at_a_glance(verdicts: pd.DataFrame) -> pd.DataFrame:
    """Return verdicts with one row a heat and claim, one column a thing looked at.

    Evidence less than read in a publication stands behind the verdict, as in '✓ ok · memory'.
    """
    cells: dict[tuple, dict[str, list[tuple[Verdict, str]]]] = {}
    for row in verdicts.itertuples():
        looked = row.looked_at or "heat analysis"
        claim = row.claim or "none named"
        under = cells.setdefault((row.heat, claim, row.standard), {})
        under.setdefault(looked, []).append((row.verdict, row.status))
    columns = list(dict.fromkeys(c for under in cells.values() for c in under))
    rows = [
        (heat, claim, standard, *(_with_evidence(under.get(c, [])) for c in columns))
        for (heat, claim, standard), under in cells.items()
    ]
    return pd.DataFrame(rows, columns=["heat", "claim", "standard", *columns]).set_index("heat")


def _with_evidence(several: list[tuple[Verdict, str]]) -> str:
    if not several:
        return ""
    poorest = worst(word for word, _ in several)
    status = weakest(*(status for word, status in several if word == poorest))
    quiet = status in ("", "verified") or poorest == "not assessed"
    return verdict(poorest) + ("" if quiet else f" · {status}")


def as_reported(batch: pd.DataFrame) -> pd.DataFrame:
    """Return the analyses with their bounds as texts."""
    texts = bounds(batch)
    return batch.astype(object).where(texts == "", texts)


def claim_reasons(looked: Sequence[Mapping[str, Any]]) -> str:
    """Return in words what speaks against an analysis, the gravest first; a row a limit."""
    told: list[str] = []
    absent, recalled = [], []
    several = len({row["heat"] for row in looked}) > 1
    for row in sorted(looked, key=lambda row: VERDICTS.index(row["verdict"])):
        element, reason = row["element"], row["reason"]
        if row["verdict"] == "ok" and row["status"] != "memory":
            continue
        if reason.endswith("not reported") and ";" not in reason:
            absent.append(reason.removesuffix(" not reported"))
        elif reason == FROM_MEMORY:
            recalled.append(element)
        else:
            told.append(
                f"{row['heat']}, {element}: {reason}" if several else f"{element}: {reason}"
            )
    if absent:
        told.append(f"not reported: {', '.join(dict.fromkeys(absent))}")
    if recalled:
        told.append(f"limits from trade memory: {', '.join(dict.fromkeys(recalled))}")
    return "; ".join(told)
