"""The controls of every explorer: number boxes with sliders, choices, buttons, a status line.

All of them have names that a screen reader says, none clamps without a word, and whatever goes
wrong in a callback is text on the page.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType
from typing import Any

import anywidget
import ipywidgets as widgets
import traitlets

from gradekit.app.widgets.status import Status, guarded

_STYLE = {"description_width": "auto"}


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


class _Control(widgets.ValueWidget):
    """What a user sets to one value; if its action fails it goes back to the value before."""

    value: Any

    def listen(self, action: Callable[[Any], str | None], status: Status) -> None:
        def chosen(change: Mapping) -> str | None:
            if self.value != change["new"]:
                return None  # chosen over while it waited for its turn
            try:
                return action(change["new"])
            except Exception:
                self.show(change["old"])
                raise

        self._chosen = guarded(status, chosen)
        self.observe(self._chosen, "value")

    def show(self, value: Any) -> None:
        """Show another value without calling the action."""
        if value == self.value:
            return
        self.unobserve(self._chosen, "value")
        try:
            self.value = value
        finally:
            self.observe(self._chosen, "value")


class Choice(_Control, widgets.Dropdown):
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
        super().__init__(
            description=text,
            options=list(options),
            value=value,
            style=_STYLE,
            layout=widgets.Layout(width="auto", max_width="100%"),
        )
        self.listen(action, status)

    @property
    def values(self) -> list:
        """The values to choose from, without the words that stand for them."""
        return [one[1] if isinstance(one, tuple) else one for one in self.options]


class Tick(_Control, widgets.Checkbox):
    """A box to tick; parameters as of `Choice`."""

    def __init__(self, text: str, value: bool, action: Callable, status: Status):
        super().__init__(description=text, indent=False, value=value)
        self.add_class("gk-check").listen(action, status)


def text_box(
    text: str,
    layout: Mapping[str, str] = MappingProxyType({"width": "auto"}),
    kind: type = widgets.Text,
    **given: Any,
) -> Any:
    """Return a box for a text, which is sent once it is whole.

    Parameters
    ----------
    text : str
        The words before it, and its accessible name.
    layout : mapping
    kind : type
        Of widget, such as `Textarea`.
    **given
        As the widget takes it: `value`, `placeholder`.
    """
    given = {"continuous_update": False, **given}
    return kind(description=text, style=_STYLE, layout=widgets.Layout(**layout), **given)


def button(text: str, action: Callable[[], str | None], status: Status, tip: str = ""):
    """Return a button whose action is guarded; what the action returns is said."""
    made = widgets.Button(description=text, tooltip=tip, layout=widgets.Layout(width="auto"))
    made.on_click(guarded(status, lambda _: action()))
    return made
