"""Files as accidents and malice make them: a good one, with something changed in it.

`GRADEKIT_FUZZ=100` in the environment makes a hundred times as many as the tests of every day.
"""

from __future__ import annotations

import copy
import json
import os
import random
from collections.abc import Iterator
from typing import Any

MANY = int(os.environ.get("GRADEKIT_FUZZ", "1"))

HOSTILE: list[Any] = [
    None, True, False, 0, -1, 1, 1e-300, 1e308, -1e308, 10**30, 10**60, 3.5, "", " ", "x", "18,2",
    "-", "=1+1", "<b>&</b>", "$$", "a\0b", "\x1b[31m", "\ud800", "nan", "1e999", "x" * 5000,
    "9**9**9", '"a"*3000000000', "__import__('os')", [], {}, [[]], [None], [1, 2, 3], {"a": 1},
    {"": {}}, [[[[[[[[]]]]]]]],
]  # fmt: skip
DEEP = "@deep@"  # put into the text afterwards: no writer nests so far


def mutants(good: Any, seed: int, count: int) -> Iterator[bytes]:
    """Yield the bytes of so many changed JSON files."""
    rng = random.Random(seed)
    for _ in range(count * MANY):
        content = copy.deepcopy(good)
        for _ in range(rng.choice((1, 1, 1, 2, 3))):
            content = _changed(content, rng)
        text = json.dumps(content, indent=rng.choice((None, 1)))
        text = text.replace(f'"{DEEP}"', "[" * 5000 + "]" * 5000)
        yield broken(text, rng)


def broken(text: str, rng: random.Random) -> bytes:
    """Return the bytes of a text, now and then damaged as a text."""
    how = rng.randrange(14)
    if how == 0:
        return text[: rng.randrange(len(text) + 1)].encode()
    if how == 1:
        return text.encode("utf-16")
    if how == 2:
        raw = bytearray(text.encode())
        for _ in range(rng.randrange(1, 4)):
            raw[rng.randrange(len(raw))] = rng.randrange(256)
        return bytes(raw)
    if how == 3:
        at = rng.randrange(len(text))
        return (text[:at] + text[at : at + rng.randrange(60)] * 2 + text[at:]).encode()
    if how == 4:
        return b"\xef\xbb\xbf" + text.replace("\n", "\r").encode()
    return text.encode()


def _changed(content: Any, rng: random.Random) -> Any:
    """Change one place of plain data, and return it."""
    places = list(_places(content))
    if not places:
        return rng.choice(HOSTILE)
    holder, key = rng.choice(places)
    how = rng.randrange(6)
    if how == 0 and isinstance(holder, dict):
        holder[rng.choice(["", "extra", "Cr", "\0", key + " "])] = rng.choice(HOSTILE)
    elif how == 1:
        del holder[key]
    elif how == 2:
        other, name = rng.choice(places)
        with_it = copy.deepcopy(other[name])
        holder[key] = with_it
    elif how == 3:
        holder[key] = DEEP
    elif how == 4 and isinstance(holder[key], int | float) and not isinstance(holder[key], bool):
        holder[key] = holder[key] * rng.choice((-1, 0, 1e-6, 1e6, 1e20))
    else:
        holder[key] = rng.choice(HOSTILE)
    return content


def _places(content: Any) -> Iterator[tuple[Any, Any]]:
    pairs = content.items() if isinstance(content, dict) else (
        enumerate(content) if isinstance(content, list) else ())  # fmt: skip
    for key, value in list(pairs):
        yield content, key
        yield from _places(value)
