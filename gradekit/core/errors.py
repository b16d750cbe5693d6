"""The one error of the library and the form of its message."""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable
from typing import Any


class InputError(ValueError):
    """Bad structure, refused once at the border.

    The message always reads *what · must be · got · nearest*, so that a reader in a notebook
    cell, a status line or a log knows what to change.

    Parameters
    ----------
    what : str
        The thing that is wrong, with its place (file, row, column, argument).
    must_be : str
        What would be accepted.
    got : object
        What was found; long values are shortened.
    nearest : str, optional
        The closest accepted value, or the line that repairs the call.

    Examples
    --------
    >>> print(InputError("element", "a chemical symbol", "Xx", "Xe"))
    element · must be a chemical symbol · got 'Xx' · nearest Xe
    """

    __module__ = "gradekit"  # what a traceback names: the public name

    def __init__(self, what: str, must_be: str, got: object, nearest: str | None = None):
        self.what, self.must_be, self.got, self.nearest = what, must_be, got, nearest
        shown = got if isinstance(got, _Said) else repr(got)
        message = f"{_short(what, 300)} · must be {_short(must_be, 900)} · got {_short(shown, 120)}"
        super().__init__(message + (f" · nearest {_short(nearest, 300)}" if nearest else ""))


def _short(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most - 3]}..."


class _Said(str):
    """A phrase to be shown without quotes, as in 'got nothing'."""


NOTHING = _Said("nothing")


def said(phrase: str) -> str:
    """Return a phrase that an `InputError` shows without quotation marks."""
    return _Said(phrase)


def listed(names: object, what: str) -> list:
    """Return one name or several as a list, or refuse what is neither.

    Examples
    --------
    >>> listed("1.4301", "grades"), listed(("A", "B"), "grades")
    (['1.4301'], ['A', 'B'])
    """
    if not isinstance(names, Iterable):
        raise InputError(what, "a text or several", names)
    return [names] if isinstance(names, str) else list(names)


def nearest(name: str, known: Iterable[str], count: int = 3) -> str | None:
    """Return the closest known names, comma separated, or None.

    Examples
    --------
    >>> nearest("pren16n", ["pren_16n", "md30_angel_1954"])
    'pren_16n'
    """
    known = list(known)
    lower = {k.lower(): k for k in known}
    close = difflib.get_close_matches(str(name).lower(), lower, n=count, cutoff=0.5)
    if not close and str(name).strip():
        close = [k for k in lower if str(name).lower() in k][:count]
    return ", ".join(lower[c] for c in close) or None


def one_of(what: str, name: Any, known: Collection, must_be: str = "") -> None:
    """Refuse a name that is none of those known, with the nearest one.

    Parameters
    ----------
    what : str
        What the name stands for.
    name
    known : collection of names
    must_be : str, optional
        What would be accepted; by default the known names.

    Raises
    ------
    InputError

    Examples
    --------
    >>> one_of("paper", "A5", ["A4", "Letter"])
    Traceback (most recent call last):
    gradekit.InputError: paper · must be A4, Letter · got 'A5' · nearest A4
    """
    if name not in known:
        names = [str(k) for k in known]
        raise InputError(what, must_be or ", ".join(names), name, nearest(str(name), names))
