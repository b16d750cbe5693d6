"""Terms whose own effects the heats cannot tell: pairs, and one that follows from several."""

from __future__ import annotations

import numpy as np
import pandas as pd

from gradekit.core.elements import is_element
from gradekit.properties.fit.table import Tests, probe

_TOGETHER = 0.90  # correlation from which two terms are said to move together
_FOLLOWS = 0.90  # share of a term's variance that others explain, as adjusted for their number
_HIDDEN = 0.90  # correlation from which an element left out may be what a term stands for
_PART = 0.25  # standardised slope from which a term is named among those


def moving_together(tests: Tests) -> tuple[tuple[str, str, float], ...]:
    """Return pairs of terms that move together from group to group, with their correlation."""
    r = tests.means.corr().to_numpy()
    return tuple(
        (a, b, round(float(r[i, j]), 3))
        for i, a in enumerate(tests.terms)
        for j, b in enumerate(tests.terms)
        if i < j and abs(r[i, j]) > _TOGETHER
    )


def followers(tests: Tests, known: tuple) -> list[str]:
    """Say of each term that stands in no pair whether it follows from several others."""
    means = tests.means
    z = ((means - means.mean()) / means.std(ddof=0).replace(0.0, 1.0)).to_numpy()
    rows, count = z.shape
    paired = {term for a, b, _ in known for term in (a, b)}
    lines = []
    for k, term in enumerate(tests.terms):
        if term in paired or count < 3 or rows <= count + 1:
            continue
        others = np.delete(z, k, axis=1)
        slopes, *_ = np.linalg.lstsq(others, z[:, k], rcond=None)
        left = np.mean((z[:, k] - others @ slopes) ** 2) * (rows - 1) / (rows - count)
        names = [n for n in tests.terms if n != term]
        named = [n for n, s in zip(names, slopes, strict=True) if abs(s) > _PART]
        if 1.0 - left > _FOLLOWS:
            lines.append(
                f"{term} follows from {', '.join(named)} here (R² = {1 - left:.3f}): its separate"
                " effect is not supported by these heats"
            )
    return lines


def collinear_lines(tests: Tests, known: tuple) -> dict[str, tuple[float, float]]:
    """Return, of each pair of elements, the combination left free and its span.

    The line is that of both, so that neither is favoured; as a sum of contents it is a limit that
    a brief can keep.
    """
    ranges = {}
    for a, b, _ in known:
        if is_element(a) and is_element(b):
            x, y = tests.columns[a], tests.columns[b]
            slope = np.sign(np.cov(x, y)[0, 1]) * np.std(y) / np.std(x)
            slope = float(f"{slope:.3g}")
            rest = y - slope * x
            key = f"{b} - {slope:g}*{a}" if slope > 0 else f"{b} + {-slope:g}*{a}"
            ranges[key] = float(f"{rest.min():.6g}"), float(f"{rest.max():.6g}")
    return ranges


def left_out(tests: Tests) -> list[str]:
    """Name elements that are no term and move with one from group to group."""
    used = probe(tests.terms).inputs
    lines = []
    for element, contents in tests.columns.items():
        if not is_element(element) or element in used or not np.isfinite(contents).all():
            continue
        if np.ptp(contents) > 1e-12:
            r = tests.means.corrwith(pd.Series(contents).groupby(tests.groups).mean())
            term = r.abs().idxmax()
            if abs(r[term]) > _HIDDEN:
                way = "with" if r[term] > 0 else "against"
                lines.append(
                    f"{element} was left out and moves {way} {term} (r = {r[term]:.2f}): what "
                    f"{term} is said to do may be the work of {element}"
                )
    return lines
