"""The explorers of the later chapters of the course: a steel, a few numbers, one picture."""

from __future__ import annotations

from dataclasses import replace

import pandas as pd

from gradekit.app.given import Code
from gradekit.app.state import Trial
from gradekit.app.views import View
from gradekit.app.widgets.fields import element_field
from gradekit.app.widgets.numbers import Field, NumberBoxes
from gradekit.app.widgets.panel import Panel
from gradekit.core.aliases import HeatsLike
from gradekit.core.errors import InputError
from gradekit.heats.batch import one_heat
from gradekit.lessons.scenes.frame import Play, Scene
from gradekit.lessons.scenes.plays import play
from gradekit.lessons.steels import STEELS


def chapter_explorer(chapter: str, steel: HeatsLike = None) -> ChapterExplorer:
    """Explore what a chapter of the course is about.

    Parameters
    ----------
    chapter : str
        'solidification' (the cracking band), 'families' (ferrite factor), 'nitrogen' (against
        pressure), 'martensite' (cold reduction and temperature), 'duplex' (anneal and the two
        phases) or 'pitting' (molybdenum or nitrogen).
    steel : anything `as_batch` takes, one heat, wt%, optional
        Where it begins; a steel of the course by default.

    Returns
    -------
    ChapterExplorer
        Live where a kernel runs, with a picture to read elsewhere.

    Raises
    ------
    InputError
        A chapter without such an explorer, more than one heat.

    Examples
    --------
    >>> panel = chapter_explorer("martensite")
    >>> panel.conditions.enter("temperature_C", "80")
    >>> panel.spoken(panel.state)[:23]
    'After 20 % at 80 °C: 0.'
    """
    made = play(chapter)
    return ChapterExplorer(made, one_heat(STEELS[made.steel] if steel is None else steel, "steel"))


class ChapterExplorer(Panel):
    """The panel made by `chapter_explorer`."""

    told_below = True

    def __init__(self, made: Play, steel: pd.DataFrame):
        self.play, self.title, self.kind = made, made.title, f"chapter {made.chapter}"
        self._latest: tuple[Trial, Scene] | None = None
        begin = {slot.name: slot.start for slot in made.slots}
        super().__init__(Trial.of(steel.iloc[0], begin), f"my-{made.chapter}")
        self.numbers = NumberBoxes(
            [element_field(e, steel) for e in made.elements], self.state.composition, self._moved,
            "Steel, wt%", self.status,
        )  # fmt: skip
        self.conditions = NumberBoxes(
            [Field(s.name, s.low, s.high, s.step, s.least, s.most, s.label, label=s.label,
                   unit=s.unit)
             for s in made.slots],
            begin, self._set, "Conditions", self.status,
        )  # fmt: skip
        self.lay([self.conditions, self.numbers] if made.slots else [self.numbers])

    def moving(self, state: Trial) -> View:
        scene = self._scene(state)
        return View(scene.figure, scene.below())

    def spoken(self, state: Trial) -> str:
        return self._scene(state).words

    def fill(self, state: Trial) -> None:
        self.numbers.show(state.composition)
        self.conditions.show(dict(state.conditions))

    def encode(self, state: Trial) -> dict:
        return state.data()

    def decode(self, data: dict, where: str) -> Trial:
        trial = Trial.from_data(data, where)
        given = dict(trial.conditions)
        known = {field.name: field for field in self.conditions.boxes}
        if set(given) != set(known):
            raise InputError(f"{where}, conditions", ", ".join(known) or "none", sorted(given))
        for name, field in known.items():
            field.within(given[name])
        return trial

    def table(self, state: Trial) -> pd.DataFrame:
        return self._scene(state).table.reset_index()

    def code(self, state: Trial) -> str:
        code = Code()
        code.line(f"steel = {code.of(state.composition)}")
        given = "".join(f", {name}={value!r}" for name, value in state.conditions)
        code.line(f"scene = gk.lessons.scene({self.play.chapter!r}, steel{given})")
        code.line("scene.table")
        return code.text()

    def _scene(self, state: Trial) -> Scene:
        """What is seen, computed once a step."""
        if self._latest is None or self._latest[0] != state:
            self._latest = state, self.play.look(state.batch(), dict(state.conditions))
        return self._latest[1]

    def _moved(self, values: dict, name: str) -> None:
        contents = Trial.of({**self.state.composition, **values}).contents
        self.change(replace(self.state, contents=contents), name)

    def _set(self, values: dict, name: str) -> None:
        self.change(replace(self.state, conditions=Trial.of({}, values).conditions), name)
