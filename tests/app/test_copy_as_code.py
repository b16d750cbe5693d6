"""What every explorer offers under *Copy as code* runs by itself and gives what the panel shows."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from panel_kit import control

import gradekit as gk
from gradekit import launch
from gradekit.__main__ import lay
from gradekit.app.widgets.panel import Panel
from gradekit.heats.scatter import as_scatter
from gradekit.relations.explain import take_apart

STEEL = {"C": 0.05, "Si": 0.4, "Mn": 1.4, "P": 0.03, "S": 0.002, "Cr": 18.2, "Ni": 8.1, "N": 0.05}
WELD = {
    "heat": ["plate", "O'Hara's sheet", "wire"],
    "C": [0.15, 0.04, 0.015], "Si": [0.2, 0.4, 0.5], "Mn": [0.6, 1.4, 1.8],
    "Cr": [0.1, 18.2, 23.5], "Ni": [0.1, 8.1, 13.0], "N": [0.005, 0.05, 0.06],
    "Mo": [0.0, 0.2, 0.1], "Nb": [0.0, 0.0, 0.0], "Cu": [0.1, 0.2, 0.1],
}  # fmt: skip
BRIEF = dict(
    bounds={"C": (0.02, 0.07), "Si": (0.2, 0.8), "Mn": (1, 9), "Cr": (16, 20), "Ni": (2, 9),
            "Mo": (0, 2), "N": (0, 0.2), "Cu": (0, 1)},
    limits={"pren_16n": (20, None), "md30_nohara_1977": (-60, 20)},
    conditions={"grain_size_astm": 8},
)  # fmt: skip


def composition() -> Panel:
    heats = gk.read_heats("../data/heats.csv")
    panel = gk.explorer(heats, "schaeffler_1949", reference=str(heats.index[3]), grain_size_astm=7)
    panel.numbers.enter("Ni", "6.123456789012")
    return panel


def contributions() -> Panel:
    panel = gk.app.contributions(
        STEEL, ["pren_16n", "ferrite_wrc_1992", "yield_nordberg_2004"], grain_size_um=30
    )
    panel.numbers.enter("N", "0.1")
    return panel


def route(plant: object) -> Panel:
    panel = gk.app.route_explorer(pd.DataFrame([STEEL], index=["TW 1"]), plant)
    panel.numbers.enter("Cr", "18.25")
    panel.limits.enter("hot_mill.force_max", "12")
    return panel


def weld() -> Panel:
    panel = gk.app.weld_explorer(WELD, "plate", "O'Hara's sheet", "wire", dilution=33)
    panel.numbers.enter("share", "37.123456789")
    return panel


def desk(prices: object) -> Panel:
    panel = gk.substitution("../data/questions.json", prices)
    control(panel, "Replace by").value = "1.4301; 1.4521"
    panel.numbers.enter("chloride_mg_l", "150")
    return panel


def brief(prices: object, scatter: object) -> Panel:
    panel = gk.app.brief_explorer(gk.Brief(**BRIEF), prices, scatter)
    panel.limits.enter("pren_16n ≥", "21")
    return panel


def changed_plant() -> gk.works.Plant:
    return gk.read_plant("../data/plant.csv").changed(caster__pressure=1.5)


def own_plant() -> dict:
    table = gk.read_plant("../data/plant.csv").limits
    return {name: (row["value"], row["unit"]) for name, row in table.iterrows()}


PRICES = "../data/element_prices.csv"
CASES = {
    "composition": composition,
    "contributions": contributions,
    "route, plant by path": lambda: route("../data/plant.csv"),
    "route, plant changed": lambda: route(changed_plant()),
    "route, plant by hand": lambda: route(own_plant()),
    "weld": weld,
    "substitution, prices by path": lambda: desk(PRICES),
    "substitution, prices changed": lambda: desk(gk.read_prices(PRICES).changed(Ni=40_000)),
    "substitution, no prices": lambda: desk(None),
    "brief, by path": lambda: brief(PRICES, "../data/plant.csv"),
    "brief, by tables": lambda: brief(gk.read_prices(PRICES), as_scatter({"Cr": 0.1, "N": 0.01})),
}


def shown(panel: Panel) -> object:
    """Return everything that a panel computes for what it shows, as plain tables and values."""
    state = panel.state
    if panel.kind == "composition":
        reference = panel.heats.loc[panel.heats.index.map(str) == state.reference].dropna(axis=1)
        both = pd.concat([state.batch("trial"), reference])
        table = panel.table(state).set_index("name")
        names = [r.name for r in panel.relations]
        return table.loc[names, ["trial", state.reference]].to_numpy(float).T, gk.diagram(
            state.diagram
        ).locate(both).to_numpy()
    if panel.kind == "contributions":
        table = panel.table(state)
        table = table.iloc[: len(panel.relations)]
        result = gk.evaluate(state.composition, panel.relations, **dict(state.conditions))
        parts = [[p.contribution for p in b.parts] for b in take_apart(result, "heat 1")]
        return table["value"].to_numpy(float), table["standard_error"].to_numpy(float), parts
    if panel.kind == "route":
        return panel.route.table, panel.route.cautions
    if panel.kind == "weld":
        joint, share = panel.weld_of(state), state.dilution / 100
        return (joint.at(share), joint.layers(share, int(state.layers)),
                joint.keeps(state.low, state.high), joint.line)  # fmt: skip
    if panel.kind == "substitution":
        return panel.comparison.table, panel.comparison.decisive, panel.comparison.cost_unit
    assert panel.kind == "brief", f"no comparison for the explorer '{panel.kind}': add it here"
    design = panel.design
    return design.feasible, design.aim, design.window, design.cost, design.limits


SHOW = {
    "composition": "(made[0].values.to_numpy(), made[1].to_numpy())",
    "contributions": "(made[0].values.to_numpy()[0], made[0].standard_error.to_numpy()[0],"
    " [table['contribution'].tolist() for table in made[1]])",
    "route": "(made.table, made.cautions)",
    "weld": "made[:4]",
    "substitution": "(made.table, made.decisive, made.cost_unit)",
    "brief": "(made.feasible, made.aim, made.window, made.cost, made.limits)",
}


def same(a: object, b: object) -> None:
    """Hold two results to be equal, down to the last digits that a solver leaves open."""
    if isinstance(a, pd.DataFrame):
        pd.testing.assert_frame_equal(a, b, rtol=1e-6, atol=1e-7, check_dtype=False)
    elif isinstance(a, pd.Series):
        pd.testing.assert_series_equal(a, b, rtol=1e-6, atol=1e-7)
    elif isinstance(a, np.ndarray) and a.dtype == object:
        assert pd.DataFrame(a).equals(pd.DataFrame(b))
    elif isinstance(a, np.ndarray | float):
        np.testing.assert_allclose(a, b, rtol=1e-9)
    elif isinstance(a, tuple | list):
        assert len(a) == len(b)
        for one, other in zip(a, b, strict=True):
            same(one, other)
    else:
        assert a == b


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    home = tmp_path_factory.mktemp("user")
    lay(home, launch.ROOT)
    return home / "notebooks"


@pytest.mark.parametrize("case", CASES)
def test_the_code_gives_what_the_panel_shows(case, folder, monkeypatch, tmp_path):
    monkeypatch.chdir(folder)
    panel = CASES[case]()
    assert not panel.status.wrong, panel.status.text
    *lines, last = panel.code(panel.state).splitlines()
    show = f"import pickle; print(pickle.dumps({SHOW[panel.kind]}).hex())"
    script = "\n".join([*lines, f"made = {last}", show]).replace(
        "'answer.html'", f"{str(tmp_path / 'answer.html')!r}"
    )
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True,
                         env={**os.environ, "PYTHONPATH": str(launch.ROOT)})  # fmt: skip
    assert run.returncode == 0, run.stderr
    same(shown(panel), pickle.loads(bytes.fromhex(run.stdout.strip())))


def below(kind: type) -> set[type]:
    return {kind}.union(*map(below, kind.__subclasses__()))


def test_every_explorer_is_among_the_cases():
    kinds = {c.kind for c in below(Panel) if c.kind and c.__module__.startswith("gradekit.")}
    assert {case.partition(",")[0] for case in CASES} == kinds == set(SHOW)
