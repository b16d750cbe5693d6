"""What a student has done in a course: guesses and answers, kept in a file. No widget is needed."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields, replace
from typing import Any

from gradekit.app.state import numbers_in, read_state, to_json
from gradekit.core.errors import NOTHING, InputError, one_of
from gradekit.core.files import as_path, locked, write_whole
from gradekit.lessons.chapters import CHAPTERS

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
    asked: str = ""  # name of the template; older files do not tell it


# What stands in a file: the fields of `Try` and the names of their types. bool is not int here.
_TRY = {f.name: f.type for f in fields(Try)}


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

    def answers(self, chapter: str, seed: int, item: int, asked: str) -> list[Try]:
        """Return the answers to a question; `asked` is its template."""
        at = (chapter, seed, item, asked)
        return [t for t in self.tries if (t.chapter, t.seed, t.item, t.asked) == at]

    def solved(self, chapter: str) -> int:
        """Return how many questions of the self-checks of a chapter have a right answer."""
        own = [t for t in self.tries if t.chapter == chapter and t.right and t.item]
        return len({(t.seed, t.item) for t in own})

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
        guesses = numbers_in(data, "guesses", where)
        seeds: Any = data.get("seeds")
        tries: Any = data.get("tries")
        for key, part, kind in (("seeds", seeds, dict), ("tries", tries, list)):
            if not isinstance(part, kind):
                raise InputError(f"{where}, {key}", f"a {kind.__name__}", part or NOTHING)
        for chapter in {*guesses, *seeds}:
            one_of(f"{where}, chapter", chapter, CHAPTERS)
        for chapter, seed in seeds.items():
            if type(seed) is not int or not 0 <= seed < 10**6:
                must_be = "a whole number from 0, below a million"
                raise InputError(f"{where}, seed of {chapter}", must_be, seed)
        read = []
        for number, one in enumerate(tries, start=1):
            kinds = {k: type(v).__name__ for k, v in one.items()} if isinstance(one, dict) else {}
            if {"after_working": "bool", "asked": "str", **kinds} != _TRY:
                raise InputError(f"{where}, try {number}", ", ".join(_TRY), one)
            read.append(Try(**one))
            one_of(f"{where}, chapter", one["chapter"], CHAPTERS)
        opened: Any = data.get("opened", [])  # a file of an earlier version has none
        for one in opened if isinstance(opened, list) else [opened]:
            if not isinstance(one, list) or [type(v) for v in one] != [str, int, int]:
                raise InputError(f"{where}, opened", "lists of chapter, seed, question", one)
            one_of(f"{where}, chapter", one[0], CHAPTERS)
        opened = tuple((name, seed, item) for name, seed, item in opened)
        return cls(str(data.get("name", "")), guesses, tuple(read), seeds, opened)


class Progress:
    """The work of a student and the file that keeps it.

    Several kernels may keep one file: each adds what was done in it to what stands there by then,
    so nobody's answers are lost.

    Parameters
    ----------
    path : path of a JSON file
        Read if it is there; written whole at every step.
    name : str, optional
        Of the student, for the sheet.
    """

    def __init__(self, path: str | os.PathLike, name: str = ""):
        self.path = as_path(path)
        self.work = self._read() or Work()
        self._waiting: list[Callable[[Work], Work]] = []  # done, but not in the file yet
        self.watchers: list[Callable[[], None]] = []  # called after each step
        if name:
            self.work = replace(self.work, name=name)

    def keep(self, done: Callable[[Work], Work]) -> str:
        """Add what was done to the work and to its file; return a complaint where that fails.

        Parameters
        ----------
        done : callable(Work) -> Work
            Adds one event, such as `lambda work: work.guessed("nitrogen", 0.3)`.
        """
        complaint = self._keep(done)
        for watcher in self.watchers:
            watcher()
        return complaint

    def rename(self, name: str) -> str:
        """Put another name on the work; return a complaint where that cannot be kept."""
        self.work = replace(self.work, name=name)
        return self.keep(lambda work: replace(work, name=name))

    def _keep(self, done: Callable[[Work], Work]) -> str:
        name = self.work.name
        self._waiting.append(done)
        try:
            with locked(self.path):
                work = self._read()
                if work is None:  # new, or removed by its owner
                    work = done(self.work)
                else:
                    for event in self._waiting:
                        work = event(work)
                work = replace(work, name=name or work.name)
                write_whole(self.path, to_json(KIND, work.data()))
        except InputError as error:
            self.work = done(self.work)
            return f" (kept in this session only, {self.path.name} could not be written: {error})"
        self.work, self._waiting = work, []
        return ""

    def _read(self) -> Work | None:
        """Return what the file holds, None where there is no file."""
        if not self.path.exists():
            return None
        return Work.from_data(read_state(self.path, KIND), self.path.name)
