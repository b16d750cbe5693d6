"""Whole spaces against a brief: counted right, the same whoever counts, resumed after a stop."""

import os
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import gradekit as gk
from gradekit.design.screen.run import screen, survivors_of
from gradekit.design.screen.space import space_of

SPACE = {
    "C": [0.02, 0.05], "Si": 0.5, "Mn": (1, 9, 2), "Cr": (15, 20, 0.5), "Ni": (1, 6, 0.5),
    "Mo": (0, 1, 0.5), "N": (0.05, 0.25, 0.05), "Cu": (0, 2, 1), "Nb": 0.0,
}  # fmt: skip
LIMITS = {
    "pren_16n": (19, None), "md30_angel_1954": (-60, 30), "ferrite_wrc_1992": (2, 15), "Ni": (0, 4),
    "cr_ni_ratio_hammar": (None, 2.1),
}  # fmt: skip
WEIGHTS = {"Ni": 16.0, "Cr": 2.0, "Mn": 1.5, "Mo": 30.0, "Cu": 8.0, "N": 1.0, "C": 0.5}


def brief(**changes) -> gk.Brief:
    asked = {"limits": LIMITS, "minimise": WEIGHTS, "stay_in_range": False} | changes
    return gk.Brief(dict.fromkeys(SPACE, (0, 100)), **asked)


def by_hand(limits=LIMITS) -> pd.DataFrame:
    """Every composition with the constraints that it keeps, by plain evaluation."""
    space = space_of(SPACE, None, 0)
    table = pd.DataFrame(space.contents(range(space.count)), columns=space.elements)
    names = [n for n in limits if n not in SPACE]
    values = gk.evaluate(table, names).values.set_axis(table.index)
    for name, (low, high) in limits.items():
        value = table[name] if name in SPACE else values[name]
        kept = value.notna()
        kept &= (value >= low - 1e-9) if low is not None else True
        kept &= (value <= high + 1e-9) if high is not None else True
        table[f"keeps {name}"] = kept
    table["objective"] = sum(w * table[e] for e, w in WEIGHTS.items())
    return table


def test_counts_and_best_are_those_of_plain_evaluation():
    table = by_hand()
    kept = table.filter(like="keeps ").all(axis=1)
    result = screen(SPACE, brief(), k=7)
    assert result.evaluated == len(table) and result.kept == int(kept.sum()) > 0
    best = table[kept].sort_values("objective", kind="stable").head(7)
    np.testing.assert_allclose(result.best[list(SPACE)], best[list(SPACE)], atol=1e-12)
    one = table["keeps pren_16n"]
    assert result.by_constraint.at["pren_16n ≥ 19", "kept"] == int(one.sum())
    both = (one & (table["Ni"] <= 4)).mean()
    assert result.pairs.at["pren_16n ≥ 19", "Ni ≤ 4"] == pytest.approx(both)
    others = table.drop(columns="keeps Ni").filter(like="keeps ").all(axis=1)
    assert result.by_constraint.at["Ni ≤ 4", "alone"] == int((others & ~table["keeps Ni"]).sum())
    for element in ("Cr", "Ni", "N"):
        span = table.loc[kept, element]
        assert result.ranges.loc[element, ["min", "max"]].tolist() == [span.min(), span.max()]
        counts = result.histogram(element)
        assert counts[counts > 0].to_dict() == span.value_counts().to_dict()


def test_two_objectives_give_the_curve_on_which_neither_can_be_bettered():
    result = screen(SPACE, brief(minimise=({"Ni": 1.0}, {"Mn": 1.0, "Cu": 1.0})))
    table = by_hand()
    table = table[table.filter(like="keeps ").all(axis=1)]
    pairs = np.unique(np.column_stack([table["Ni"], table["Mn"] + table["Cu"]]), axis=0)
    front = [p for p in pairs if not ((pairs <= p).all(axis=1) & (pairs < p).any(axis=1)).any()]
    np.testing.assert_allclose(result.front.iloc[:, -2:].to_numpy(), sorted(map(tuple, front)))


def test_three_objectives_each_have_their_best_and_one_front(monkeypatch):
    aims = ({"Ni": 1.0}, {"Mn": 1.0, "Cu": 1.0}, {"N": 1.0, "Cr": -0.01})
    whole = screen(SPACE, brief(minimise=aims), k=5)
    table = by_hand()
    table = table[table.filter(like="keeps ").all(axis=1)]
    values = np.column_stack([sum(w * table[e] for e, w in aim.items()) for aim in aims])
    for place, name in enumerate(whole.objectives):
        np.testing.assert_allclose(whole.best_by(name)[name], np.sort(values[:, place])[:5])
    assert whole.best_by(whole.objectives[0]).equals(whole.best)
    points = np.unique(values.round(12), axis=0)
    better = [((points <= p).all(axis=1) & (points < p).any(axis=1)).any() for p in points]
    front = points[~np.array(better)]
    np.testing.assert_allclose(whole.front[whole.objectives].to_numpy(), front, atol=1e-9)
    from gradekit.design.screen import space

    monkeypatch.setattr(space, "STRIP", 64)
    again = screen(SPACE, brief(minimise=aims), k=5)
    assert again.front.equals(whole.front)
    with pytest.raises(gk.InputError, match="objective"):
        whole.best_by("nickle")


def test_a_second_objective_may_ask_for_elements_that_the_space_lacks():
    """It broke off with a KeyError for niobium, which no constraint asked for."""
    space = {"Cr": (16, 19, 1.0), "Ni": (1, 5, 1.0), "C": 0.04}
    aims = ("nickel", "cr_eq_wrc_1992")
    asked = gk.Brief(dict.fromkeys(space, (0, 100)), minimise=aims, stay_in_range=False)
    best = screen(space, asked, k=1).best_by("cr_eq_wrc_1992")
    assert best["cr_eq_wrc_1992"].tolist() == [16.0]


def test_a_map_counts_over_two_elements_and_names_what_closes_each_field():
    result = screen(SPACE, brief(), maps=[("Ni", "N")])
    table = by_hand()
    table["kept"] = table.filter(like="keeps ").all(axis=1)
    expected = table.groupby(["Ni", "N"])["kept"].sum()
    cells = result.map("Ni", "N").set_index(["Ni", "N"])
    assert cells["kept"].to_dict() == expected.to_dict()
    least = table[table["kept"]].groupby(["Ni", "N"])["objective"].min()
    np.testing.assert_allclose(cells["least"].dropna(), least)
    assert set(cells.loc[cells["kept"] == 0, "closed by"]) <= set(result.labels)
    assert (cells.loc[5.0:, "closed by"] == "Ni ≤ 4").any()
    picture = gk.pictures.space_map(result, "N", "Ni")
    assert "closed by" in picture.description
    with pytest.raises(gk.InputError, match="a pair of maps"):
        result.map("Cr", "N")


def same(a, b) -> None:
    assert a.tally.data() == b.tally.data()


def test_the_answer_does_not_depend_on_chunks(monkeypatch):
    from gradekit.design.screen import space

    whole = screen(SPACE, brief())
    monkeypatch.setattr(space, "STRIP", 64)
    monkeypatch.setattr(space, "BLOCK", 500)
    same(screen(SPACE, brief()), whole)


@pytest.mark.parametrize("method", ["sobol", "random", "latin"])
def test_a_sample_is_fixed_by_its_seed_and_stands_for_the_whole(method):
    count = 1 << 15
    one, again = (screen(SPACE, brief(), sample=(method, count), seed=4) for _ in range(2))
    same(one, again)
    other = screen(SPACE, brief(), sample=(method, count), seed=5)
    assert other.tally.data() != one.tally.data()
    whole = screen(SPACE, brief())
    assert one.kept / count == pytest.approx(whole.kept / whole.evaluated, rel=0.15)


def test_the_best_of_a_fine_grid_never_beats_the_designer_and_comes_within_a_step_of_it():
    rng = np.random.default_rng(11)
    step, hits = 0.05, 0
    space = {"Cr": (16, 20, step), "Ni": (0, 6, step), "N": (0, 0.4, step / 10)}
    for _ in range(50):
        least = float(rng.uniform(18, 23))
        weights = {e: float(rng.uniform(0.5, 20)) for e in space}
        limits = {
            "pren_16n": (least, None),
            "Cr + Ni": (None, float(rng.uniform(20, 26))),
            "Ni + 20*N": (float(rng.uniform(1, 6)), None),
        }
        asked = gk.Brief(
            {"Cr": (16, 20), "Ni": (0, 6), "N": (0, 0.4)}, limits, minimise=weights,
            stay_in_range=False,
        )  # fmt: skip
        design = gk.design_grade(asked, confidence=None)
        result = screen(space, asked, k=1)
        if not design.feasible:
            assert result.kept == 0
            continue
        optimum = sum(w * design.aim[e] for e, w in weights.items())
        reach = sum(w * (step if e != "N" else step / 10) for e, w in weights.items())
        if result.kept:
            hits += 1
            found = sum(w * result.best[e].iloc[0] for e, w in weights.items())
            assert optimum - 1e-6 <= found <= optimum + 25 * reach
            near = sum(w * abs(result.best[e].iloc[0] - design.aim[e]) for e, w in weights.items())
            assert found - optimum <= max(near, reach)
    assert hits > 25


RUN = """
import sys
import gradekit as gk
from gradekit.design.screen import space
space.STRIP, space.BLOCK = 256, 2048
from gradekit.design.screen.run import screen
sys.path.insert(0, {tests!r})
from test_screen import SPACE, brief
screen(SPACE, brief(), folder={folder!r}, survivors=True)
"""


def start(folder: Path) -> subprocess.Popen:
    code = textwrap.dedent(RUN.format(tests=str(Path(__file__).parent), folder=str(folder)))
    root = Path(__file__).resolve().parents[2]
    return subprocess.Popen([sys.executable, "-c", code], cwd=root)


def test_killed_at_any_moment_and_started_again_it_ends_with_the_same_bytes(tmp_path):
    pytest.importorskip("pyarrow")
    whole = tmp_path / "whole"
    assert start(whole).wait(120) == 0
    broken = tmp_path / "broken"
    run = start(broken)
    deadline = time.monotonic() + 100
    while len(list(broken.glob("block-*.json"))) < 2 and time.monotonic() < deadline:
        time.sleep(0.005)
    os.kill(run.pid, signal.SIGKILL)
    run.wait(30)
    done = len(list(broken.glob("block-*.json")))
    assert done > 0
    assert start(broken).wait(120) == 0
    files = sorted(p.name for p in whole.iterdir())
    assert sorted(p.name for p in broken.iterdir() if not p.name.startswith(".")) == files
    for name in files:
        assert (whole / name).read_bytes() == (broken / name).read_bytes(), name
    kept = survivors_of(whole)
    assert len(kept) == screen(SPACE, brief()).kept and kept["number"].is_monotonic_increasing


def test_a_folder_of_another_screening_is_refused(tmp_path):
    screen(SPACE, brief(), folder=tmp_path)
    with pytest.raises(gk.InputError, match="same space, brief and maps"):
        screen(SPACE | {"Mn": (1, 9, 1)}, brief(), folder=tmp_path)
    with pytest.raises(gk.InputError, match="same space, brief and maps"):
        screen(SPACE, brief(stay_in_range=True), folder=tmp_path)
    with pytest.raises(gk.InputError, match="same space, brief and maps"):  # it counted no map
        screen(SPACE, brief(), folder=tmp_path, maps=[("Ni", "N")])


def test_a_cluster_gives_the_same_and_loses_nothing_with_a_worker(tmp_path, monkeypatch):
    distributed = pytest.importorskip("distributed")
    from gradekit.design.screen import space

    plain = screen(SPACE, brief())
    monkeypatch.setattr(space, "BLOCK", 3000)
    cluster = distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, dashboard_address=None, processes=True,
        local_directory=str(tmp_path),
    )  # fmt: skip
    with cluster, distributed.Client(cluster) as client:
        client.run(_small_blocks)
        pids = list(client.run(os.getpid).values())
        kill = _KillLater(pids[0])
        kill.start()
        same(screen(SPACE, brief(), client=client), plain)
        kill.join()


def _small_blocks() -> None:
    from gradekit.design.screen import space

    space.BLOCK = 3000


def _KillLater(pid: int):
    import threading

    def kill() -> None:
        time.sleep(0.15)
        os.kill(pid, signal.SIGKILL)

    return threading.Thread(target=kill)


@pytest.mark.parametrize(
    ("space", "options", "words"),
    [
        ({}, {}, "contents by element"),
        ({"Xx": 1.0}, {}, "element"),
        (SPACE | {"Cr": (20, 15, 1)}, {}, "low not above high"),
        (SPACE | {"Cr": "much"}, {}, "low, high, step"),
        (SPACE | {"Cr": [120.0]}, {}, "0 to 100"),
        ({e: v for e, v in SPACE.items() if e != "N"}, {}, "given for N"),
        (SPACE, {"sample": ("dice", 10)}, "sobol"),
        (SPACE, {"sample": -3}, "a count"),
        (SPACE, {"k": 0}, "1 or more"),
        (SPACE, {"survivors": True}, "survivors"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_words(space, options, words):
    with pytest.raises(gk.InputError, match=words):
        screen(space, brief(), **options)


def test_where_nothing_keeps_the_brief_it_says_what_closes_it():
    result = screen(SPACE, brief(limits={"pren_16n": (40, None)}))
    assert result.kept == 0 and result.best.empty
    assert "pren_16n ≥ 40" in result.sentence
    assert result.ranges["min"].isna().all()


def test_an_interrupt_says_how_to_go_on(monkeypatch):
    from gradekit.design.screen import run

    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(run.Judge, "block", stop)
    with pytest.raises(KeyboardInterrupt, match="call screen again"):
        screen(SPACE, brief())
