"""The controls of every explorer: number boxes with sliders, choices, buttons, a status line.

All of them have names that a screen reader says, none clamps without a word, and whatever goes
wrong in a callback is text on the page.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

import anywidget
import ipywidgets as widgets
import traitlets

from gradekit.app.widgets.status import Status, guarded
from gradekit.app.widgets.turns import in_turn


class CodeBox(anywidget.AnyWidget):
    """A text to take along: shown, selected, and copied where the browser allows it."""

    _esm = """
    function render({ model, el }) {
      const box = document.createElement("textarea");
      box.className = "gk-code";
      box.readOnly = true;
      box.spellcheck = false;
      box.dataset.lmSuppressShortcuts = "true";
      const show = () => {
        box.setAttribute("aria-label", model.get("title"));
        box.value = model.get("text");
        box.rows = box.value.split("\\n").length + 1;
        box.style.display = box.value ? "" : "none";
      };
      model.on("change:text change:title", show);
      model.on("msg:custom", () => {
        box.select();
        navigator.clipboard?.writeText(box.value).catch(() => {});
      });
      el.append(box);
      show();
    }
    export default { render };
    """
    _css = """
    .gk-code{width:100%;box-sizing:border-box;font:12px/1.4 var(--jp-code-font-family,monospace);
      color:var(--jp-ui-font-color1,inherit);background:var(--jp-layout-color1,Field);
      border:1px solid var(--jp-border-color1,#8888);resize:vertical}
    """
    title = traitlets.Unicode("code").tag(sync=True)
    text = traitlets.Unicode().tag(sync=True)

    def offer(self, text: str) -> None:
        """Show a text and copy it."""
        self.text = text
        self.send("copy")


class Choice(widgets.Dropdown):
    """A drop-down list whose action is guarded; if the action fails the choice goes back.

    Parameters
    ----------
    text : str
        The words before it, and its accessible name.
    options : iterable of values, or of (text, value)
    value : the option chosen at first
    action : callable(value)
        What it returns is said in the status line.
    status : Status
    """

    def __init__(self, text: str, options: Iterable, value: Any, action: Callable, status: Status):
        self._action, self._status = action, status
        super().__init__(
            description=text,
            options=list(options),
            value=value,
            style={"description_width": "auto"},
            layout=widgets.Layout(width="auto", max_width="100%"),
        )
        self.observe(self._chosen, "value")

    def show(self, value: Any) -> None:
        """Show another choice without calling the action."""
        self.unobserve(self._chosen, "value")
        try:
            self.value = value
        finally:
            self.observe(self._chosen, "value")

    @in_turn
    def _chosen(self, change: Mapping) -> None:
        if self.value != change["new"]:
            return  # chosen over while it waited for its turn
        try:
            with self._status.working():
                said = self._action(change["new"])
        except Exception as error:
            self.show(change["old"])
            self._status.error(error)
        else:
            if said is not None:
                self._status.say(said)


def button(text: str, action: Callable[[], str | None], status: Status, tip: str = ""):
    """Return a button whose action is guarded; what the action returns is said."""
    made = widgets.Button(description=text, tooltip=tip, layout=widgets.Layout(width="auto"))
    made.on_click(guarded(status, lambda _: action()))
    return made
