"""What a student has done in a course: guesses and answers, kept in a file. No widget is needed."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from gradekit.app.state import from_json, to_json
from gradekit.core.errors import NOTHING, InputError
from gradekit.core.files import as_path, write_whole
from gradekit.lessons.chapters import CHAPTERS

__all__ = ["KIND", "Progress", "Try", "Work"]

KIND = "phase balance"


@dataclass(frozen=True)
class Try:
    """One answer of a student, with what was said to it."""

    chapter: str
    seed: int
    item: int
    given: str
    right: bool
    said: str
    after_working: bool = False


@dataclass(frozen=True)
class Work:
    """All guesses and tries of one student.

    Examples
    --------
    >>> work = Work().guessed("nitrogen", 0.3).tried(Try("nitrogen", 0, 1, "0.2", True, "Right."))
    >>> work.guesses, work.solved("nitrogen")
    ({'nitrogen': 0.3}, 1)
    >>> Work.from_data(work.data()) == work
    True
    """

    name: str = ""
    guesses: Mapping[str, float] = field(default_factory=dict)
    tries: tuple[Try, ...] = ()
    seeds: Mapping[str, int] = field(default_factory=dict)
    opened: tuple[tuple[str, int, int], ...] = ()

    def guessed(self, chapter: str, guess: float) -> Work:
        """Return this work with a guess; a second one takes the place of the first."""
        return replace(self, guesses={**self.guesses, chapter: guess})

    def tried(self, one: Try) -> Work:
        """Return this work with one more answer."""
        return replace(self, tries=(*self.tries, one))

    def turned(self, chapter: str, seed: int) -> Work:
        """Return this work with other questions in a chapter."""
        return replace(self, seeds={**self.seeds, chapter: seed})

    def opening(self, chapter: str, seed: int, item: int) -> Work:
        """Return this work with a question whose working has been looked at."""
        one = (chapter, seed, item)
        return self if one in self.opened else replace(self, opened=(*self.opened, one))

    def last(self, chapter: str, seed: int, item: int) -> Try | None:
        """Return the last answer to a question."""
        found = [t for t in self.tries if (t.chapter, t.seed, t.item) == (chapter, seed, item)]
        return found[-1] if found else None

    def has_solved(self, chapter: str, seed: int, item: int) -> bool:
        """Return whether a question was ever answered rightly, whatever was tried after."""
        at = (chapter, seed, item)
        return any(t.right for t in self.tries if (t.chapter, t.seed, t.item) == at)

    def solved(self, chapter: str) -> int:
        """Return how many questions of a chapter have a right answer."""
        return len({(t.seed, t.item) for t in self.tries if t.chapter == chapter and t.right})

    def sets(self, chapter: str) -> list[int]:
        """Return the seeds of a chapter that were worked at, and the one that is open."""
        worked = [t.seed for t in self.tries if t.chapter == chapter]
        worked += [seed for name, seed, _ in self.opened if name == chapter]
        return sorted({*worked, self.seeds.get(chapter, 0)})

    def data(self) -> dict:
        """Return plain data for a file."""
        return {
            "name": self.name,
            "guesses": dict(self.guesses),
            "seeds": dict(self.seeds),
            "tries": [vars(t) for t in self.tries],
            "opened": [list(o) for o in self.opened],
        }

    @classmethod
    def from_data(cls, data: Mapping, where: str = "file") -> Work:
        """Read what `data` gave."""
        guesses, seeds, tries = (data.get(k) for k in ("guesses", "seeds", "tries"))
        for key, found, kind in (
            ("guesses", guesses, dict), ("seeds", seeds, dict), ("tries", tries, list)
        ):  # fmt: skip
            if not isinstance(found, kind):
                raise InputError(f"{where}, {key}", f"a {kind.__name__}", found or NOTHING)
        for chapter in {*guesses, *seeds}:
            _known(chapter, where)
        for chapter, guess in guesses.items():
            if isinstance(guess, bool) or not isinstance(guess, int | float):
                raise InputError(f"{where}, guess of {chapter}", "a number", guess)
        for chapter, seed in seeds.items():
            if isinstance(seed, bool) or not isinstance(seed, int) or seed < 0:
                raise InputError(f"{where}, seed of {chapter}", "a whole number from 0", seed)
        read = []
        for number, one in enumerate(tries, start=1):
            try:
                read.append(Try(**one))
            except TypeError:
                raise InputError(
                    f"{where}, try {number}", ", ".join(Try.__dataclass_fields__), one
                ) from None
            _known(read[-1].chapter, where)
        opened = data.get("opened", [])  # a file of an earlier version has none
        for one in opened if isinstance(opened, list) else [opened]:
            if not isinstance(one, list) or [type(v) for v in one] != [str, int, int]:
                raise InputError(f"{where}, opened", "lists of chapter, seed, question", one)
            _known(one[0], where)
        opened = tuple((name, seed, item) for name, seed, item in opened)
        return cls(str(data.get("name", "")), guesses, tuple(read), seeds, opened)


def _known(chapter: object, where: str) -> None:
    if chapter not in CHAPTERS:
        raise InputError(f"{where}, chapter", ", ".join(CHAPTERS), chapter)


class Progress:
    """The work of a student and the file that keeps it.

    Parameters
    ----------
    path : path of a JSON file
        Read if it is there; written whole at every step.
    name : str, optional
        Of the student, for the sheet.
    """

    def __init__(self, path: str | os.PathLike, name: str = ""):
        self.path = as_path(path)
        self.work = Work()
        if self.path.exists():
            try:
                text = self.path.read_text("utf-8")
            except (OSError, UnicodeDecodeError):
                raise InputError(self.path.name, "a readable text", "something else") from None
            self.work = Work.from_data(from_json(text, KIND, self.path.name), self.path.name)
        if name:
            self.work = replace(self.work, name=name)

    def keep(self, work: Work) -> str:
        """Take up new work and write it; return a complaint where the disk refuses."""
        self.work = work
        try:
            write_whole(self.path, to_json(KIND, work.data()))
        except (OSError, InputError) as error:
            return f" (kept in this session only, {self.path.name} could not be written: {error})"
        return ""
