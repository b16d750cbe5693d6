"""Writing files whole or not at all, and text that no spreadsheet can run."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from gradekit.core.errors import InputError

__all__ = ["as_path", "inert_text", "original_text", "write_whole"]

# A cell that begins with one of these is run as a formula by spreadsheets.
_RUNS = ("=", "+", "-", "@", "\t", "\r", "\n")
_GUARD = "'"


def inert_text(value: object) -> object:
    """Return `value` so that a spreadsheet shows it as text and never runs it.

    Examples
    --------
    >>> inert_text("=1+1"), inert_text("H24-001"), inert_text(18.2)
    ("'=1+1", 'H24-001', 18.2)
    """
    if isinstance(value, str) and value.lstrip(" " + _GUARD).startswith(_RUNS):
        return _GUARD + value
    return value


def original_text(value: object) -> object:
    """Undo `inert_text`.

    Examples
    --------
    >>> original_text("'=1+1")
    '=1+1'
    """
    if isinstance(value, str) and value.startswith(_GUARD):
        if value[1:].lstrip(" " + _GUARD).startswith(_RUNS):
            return value[1:]
    return value


def as_path(path: object) -> Path:
    """Return a path, or refuse what is none.

    Examples
    --------
    >>> as_path("sheet.html").suffix
    '.html'
    """
    if not isinstance(path, (str, os.PathLike)):
        raise InputError("path of a file", "a text or a path", path)
    return Path(path)


def write_whole(path: str | os.PathLike, content: bytes | str) -> Path:
    """Write a file whole or not at all, and return its path.

    The content goes to a temporary neighbour first and is then renamed over the target, so a
    full disk or a stopped kernel leaves the old file as it was.

    Examples
    --------
    >>> import tempfile, pathlib
    >>> folder = pathlib.Path(tempfile.mkdtemp())
    >>> write_whole(folder / "note.txt", "18Cr").read_text()
    '18Cr'
    """
    path = as_path(path)
    data = content.encode("utf-8") if isinstance(content, str) else content
    if not path.parent.is_dir():
        raise InputError(f"folder of '{path.name}'", "an existing folder", str(path.parent))
    handle, temporary = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as out:
            out.write(data)
        os.chmod(temporary, 0o644)
        os.replace(temporary, path)
    except BaseException:
        os.unlink(temporary)
        raise
    return path
