"""One reader for every JSON file of a user: nothing is lost in it without a word."""

from __future__ import annotations

import json
import os
from collections import Counter
from collections.abc import Mapping
from math import isfinite
from typing import Any

from gradekit.core.errors import NOTHING, InputError, said
from gradekit.core.files import as_path
from gradekit.core.reader import content_of, decoded

_DEEPEST = 40  # the files of this library need five
_MOST_BYTES = 64_000_000
_MOST_DIGITS = 40


def read_json(path: str | os.PathLike, holds: str = "JSON") -> Any:
    """Return what a JSON file holds; `holds` says what it should be, for messages.

    Raises
    ------
    InputError
        A file that is not there, is no text or too large, and what `parse_json` refuses.
    """
    path = as_path(path)
    raw = content_of(path, "JSON file", _MOST_BYTES)
    return parse_json(decoded(raw, f"'{path.name}'"), f"'{path.name}'", holds)


def parse_json(text: str, where: str, must_be: str = "JSON") -> Any:
    """Return what a JSON text holds; a key that stands twice is refused, as one would be lost.

    Parameters
    ----------
    text : str
    where : str
        Name of the file, for messages.
    must_be : str
        What the file should be, for messages.

    Raises
    ------
    InputError
        No JSON, with line and column; a key twice in one object; lists and objects nested more
        than 40 deep; a number that is not finite or has more than 40 digits.

    Examples
    --------
    >>> parse_json('{"Cr": 18.1}', "heats.json")
    {'Cr': 18.1}
    >>> parse_json('{"Cr": 18.1, "Cr": 17.2}', "heats.json")
    Traceback (most recent call last):
    gradekit.InputError: heats.json · must be an object with each key once · got 'Cr' twice
    """

    def each_key_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        keyed = dict(pairs)
        if len(keyed) < len(pairs):
            twice = Counter(key for key, _ in pairs).most_common(1)[0][0]
            raise InputError(where, "an object with each key once", said(f"{twice!r:.60} twice"))
        return keyed

    def whole(digits: str) -> int:
        if len(digits) > _MOST_DIGITS:
            at_most = f"a number of at most {_MOST_DIGITS} digits"
            raise InputError(where, at_most, said(f"{digits[:20]}... of {len(digits)} digits"))
        return int(digits)

    def no_number(name: str) -> float:
        raise InputError(where, "finite numbers", said(name))

    if not text.strip():
        raise InputError(where, must_be, NOTHING)
    try:
        content = json.loads(
            text, object_pairs_hook=each_key_once, parse_int=whole, parse_constant=no_number
        )
    except json.JSONDecodeError as error:
        place = f"{where}, line {error.lineno}, column {error.colno}"
        raise InputError(place, must_be, said(error.msg)) from None
    except RecursionError:
        raise _too_deep(where) from None
    _check(content, where)
    return content


def _check(content: Any, where: str) -> None:
    """Refuse what is nested too deeply and what is no finite number, without recursion."""
    level = [content]
    for _ in range(_DEEPEST):
        if not level:
            return
        below: list[Any] = []
        for value in level:
            if isinstance(value, Mapping):
                below += value.values()
            elif isinstance(value, list):
                below += value
            elif isinstance(value, float) and not isfinite(value):
                raise InputError(where, "finite numbers", value)
        level = below
    if level:
        raise _too_deep(where)


def _too_deep(where: str) -> InputError:
    return InputError(where, f"nested at most {_DEEPEST} deep", said("more"))
