"""What an explorer remembers: plain immutable data, its history, and its file.

No widget is needed for any of this.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from operator import attrgetter
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from gradekit.core.errors import NOTHING, InputError, said
from gradekit.core.json_text import parse_json, read_json
from gradekit.heats.batch import as_batch

#: Version of the files written here; a newer one is refused in words.
VERSION = 1
#: What a file of a state is, for messages.
SAVED = "a file saved by an explorer"
_FORMAT = "gradekit panel"
# Changes of one control that follow each other this closely (s) are undone together.
_TOGETHER = 1.0
_KEPT = 500


@dataclass(frozen=True)
class History:
    """A state with what came before and after it; every step gives a new history.

    Parameters
    ----------
    now : any immutable value that can be compared
    first : the state that `reset` returns to; `now` by default

    Examples
    --------
    >>> h = History("a").step("b").step("c")
    >>> h.undo().now, h.undo().redo().now, h.reset().now, h.reset().undo().now
    ('b', 'c', 'a', 'c')
    """

    now: Any
    first: Any = None
    past: tuple = ()
    future: tuple = ()
    key: str = ""
    at: float = 0.0

    def __post_init__(self) -> None:
        if self.first is None:
            object.__setattr__(self, "first", self.now)

    def step(self, state: Any, key: str = "", at: float = 0.0) -> History:
        """Go on to a state; steps of one `key` within a second (`at`, in s) count as one."""
        if state == self.now:
            return self
        goes_on = bool(key) and key == self.key and at - self.at < _TOGETHER
        past = self.past if goes_on else (*self.past, self.now)[-_KEPT:]
        return replace(self, now=state, past=past, future=(), key=key, at=at)

    def undo(self) -> History:
        """Go one step back; at the beginning nothing changes."""
        if not self.past:
            return self
        *past, now = self.past
        return replace(self, now=now, past=tuple(past), future=(self.now, *self.future), key="")

    def redo(self) -> History:
        """Take the last undo back; without one nothing changes."""
        if not self.future:
            return self
        now, *future = self.future
        return replace(self, now=now, past=(*self.past, self.now), future=tuple(future), key="")

    def reset(self) -> History:
        """Go back to the first state, as a step that can be undone."""
        return self.step(self.first)


class Part(NamedTuple):
    """A part of a state, as a control shows it and changes it.

    Parameters
    ----------
    name : str
    held : callable(state)
        What the control shows of a state.
    put : callable(state, value)
        The state with what the control says.
    """

    name: str
    held: Callable[[Any], Any]
    put: Callable[[Any, Any], Any]


def attribute(name: str) -> Part:
    """Return the part that is an attribute of a state."""
    return Part(name, attrgetter(name), lambda state, value: replace(state, **{name: value}))


def pairs(name: str) -> Part:
    """Return the part that holds names with numbers; what is not known is left out of it.

    Examples
    --------
    >>> pairs("contents").put(Trial.of({"Cr": 18.0, "Ni": 8.0}), {"Ni": None}).contents
    (('Cr', 18.0),)
    """

    def held(state: Any) -> dict[str, float]:
        return dict(getattr(state, name))

    def put(state: Any, values: Mapping[str, float | None]) -> Any:
        return replace(state, **{name: known({**held(state), **values})})

    return Part(name, held, put)


def to_json(kind: str, state: Mapping, results: Any = None) -> str:
    """Return the text of a file that holds a state.

    Parameters
    ----------
    kind : str
        Name of the explorer that can read it back.
    state : mapping
        Plain data.
    results : plain data, optional
        What the state gave, for readers of the file; it is not read back.

    Examples
    --------
    >>> from_json(to_json("composition", {"Cr": 18.0}), "composition")
    {'Cr': 18.0}
    """
    content = {"format": _FORMAT, "version": VERSION, "kind": kind, "state": dict(state)}
    content |= {} if results is None else {"results": results}
    return json.dumps(content, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def from_json(text: str, kind: str, where: str = "file") -> dict:
    """Return the state in the text of a file.

    Raises
    ------
    InputError
        If the text is no such file, belongs to another explorer, or is newer than this library.
    """
    return state_of(parse_json(text, where, SAVED), kind, where)


def read_state(path: Path, kind: str) -> dict:
    """Return the state in a file; see `from_json`."""
    return state_of(read_json(path, SAVED), kind, path.name)


def state_of(content: Any, kind: str, where: str = "file") -> dict:
    """Return the state in the parsed content of a file; see `from_json`."""
    if not isinstance(content, dict) or content.get("format") != _FORMAT:
        raise InputError(where, SAVED, said(f"{content!r:.60}"))
    version = content.get("version")
    if not isinstance(version, int) or version > VERSION:
        raise InputError(
            f"{where}, version", f"{VERSION} or older, which this gradekit reads", version,
            "a newer gradekit",
        )  # fmt: skip
    if content.get("kind") != kind:
        raise InputError(f"{where}, kind of explorer", repr(kind), content.get("kind"))
    if not isinstance(content.get("state"), dict):
        raise InputError(f"{where}, state", "a JSON object", content.get("state"))
    return content["state"]


@dataclass(frozen=True)
class Trial:
    """A composition being tried, with what it is compared with and seen on.

    Parameters
    ----------
    contents : tuple of (element, wt%)
        In a fixed order; what is not reported is left out.
    reference : str
        Heat that it is compared with.
    diagram : str
        Diagram it is seen on.
    conditions : tuple of (condition, value)

    Examples
    --------
    >>> trial = Trial.of({"Cr": 18.0, "Ni": None}, reference="H1", diagram="wrc_1992")
    >>> trial.composition
    {'Cr': 18.0}
    >>> Trial.from_data(trial.data()) == trial
    True
    """

    contents: tuple[tuple[str, float], ...]
    reference: str = ""
    diagram: str = ""
    conditions: tuple[tuple[str, float], ...] = ()

    @classmethod
    def of(
        cls,
        composition: Mapping[str, float | None] | pd.Series,
        conditions: Mapping[str, float | None] | None = None,
        **rest: str,
    ) -> Trial:
        """Make a trial of mappings; unknowns (None, NaN) are left out."""
        return cls(known(composition), conditions=known(conditions or {}), **rest)

    @property
    def composition(self) -> dict[str, float]:
        """The contents as a dict of element to wt%."""
        return dict(self.contents)

    def batch(self, label: str = "heat 1") -> pd.DataFrame:
        """Return the contents as a batch of one heat; they were read and checked before."""
        amounts = np.array([[amount for _, amount in self.contents]], dtype=float)
        return pd.DataFrame(amounts, index=[label], columns=list(self.composition))

    def data(self) -> dict:
        """Return plain data for a file."""
        return {
            "composition": self.composition,
            "reference": self.reference,
            "diagram": self.diagram,
            "conditions": dict(self.conditions),
        }

    @classmethod
    def from_data(cls, data: Mapping, where: str = "file") -> Trial:
        """Read what `data` gave, and check it as strictly as any other input."""
        composition = numbers_in(data, "composition", where)
        as_batch(composition)
        return cls.of(
            composition,
            numbers_in({"conditions": {}, **data}, "conditions", where),
            reference=str(data.get("reference", "")),
            diagram=str(data.get("diagram", "")),
        )


def known(amounts: Mapping[str, float | None] | pd.Series) -> tuple[tuple[str, float], ...]:
    """Return names with numbers in their order, without those that are not known."""
    return tuple(
        (str(name), float(amount))
        for name, amount in amounts.items()
        if amount is not None and np.isfinite(amount)
    )


def numbers_in(data: Mapping, part: str, where: str) -> dict[str, float]:
    """Return the names with numbers that stand in a part of plain data."""
    amounts, where = data.get(part), f"{where}, {part}"
    if not isinstance(amounts, dict):
        raise InputError(where, "names with numbers", NOTHING if amounts is None else amounts)
    for name, amount in amounts.items():
        if isinstance(amount, bool) or not isinstance(amount, int | float):
            raise InputError(f"{where}, {name}", "a number", said(repr(amount)))
    return {name: float(amount) for name, amount in amounts.items()}
