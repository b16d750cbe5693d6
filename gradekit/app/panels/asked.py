"""What a customer asks: who, the grade now, what may replace it, where it serves."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from gradekit.core.aliases import PathLike
from gradekit.core.errors import NOTHING, InputError, said
from gradekit.core.json_text import read_json
from gradekit.service.candidate import Candidate, candidate
from gradekit.service.needs import Service

_SUGGEST = "suggest"


@dataclass(frozen=True)
class Question:
    """Who asks, the present grade, what may replace it, where it serves."""

    customer: str
    reference: str
    candidates: str
    service: Service

    @property
    def now(self) -> str:
        """The name of the grade now.

        Raises
        ------
        InputError
            Nothing typed, or no grade.
        """
        name = _points(self.reference).strip()
        if not name:
            raise InputError("Grade now", "a grade such as 1.4301", NOTHING)
        _steel(name, "Grade now")
        return name

    @property
    def others(self) -> list[str] | str:
        """The names of what may replace it, each steel once, or 'suggest'.

        Raises
        ------
        InputError
            Nothing typed, or no grade.

        Examples
        --------
        >>> Question("A", "1.4301", "1,4016; 430, 1.4372", Service()).others
        ['1.4016', '1.4372']
        """
        names = [n.strip() for n in re.split("[,;]", _points(self.candidates)) if n.strip()]
        if not names:
            raise InputError("Replace by", f"grades with commas between, or {_SUGGEST}", NOTHING)
        if [name.casefold() for name in names] == [_SUGGEST]:
            return _SUGGEST
        steels: dict[str, str] = {}
        for name in names:  # a steel under two names is one steel, called as it was first
            steels.setdefault(_steel(name, "Replace by").title, name)
        return list(steels.values())

    def as_dict(self) -> dict:
        """Return it as plain data."""
        return {
            "customer": self.customer,
            "reference": self.reference,
            "candidates": self.candidates,
            "service": self.service.as_dict(),
        }


def _points(text: str) -> str:
    """The comma in '1,4016' is a decimal comma: every EN number is 1 and four digits."""
    return re.sub(r"(?<![\d.])1,(?=\d{4}(?!\d))", "1.", text)


def _steel(name: str, box: str) -> Candidate:
    try:
        return candidate(name)
    except InputError as error:
        raise InputError(box, error.must_be, error.got, error.nearest) from None


def read_question(data: Any, where: str) -> Question:
    """Return the question in plain data; what cannot be one is refused."""
    names = list(asdict(Question("", "", "", Service())))
    if not isinstance(data, Mapping) or not set(names) <= set(data):
        raise InputError(where, f"a mapping with {', '.join(names)}", said(f"{data!r:.80}"))
    for name in names[:3]:
        if not isinstance(data[name], str) or not data[name].strip():
            raise InputError(f"{where}, {name}", "text", data[name] or NOTHING)
    customer, now, others = (data[n] for n in names[:3])
    return Question(customer, now, others, Service.from_dict(data["service"]))


def read_questions(questions: PathLike | Mapping[str, Any]) -> dict[str, Question]:
    """Return the questions of a JSON file, or of its content, by customer."""
    where = "questions"
    if isinstance(questions, str | os.PathLike):
        where = Path(questions).name
        questions = read_json(questions)
    listed = questions.get("questions") if isinstance(questions, Mapping) else None
    if not isinstance(listed, list) or not listed:
        raise InputError(where, "a mapping with a list 'questions'", listed or NOTHING)
    questions_read = [
        read_question(q, f"{where}, question {k}") for k, q in enumerate(listed, start=1)
    ]
    asked = {q.customer: q for q in questions_read}
    if len(asked) < len(questions_read):
        names = [q.customer for q in questions_read]
        twice = next(name for name in names if names.count(name) > 1)
        raise InputError(f"{where}, customer", "another name for each question", twice,
                         f"{twice} (2)")  # fmt: skip
    return asked
