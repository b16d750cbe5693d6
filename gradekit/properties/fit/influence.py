"""Which tests a fit rests on: outliers, leverage, Cook's distance, and a fit that outliers cannot
pull."""

from __future__ import annotations

import re
import warnings
from dataclasses import dataclass

import numpy as np
import pandas as pd

from gradekit.core.markup import number
from gradekit.properties.fit import regression as rg
from gradekit.properties.fit.kinds import FormChoice
from gradekit.properties.fit.table import Tests

#: Of the table of tests.
_COLUMNS = ["test", "fitted", "left", "leverage", "Cook", "weight", "says"]
_OUT = 3.5  # robust standard deviations from which a test stands apart: one good test in 2000
_MOVES = 1.0  # standard errors by which one test may move a coefficient unnamed
_TUNED = (
    1.35  # scatter beyond which Huber's fit counts a test less: 95 % efficient for a normal law
)
_NAMED = 4  # at most so many tests are named
_NAMES = re.compile(r"(?i)\b(specimen|sample|test[ _]?(piece|no|id|number)|coupon|label|id)\b")


@dataclass(frozen=True, eq=False)
class Influence:
    """What each test does to a fit.

    Attributes
    ----------
    table : DataFrame, a row a test
        `test` (its name), `fitted`, `left` (measured less fitted), `leverage` (0 to 1), `Cook`
        (Cook's distance), `weight` (that it has in Huber's fit), `says`: why it is named, or ''.
    robust : DataFrame, indexed by term
        `coefficient` of Huber's fit, the constant first.
    words : list of str
    """

    table: pd.DataFrame
    robust: pd.DataFrame
    words: list[str]


def influence_of(tests: Tests, choice: FormChoice) -> Influence:
    """Work out what each test does to the kind of fit that was taken.

    Leverage and Cook's distance are those of the penalised fit in which the tests of one heat share
    a weight; a coefficient without a test is that of the same fit made again without it.
    """
    x, y, solved = choice.columns, tests.y, choice.solved
    names = tests.terms if choice.peer is None else [choice.peer.name]
    weights = rg.shared(tests.groups, solved.between)
    fitted = solved.predict(x)
    leverage = weights * solved.leverage(x)  # by how much each fitted value follows its test
    left = y - fitted
    size = x.shape[1] + 1
    free = np.maximum(1.0 - leverage, 1e-9)  # 0 of a test that a term has to itself
    cook = weights * left**2 * leverage / (size * solved.scatter**2 * free**2)
    beta, scale = _huber(x, y, weights, solved)
    apart = y - beta[0] - x @ beta[1:]
    weight = np.minimum(1.0, _TUNED * scale / np.maximum(np.abs(apart), 1e-300))
    called = _names(tests)
    table = pd.DataFrame(
        {"test": called, "fitted": fitted, "left": left, "leverage": leverage, "Cook": cook,
         "weight": weight, "says": ""}
    )  # fmt: skip
    clauses: dict[int, list[str]] = {}
    for i in np.argsort(-cook)[: 2 * _NAMED].tolist():
        if moved := _moved(tests, choice, i, names):
            clauses[i] = [f"alone moves {moved}"]
    spread = np.median(np.abs(apart)) / 0.6745
    for i in np.argsort(-np.abs(apart)).tolist():
        if np.abs(apart[i]) <= _OUT * spread or spread <= 0:
            break
        way = "above" if apart[i] > 0 else "below"
        clauses.setdefault(i, []).append(
            f"lies {number(abs(float(apart[i])), 3)} {tests.unit} {way} what the others say, "
            f"{number(abs(float(apart[i])) / spread, 2)} times their scatter: look it up"
        )
    words = {i: f"{called[i]} {'; it '.join(said)}" for i, said in clauses.items()}
    for i, said in words.items():
        table.loc[i, "says"] = said
    spoken = [words[i] for i in sorted(words, key=lambda i: -cook[i])]
    more = len(spoken) - _NAMED
    spoken = spoken[:_NAMED] + ([f"and {more} tests more stand out"] if more > 0 else [])
    if not spoken:
        spoken = ["No single test stands out or moves a coefficient by its standard error"]
    robust = pd.DataFrame({"coefficient": beta}, index=pd.Index(["constant", *names], name="term"))
    return Influence(table, robust, [w[:1].upper() + w[1:] for w in spoken])


def _moved(tests: Tests, choice: FormChoice, i: int, names: list[str]) -> str:
    """Say which coefficient moves most when one test is left out, if by its standard error."""
    keep = np.arange(len(tests.y)) != i
    without = rg.solve_ridge(
        choice.columns[keep], tests.y[keep], tests.groups[keep], like=choice.solved
    )
    error = np.sqrt(np.diag(without.covariance))[1:]
    shift = np.abs(choice.solved.beta - without.beta)[1:] / np.maximum(error, 1e-300)
    worst = int(np.argmax(shift))
    if shift[worst] < _MOVES:
        return ""
    before, after = (float(s.beta[worst + 1]) for s in (without, choice.solved))
    return f"{names[worst]} from {number(before, 3)} to {number(after, 3)}"


def _huber(
    x: np.ndarray, y: np.ndarray, weights: np.ndarray, solved: rg.Solved
) -> tuple[np.ndarray, float]:
    """Return constant and slopes of Huber's fit with the same penalty, and its scatter."""
    from sklearn.exceptions import ConvergenceWarning
    from sklearn.linear_model import HuberRegressor

    z, centre, size = rg.standard(x, weights)
    middle, spread = float(np.median(y)), float(np.std(y))
    held = solved.penalty * weights.sum() * spread / solved.scatter  # its loss is over the scatter
    model = HuberRegressor(epsilon=_TUNED, alpha=held, max_iter=2000, tol=1e-8)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ConvergenceWarning)
        model.fit(z, (y - middle) / spread, sample_weight=weights)
    slopes = model.coef_ * spread / size
    constant = middle + float(model.intercept_) * spread - centre @ slopes
    return np.append(constant, slopes), float(model.scale_ * spread)


def _names(tests: Tests) -> list[str]:
    """Return what each test is called: by a column that names specimens, else by heat and row."""
    for column, cells in tests.frame.items():
        if _NAMES.search(str(column).replace("_", " ")) and cells.notna().all() and cells.is_unique:
            return [f"specimen {cell}" for cell in cells]
    pairs = zip(tests.groups, tests.frame.index, strict=True)
    return [f"the test of {group} in row {row}" for group, row in pairs]
