"""Number boxes with linked sliders: what was typed is refused in words, never clamped."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from contextlib import nullcontext
from dataclasses import asdict, dataclass
from pathlib import Path

import anywidget
import numpy as np
import traitlets

from gradekit.app.widgets.status import Status, in_words
from gradekit.app.widgets.turns import in_turn
from gradekit.core.errors import InputError, said
from gradekit.core.usertable import read_number

__all__ = ["Field", "Numbers"]


@dataclass(frozen=True)
class Field:
    """One number that a user can set.

    Parameters
    ----------
    name : str
        Its key, and unless there is a `label` the word before the box: 'Cr'.
    low, high, step : float
        Ends and step of the slider. The box takes what lies beyond.
    least, most : float, optional
        What lies beyond these is refused in words.
    title : str
        What the number is, with its unit; shown when pointed at and said in messages.
    optional : bool
        Whether the box may be empty, which means 'not known'.
    label : str
        The word before the box, where the name is not fit to be read: 'grain size, µm'.
    """

    name: str
    low: float
    high: float
    step: float
    least: float | None = 0.0
    most: float | None = None
    title: str = ""
    optional: bool = False
    label: str = ""

    def read(self, text: str) -> float | None:
        """Return the number in a text ('18,2' and '18.2' alike), or None for an empty one.

        A content may be typed in ppm by mass.

        Examples
        --------
        >>> Field("Cr", 0, 30, 0.1).read(" 18,2 ")
        18.2
        >>> Field("N", 0, 0.5, 0.005, title="nitrogen, wt%").read("350 ppm")
        0.035
        """
        must_be = "a number, or empty for 'not known'" if self.optional else "a number"
        name, typed = self.label or self.name, text.strip()
        if not typed and self.optional:
            return None
        if typed[:1] in ("<", "≤", ">", "≥"):
            raise InputError(name, f"{must_be}; a bound cannot be tried", typed)
        most = np.inf if self.most is None else self.most
        # The box itself writes points.
        sign = "" if "," in typed else "."
        plain = re.sub(r"(?i)\s*(wt[ .-]?)?%$", "", typed)
        parts = re.sub(r"(?i)\s*ppm$", "", typed)
        if parts != typed and "wt%" in self.title:
            number = float(f"{read_number(parts, name, must_be, sign, 1e6) / 1e4:.12g}")
        else:
            number = read_number(plain, name, must_be, sign, most)
        if not np.isfinite(number):
            raise InputError(name, must_be, typed)
        low, high = self.least, self.most
        if (low is not None and number < low) or (high is not None and number > high):
            ends = {"at least": low, "at most": high}
            reach = " and ".join(f"{word} {end:g}" for word, end in ends.items() if end is not None)
            raise InputError(name, reach, said(f"{number:g}"))
        return number

    def show(self, number: float | None) -> str:
        """Return a number as the box shows it."""
        return "" if number is None or math.isnan(number) else f"{number:.10g}"


class Numbers(anywidget.AnyWidget):
    """Number boxes, one row a field, each with a slider beside it.

    The box is a text box: what was typed reaches the kernel as it is and is refused there in
    words; the arrow keys step it, Page keys and Shift step ten times as far, Escape takes back
    what was typed. Tab goes from box to box; the arrow to the right behind the last letter goes to
    the slider, Escape back. Fast key presses arrive merged.

    Parameters
    ----------
    fields : iterable of Field
    values : mapping of field name to number or None
    on_change : callable(values, name)
        Called with all numbers when one or several have changed, and the name of the (last)
        changed one. If it raises, the numbers stay as they were before, the text stays in the box
        and the reason stands beneath it.
    title : str
        Heading and accessible name of the group, with the unit: 'Trial, wt%'.

    Attributes
    ----------
    values : dict of the last numbers that were accepted
    texts : dict of what stands in the boxes
    problems : dict of field name to what is wrong with its text
    notes : dict of field name to a short text beside it, such as the content of a reference heat
    """

    _esm = Path(__file__).with_name("numbers.js")
    _css = """
    .gk-numbers{font:13px/1.4 var(--jp-ui-font-family,system-ui,sans-serif);
      color:var(--jp-ui-font-color1,inherit);min-width:17em;display:grid;gap:2px .5em;
      grid-template-columns:minmax(2.2em,max-content) 5em minmax(4em,1fr) auto}
    .gk-numbers-title{font-weight:600;padding:.5em 0 .1em;grid-column:1/-1}
    .gk-number{display:grid;grid-template-columns:subgrid;grid-column:1/-1;align-items:center}
    .gk-number label{font-weight:600;text-align:right}
    .gk-number input[type=text]{font:inherit;font-variant-numeric:tabular-nums;text-align:right;
      padding:.1em .4em;color:inherit;background:var(--jp-layout-color1,Field);
      border:1px solid var(--jp-border-color0,#8888);border-radius:2px;min-width:0}
    .gk-number input[type=range]{width:100%;margin:0;accent-color:#3d6c8f;min-width:0}
    .gk-number input.gk-unknown{opacity:.5}
    .gk-number input:focus-visible{outline:2px solid #3b82c4;outline-offset:1px}
    .gk-number input[aria-invalid=true]{border:2px solid #c0392b}
    .gk-note{font-size:12px;opacity:.8;white-space:nowrap;font-variant-numeric:tabular-nums}
    .gk-problem{grid-column:1/-1;font-size:12px;font-weight:600}
    .gk-problem:empty{display:none}
    """
    title = traitlets.Unicode().tag(sync=True)
    fields: traitlets.List = traitlets.List().tag(sync=True)
    shown = traitlets.Dict().tag(sync=True)
    # Nobody else types here, so nothing is said back: an echo would only delay the answer.
    typed = traitlets.Dict().tag(sync=True, echo_update=False)
    notes = traitlets.Dict().tag(sync=True)
    problems = traitlets.Dict().tag(sync=True)

    def __init__(
        self,
        fields: Iterable[Field],
        values: Mapping[str, float | None],
        on_change: Callable[[dict[str, float | None], str], None],
        title: str = "",
        status: Status | None = None,
    ):
        self._fields = {field.name: field for field in fields}
        self._on_change, self._status = on_change, status
        self.values = {name: values.get(name) for name in self._fields}
        self.texts = self._texts(self.values)
        super().__init__(
            title=title,
            fields=[asdict(f) for f in self._fields.values()],
            shown={"turn": 1, "texts": self.texts},
        )
        self.observe(self._on_typed, "typed")

    @property
    def boxes(self) -> list[Field]:
        """The boxes, in their order."""
        return list(self._fields.values())

    def enter(self, name: str, text: str) -> None:
        """Do what typing a text into a box does."""
        if name not in self._fields:
            raise InputError("number box", ", ".join(self._fields), name)
        texts = {**self.texts, name: str(text)}
        self._put(texts)
        self._take(texts)

    def show(self, values: Mapping[str, float | None]) -> None:
        """Show other numbers without calling `on_change`; complaints are gone."""
        self.values = {name: values.get(name) for name in self._fields}
        self.problems = {}
        self.texts = self._texts(self.values)
        self._put(self.texts)

    def _put(self, texts: dict[str, str]) -> None:
        self.shown = {"turn": self.shown["turn"] + 1, "texts": texts}

    def _texts(self, values: Mapping[str, float | None]) -> dict[str, str]:
        return {name: self._fields[name].show(value) for name, value in values.items()}

    @in_turn
    def _on_typed(self, change: Mapping) -> None:
        if change["new"].get("turn") == self.shown["turn"]:  # else typed over what is gone
            with nullcontext() if self._status is None else self._status.working():
                self._take(dict(change["new"]["texts"]))

    def _take(self, texts: dict[str, str]) -> None:
        changed = [n for n in self._fields if texts.get(n, "") != self.texts.get(n, "")]
        self.texts = texts
        waiting = [n for n in self.problems if n not in changed]
        problems: dict[str, str] = {}
        read: dict[str, float | None] = {}
        for name in [*waiting, *changed]:
            try:
                read[name] = self._fields[name].read(texts.get(name, ""))
            except Exception as error:
                problems[name] = in_words(error)
        # What was refused before may fit now; if not, only what is new is tried.
        fresh = {n: v for n, v in read.items() if n in changed}
        for attempt in [read, fresh] if len(fresh) < len(read) else [read]:
            refused = self._try(attempt)
            if not refused:
                break
        if refused:
            problems |= dict.fromkeys(fresh, refused)
        problems |= {n: self.problems[n] for n in waiting if n not in {*attempt, *problems}}
        self.problems = problems
        self._report({n: text for n, text in problems.items() if n in changed})

    def _report(self, new: Mapping[str, str]) -> None:
        """Say what is wrong with what was typed now; what went well has been said already."""
        status = self._status
        if status is None:
            return
        if new:
            status.error("; ".join(dict.fromkeys(new.values())))
        elif self.problems:
            if not status.wrong:
                refused = ", ".join(self._fields[n].label or n for n in self.problems)
                status.say(f"{status.text} (still refused: {refused})")
        elif status.wrong:
            status.say("")

    def _try(self, new: Mapping[str, float | None]) -> str:
        values = {**self.values, **new}
        try:
            if values != self.values:
                self._on_change(values, [*new][-1])
                self.values = values
        except Exception as error:
            return in_words(error)
        return ""
