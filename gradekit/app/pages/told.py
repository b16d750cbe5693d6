"""What is told of a number: which lines, in which order and words, in a panel and in a page alike.

What rests on the relation alone is text here. Three places depend on the steel; they are filled by
`gradekit.app.panels.about_number` in a kernel and by `told.js` in a page.
"""

from __future__ import annotations

from typing import NamedTuple

from gradekit.core.markup import evidence_words
from gradekit.design.quantities import rivals_of
from gradekit.relations.declaration import Relation
from gradekit.relations.groups import families_in_words

#: A part of a value or of its change that is smaller only takes room.
NEGLIGIBLE = 1e-9


class ToldLine(NamedTuple):
    """A line on a number.

    Parameters
    ----------
    word : str
    text : str
    place : str
        What of the steel stands before the text: '' nothing, 'error', 'said' (the flags in words)
        or 'others' (what else gives the quantity). A line that comes out empty is left out.
    """

    word: str
    text: str
    place: str = ""


def told_lines(relation: Relation) -> list[ToldLine]:
    """Return what is told of the values of a relation.

    Examples
    --------
    >>> from gradekit.relations.topics import CATALOGUE
    >>> [line.word for line in told_lines(CATALOGUE["pren_16n"])][:4]
    ['To be said', 'Also give pitting resistance equivalent', 'Formula', 'Made for']
    """
    basis = relation.error_basis
    others = (
        [ToldLine(f"Also give {relation.quantity}", "", "others")] if rivals_of(relation) else []
    )
    lines = [
        ToldLine("To be said", "", "said"),
        *others,
        ToldLine("Formula", relation.formula),
        ToldLine("Made for", f"{families_in_words(relation.families) or 'any'} steel"),
        ToldLine("Range", relation.domain),
        ToldLine("Error", f"not known: {basis}".removesuffix(": none")) if relation.error is None
        else ToldLine("Error", f", {basis}", "error"),
        ToldLine("Evidence", evidence_words(relation.status)),
        ToldLine("Source", relation.citation),
        ToldLine("Note", relation.note),
    ]  # fmt: skip
    return [line for line in lines if line.text or line.place]
