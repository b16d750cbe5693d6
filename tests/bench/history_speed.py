"""What a works' history costs, as ratios measured in one run.

    python tests/bench/history_speed.py

`check_grade`, `family`, `nearest_grades` and the route beside `evaluate` of the whole catalogue for
the same heats, and `estimate` beside scikit-learn's own prediction by a forest of the same size.
Nothing here is asserted.
"""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import pandas as pd
from catalogue_speed import CONDITIONS
from sklearn.ensemble import ExtraTreesRegressor

import gradekit as gk
from gradekit.properties.estimate.cards import model_card

MIDDLE = dict(C=0.03, Si=0.4, Mn=1.5, P=0.03, S=0.002, Cr=18.2, Ni=8.2, Mo=0.3, N=0.06, Cu=0.3)

DIGITS = dict(C=3, Si=2, Mn=2, P=3, S=4, Cr=2, Ni=2, Mo=2, N=4, Cu=2)


def invented_heats(count: int) -> pd.DataFrame:
    """Heats around an 18Cr-8Ni steel, as a laboratory writes them."""
    rng = np.random.default_rng(1)
    middle = np.array(list(MIDDLE.values()))
    contents = np.abs(rng.normal(middle, 0.03 * middle, (count, len(middle))))
    return pd.DataFrame(contents, columns=list(MIDDLE)).round(DIGITS)


def seconds(call: Callable[[], object], times: int = 3) -> float:
    took = []
    for _ in range(times):
        begin = time.perf_counter()
        call()
        took.append(time.perf_counter() - begin)
    return min(took)


def forest_like(name: str) -> tuple[ExtraTreesRegressor, int]:
    """Return a forest of scikit-learn with as many trees and nodes as a card's."""
    card = model_card(name)
    nodes = np.mean([len(tree["feature"]) for tree in card.data["trees"]])
    rng, width = np.random.default_rng(0), len(card.features)
    rows = round(nodes * card.data["leaf"] * 0.63)
    forest = ExtraTreesRegressor(
        len(card.data["trees"]), min_samples_leaf=card.data["leaf"], max_features=1.0
    ).fit(rng.random((rows, width)), rng.random(rows))
    own = np.mean([tree.tree_.node_count for tree in forest.estimators_])
    print(f"trees of {nodes:.0f} nodes on the card, of {own:.0f} in the forest beside it")
    return forest, width


def main() -> None:
    heats, some = invented_heats(20_000), invented_heats(300)
    whole = seconds(lambda: gk.evaluate(heats, **CONDITIONS))
    print(f"evaluate, whole catalogue, 20,000 heats: {whole:.3f} s")
    for name, call in (
        ("check_grade", lambda: gk.check_grade(heats, "1.4301")),
        ("family", lambda: gk.family(heats)),
    ):
        took = seconds(call, 2)
        print(f"{name}, 20,000 heats: {took:.3f} s, {took / whole:.1f} x evaluate")
    forest, width = forest_like("proof_strength_by_composition")
    table = np.random.default_rng(2).random((len(heats), width))
    beside = seconds(lambda: forest.predict(table))
    took = seconds(lambda: gk.estimate(heats, "proof_strength"))
    print(f"estimate, 20,000 heats: {took:.3f} s, {took / beside:.2f} x the forest's predict")
    took = seconds(lambda: gk.standards.nearest_grades(some), 1)
    print(f"nearest_grades, 300 heats: {took / 300 * 1e3:.2f} ms a heat")
    small = seconds(lambda: gk.evaluate(some, **CONDITIONS))
    took = seconds(lambda: gk.assess_route(some))
    print(
        f"assess_route, 300 heats: {took / 300 * 1e3:.2f} ms a heat, where the whole catalogue "
        f"takes {small / 300 * 1e3:.3f}"
    )


if __name__ == "__main__":
    main()
