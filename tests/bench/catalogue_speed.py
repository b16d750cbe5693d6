"""How long the whole catalogue takes, as ratios measured in one run.

    python tests/bench/catalogue_speed.py

Compared with the same relations written as plain pandas column arithmetic, and, for a million
heats, with the bare numpy product X @ W of as many columns. Nothing here is asserted.
"""

from __future__ import annotations

import importlib
import resource
import time

import numpy as np
import pandas as pd

import gradekit as gk
from gradekit.relations import steels
from gradekit.relations.topics import CATALOGUE

evaluating = importlib.import_module("gradekit.relations.evaluate")

CONDITIONS = dict(
    temperature_C=1600.0, grain_size_um=30.0, grain_size_astm=7.0, delta_ferrite_pct=2.0,
    pN2_atm=1.0, pCO_atm=0.4, pH2_atm=0.01, mode_factor=0.7, twin_spacing_um=20.0, free_N=0.01,
    chloride_M=0.1, ferrite_vol_pct=5.0,
)  # fmt: skip
SPACE = {
    "exp": np.exp, "sqrt": np.sqrt, "log10": np.log10, "min": np.minimum, "max": np.maximum,
    "where": np.where,
}  # fmt: skip


def invented_heats(count: int) -> pd.DataFrame:
    """Heats of 18 elements around an 18Cr-8Ni steel."""
    elements = "C N Si Mn P S Cr Ni Mo Cu Nb Ti V W Al Co Ta B".split()
    middle = "0.05 .05 .4 1.4 .03 .005 18 8 .3 .3 .02 .02 .05 .05 .02 .1 .005 .001".split()
    middle = np.array(middle, dtype=float)
    rng = np.random.default_rng(1)
    contents = np.abs(rng.normal(middle, 0.1 * middle, (count, len(middle))))
    return pd.DataFrame(contents, columns=elements)


class Space(dict):
    """Columns and conditions by name; a relation is worked out when its name is first read."""

    def __missing__(self, name: str):
        if name not in CATALOGUE:
            raise KeyError(name)
        self[name] = evaluate_text(CATALOGUE[name].formula, self)
        return self[name]


def plain_pandas(heats: pd.DataFrame) -> pd.DataFrame:
    """The same relations as somebody would write them on pandas columns."""
    space = Space(SPACE | {e: heats[e] for e in heats} | CONDITIONS)
    space["Fe"] = 100.0 - heats.sum(axis=1)
    return pd.DataFrame({name: space[name] for name in CATALOGUE}, index=heats.index)


def evaluate_text(text: str, space: Space) -> pd.Series:
    *before, last = compiled(text)
    for target, code in before:
        # Under a condition of its own a formula needs the relations that it names anew.
        known = CATALOGUE if target in CONDITIONS else ()
        value = eval(code, {"__builtins__": {}}, space)
        space = Space({name: v for name, v in space.items() if name not in known})
        space[target] = value
    return eval(last[1], {"__builtins__": {}}, space)


def compiled(text: str, cache: dict = {}) -> list:  # noqa: B006
    """Code objects of one formula; compiling is not what is measured."""
    if text not in cache:
        parts = [p.strip() for p in text.split(";")]
        split = [p.split(" = ", 1) if " = " in p else ["", p] for p in parts]
        cache[text] = [(t, compile(vectorised(e), "<formula>", "eval")) for t, e in split]
    return cache[text]


def vectorised(expression: str) -> str:
    """Write choices as sums of masks, which pandas columns understand."""
    import ast

    class Choose(ast.NodeTransformer):
        def visit_IfExp(self, node):
            self.generic_visit(node)
            test = ast.unparse(node.test)
            yes, no = ast.unparse(node.body), ast.unparse(node.orelse)
            return ast.parse(f"(({test})*({yes}) + (1 - ({test}))*({no}))").body[0].value

    return ast.unparse(Choose().visit(ast.parse(expression.strip(), mode="eval")))


def seconds(call, at_least: float = 0.4) -> float:
    """Median time of one call."""
    call()
    times: list[float] = []
    while sum(times) < at_least or len(times) < 3:
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return float(np.median(times))


def families_in(heats: pd.DataFrame) -> None:
    """What it takes to tell what steel each heat is, and what the catalogue takes more for it."""
    batch, names = gk.as_batch(heats), list(steels.VOTES.values())
    known = steels.family_codes(batch)
    votes = seconds(lambda: gk.evaluate(batch, names, temperature_C=1050), 0.4)
    told = seconds(lambda: gk.family(batch), 0.4)
    with_it, without = [], []
    for _ in range(5):  # by turns: a machine slows and quickens while it measures
        with_it.append(seconds(lambda: gk.evaluate(batch, **CONDITIONS), 0.1))
        steels_asked = evaluating.family_codes
        evaluating.family_codes = lambda _: known
        without.append(seconds(lambda: gk.evaluate(batch, **CONDITIONS), 0.1))
        evaluating.family_codes = steels_asked
    more = 100.0 * (min(with_it) / min(without) - 1.0)
    print(f"\n{len(batch):,} heats: gk.family takes {told / votes:.1f} times the votes it asks;")
    print(f"the catalogue takes {more:.1f} % more for telling the families first\n")


def main() -> None:
    print(f"{len(CATALOGUE)} relations, every flag included\n")
    print(f"{'heats':>9} {'gradekit':>11} {'pandas':>11} {'pandas/gradekit':>16}")
    for count in (1, 1000, 1_000_000):
        heats = invented_heats(count)
        once = 0.1 if count == 1_000_000 else 0.4
        ours = seconds(lambda h=heats: gk.evaluate(h, **CONDITIONS), once)
        with np.errstate(all="ignore"):
            theirs = seconds(lambda h=heats: plain_pandas(h), once)
        print(f"{count:>9,} {ours * 1e3:>8.1f} ms {theirs * 1e3:>8.1f} ms {theirs / ours:>16.1f}")
    families_in(invented_heats(100_000))
    matrix = heats.to_numpy()
    weights = np.random.default_rng(2).random((matrix.shape[1], len(CATALOGUE)))
    product = seconds(lambda: matrix @ weights, 0.1)
    print(f"\nbare product X @ W of as many columns: {product * 1e3:.0f} ms;", end=" ")
    print(f"gradekit takes {ours / product:.1f} times that")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6
    result = 1_000_000 * len(CATALOGUE) * (8 + 2) / 1e9
    print(f"peak memory {peak:.1f} GB, of which one result takes {result:.1f} GB")


if __name__ == "__main__":
    main()
