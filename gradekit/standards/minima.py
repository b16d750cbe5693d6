"""The minimum that the standards ask of the grade nearest to a steel, in words."""

from __future__ import annotations

from functools import cache

import numpy as np
import pandas as pd

from gradekit.heats.columns import amount
from gradekit.standards.grades import grade, grades

_COLUMNS = {
    "proof_strength": ("rp02_min_MPa", "Rp0.2", "MPa"),
    "tensile_strength": ("rm_min_MPa", "Rm", "MPa"),
    "elongation": ("a_min_pct", "A", "%"),
}
# Differences of composition that count alike, wt%: about what tells neighbouring grades apart.
_ALIKE = {"C": 0.03, "Si": 0.7, "Mn": 1.0, "Cr": 1.5, "Ni": 1.0, "Mo": 0.7, "N": 0.06, "Cu": 1.0,
          "Nb": 0.3, "Ti": 0.3, "Al": 0.4}  # fmt: skip


def minimum_words(heats: pd.DataFrame, families: np.ndarray, quantity: str) -> list[str]:
    """Say which minimum the standards ask of the nearest grade of each heat's family.

    Parameters
    ----------
    heats : clean batch
    families : ndarray of str, shape (heats,)
    quantity : str
        'proof_strength', 'tensile_strength' or 'elongation'.

    Examples
    --------
    >>> steel = pd.DataFrame({"C": [.04], "Cr": [15.6], "Ni": [4.6], "Cu": [3.3], "Nb": [.3]})
    >>> words = minimum_words(steel, np.array(["precipitation-hardening"]), "proof_strength")[0]
    >>> "1.4542" in words, "+P1070 1000" in words
    (True, True)
    """
    words = np.full(len(heats), "no standard minimum is at hand", dtype=object)
    if quantity not in _COLUMNS:
        return words.tolist()
    contents = np.column_stack([amount(heats, e) / size for e, size in _ALIKE.items()])
    for family in set(families):
        names, typical = _typical(family, quantity)
        rows = np.flatnonzero(families == family)
        if len(names):
            apart = np.abs(contents[rows, None, :] - typical).sum(axis=2)
            words[rows] = [_asked(names[i], quantity) for i in apart.argmin(axis=1)]
    return words.tolist()


@cache
def _typical(family: str, quantity: str) -> tuple[list[str], np.ndarray]:
    """Return the grades of a family that have a minimum, and their usual contents."""
    known = [grade(name) for name in grades()["grade"].drop_duplicates()]
    usable = [g for g in known if g.steel == family and _asked(g.number, quantity)]
    rows = [[g.typical.get(e, 0.0) / size for e, size in _ALIKE.items()] for g in usable]
    return [g.number for g in usable], np.nan_to_num(np.reshape(rows, (len(usable), len(_ALIKE))))


@cache
def _asked(name: str, quantity: str) -> str:
    column, sign, unit = _COLUMNS[quantity]
    one = grade(name)
    rows = one.properties
    rows = rows[rows[column].astype(str) != ""]
    if rows.empty:
        return ""
    asked = []
    for (standard, form), part in rows.groupby(["standard", "product_form"], sort=False):
        least = zip(part["condition"], part[column], strict=True)
        asked.append(f"{standard} {form}: " + ", ".join(f"{c} {m}" for c, m in least))
    lead = f"least {sign} that standards ask of the nearest grade, {name}, {unit}"
    return f"{lead}: {'; '.join(asked)}"
