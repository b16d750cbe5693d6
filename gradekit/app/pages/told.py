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
NOTHING = 1e-9


class Line(NamedTuple):
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


def lines_of(relation: Relation) -> list[Line]:
    """Return what is told of the values of a relation.

    Examples
    --------
    >>> from gradekit.relations.topics import CATALOGUE
    >>> [line.word for line in lines_of(CATALOGUE["pren_16n"])][:4]
    ['To be said', 'Also give pitting resistance equivalent', 'Formula', 'Made for']
    """
    basis = relation.error_basis
    others = [Line(f"Also give {relation.quantity}", "", "others")] if rivals_of(relation) else []
    lines = [
        Line("To be said", "", "said"),
        *others,
        Line("Formula", relation.formula),
        Line("Made for", f"{families_in_words(relation.families) or 'any'} steel"),
        Line("Range", relation.domain),
        Line("Error", f"not known: {basis}".removesuffix(": none")) if relation.error is None
        else Line("Error", f", {basis}", "error"),
        Line("Evidence", evidence_words(relation.status)),
        Line("Source", relation.citation),
        Line("Note", relation.note),
    ]  # fmt: skip
    return [line for line in lines if line.text or line.place]
