"""The line that says what happened, and callbacks that cannot fail without a word."""

from __future__ import annotations

from collections.abc import Callable

import anywidget
import traitlets

from gradekit.app.widgets.turns import in_turn
from gradekit.core.errors import InputError

__all__ = ["Status", "guarded", "in_words"]


class Status(anywidget.AnyWidget):
    """A line of text that screen readers announce when it changes."""

    _esm = """
    // JupyterLab takes the arrow keys away from whatever it does not know for a place to type in.
    const keep = ({ target }) => {
      if (!target.matches?.(".gk-live :is(select, input)")) return;
      target.dataset.lmSuppressShortcuts = "true";
    };
    function render({ model, el }) {
      document.gradekitKeys ??= document.addEventListener("focusin", keep) ?? true;
      const line = document.createElement("p");
      line.className = "gk-status";
      line.setAttribute("role", "status");
      const show = () => {
        line.textContent = model.get("text");
        line.classList.toggle("gk-error", model.get("wrong"));
      };
      model.on("change:text change:wrong", show);
      el.append(line);
      show();
    }
    export default { render };
    """
    _css = """
    .gk-status{font:13px/1.4 var(--jp-ui-font-family,system-ui,sans-serif);min-height:1.4em;
      color:var(--jp-ui-font-color1,inherit);margin:.2em 0;padding:.1em .5em;
      border-left:3px solid transparent}
    .gk-status.gk-error{border-left-color:#c0392b;font-weight:600}
    """
    text = traitlets.Unicode().tag(sync=True)
    wrong = traitlets.Bool(False).tag(sync=True)

    def say(self, text: str) -> None:
        """Show a text; an empty one clears the line."""
        self._put(text, False)

    def error(self, error: BaseException | str) -> None:
        """Show what went wrong."""
        text = error if isinstance(error, str) else in_words(error)
        self._put(f"✕ {text}", True)

    def _put(self, text: str, wrong: bool) -> None:
        with self.hold_sync():
            self.text, self.wrong = text, wrong


def in_words(error: BaseException) -> str:
    """Return an error as a reader can use it.

    Examples
    --------
    >>> in_words(KeyError("Cr"))
    "this did not work, nothing has changed (KeyError: 'Cr')"
    """
    if isinstance(error, InputError):
        return str(error)
    return f"this did not work, nothing has changed ({type(error).__name__}: {error})"


def guarded(status: Status, action: Callable[..., str | None]) -> Callable[..., None]:
    """Return a callback that says in the status line what `action` returns or what went wrong."""

    @in_turn
    def callback(*arguments: object) -> None:
        try:
            said = action(*arguments)
        except Exception as error:
            status.error(error)
        else:
            if said is not None:
                status.say(said)

    return callback
