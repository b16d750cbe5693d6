"""Writing files whole or not at all, and text that no spreadsheet can run."""

from __future__ import annotations

import datetime as dt
import io
import itertools
import os
import re
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

from gradekit.core.aliases import Cell, PathLike
from gradekit.core.errors import InputError, said

if TYPE_CHECKING:
    from openpyxl import Workbook

try:
    import fcntl
except ImportError:  # Windows holds an open file against deletion by itself
    fcntl = None  # type: ignore[assignment]

_COUNT = itertools.count()
_UNFINISHED = ".unfinished"

# A cell that begins with one of these is run as a formula by spreadsheets. A cell begins where a
# program parts the line, at whichever sign it does so; quotation marks before it are taken off.
_RUNS = r"[ '\"]*[=+\-@\t\r\n]"
_STARTS = re.compile(rf"(^|[;|\t\r\n])(?={_RUNS})")
_GUARDED = re.compile(rf"(^|[;|\t\r\n])'(?={_RUNS})")
#: Time of every file in a workbook, so that the same tables are the same bytes.
_TIME = dt.datetime(2000, 1, 1)


def inert_text(value: Cell) -> Cell:
    """Return `value` so that a spreadsheet shows it as text and never runs a part of it.

    Examples
    --------
    >>> inert_text("=1+1"), inert_text("H24-001"), inert_text(18.2), inert_text("x;=1+1")
    ("'=1+1", 'H24-001', 18.2, "x;'=1+1")
    """
    return _STARTS.sub(r"\1'", value) if isinstance(value, str) else value


def original_text(text: str) -> str:
    """Undo `inert_text`.

    Examples
    --------
    >>> original_text("'=1+1")
    '=1+1'
    """
    return _GUARDED.sub(r"\1", text)


def workbook_bytes(book: Workbook) -> bytes:
    """Return a workbook as the bytes of a file: the same for the same content, at any time."""
    made = io.BytesIO()
    book.save(made)
    out = io.BytesIO()
    with zipfile.ZipFile(made) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for item in old.infolist():
            content = old.read(item)
            if item.filename == "docProps/core.xml":
                stamp = rf"\g<1>{_TIME:%Y-%m-%dT%H:%M:%SZ}<".encode()
                content = re.sub(rb"(<dcterms:(?:created|modified)[^>]*>)[^<]*<", stamp, content)
            entry = zipfile.ZipInfo(item.filename, _TIME.timetuple()[:6])
            entry.compress_type, entry.external_attr = zipfile.ZIP_DEFLATED, item.external_attr
            new.writestr(entry, content)
    return out.getvalue()


def as_path(path: PathLike) -> Path:
    """Return a path, or refuse what is none.

    Examples
    --------
    >>> as_path("sheet.html").suffix
    '.html'
    """
    if not isinstance(path, (str, os.PathLike)):
        raise InputError("path of a file", "a text or a path", path)
    if "\0" in str(path):
        raise InputError("path of a file", "without the character NUL", path)
    return Path(path)


def write_whole(path: str | os.PathLike, content: bytes | str) -> Path:
    """Write a file whole or not at all, and return its path.

    The content goes to a temporary neighbour first and is then renamed over the target, so a
    full disk or a stopped kernel leaves the old file as it was. What a stopped kernel left behind
    is cleared away by the next write of that file. A file that was there keeps its mode, a link
    still leads to it, and a new one gets what the user's own settings give new files.

    Raises
    ------
    InputError
        A folder that is not there, or a file that cannot be written: a full disk, no permission.

    Examples
    --------
    >>> import tempfile, pathlib
    >>> folder = pathlib.Path(tempfile.mkdtemp())
    >>> write_whole(folder / "note.txt", "18Cr").read_text()
    '18Cr'
    """
    path = as_path(path)
    data = content.encode("utf-8", "replace") if isinstance(content, str) else content
    target = Path(os.path.realpath(path))
    if not target.parent.is_dir():
        raise InputError(f"folder of '{path.name}'", "an existing folder", str(path.parent))
    if target.is_dir():
        raise InputError(f"file '{path.name}'", "the name of a file", said("a folder"))
    try:
        if target.exists() and not os.access(target, os.W_OK):
            raise PermissionError(0, "it is write-protected")
        _clear_unfinished(target)
        handle, temporary = _open_neighbour(target)
        try:
            with os.fdopen(handle, "wb") as out:
                out.write(data)
                out.flush()
                with suppress(FileNotFoundError):
                    os.chmod(temporary, target.stat().st_mode & 0o7777)
                if fcntl is not None:  # replaced while it is held: nobody clears it away before
                    os.replace(temporary, target)
            if fcntl is None:
                os.replace(temporary, target)
        except BaseException:
            with suppress(FileNotFoundError):
                os.unlink(temporary)
            raise
    except OSError as error:
        reason = error.strerror or str(error)
        raise InputError(
            f"file '{path.name}'", "on a disk with room, where you may write", said(reason),
            "the old file is as it was",
        ) from error  # fmt: skip
    return path


@contextmanager
def locked(path: str | os.PathLike) -> Iterator[None]:
    """Hold a file for one process and thread at a time, from reading it to writing it again.

    The lock is a neighbour of the file, gone again afterwards. Where the disk knows no locks the
    work goes on without one.

    Examples
    --------
    >>> import tempfile, pathlib
    >>> folder = pathlib.Path(tempfile.mkdtemp())
    >>> with locked(folder / "note.txt"):
    ...     [p.name for p in folder.iterdir()]
    ['.note.txt.lock']
    >>> list(folder.iterdir())
    []
    """
    target = Path(os.path.realpath(as_path(path)))
    beside = target.with_name(f".{target.name}.lock")
    handle = None
    try:
        if fcntl is not None:
            while handle is None:
                handle = os.open(beside, os.O_CREAT | os.O_RDWR, 0o666)
                fcntl.flock(handle, fcntl.LOCK_EX)
                if not _is_still(handle, beside):  # whoever held it has removed it since
                    os.close(handle)
                    handle = None
    except OSError:
        pass  # a folder that is not there or may not be written is for the writer to say
    try:
        yield
    finally:
        if handle is not None:
            with suppress(OSError):
                os.unlink(beside)
            os.close(handle)


def free_name(name: str, *endings: str, folder: str | os.PathLike = ".") -> str:
    """Return the name, or the first of 'name-2', 'name-3' ... that no file has with these endings.

    Examples
    --------
    >>> import tempfile, pathlib
    >>> folder = pathlib.Path(tempfile.mkdtemp())
    >>> (folder / "trial.json").touch()
    >>> free_name("trial", ".json", ".csv", folder=folder)
    'trial-2'
    """
    for number in itertools.count(1):
        made = name if number == 1 else f"{name}-{number}"
        if not any(os.path.lexists(Path(folder) / f"{made}{ending}") for ending in endings):
            return made
    raise AssertionError("unreachable")


def _open_neighbour(target: Path) -> tuple[int, Path]:
    """Open a new file beside `target`, held so that no other writer takes it for a dead one."""
    while True:
        # The name of the file may be as long as the disk allows.
        name = f".{target.name[:60]}.{os.getpid()}-{next(_COUNT)}{_UNFINISHED}"
        temporary = target.with_name(name)
        handle = os.open(temporary, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666)
        if fcntl is None:
            return handle, temporary
        with suppress(OSError):
            fcntl.flock(handle, fcntl.LOCK_EX)
        if _is_still(handle, temporary):
            return handle, temporary
        os.close(handle)


def _is_still(handle: int, path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), os.stat(path))
    except FileNotFoundError:
        return False


def _clear_unfinished(target: Path) -> None:
    """Remove what writers of this file left that were killed; a live writer holds its own."""
    start = f".{target.name[:60]}."
    for entry in os.scandir(target.parent):
        if not (entry.name.startswith(start) and entry.name.endswith(_UNFINISHED)):
            continue
        with suppress(OSError):
            if fcntl is None:
                os.unlink(entry.path)
                continue
            handle = os.open(entry.path, os.O_RDWR)
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                os.unlink(entry.path)
            finally:
                os.close(handle)
