"""The explorers of the later chapters of the course: a steel, a few numbers, one picture."""

from __future__ import annotations

import pandas as pd

from gradekit.app.given import Code
from gradekit.app.state import Trial, pairs
from gradekit.app.views import View
from gradekit.app.widgets.fields import element_field
from gradekit.app.widgets.numbers import Field
from gradekit.app.widgets.panel import Panel
from gradekit.core.aliases import HeatsLike
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
        begin = {slot.name: slot.start for slot in made.slots}
        super().__init__(Trial.of(steel.iloc[0], begin), f"my-{made.chapter}")
        fields = [element_field(e, steel) for e in made.elements]
        self.numbers = self.boxes(fields, pairs("contents"), "Steel, wt%")
        fields = [
            Field(s.name, s.low, s.high, s.step, s.least, s.most, s.label, label=s.label,
                  unit=s.unit)
            for s in made.slots
        ]  # fmt: skip
        self.conditions = self.boxes(fields, pairs("conditions"), "Conditions")
        self.lay([self.conditions, self.numbers] if made.slots else [self.numbers])

    def compute(self, state: Trial) -> Scene:
        return self.play.look(state.batch(), dict(state.conditions))

    def moving(self, state: Trial) -> View:
        scene = self.answer(state)
        return View(scene.figure, scene.below())

    def spoken(self, state: Trial) -> str:
        return self.answer(state).words

    def decode(self, data: dict, where: str) -> Trial:
        trial = super().decode(data, where)
        self.conditions.must_hold(dict(trial.conditions), f"{where}, conditions")
        return trial

    def table(self, state: Trial) -> pd.DataFrame:
        return self.answer(state).table.reset_index()

    def code(self, state: Trial) -> str:
        code = Code()
        return code.text(
            f"steel = {code.of(state.composition)}",
            f"scene = gk.lessons.scene({self.play.chapter!r}, steel{code.given(state.conditions)})",
            "scene.table",
        )
