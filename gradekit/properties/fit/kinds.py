"""The choice among a few honest kinds of fit, by groups held out, and what each is worth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from gradekit.core.flags import Flag
from gradekit.properties.fit import regression as rg
from gradekit.properties.fit.table import Tests
from gradekit.properties.fit.words import trees_words
from gradekit.relations.declaration import Relation
from gradekit.relations.listing import Named, resolve
from gradekit.relations.topics import CATALOGUE


@dataclass(frozen=True, eq=False)
class FormChoice:
    """The kind that was taken, solved on all tests, and all that was tried.

    Attributes
    ----------
    kind : str
    peer : Relation or None
        The published relation that is recalibrated.
    columns : ndarray, shape (tests, terms)
        What was fitted: the terms, or the values of that relation.
    solved : Solved
    held : DataFrame
        The held-out predictions of the kind, as `cross_validate` returns them.
    errors : mapping of candidate to ndarray
        Held-out errors; those of a published relation as it is.
    about : mapping of candidate to str
    leakage, learning : DataFrame
    """

    kind: str
    peer: Relation | None
    columns: np.ndarray
    solved: rg.Solved
    held: pd.DataFrame
    errors: dict[str, np.ndarray]
    about: dict[str, str]
    leakage: pd.DataFrame
    learning: pd.DataFrame

    def scores(self, groups: np.ndarray) -> pd.DataFrame:
        """Return MAE, RMSE and bias with intervals, a row a candidate, and what it is."""
        table = pd.DataFrame(
            {kind: rg.held_out_score(e, groups) for kind, e in self.errors.items()}
        ).T
        table["what it is"] = pd.Series(self.about)
        return table.rename_axis("candidate")


def choose_form(tests: Tests, published: Named) -> FormChoice:
    """Try every kind on groups held out, and take the one that errs least.

    Trees are tried and judged, never taken: they have no coefficients, and beyond the tests they
    stay where the last test left them.
    """
    x, y, groups = tests.x, tests.y, tests.groups
    peers, foreign = _published(tests, published)
    held, about = {}, {}
    means: dict[str, tuple[Relation | None, np.ndarray, str]] = {}
    for kind in rg.RIDGES:
        held[kind] = rg.cross_validate(x, y, groups, kind)
        means[kind] = None, x, kind
        about[kind] = f"{len(tests.terms)} terms, penalty by " + (
            "groups held out inside" if kind == "ridge" else "the evidence"
        )
    for one, value in _recalibrable(peers).items():
        kind = f"recalibrated {one.name}"
        held[kind] = rg.cross_validate(value[:, None], y, groups, "plain")
        means[kind] = one, value[:, None], "plain"
        about[kind] = (
            f"the published relation ({one.status}), with a bias and a slope of these tests"
            + foreign[one]
        )
    errors = {kind: h["predicted"].to_numpy() - y for kind, h in held.items()}
    kind = min(errors, key=lambda k: np.mean(np.abs(errors[k])))
    about[kind] += "; taken"

    trees = rg.predict_held_out(x, y, groups, rg.boosted) - y
    errors["boosted trees"] = trees
    errors["mean only"] = rg.predict_held_out(x, y, groups, lambda a, b, new: np.mean(b)) - y
    about["boosted trees"] = trees_words(rg.better(trees, errors[kind], groups))
    about["mean only"] = "knows nothing but the mean of the tests"
    for one, value in peers.items():
        if one.unit == tests.unit:  # one of another unit can only be recalibrated
            errors[one.name] = value - y
            about[one.name] = (
                f"as published ({one.status}), not fitted to these tests{foreign[one]}"
            )

    peer, columns, how = means[kind]
    solved = rg.solve_ridge(columns, y, groups, how)
    rows = np.array([f"row {i}" for i in range(len(y))])
    by_rows = {
        kind: rg.cross_validate(columns, y, rows, how)["predicted"].to_numpy() - y,
        "boosted trees": rg.predict_held_out(x, y, rows, rg.boosted) - y,
    }
    leakage = pd.DataFrame(
        {
            "whole groups": {k: np.abs(errors[k]).mean() for k in by_rows},
            "split by rows (wrong)": {k: np.abs(e).mean() for k, e in by_rows.items()},
        }
    ).rename_axis("candidate")
    learning = rg.learning_curve(columns, y, groups, how)
    return FormChoice(kind, peer, columns, solved, held[kind], errors, about, leakage, learning)


def _published(
    tests: Tests, asked: Named
) -> tuple[dict[Relation, np.ndarray], dict[Relation, str]]:
    """Return published relations that have a value for every row: these values, and in words
    how many rows are of steels that the relation was not made for."""
    names: list[str | Relation]
    if asked is None:
        same = CATALOGUE.quantities().get(tests.quantity, [])
        names = [n for n in same if CATALOGUE[n].status != "fitted by the user"]
    else:
        names = [asked] if isinstance(asked, (str, Relation)) else list(asked)
    if not names:
        return {}, {}
    result = tests.evaluated(names)
    peers, foreign = {}, {}
    for relation in resolve(names):
        value, flags = result.column(relation.name)
        comparable = relation.unit == tests.unit or asked is not None
        if np.isfinite(value).all() and comparable:
            peers[relation] = value
            other = int(((flags & int(Flag.OTHER_FAMILY)) > 0).sum())
            words = f"not made for {other} of {len(value)} tests, which are of other families"
            foreign[relation] = f"; {words}" if other else ""
            if other:
                tests.notes.append(f"{relation.name} was {words}")
        elif asked is not None:
            word = result.words("row 0", relation.name) or f"unit {relation.unit}"
            tests.notes.append(f"{relation.name} not compared: no value in every row ({word})")
    return peers, foreign


def _recalibrable(peers: dict[Relation, np.ndarray]) -> dict[Relation, np.ndarray]:
    """Leave out what stands at an end of its scale, and what a bias and a slope make the same."""
    kept: dict[Relation, np.ndarray] = {}
    for peer, value in peers.items():
        ended = (peer.floor is not None and (value <= peer.floor).any()) or (
            peer.ceiling is not None and (value >= peer.ceiling).any()
        )
        if ended or np.ptp(value) < 1e-9 or "Fe" in peer.elements:
            continue
        if not any(abs(np.corrcoef(value, v)[0, 1]) > 1 - 1e-9 for v in kept.values()):
            kept[peer] = value
    return kept
