"""The course on phase balance: a question a chapter, and the way to its answer."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from gradekit.core.errors import one_of
from gradekit.lessons import chart_answers
from gradekit.lessons import course_answers as answers
from gradekit.lessons.answer import Answer


@dataclass(frozen=True)
class Chapter:
    """A question, the topic of its self-check, and the way to its answer."""

    name: str
    question: str
    unit: str
    topic: str
    compute: Callable[[], Answer]


def chapter(name: str) -> Chapter:
    """Return a chapter of the course by its name.

    Examples
    --------
    >>> chapter("nitrogen").topic
    'nitrogen for nickel'
    """
    one_of("chapter", name, CHAPTERS)
    return CHAPTERS[name]


_OF_FIELDS = [f"{answers.STEELS['lean nickel'][e]:.2g} % {e}" for e in ("Cr", "Ni", "Mn", "N")]
_CONTENTS = f"{', '.join(_OF_FIELDS[:-1])} and {_OF_FIELDS[-1]}"

_COURSE = (
    ("equivalents", "chromium equivalent", "% Ni", answers.equivalents_answer,
     "Carbon goes up by 0.05 %. By how much does Schaeffler's nickel equivalent rise, in % Ni?"),
    ("one element", "nickel equivalent", "FN", answers.one_element_answer,
     "A weld metal of the 18Cr-8Ni kind gets 0.05 % more nitrogen. By how much does its ferrite "
     "number change (a fall is negative)?"),
    ("fields", "field of a diagram", "of 3 diagrams", chart_answers.fields_answer,
     f"A steel with {_CONTENTS}: on how many of three diagrams "
     "(Schaeffler, DeLong, WRC-1992) is some ferrite read?"),
    ("dilution", "dilution", "% dilution", chart_answers.dilution_answer,
     "Mild steel is welded to 18Cr-8Ni plate with a 23Cr-13Ni wire. Up to which dilution does the "
     "weld keep at least 3 FN?"),
    ("solidification", "solidification mode", "% Ni", answers.solidification_answer,
     "An ordinary weld metal freezes as ferrite first. How much nickel may be added before it "
     "freezes as austenite first?"),
    ("families", "ferrite factor", "% Cr", answers.families_answer,
     "In a 17 % chromium ferritic steel, how much chromium makes good for 0.05 % of carbon?"),
    ("nitrogen", "nitrogen for nickel", "% N", answers.nitrogen_answer,
     "Four per cent of nickel are taken out of an 18Cr-8Ni steel. How much nitrogen keeps its "
     "WRC-1992 nickel equivalent?"),
    ("martensite", "strain-induced martensite", "% martensite", answers.martensite_answer,
     "An 18Cr-8Ni strip is cold rolled by 40 %, at the "
     f"{answers.mill_temperature():g} °C of an ordinary mill. How much of it is martensite then?"),
    ("duplex", "duplex partition", "points", answers.duplex_answer,
     "A 22Cr duplex steel is annealed at 1050 °C. By how many points does the pitting index of its "
     "ferrite lie above that of its austenite?"),
    ("pitting", "pitting index", "% N", answers.pitting_answer,
     "How much nitrogen does as much for the usual pitting index as one per cent of molybdenum?"),
)  # fmt: skip

#: The chapters by name, in order.
CHAPTERS: dict[str, Chapter] = {
    name: Chapter(name, question, unit, topic, compute)
    for name, topic, unit, compute, question in _COURSE
}
