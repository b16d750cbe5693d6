"""Number boxes with linked sliders: what was typed is refused in words, never clamped."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from contextlib import nullcontext
from dataclasses import asdict, dataclass
from pathlib import Path

import anywidget
import numpy as np
import traitlets

from gradekit.app.widgets.status import Status, error_in_words
from gradekit.app.widgets.turns import in_turn
from gradekit.core.errors import NOTHING, InputError, one_of, said
from gradekit.core.numbers import one_way
from gradekit.core.units import bare_unit, factors, number_and_unit, usual
from gradekit.core.usertable import read_number
from gradekit.heats.certificates.units import REFUSED, bare, content_units, known_units


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
    unit : str
        Unit of the number; another one that measures the same may be typed, and is converted.
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
    unit: str = ""

    @property
    def units(self) -> dict[str, tuple[float, float]]:
        """What may stand behind the number, each with factor and what is added."""
        if self.unit == "wt%":
            return {word: (factor, 0.0) for word, factor in content_units().items()}
        return factors(self.unit)

    def read(self, text: str) -> float | None:
        """Return the number in a text ('18,2' and '18.2' alike), or None for an empty one.

        Raises
        ------
        InputError
            No number, one that can be read two ways, one beyond the ends, or a unit of something
            else: nothing is guessed.

        Examples
        --------
        >>> Field("Cr", 0, 30, 0.1, most=100.0, unit="wt%").read(" 18,2 ")
        18.2
        >>> Field("N", 0, 1, 0.01, most=100.0, unit="wt%").read("350 ppm")
        0.035
        """
        must_be = "a number, or empty for 'not known'" if self.optional else "a number"
        name, typed = self.label or self.name, text.strip()
        if not typed and self.optional:
            return None
        if typed[:1] in ("<", "≤", ">", "≥"):
            raise InputError(name, f"{must_be}; a bound cannot be tried", typed)
        written, unit = number_and_unit(typed)
        if not written:
            raise InputError(name, must_be, typed or NOTHING)
        factor, plus = self._scale(unit, name, typed)
        # What is above the end of the box can be no reading of its number.
        most = np.inf if self.most is None or plus else self.most / factor
        number = factor * read_number(written, name, must_be, most=most) + plus
        return self.within(float(f"{number:.15g}"))  # 350 ppm are 0.035 %, no hair more

    def within(self, number: float) -> float:
        """Return a number that the box can hold, or refuse it.

        Raises
        ------
        InputError
            No finite number, or one beyond the ends of the box.

        Examples
        --------
        >>> Field("Cr", 0, 30, 0.1, most=100.0).within(18.125)
        18.125
        """
        name = self.label or self.name
        if not np.isfinite(number):
            raise InputError(name, "a number", said(f"{number:g}"))
        low, high = self.least, self.most
        if (low is not None and number < low) or (high is not None and number > high):
            ends = {"at least": low, "at most": high}
            reach = " and ".join(f"{word} {end:g}" for word, end in ends.items() if end is not None)
            raise InputError(name, reach, said(f"{number:g}"))
        return number

    def _scale(self, unit: str, name: str, typed: str) -> tuple[float, float]:
        if not unit:
            return 1.0, 0.0
        known, own = self.units, bare_unit(unit)
        if scale := known.get(own):
            return scale
        if self.unit == "wt%":
            raise InputError(name, f"in {REFUSED.get(bare(unit), known_units)}", typed)
        words = f"a number, in {usual(self.unit)}" if known else "a number without a unit"
        raise InputError(name, words, typed)

    def show(self, number: float | None) -> str:
        """Return a number as the box shows it."""
        return "" if number is None or math.isnan(number) else one_way(f"{number:.10g}")


class NumberBoxes(anywidget.AnyWidget):
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
    hidden : list of the fields that do not matter at present
    """

    _esm = Path(__file__).with_name("numbers.js")
    _css = """
    .gk-numbers{font:13px/1.4 var(--jp-ui-font-family,system-ui,sans-serif);
      color:var(--jp-ui-font-color1,inherit);min-width:17em;display:grid;gap:2px .5em;
      grid-template-columns:minmax(2.2em,max-content) 5em minmax(4em,1fr) auto}
    .gk-numbers-title{font-weight:600;padding:.5em 0 .1em;grid-column:1/-1}
    .gk-number{display:grid;grid-template-columns:subgrid;grid-column:1/-1;align-items:center}
    .gk-number[hidden]{display:none}.gk-number label{font-weight:600;text-align:right}
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
    hidden: traitlets.List = traitlets.List().tag(sync=True)
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
        one_of("number box", name, self._fields)
        self._take({**self.texts, name: str(text)})
        self._put(self.texts)

    def show(self, values: Mapping[str, float | None]) -> None:
        """Show other numbers without calling `on_change`; complaints are gone."""
        self.values = {name: values.get(name) for name in self._fields}
        self.problems = {}
        self.texts = self._texts(self.values)
        self._put(self.texts)

    def must_hold(self, values: Mapping[str, float], where: str) -> None:
        """Refuse numbers, as of a file, for other boxes than these or beyond their ends."""
        if set(values) != set(self._fields):
            raise InputError(where, ", ".join(self._fields) or "none", sorted(values))
        for name, value in values.items():
            self._fields[name].within(value)

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
                problems[name] = error_in_words(error)
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
        # '350 ppm' or '1 050' stands as the number that it was taken for: the page steps from it
        taken = {n: self.values[n] for n in read if n not in problems}
        unlike = {n: self._fields[n].show(x) for n, x in taken.items() if not _plain(texts[n], x)}
        if unlike:
            self.texts = texts | unlike
            self._put(self.texts)
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
            return error_in_words(error)
        return ""


def _plain(text: str, value: float | None) -> bool:
    """Tell whether the page reads the same number in a text."""
    try:
        return value is None or float(text.replace(",", ".")) == value
    except ValueError:
        return False
