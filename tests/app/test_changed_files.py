"""Changed files of every kind that a panel, the course, a diagram and the works read.

Each is read or refused in words; nothing else is raised, nothing hangs, and what was there stays.
"""

from __future__ import annotations

import csv
import io
import json
import random
import time
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
from mutations import HOSTILE, MANY, broken, mutants
from panel_kit import answer, control, press
from test_copy_as_code import CASES

import gradekit as gk
from gradekit.app.panels.lesson_state import Progress, Try, Work
from gradekit.app.state import to_json
from gradekit.core.errors import InputError
from gradekit.core.sources import REFERENCE
from gradekit.diagrams.files import read_diagram, shipped_names

DATA = Path(__file__).resolve().parents[2] / "data"
SLOW = 5.0  # seconds
EXPLORERS = [case for case in CASES if "," not in case or case.endswith("by path")]


@contextmanager
def read_or_refused(raw: bytes):
    """Let only `InputError` pass, and only soon; whatever else comes tells the file."""
    begin = time.monotonic()
    try:
        with np.errstate(all="ignore"):
            yield
    except InputError as error:
        assert len(str(error)) < 2000
    except BaseException as error:
        raise AssertionError(f"{type(error).__name__}: {error}\n{raw[:3000]!r}") from error
    assert time.monotonic() - begin < SLOW, raw[:3000]


@pytest.mark.parametrize("case", EXPLORERS)
def test_states(case, tmp_path, monkeypatch):
    monkeypatch.chdir(DATA.parent / "notebooks")
    panel = CASES[case]()
    monkeypatch.chdir(tmp_path)
    good = json.loads(to_json(panel.kind, panel.encode(panel.state)))
    path = tmp_path / "state.json"
    control(panel, "File").value = "state"
    slow = panel.kind in ("route", "brief", "substitution")
    for raw in mutants(good, 1, 25 if slow else 80):
        path.write_bytes(raw)
        before = panel.state, answer(panel)
        with read_or_refused(raw):
            said = press(panel, "Load")
        if panel.status.wrong:
            assert (panel.state, answer(panel)) == before and len(said) < 2000
            for unforeseen in ("a state that can be shown", "this did not work"):
                assert unforeseen not in said, (said, raw[:3000])
        assert path.read_bytes() == raw


def test_progress(tmp_path):
    work = Work("A. Pupil").guessed("duplex", 3).turned("nitrogen", 2).opening("duplex", 0, 2)
    for number in (1, 2):
        work = work.tried(Try("duplex", 0, number, "5", number == 1, "Right."))
    good = json.loads(to_json("phase balance", work.data()))
    path = tmp_path / "work.json"
    for raw in mutants(good, 2, 250):
        path.write_bytes(raw)
        with read_or_refused(raw):
            progress = Progress(path)
            gk.app.course(path)._repr_html_()
            assert progress.keep(lambda work: work.guessed("duplex", 4)) == ""
            assert Progress(path).work.guesses["duplex"] == 4


def test_diagrams(tmp_path):
    path = tmp_path / "own.json"
    heat = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "Cr": 18.2, "Ni": 8.1, "N": 0.05, "Mo": 0.2}
    for seed, name in enumerate(shipped_names()):
        good = json.loads((REFERENCE / "diagrams" / f"{name}.json").read_text("utf-8"))
        for raw in mutants(good, seed, 60):
            path.write_bytes(raw)
            with read_or_refused(raw):
                read_diagram(path)
                gk.load_diagram(path).locate(heat)


def test_questions(tmp_path):
    good = json.loads((DATA / "questions.json").read_text("utf-8"))
    path = tmp_path / "questions.json"
    for raw in mutants(good, 3, 60):
        path.write_bytes(raw)
        with read_or_refused(raw):
            gk.substitution(path)


def test_plants(tmp_path):
    lines = list(csv.reader((DATA / "plant.csv").read_text("utf-8").splitlines()))
    rng, path = random.Random(4), tmp_path / "plant.csv"
    for _ in range(150 * MANY):
        table = [list(line) for line in lines]
        for _ in range(rng.choice((1, 2, 3))):
            line = rng.choice(table)
            if rng.random() < 0.2:
                del line[rng.randrange(len(line)) :]
            if line:
                line[rng.randrange(len(line))] = str(rng.choice(HOSTILE))
        out = io.StringIO()
        csv.writer(out).writerows(table)
        raw = broken(out.getvalue().encode("utf-8", "replace").decode(), rng)
        path.write_bytes(raw)
        with read_or_refused(raw):
            gk.read_plant(path)
