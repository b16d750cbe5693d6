"""The controls of every explorer beside its number boxes: choices, ticks, texts and buttons.

All of them have names that a screen reader says, none clamps without a word, and whatever goes
wrong in a callback is text on the page.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from types import MappingProxyType
from typing import Any

import anywidget
import ipywidgets as widgets
import traitlets

from gradekit.app.widgets.numbers import NumberBoxes
from gradekit.app.widgets.status import Status, error_in_words, guarded
from gradekit.core.errors import InputError, said
from gradekit.core.markup import tag

_STYLE = {"description_width": "auto"}

_CLAUSE = re.compile(r" ?\(still refused: .*$", re.S)


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


class TypedText(widgets.VBox):
    """A text box; a text that is refused stays in it, marked, with the reason beneath.

    Parameters
    ----------
    text : str
        The words before the box.
    value : str
    action : callable(text)
        Called with what was typed. If it raises, the box is marked.
    status : Status

    Attributes
    ----------
    box : Text
    problem : str
        Why the text is refused, '' where it is not.
    """

    def __init__(self, text: str, value: str, action: Callable[[str], None], status: Status):
        self.box = text_box(text, value=value)
        self.problem = ""
        self._words = widgets.HTML().add_class("gk-why")
        self._action, self._typed = action, guarded(status, self._try)
        self._mark("")
        super().__init__([self.box, self._words], layout=widgets.Layout(overflow="visible"))
        self.box.observe(self._typed, "value")

    def show(self, value: str) -> None:
        """Show another text without calling the action; the complaint is gone."""
        self.box.unobserve(self._typed, "value")
        self.box.value = value
        self.box.observe(self._typed, "value")
        self._mark("")

    def _try(self, _: Mapping) -> None:
        self._mark("")  # before the action, which says what is still refused
        try:
            self._action(self.box.value)  # as it is now, not as it was before a wait
        except Exception as error:
            self._mark(error_in_words(error))
            raise

    def _mark(self, problem: str) -> None:
        self.problem = problem
        # A plain text box takes no 'aria-invalid', so the mark is a class and words beneath.
        (self.box.add_class if problem else self.box.remove_class)("gk-wrong")
        self._words.value = tag("span", f"✕ {problem}") if problem else ""
        self._words.layout.display = "" if problem else "none"


class Refused:
    """What a panel refuses at present, said at the end of its status line as long as it is so.

    Parameters
    ----------
    status : Status
    texts : iterable of TypedText
    numbers : Numbers
    labels : mapping of number name to the word before its box
    """

    def __init__(
        self,
        status: Status,
        texts: Iterable[TypedText],
        numbers: NumberBoxes,
        labels: Mapping[str, str],
    ):
        self._status, self._texts, self._numbers = status, list(texts), numbers
        self._labels = labels
        status.observe(self._remind, "text")
        numbers.observe(self._remind, "problems")

    def now(self) -> dict[str, str]:
        """Return what stands in the boxes that are refused, by the words before them."""
        refused = {t.box.description: t.box.value for t in self._texts if t.problem}
        for name in self._numbers.problems:
            refused[self._labels[name]] = self._numbers.texts[name]
        return refused

    def forbid(self, what: str) -> None:
        """Refuse to make something of the last answer while the boxes show something else.

        Raises
        ------
        InputError
            Naming each box and its text.
        """
        if open_now := self.now():
            boxes = "; ".join(f"{label}: {text.strip()!r}" for label, text in open_now.items())
            must_be = "of what the boxes show: mend what is refused first"
            raise InputError(what, must_be, said(boxes))

    def _remind(self, _: Mapping) -> None:
        told = _CLAUSE.sub("", self._status.text)
        left = [label for label in self.now() if label not in told]
        self._status.text = f"{told} (still refused: {', '.join(left)})".strip() if left else told
