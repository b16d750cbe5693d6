"""What is typed is kept at once, a file a question, and no file of anybody is written over.

No widget is needed for any of this.
"""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path

from gradekit.app.saving import Shelf
from gradekit.app.state import read_state
from gradekit.core.errors import InputError
from gradekit.core.files import as_path, free_name


class Keeper:
    """Keeps the questions that are put to one panel.

    Parameters
    ----------
    folder : path
        Made with the first question.
    kind : str
        Of the panel.

    Attributes
    ----------
    name : str
        Of the present file without its ending, '' before there is one.

    Examples
    --------
    >>> import tempfile
    >>> from gradekit.app.state import to_json
    >>> keeper = Keeper(tempfile.mkdtemp(), "desk")
    >>> for customer in ("Orrin & Co", "Orrin & Co", "Skerrow"):
    ...     keeper.keep(customer, to_json("desk", {"customer": customer}))
    >>> keeper.name, keeper.latest(), sorted(p.name for p in keeper.folder.iterdir())
    ('skerrow', 'skerrow', ['orrin-co.json', 'skerrow.json'])
    """

    def __init__(self, folder: str | os.PathLike[str], kind: str):
        self.folder, self.name, self._kind = as_path(folder), "", kind
        self._shelf = Shelf()
        self._names: dict[str, str] = {}  # of the files by their questions

    def path(self, name: str) -> Path:
        """Return where a question lies."""
        return self.folder / f"{name}.json"

    def keep(self, question: str, text: str) -> None:
        """Write a question into its file; into a new one where another page wrote that since."""
        wanted = _plain(question)
        self.name = self._names.get(wanted) or free_name(wanted, ".json", folder=self.folder)
        self.folder.mkdir(exist_ok=True)
        content = text.encode("utf-8", "replace")
        try:
            self._shelf.put(self.path(self.name), content)
        except InputError:
            if not self.path(self.name).exists():
                raise  # the disk refuses
            self.name = free_name(wanted, ".json", folder=self.folder)
            self._shelf.put(self.path(self.name), content)
        self._names[wanted] = self.name

    def begin(self, question: str) -> None:
        """Begin a question anew: what was kept of it stays, the next change has a new file."""
        self._names.pop(_plain(question), None)

    def resume(self, name: str, question: str) -> None:
        """Go on with a file that was read."""
        self._shelf.know(self.path(name), self.path(name).read_bytes())
        self.name = self._names[_plain(question)] = name

    def latest(self) -> str:
        """Return the name of the question that was changed last, '' where there is none."""
        with suppress(OSError):
            files = sorted(self.folder.glob("*.json"), key=lambda p: p.stat().st_mtime_ns)
            for path in reversed(files):
                with suppress(InputError):
                    read_state(path, self._kind)
                    return path.stem
        return ""


def _plain(question: str) -> str:
    """Return a name for a file: letters, digits and dashes."""
    words = "".join(c if c.isalnum() else " " for c in question.casefold()).split()
    return "-".join(words)[:60] or "question"
