"""What steel each heat is, by its composition or by the grade it is known to be."""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from gradekit.core.aliases import Given, HeatsLike
from gradekit.core.errors import InputError
from gradekit.core.lazy import lazy_frame, mapped
from gradekit.families.kinds import words_each
from gradekit.families.table import family_told as by_votes
from gradekit.heats.batch import as_batch
from gradekit.standards.grades import grade as find


def family(heats: HeatsLike, family: Given = None, grade: Given = None) -> pd.DataFrame:
    """Say what steel each heat is.

    Several relations vote, each made from other steels: solidification mode, ferrite at the anneal,
    martensite start and Md30, austenite on heating, and what hardens. Where they disagree, `doubt`
    names the rival family and what would decide.

    Parameters
    ----------
    heats : anything `as_batch` takes
        Compositions in wt%.
    family : str, or a Series or mapping with one a heat, optional
        What the user knows; it wins.
    grade : str, or a Series or mapping with one a heat, optional
        A grade whose family is taken, by any of its names.

    Returns
    -------
    DataFrame, one row a heat
        `family`; `structure`, the phases to be expected at room temperature after the usual anneal,
        after a quench where it hardens; `sub`, the kind of its family; `doubt`, '' or the rival
        family and what decides; `reason`; `ferrite_low` to `martensite_high`, % ; and the vote of
        each relation under its name, in its unit.

    Raises
    ------
    InputError
        An unknown family or grade, both at once, or heats that cannot be read.

    Examples
    --------
    >>> found = family({"C": .02, "Cr": 22.3, "Ni": 5.6, "Mo": 3.1, "Mn": 1.4, "N": .17})
    >>> found.loc["heat 1", ["family", "structure", "sub"]].tolist()
    ['duplex', 'austenite + ferrite', 'standard']
    >>> family({"Cr": 16.2, "Ni": 4.4}, grade="630")["family"].tolist()
    ['precipitation-hardening']
    """
    if (parts := lazy_frame(heats)) is not None:
        return mapped(parts, _family_of, known=family, grade=grade)
    batch = as_batch(heats)
    if grade is None:
        return by_votes(batch, family)
    if family is not None:
        raise InputError("family and grade", "one of them", "both")
    if isinstance(grade, (pd.Series, Mapping)):
        names = words_each(grade, batch, "grade")
        return by_votes(batch, names.map(lambda n: n and find(n).steel), "by its grade")
    return by_votes(batch, find(str(grade)).steel, f"grade {grade}")


def _family_of(part: pd.DataFrame, known: Given, grade: Given) -> pd.DataFrame:
    return family(part, known, grade)
