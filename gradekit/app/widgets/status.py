"""The line that says what happened, and callbacks that cannot fail without a word."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event, RLock, Timer
from typing import Any

import anywidget
import traitlets

from gradekit.app.widgets.turns import in_turn
from gradekit.core.errors import InputError

#: Seconds after which somebody who waits is told that the answer is being made.
BUSY_AFTER = 0.3


class Status(anywidget.AnyWidget):
    """A line of text that screen readers announce when it changes."""

    _esm = Path(__file__).with_name("status.js")
    _css = """
    .gk-status{font:13px/1.4 var(--jp-ui-font-family,system-ui,sans-serif);min-height:1.4em;
      color:var(--jp-ui-font-color1,inherit);margin:.2em 0;padding:.1em .5em;
      border-left:3px solid transparent}
    .gk-lesson .gk-status:empty{min-height:0;margin:0;padding:0}
    .gk-status.gk-heard:not(.gk-error){height:1.4em;overflow:hidden;clip-path:inset(100%)}
    .gk-status.gk-error{border-left-color:#c0392b;font-weight:600}
    .gk-busy{font:600 13px/1.4 var(--jp-ui-font-family,system-ui,sans-serif);padding:.1em .5em;
      margin:.2em 0}
    .gk-ended{font:600 13px/1.45 var(--jp-ui-font-family,system-ui,sans-serif);padding:.3em .6em;
      margin:.3em 0;border-left:3px solid #c0392b;color:var(--jp-ui-font-color1,inherit)}
    .gk-ended button{font:inherit;pointer-events:auto;cursor:pointer;margin-left:.6em}
    """
    text = traitlets.Unicode().tag(sync=True)
    wrong = traitlets.Bool(False).tag(sync=True)
    heard = traitlets.Bool(False).tag(sync=True)  # it stands below, too: for the ear alone
    busy = traitlets.Bool(False).tag(sync=True)
    _signs = RLock()

    @contextmanager
    def working(self) -> Iterator[None]:
        """Show that an answer is being made, once it takes longer than 0.3 s."""
        over = Event()

        def sign() -> None:
            with self._signs:
                if not over.is_set():
                    self.busy = True

        later = Timer(BUSY_AFTER, sign)
        later.daemon = True
        later.start()
        try:
            yield
        finally:
            later.cancel()
            with self._signs:
                over.set()
                self.busy = False

    def say(self, text: str, heard: bool = False) -> None:
        """Show a text; an empty one clears the line, one that is only `heard` leaves it blank."""
        self._put(text, False, heard)

    def error(self, error: BaseException | str) -> None:
        """Show what went wrong."""
        text = error if isinstance(error, str) else error_in_words(error)
        self._put(f"✕ {text}", True)

    def _put(self, text: str, wrong: bool, heard: bool = False) -> None:
        with self.hold_sync():
            self.text, self.wrong, self.heard = text, wrong, heard


def error_in_words(error: BaseException) -> str:
    """Return an error as a reader can use it.

    Examples
    --------
    >>> error_in_words(KeyError("Cr"))
    "this did not work, nothing has changed (KeyError: 'Cr')"
    """
    if isinstance(error, InputError):
        return str(error)
    return f"this did not work, nothing has changed ({type(error).__name__}: {error})"


def guarded(status: Status, action: Callable[..., str | None]) -> Callable[..., None]:
    """Return a callback that says in the status line what `action` returns or what went wrong."""

    @in_turn
    def callback(*arguments: Any) -> None:
        try:
            with status.working():
                said = action(*arguments)
        except Exception as error:
            status.error(error)
        else:
            if said is not None:
                status.say(said)

    return callback
