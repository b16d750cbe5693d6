"""A box for a file of heats, and what they say this week beneath it."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import ipywidgets as widgets

from gradekit.app import views
from gradekit.app.saving import ENDINGS, Shelf
from gradekit.app.widgets.controls import button, text_box
from gradekit.app.widgets.download import hand_over, in_app
from gradekit.app.widgets.page import Page
from gradekit.app.widgets.shown import Shown
from gradekit.app.widgets.status import Status, guarded
from gradekit.core.errors import InputError
from gradekit.core.files import free_name
from gradekit.core.markup import small, tag
from gradekit.core.numbers import typed
from gradekit.design.prices import Prices
from gradekit.heats.reading import read_heats
from gradekit.heats.writing import to_bytes
from gradekit.sheets.heats_report import HeatsReport, heats_report

_ENDINGS = ".csv,.tsv,.txt,.xlsx,.xlsm,.json"
_PRIVATE = (
    "A file that you choose is read in the memory of this machine. It is written nowhere and sent "
    "to no other machine."
)
_BEFORE = tag("p", tag("strong", "△ As read before the boxes above were changed."))


def heats_box(report: HeatsReport | None = None, prices: Prices | None = None) -> HeatsBox:
    """Choose a file of heats, and read what they say: no code is needed.

    Parameters
    ----------
    report : HeatsReport, optional
        What stands there at first, from `gk.sheets.heats_report`; its prices, grade and grain size
        are used for the files that follow.
    prices : Prices, optional
        Where no report is given.

    Returns
    -------
    HeatsBox
        `.report` is the last report, None where nothing was read.

    Raises
    ------
    InputError
        What is no report. A file that cannot be read is said in the box.

    Examples
    --------
    >>> report = heats_report([{"heat": "A", "Cr": 18.1, "Ni": 8.2}])
    >>> heats_box(report).report.lead[:19]
    '1 heat, 1 practice:'
    """
    if report is not None and not isinstance(report, HeatsReport):
        raise InputError("report", "made by gk.sheets.heats_report", report)
    return HeatsBox(report, report.prices if report is not None else prices)


class HeatsBox(Shown):
    """The panel made by `heats_box`."""

    title = "Box for heats"

    def __init__(self, report: HeatsReport | None, prices: Prices | None):
        self.report, self.prices, self.status, self._shelf = report, prices, Status(), Shelf()
        self._content: tuple[str, bytes] | None = None
        self.file = widgets.FileUpload(
            accept=_ENDINGS, multiple=False, description="Choose a file of heats", icon="",
            layout=widgets.Layout(width="auto"),
        )  # fmt: skip
        self.grade = text_box(
            "Present grade", value=report.present_grade if report else "",
            placeholder="1.4301, 304, S32205 (empty: none)",
        )  # fmt: skip
        grain = f"{report.grain_size_astm:g}" if report else "8"
        self.grain = text_box("Grain size, ASTM number", value=grain)
        self._bar = widgets.FloatProgress(max=1.0, layout=widgets.Layout(width="100%"))
        self._bar.layout.display = "none"
        self._page = Page().add_class("gk-moving")
        self._offered = widgets.HTML().add_class("gk-take")
        self._read_of, self._shown = self._asked(), ""
        read = button("Read", self.read, self.status, "read the heats by what stands above")
        take = [
            button("XLSX", lambda: self._take("xlsx"), self.status, "everything, a sheet a table"),
            button("CSV", lambda: self._take("csv"), self.status, "a row a heat"),
        ]
        bar = widgets.Box([read, *take]).add_class("gk-bar")
        boxes = [self.file, self.grade, self.grain, bar, self._bar, self.status, self._offered]
        self.arrange(*boxes, widgets.HTML(small(_PRIVATE)), self._page, look="gk-panel")
        self._show()
        self.file.observe(guarded(self.status, self._chosen), "value")
        for box in (self.grade, self.grain):
            box.observe(self._mark, "value")

    def read(self) -> str:
        """Read what was chosen; if it cannot be read, the last answer stays, marked."""
        if self._content is not None:
            name, content = self._content
            file = io.BytesIO(content)
            file.name = name
            heats: Any = read_heats(file)
        elif self.report is not None:
            heats = self.report.heats
        else:
            raise InputError("file of heats", "chosen first, with the button above", "nothing")
        self._bar.layout.display = ""
        try:
            self.report = heats_report(
                heats, self.prices, self.grade.value.strip(), self._grain(), self._told
            )
        finally:
            self._bar.layout.display = "none"
        self._read_of = self._asked()
        self._show()
        self.moved()
        return f"read: {self.report.lead}"

    def choose(self, name: str, content: bytes) -> str:
        """Read the content of a file that was chosen."""
        before = self._content
        self._content = Path(name).name, content
        try:
            return self.read()
        except Exception:
            self._content = before  # the last file that could be read
            raise

    def _chosen(self, change: dict[str, Any]) -> str | None:
        if not change["new"]:
            return None
        chosen = change["new"][0]
        return self.choose(chosen["name"], bytes(chosen["content"]))

    def _grain(self) -> float:
        try:
            return float(typed(self.grain.value))
        except ValueError:
            raise InputError("grain size", "an ASTM number such as 8", self.grain.value) from None

    def _told(self, step: str, share: float) -> None:
        self._bar.value = share
        self.status.say(f"{100 * share:.0f} % read: {step} …")

    def _asked(self) -> tuple[str, str]:
        return self.grade.value.strip(), self.grain.value.strip()

    def _show(self) -> None:
        self._offered.value = ""  # it was made of another report
        self._shown = self.report._repr_html_() if self.report is not None else ""
        self._mark()

    def _mark(self, _: Any = None) -> None:
        """Show the answer, and say so where it is not that to what stands in the boxes."""
        none = tag("p", "Choose a file: a table of heats as your laboratory exports it.")
        marked = self._shown if self._asked() == self._read_of else f"{_BEFORE}{self._shown}"
        self._page.value = marked if self._shown else none

    def _take(self, ending: str) -> str:
        if self.report is None:
            raise InputError("file of heats", "chosen first, with the button above", "nothing")
        path = Path(f"my-works.{ending}")
        if not in_app() and not self._shelf.owns(path):
            path = Path(f"{free_name('my-works', *ENDINGS)}.{ending}")
        tables = {"": ("report", self.report.tables())}
        if ending == "csv":  # one table a file: how they were read stands in a second one
            tables = {"": ("report", {"heats": self.report.by_heat}),
                      "-reading": ("reading report", {"": self.report.report})}  # fmt: skip
        files = {path.with_stem(f"{path.stem}{end}"): (what, to_bytes(held, f".{ending}"))
                 for end, (what, held) in tables.items()}  # fmt: skip
        return hand_over(self._shelf, self._offered, files)

    def _repr_html_(self) -> str:
        return f"{self._page.value}{small(views.REVIVE)}"
