"""What an explorer may write over: its own files as it left them, nothing else without being asked.

No widget is needed for any of this.
"""

from __future__ import annotations

import csv
import hashlib
import io
from pathlib import Path
from typing import Any

from gradekit.core.errors import InputError, said
from gradekit.core.files import free_name, locked, write_whole
from gradekit.core.json_text import parse_json

#: What explorers write; a suggested name is free for all of them.
ENDINGS = (".json", ".csv", ".xlsx", ".pdf")


class Shelf:
    """The files that one explorer has read or written, as they were then.

    Examples
    --------
    >>> import tempfile
    >>> path = Path(tempfile.mkdtemp()) / "trial.csv"
    >>> _ = path.write_text("heat,Cr,my own remarks")
    >>> Shelf().put(path, b"name,value")
    Traceback (most recent call last):
    gradekit.InputError: file 'trial.csv' · must be a free name · got a file of another kind, \
which is never replaced · nearest trial-2.csv
    """

    def __init__(self) -> None:
        self._as_left: dict[Path, str] = {}
        self._asked: tuple[Path, str] | None = None

    def know(self, path: Path, content: bytes) -> None:
        """Remember a file as it was read or written here."""
        self._as_left[path.resolve()] = _print_of(content)
        self._asked = None

    def owns(self, path: Path) -> bool:
        """Tell whether a file was read or written here, or is not there yet."""
        return path.resolve() in self._as_left or not path.exists()

    def put(self, path: Path, content: bytes) -> None:
        """Write a file, unless that would take something from somebody.

        Raises
        ------
        InputError
            A file of another kind, or one that was changed elsewhere since it was read or written
            here: never replaced. A file of this kind that is not known here: replaced when the
            same is asked for a second time. The message names a free name.
        """
        with locked(path):
            if path.exists():
                self._must_be_free(path, content)
            write_whole(path, content)
        self.know(path, content)

    def _must_be_free(self, path: Path, content: bytes) -> None:
        there = path.read_bytes()
        key = path.resolve(), _print_of(there)
        known = self._as_left.get(key[0])
        if known == key[1] or key == self._asked:
            return
        must_be = "a free name"
        if known is not None:
            got = "changed by another program or page since, and never replaced"
        elif _kind(there, path.suffix) != _kind(content, path.suffix):
            got = "a file of another kind, which is never replaced"
        else:
            self._asked = key
            must_be = "a free name, or pressed a second time to replace that file"
            got = "a file that was there before"
        free = free_name(path.stem, *ENDINGS, folder=path.parent)
        raise InputError(f"file '{path.name}'", must_be, said(got), free + path.suffix)


def _print_of(content: bytes) -> str:
    return hashlib.sha256(content).hexdigest()


def _kind(content: bytes, ending: str) -> Any:
    """Return what tells files of one ending apart: the explorer of a state, a table's heads."""
    try:
        if ending == ".json":
            held = parse_json(content.decode("utf-8"), "file")
            return [held.get(key) for key in ("format", "version", "kind")]
        if ending == ".csv":
            return next(csv.reader(io.StringIO(content.decode("utf-8-sig"))), None)
        if ending == ".xlsx":
            from openpyxl import load_workbook

            sheet = load_workbook(io.BytesIO(content), read_only=True).worksheets[0]
            return sheet.title, next(sheet.iter_rows(values_only=True, max_col=200), None)
    except Exception:  # whatever it is, it was not written here
        return content
    return content[:4]
