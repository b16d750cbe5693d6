"""The frame of every explorer: state in, strings out, nothing lost on the way.

An explorer is a subclass of `Panel` that declares which control shows which part of its state and
says a few things about a state (see there). The frame gives undo, redo, reset, save, load, export,
copy as code, a status line, guarded callbacks, a layout that folds on a narrow page, and something
to read where no kernel runs. `gradekit.app.panels.chapter` is the shortest example to copy.
"""

from __future__ import annotations

import json
import os
import time
from collections.abc import Callable, Iterable
from contextlib import suppress
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree.ElementTree import Element

import ipywidgets as widgets
import pandas as pd

from gradekit.app import views
from gradekit.app.keeping import Keeper
from gradekit.app.saving import ENDINGS, Shelf
from gradekit.app.state import History, Part, read_state, to_json
from gradekit.app.views import View
from gradekit.app.widgets.controls import Choice, CodeBox, button, text_box
from gradekit.app.widgets.download import hand_over
from gradekit.app.widgets.held import Held
from gradekit.app.widgets.numbers import Field, NumberBoxes
from gradekit.app.widgets.page import Page
from gradekit.app.widgets.shown import Shown
from gradekit.app.widgets.status import Status, guarded
from gradekit.core.errors import NOTHING, InputError, said
from gradekit.core.files import free_name, write_whole
from gradekit.core.svg import write
from gradekit.heats.writing import to_bytes

if TYPE_CHECKING:
    from gradekit.app.pages.drawing import PageContent


class Panel(Shown):
    """Base of the explorers.

    A subclass sets `kind` and `title` and defines

    - `moving(state) -> View`: what changes at each step: what is laid over the background, or
      stands beside the controls, and what stands beneath;
    - `background(state) -> Element | None`: the picture that rests, sent again only when it is
      another one;
    - `spoken(state) -> str`: the answer in a sentence, which a screen reader says after a change;
    - `compute(state)`: what these need of a state; `answer` gives it, computed once a step;
    - `table(state) -> DataFrame`: what is exported;
    - `code(state) -> str`: Python lines that give the same values;
    - `encode(state) -> dict` and `decode(dict, where) -> state`: to and from plain data, where the
      state has no `data` and `from_data` of its own.

    In its `__init__` it calls `super().__init__(state)`, makes its controls, and ends with
    `self.lay(controls)`. `boxes` and `choice` make those that show a part of the state and change
    it, `bind` any other that has `show(value)`. What computes in the page is a `DrawnPanel`
    (`gradekit.app.panels.drawn`).

    Parameters
    ----------
    state : immutable value that can be compared
    file : str
        Name that 'Save' suggests, without its ending; where it is taken, the next free one.
    """

    kind = ""
    told_below = False  # whether what is spoken stands in what moves, too

    def __init__(self, state: Any, file: str = "my-trial"):
        self.history = History(state)
        self.status = Status()
        self.codebox = CodeBox(title="Python code for this state")
        self._bound: list[tuple[Part, Any]] = []
        self._answered: tuple[Any, Any] | None = None
        self._first_name, self._shelf = file, Shelf()
        self._keeper: Keeper | None = None
        self._complaint = ""  # of a disk that keeps nothing
        self._file = text_box("File", {"width": "12em"}, continuous_update=True)
        self._suggest()
        self._offered = widgets.HTML().add_class("gk-take")
        self._moving: Any = Page().add_class("gk-moving")
        self._background = widgets.HTML().add_class("gk-background")
        self._resting: Element | None = None
        self._undo = self.button("Undo", lambda: self._go(self.history.undo(), "undone"))
        self._redo = self.button("Redo", lambda: self._go(self.history.redo(), "redone"))
        self._reset = self.button("Reset", lambda: self._go(self.history.reset(), "as at first"))

    # --- what a subclass defines ------------------------------------------------------------

    def moving(self, state: Any) -> View:
        raise NotImplementedError

    def background(self, state: Any) -> Element | None:
        return None

    def spoken(self, state: Any) -> str:
        raise NotImplementedError

    def compute(self, state: Any) -> Any:
        raise NotImplementedError

    def encode(self, state: Any) -> dict:
        return state.data()

    def decode(self, data: dict, where: str) -> Any:
        return type(self.state).from_data(data, where)

    def table(self, state: Any) -> pd.DataFrame:
        raise NotImplementedError

    def code(self, state: Any) -> str:
        raise NotImplementedError

    def page_content(self, state: Any, heats: bool) -> PageContent:
        """Return what stands on a page of its own; for panels that need no solver."""
        raise InputError(f"page of the {self.title.lower()}", "for an explorer without a solver",
                         self.kind)  # fmt: skip

    # --- what it uses -----------------------------------------------------------------------

    @property
    def state(self) -> Any:
        """The present state."""
        return self.history.now

    def button(self, text: str, action, tip: str = "") -> widgets.Button:
        """Return a button with a guarded action; what it returns is said in the status line."""
        return button(text, action, self.status, tip)

    def boxes(self, fields: Iterable[Field], part: Part, title: str) -> NumberBoxes:
        """Return number boxes for a part of the state, which change it."""
        return self.bind(part, partial(NumberBoxes, fields, title=title, status=self.status))

    def choice(self, text: str, options: Iterable, part: Part) -> Choice:
        """Return a list to choose a part of the state from, which changes it."""
        return self.bind(part, partial(Choice, text, options, status=self.status))

    def bind(self, part: Part, made: Callable[[Any, Callable], Any]) -> Any:
        """Return a control for a part of the state, made of what it shows first and its action."""
        control = made(part.held(self.state), partial(self.put, part))
        self._bound.append((part, control))
        return control

    def fill(self, state: Any) -> None:
        """Show a state in the controls."""
        for part, control in self._bound:
            control.show(part.held(state))

    def answer(self, state: Any) -> Any:
        """Return what is computed for a state; the last one is kept."""
        if self._answered is None or self._answered[0] != state:
            self._answered = state, self.compute(state)
        return self._answered[1]

    def put(self, part: Part, value: Any, key: str = "") -> str | None:
        """Change a part of the state as a control asked for; what is returned is said."""
        self.change(part.put(self.state, value), key)
        return None

    def change(self, state: Any, key: str = "") -> None:
        """Go on to a state that a control asked for; if it cannot be shown, nothing changes.

        Parameters
        ----------
        state : the new state
        key : str
            Name of the control; steps of one control that follow closely are undone together.
        """
        self._show(self.history.step(state, key, time.monotonic()))
        said = f"{self.spoken(state)}{self._complaint}"
        self.status.say(said, heard=self.told_below and not self._complaint)

    def named(self, state: Any) -> str:
        """Return what the file of a state that is kept is called after."""
        return self.kind

    def is_given(self, state: Any) -> bool:
        """Tell whether a state is one that the panel began with, and need not be kept."""
        return state == self.history.first

    def keep_in(self, folder: str | os.PathLike[str]) -> None:
        """Keep each change in a folder from now on, and go on with what was changed last.

        Each tab of a browser remembers its own question and comes back to it after a reload.
        """
        self._keeper, self._tab = Keeper(folder, self.kind), Held(panel=self.kind)
        self.root.children = (*self.root.children, self._tab)
        self._tab.observe(guarded(self.status, self._tab_held), "held")
        if latest := self._keeper.latest():
            guarded(self.status, lambda: self._resume(latest))()
        self._taken_up = len(self.history.past)

    def _tab_held(self, change: dict[str, Any]) -> str | None:
        name, keeper = change["new"], self._keeper
        touched = len(self.history.past) != self._taken_up  # then the page shows what was typed
        if keeper is None or touched or name in ("-", keeper.name) or Path(name).name != name:
            return None
        return self._resume(name) if keeper.path(name).is_file() else None

    def _resume(self, name: str) -> str:
        assert self._keeper is not None
        path = self._keeper.path(name)
        state = self._state_in(path)
        self._keeper.resume(name, self.named(state))
        self._tab.name = name
        return self._go(self.history.step(state), f"taken up again from {path}")

    def _keep(self, state: Any) -> None:
        if self._keeper is None:
            return
        if self.is_given(state):
            self._keeper.begin(self.named(state))
            return
        try:
            self._keeper.keep(self.named(state), to_json(self.kind, self.encode(state)))
            self._tab.name, self._complaint = self._keeper.name, ""
        except (InputError, OSError) as error:
            self._complaint = f" (not kept: {error})"

    def save_page(self, path: str | os.PathLike[str], heats: bool = False) -> Path:
        """Write the explorer as one HTML file that needs no Python, no server and no network.

        Parameters
        ----------
        path : path of an HTML file
        heats : bool
            Whether the heats of this explorer stand on the page, with their names.

        Returns
        -------
        Path

        Raises
        ------
        InputError
            An explorer that needs a solver (brief, route), or a file that cannot be written.
        """
        from gradekit.app.pages.saved import page_text

        return write_whole(path, page_text(self.page_content(self.state, heats)))

    def lay(self, controls: list[widgets.Widget]) -> None:
        """Put the panel together; the last line of a subclass's `__init__`."""
        self._show(self.history)
        file_part = [
            self._file,
            self.button("Save", self._save, "keep the state in a JSON file beside the notebook"),
            self.button("Load", self._load, "take up the state of a JSON file"),
            self.button("CSV", lambda: self._export("csv"), "write the table as CSV"),
            self.button("XLSX", lambda: self._export("xlsx"), "write the table as XLSX"),
            self.button("Copy as code", self._copy, "Python lines that give the same values"),
        ]
        steps = [self._undo, self._redo, self._reset]
        bar = widgets.Box([*steps, *file_part]).add_class("gk-bar")
        parts = [
            widgets.Box([widgets.VBox(controls).add_class("gk-controls")]).add_class("gk-side"),
            self._background,
            widgets.VBox([bar, self._offered, self.status, self.codebox]).add_class("gk-foot"),
            self._moving,
        ]
        self.arrange(widgets.Box(parts).add_class("gk-stage"), look="gk-panel")

    # --- how it works -----------------------------------------------------------------------

    def _show(self, history: History) -> None:
        shown, background = self._in_page(history.now), self.background(history.now)
        self.history = history
        self._keep(history.now)
        self._offered.value = ""  # it was made of another state
        self._moving.set_trait(*shown)
        if background is not self._resting:
            self._resting = background
            self._background.value = "" if background is None else write(background)
        self._undo.disabled = not history.past
        self._redo.disabled = not history.future
        self.moved()

    def _in_page(self, state: Any) -> tuple[str, Any]:
        """Return what the page is sent of a state, and the name under which it takes it."""
        return "value", views.live(self.moving(state))

    def _go(self, history: History, said: str) -> str:
        self._show(history)
        self.fill(history.now)
        return f"{said}: {self.spoken(history.now)}"

    def _path(self, ending: str) -> Path:
        name = self._file.value.strip().removesuffix(".json")
        if not name or name.startswith(".") or any(c in name for c in '/\\:*?"<>|\0'):
            raise InputError("file name", "a plain name such as 'my-trial'", name or NOTHING)
        if name == self._suggested and not self._shelf.owns(Path(f"{name}.{ending}")):
            name = self._suggest()  # taken since, by another panel of the same notebook
        return Path(f"{name}.{ending}")

    def _suggest(self) -> str:
        """Put a free name into the box, and return it."""
        self._suggested = free_name(self._first_name, *ENDINGS)
        self._file.value = self._suggested
        return self._suggested

    def _save(self) -> str:
        path = self._path("json")
        results = json.loads(self.table(self.state).to_json(orient="records"))
        text = to_json(self.kind, self.encode(self.state), results)
        self._shelf.put(path, text.encode("utf-8", "replace"))
        return f"saved in {path}"

    def _load(self) -> str:
        path = self._path("json")
        if not path.is_file():
            raise InputError("file to load", "there", path.name, ", ".join(self._saved()) or None)
        state = self._state_in(path)
        self._shelf.know(path, path.read_bytes())
        return self._go(self.history.step(state), f"loaded {path}")

    def _state_in(self, path: Path) -> Any:
        """Return the state in a file, which can be shown."""
        try:
            state = self.decode(read_state(path, self.kind), path.name)
            self.moving(state)
        except InputError:
            raise
        except Exception as error:  # a file may hold what no control would let through
            got = said(f"{type(error).__name__}: {error}")
            raise InputError(path.name, "a state that can be shown", got) from error
        return state

    def _saved(self) -> list[str]:
        """Return the names of up to five files that this explorer saved."""
        names = []
        for path in sorted(Path().glob("*.json"))[:200]:
            with suppress(InputError):
                read_state(path, self.kind)
                names.append(path.name)
        return names[:5]

    def _export(self, ending: str) -> str:
        path = self._path(ending)
        content = to_bytes({self.kind: self.table(self.state)}, f".{ending}")
        return hand_over(self._shelf, self._offered, {path: ("table", content)})

    def _copy(self) -> str:
        self.codebox.offer(self.code(self.state))
        return "the code stands below and is copied, where the browser allows it"

    # --- where it is shown ------------------------------------------------------------------

    def _repr_html_(self) -> str:
        state = self.state
        return views.still(self.title, self.background(state), self.moving(state))
