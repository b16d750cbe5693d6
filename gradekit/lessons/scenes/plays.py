"""The explorers of the later chapters by the names of the chapters."""

from __future__ import annotations

from collections.abc import Mapping

from gradekit.core.aliases import HeatsLike
from gradekit.core.errors import one_of
from gradekit.heats.batch import one_heat
from gradekit.lessons.scenes import (
    cracking,
    ferrite_factor,
    nitrogen,
    pitting,
    strain,
    two_phases,
)
from gradekit.lessons.scenes.frame import Play, Scene

#: What each chapter's explorer is made from.
PLAYS: dict[str, Play] = {
    module.PLAY.chapter: module.PLAY
    for module in (cracking, ferrite_factor, nitrogen, strain, two_phases, pitting)
}


def play(chapter: str) -> Play:
    """Return what the explorer of a chapter is made from.

    Examples
    --------
    >>> play("duplex").title
    'Anneal and the two phases'
    """
    one_of("chapter with an explorer", chapter, PLAYS)
    return PLAYS[chapter]


def scene(chapter: str, steel: HeatsLike, **numbers: float) -> Scene:
    """Return what the explorer of a chapter shows of a steel.

    Parameters
    ----------
    chapter : str
        'solidification', 'families', 'nitrogen', 'martensite', 'duplex' or 'pitting'.
    steel : anything `as_batch` takes, one heat, wt%
    **numbers : float
        As the explorer of the chapter calls them, such as `reduction_pct`; those left out are
        where the explorer begins.

    Returns
    -------
    Scene
        `.figure`, `.words`, `.table`, `.note`; what cannot be computed is said in words.

    Raises
    ------
    InputError
        A chapter without such an explorer, more than one heat, a number that it does not know.

    Examples
    --------
    >>> steel = {"C": 0.02, "Si": 0.4, "Mn": 1.5, "Cr": 22.3, "Ni": 5.6, "Mo": 3.1, "N": 0.17}
    >>> scene("duplex", steel, temperature_C=1100).table.round(2).loc["Cr, %"].tolist()
    [22.3, 23.94, 20.43]
    """
    made, batch = play(chapter), one_heat(steel, "steel")
    begin = {slot.name: slot.start for slot in made.slots}
    for name in numbers:
        one_of(f"number of '{chapter}'", name, begin, ", ".join(begin) or "nothing")
    given: Mapping[str, float] = {**begin, **numbers}
    return made.look(batch.dropna(axis=1), given)
