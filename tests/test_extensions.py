"""Each point of extension, laid into a copy of the project: the files of the guide are enough.

The trial of each is what a contributor would write; what it is held to is the contract that every
member of its kind is held to.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
GUIDE = ROOT / "DEVELOPERS.md"

RELATION = {
    "gradekit/relations/topics/stability.py": """
CATALOGUE.linear(
    "neel_trial_2001",
    "Neel temperature, a trial",
    "80 - Cr - 2.5*Ni + 7*Mn",
    quantity="Neel temperature, K",
    families=groups.AUSTENITIC,
    status="memory",
    source=("trial_2001",),
    check=Check(AUSTENITIC, 48.42),
)
""",
    "gradekit/reference/references.csv": "trial_2001,A B,2001,A trial,A journal,1,,a trial\n",
    "tests/readings/second_reading.py": """
LINEAR["neel_trial_2001"] = _row("80 - 1 Cr - 2.5 Ni + 7 Mn", WELD, 48.42, "K", "memory")
RANGES["neel_trial_2001"] = {}
""",
}
GRADE = {
    "gradekit/reference/grades/grade_limits.csv": "".join(
        f"1.4998,X5CrNi99-9,,trial,austenitic CrNi,{element},{low},{high},,,EN 10088-2:2014,"
        "trade memory,a trial\n"
        for element, low, high in (
            ("C", "", "0.07"), ("Si", "", "1.00"), ("Mn", "", "2.00"), ("P", "", "0.045"),
            ("S", "", "0.015"), ("Cr", "17.5", "19.5"), ("Ni", "8.0", "10.5"), ("N", "", "0.11"),
        )
    ),
}  # fmt: skip


def diagram() -> dict[str, str]:
    """A diagram without what is optional: closed form, check, hold-out."""
    folder = "gradekit/reference/diagrams"
    raw = json.loads((ROOT / folder / "delong_1973.json").read_text("utf-8"))
    raw |= {"name": "trial_2001", "title": "Trial diagram"}
    del raw["closed_form"], raw["check"], raw["notes"], raw["tolerance"]["hold_out"]
    return {f"{folder}/trial_2001.json": json.dumps(raw)}


STEP = {
    "gradekit/works/finish/trial.py": '''
"""A trial step: silicon against what a coating bears."""

from gradekit.works.step import Lot

STEP = "coating"
CONDITIONS = {"silicon_max_pct": "most silicon that the coating bears, wt%"}
CAUTIONS = ("Coating baths burn.",)


def checks(lot: Lot) -> None:
    """Judge the coating; see `gradekit.works.step`."""
    most = lot.condition("silicon_max_pct")
    lot.judge("silicon", lot.content("Si"), high=most, source="a trial", status="heuristic")
''',
    "gradekit/works/walk.py": ("    surface,\n)", "    surface,\n    trial,\n)"),
    "tests/works/test_route_trial.py": """
import gradekit as gk

STEEL = {"C": 0.04, "Si": 0.4, "Cr": 18.2, "Ni": 8.1, "N": 0.05}


def test_silicon_is_judged():
    table = gk.assess_route(STEEL, silicon_max_pct=0.3).set_index("check")
    assert table.at["silicon", "verdict"] == "stop"
    assert gk.assess_route(STEEL).set_index("check").at["silicon", "verdict"] == "not assessed"
""",
}
EXPLORER = {
    "gradekit/app/panels/trial.py": '''
"""A trial explorer: one pitting index while a composition moves."""

from __future__ import annotations

import pandas as pd

from gradekit.app.given import Code
from gradekit.app.state import Trial, pairs
from gradekit.app.views import View
from gradekit.app.widgets.fields import element_field
from gradekit.app.widgets.panel import Panel
from gradekit.core.aliases import HeatsLike
from gradekit.core.markup import tag
from gradekit.heats.batch import as_batch
from gradekit.relations.evaluate import evaluate


def trial_explorer(heat: HeatsLike) -> TrialExplorer:
    """Show a pitting index while a composition moves.

    Parameters
    ----------
    heat : anything `as_batch` takes

    Returns
    -------
    TrialExplorer

    Raises
    ------
    InputError
        Heats that cannot be read.

    Examples
    --------
    >>> panel = trial_explorer({"Cr": 18.0, "Mo": 0.0, "N": 0.0})
    >>> panel.spoken(panel.state)
    'PREN 18'
    """
    return TrialExplorer(as_batch(heat))


class TrialExplorer(Panel):
    """The panel made by `trial_explorer`."""

    kind, title = "trial", "Pitting index"

    def __init__(self, heat):
        super().__init__(Trial.of(heat.iloc[0], {}))
        fields = [element_field(e, heat) for e in heat]
        self.numbers = self.boxes(fields, pairs("contents"), "Steel, wt%")
        self.lay([self.numbers])

    def compute(self, state):
        return float(evaluate(state.composition, "pren_16n").values.iloc[0, 0])

    def moving(self, state):
        return View((), (tag("p", self.spoken(state)),))

    def spoken(self, state):
        return f"PREN {self.answer(state):.3g}"

    def table(self, state):
        return pd.DataFrame({"name": ["pren_16n"], "value": [self.answer(state)]})

    def code(self, state):
        code = Code()
        return code.text(f'gk.evaluate({code.of(state.composition)}, "pren_16n")')
''',
    "gradekit/app/__init__.py": (
        '        "panels.weld"', '        "panels.trial": "trial_explorer",\n        "panels.weld"'
    ),
    "tests/test_public.py": (
        '    "typical_analysis"', '    "trial_explorer": lambda f: f(3),\n    "typical_analysis"'
    ),
}  # fmt: skip
#: By heading of the guide: what is written (text to append, or a replacement), and what it is
#: held to: files of tests with an expression that picks the trial.
EXTENSIONS = {
    "Add a relation": (
        RELATION,
        ["tests/relations/test_catalogue.py", "tests/relations/test_readings_agree.py"],
        "trial_2001 or same_relations",
    ),
    "Add a grade": (GRADE, ["tests/standards/test_grades.py"], "1.4998 or every_window"),
    "Add a diagram": (
        diagram(),
        ["tests/diagrams/test_diagram.py", "tests/relations/test_catalogue.py"],
        "trial_2001",
    ),
    "Add a works step": (
        STEP,
        ["tests/works/test_route_trial.py", "tests/works/test_route_assess.py",
         "tests/test_layers.py"],
        "trial or every_row or order",
    ),
    "Add an explorer": (
        EXPLORER,
        ["tests/test_public.py", "tests/test_layers.py", "tests/test_examples.py"],
        "trial",
    ),
}  # fmt: skip


@pytest.fixture(scope="module")
def copy(tmp_path_factory) -> Path:
    """A copy of the project with all five laid into it."""
    folder = tmp_path_factory.mktemp("copy")
    unwanted = shutil.ignore_patterns("__pycache__", "browser", "shots", "bench")
    for name in ("gradekit", "tests", "data"):
        shutil.copytree(ROOT / name, folder / name, ignore=unwanted)
    for name in ("pyproject.toml", "DEVELOPERS.md", "README.md"):
        shutil.copy(ROOT / name, folder / name)
    for files, *_ in EXTENSIONS.values():
        for name, text in files.items():
            _lay(folder / name, text)
    walk = folder / "gradekit/works/walk.py"
    imported = "from gradekit.works.finish import surface\n"
    _lay(walk, (imported, imported.replace("surface", "surface, trial")))
    return folder


def _lay(path: Path, text: str | tuple[str, str]) -> None:
    before = path.read_text("utf-8") if path.exists() else ""
    if isinstance(text, tuple):
        assert before.count(text[0]) == 1, (path, text[0])
        after = before.replace(*text)
    else:
        after = before + text
    path.write_text(after, "utf-8")


@pytest.mark.parametrize("heading", EXTENSIONS)
def test_an_extension_of_the_files_that_the_guide_names_keeps_the_contract(copy, heading):
    _, tests, picked = EXTENSIONS[heading]
    run = subprocess.run(
        [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *tests, "-k", picked],
        cwd=copy, env=os.environ | {"PYTHONPATH": str(copy)}, capture_output=True, text=True,
        check=False,
    )  # fmt: skip
    assert run.returncode == 0, run.stdout[-4000:]
    assert " passed" in run.stdout and "deselected" in run.stdout


@pytest.mark.parametrize("heading", EXTENSIONS)
def test_the_guide_names_the_files_of_an_extension(heading):
    section = GUIDE.read_text("utf-8").partition(f"\n## {heading}\n")[2].partition("\n## ")[0]
    (named,) = re.findall(r"^Files: (.+)$", section, re.MULTILINE)
    named = [re.escape(n).replace("NAME", r"\w+") for n in re.findall(r"`([^`]+)`", named)]
    files = EXTENSIONS[heading][0]
    assert len(named) == len(files) <= 3
    for name in files:
        assert any(re.fullmatch(pattern, name) for pattern in named), name
