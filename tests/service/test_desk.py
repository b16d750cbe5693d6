"""The desk answers as a seasoned application engineer would: questions of the trade."""

from __future__ import annotations

import re

import pytest
from desk_questions import QUESTIONS, Question
from desk_second_reader import SECOND
from desk_third_reader import THIRD

import gradekit as gk
from gradekit.core.sources import STATUSES, bibliography
from gradekit.sheets.language import tongue

GERMAN = tongue("de")
#: Words that no German sentence holds.
ENGLISH = re.compile(
    r"\b(the|of|and|is|are|with|by|for|not|no|less|than|grade|steel|against|its|it)\b"
)
WORDS = {
    "supported": "yes",
    "supported as far as assessed": "yes",
    "supported with reservations": "reserved",
    "not supported": "no",
    "not supported, nor is the present grade": "no",
    "cannot be judged from composition": "open",
}


def named(question: Question) -> str:
    return f"{question.now} to {question.new}: {question.what}"


@pytest.mark.parametrize("question", [*QUESTIONS, *SECOND, *THIRD], ids=named)
def test_the_desk_gives_the_engineer_s_answer(question):
    found = gk.compare_grades(question.now, question.new, gk.Service(**question.service))
    row = found.decisive.iloc[0]
    # 'supported, 2 open' says yes and what is open; what was asked and is open never ends in a tick
    words, _, _ = (
        row["answer"].partition(", ") if " open" in row["answer"] else (row["answer"],) * 3
    )
    told = WORDS.get(row["answer"]) or WORDS[words]
    assert told in question.answer.split(), (row["answer"], row["decisive"], row["why"])
    assert row["decisive"] in question.decisive.split("|"), (row["decisive"], row["why"])
    left = set(row["not assessed"].split(", "))
    assert row["sign"] != "✓" or left <= {"", "product form", "pitting index", "proof strength"}
    assert set(filter(None, question.open.split(", "))) <= left, row["not assessed"]
    # what is to be replaced is no remedy, and a sheet in German is German throughout
    present = found.reference.number
    for finding in next(iter(found.findings.values())):
        assert present not in finding.remedy.split(", "), finding
        if finding.criterion != "chemicals":  # the customer's own words
            told = f"{GERMAN(finding.reason)}; {GERMAN(finding.remedy)}"
            assert not ENGLISH.search(told), told


def test_the_library_of_questions_is_wide_and_every_answer_rests_on_something():
    assert len(QUESTIONS) >= 60 and len(SECOND) >= 25 and len(THIRD) >= 25
    asked = [*QUESTIONS, *SECOND, *THIRD]
    assert {q.source for q in asked} <= set(bibliography())
    assert {q.status for q in asked} <= set(STATUSES)
    decided = {word for q in asked for word in q.decisive.split("|")}
    assert len(decided) >= 14, decided
