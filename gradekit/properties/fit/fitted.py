"""A user's own tests as a relation: fitted, tested on heats it never saw, and said how sure."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, PathLike, TableLike
from gradekit.core.elements import is_element
from gradekit.core.errors import InputError
from gradekit.properties.fit.card import card_parts, read_card, tolerance_of
from gradekit.properties.fit.collinear import collinear_lines, followers, left_out, moving_together
from gradekit.properties.fit.forms import FittedFunction, FittedProperty, FittedSum, fitted_form
from gradekit.properties.fit.influence import influence_of
from gradekit.properties.fit.kinds import FormChoice, choose_form
from gradekit.properties.fit.table import Conditions, Tests, probe, read_tests
from gradekit.properties.fit.words import pair_words, verdict_words
from gradekit.relations.declaration import Check, Relation
from gradekit.relations.listing import Named
from gradekit.relations.topics import CATALOGUE


def fit_property(
    frame: TableLike,
    target: str,
    terms: Iterable[str] | None = None,
    groups: Given = None,
    conditions: Conditions = (),
    name: str | None = None,
    unit: str | None = None,
    published: Named = None,
) -> FittedProperty:
    """Fit a property to tests, and try the fit on heats that it never saw.

    Parameters
    ----------
    frame : DataFrame, or path of a CSV or XLSX file
        A row a test: elements in wt% or ppm, the target, conditions, and a column that says which
        rows belong together. Cells as on certificates ('18,12', '<0.01', 'n.d.', blank); titles
        may stand above the header, and units in the row below it.
    target : str
        Column of measured values, its unit at the end of its name (`proof_strength_MPa`,
        `Rp0.2 (MPa)`).
    terms : list of str, optional
        Such as `["C", "N", "grain_size_um^-0.5", "Cr*Mo"]`; by default every element and
        condition that varies.
    groups : str or one label a row
        Rows held out together: the heat, laboratory or publication. Where such a column is
        visible, it must be named; where none is, rows whose analyses agree as two analyses of one
        heat do are one heat, and the remarks say so.
    conditions : names, or mapping of condition to column or number
        As `{"temperature_C": "test_temperature_C", "delta_ferrite_pct": 1}`. Columns named as a
        condition are found by themselves; a number serves published relations only.
    name, unit : str, optional
        By default made of the name of the target. A unit stated here is taken at its word, also
        where the values have the size of another.
    published : names or relations, optional
        To compare with and to recalibrate; by default all of the same quantity that have a
        value for every row. One of another unit, such as a pitting index for a pitting
        temperature, is recalibrated only.

    Returns
    -------
    FittedProperty
        A relation for `evaluate`, `explain`, `catalogue`, limits of a `Brief`, tables of the
        explorers, and by name after `register`: the kind of least error on groups held out, a sum
        of the terms (ridge, Bayesian ridge) or a published relation with a bias and a slope.
        Boosted trees are tried beside them and judged in words. Outside the tests its values
        carry the flag OUTSIDE_DATA; `interval` has intervals at any level, wider there.

    Raises
    ------
    InputError
        A constant target, too few groups for the terms, units mixed up, columns without values,
        a split by rows where groups are visible.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> tests = pd.DataFrame({"heat": [f"H{i // 2}" for i in range(60)],
    ...     "C": np.repeat(rng.uniform(.01, .08, 30), 2),
    ...     "N": np.repeat(rng.uniform(.03, .2, 30), 2)})
    >>> tests["proof_strength_MPa"] = 200 + 300 * tests.C + 500 * tests.N + rng.normal(0, 3, 60)
    >>> fit = fit_property(tests, "proof_strength_MPa", groups="heat")
    >>> bool(fit.coefficients.loc["N", "low"] < 500 < fit.coefficients.loc["N", "high"])
    True
    """
    tests = read_tests(frame, target, terms, groups, conditions, unit)
    y, labels = tests.y, tests.groups
    choice = choose_form(tests, published)
    scores = choice.scores(labels)
    count = len(np.unique(labels))
    recalibrated = choice.peer is not None
    kind, form = fitted_form(choice.solved, tests.terms, choice.peer)
    words = verdict_words(
        choice.errors, choice.kind, labels,
        1 if recalibrated else len(tests.terms), tests.unit,
    )  # fmt: skip
    together = () if recalibrated else moving_together(tests)
    trees = choice.about["boosted trees"]
    influence = influence_of(tests, choice)
    remarks = [pair_words(pair) for pair in together]
    if recalibrated:
        remarks.append("the covariance is that of a bias and a slope")
    else:
        remarks += [*followers(tests, together), *left_out(tests)]
    remarks += influence.words
    remarks += [trees[:1].upper() + trees[1:], *tests.notes]
    ranges = _ranges(tests, choice.peer) | collinear_lines(tests, together)
    tag = re.sub(r"[^a-z0-9]+", "_", tests.quantity.lower()).strip("_")
    tag = tag.lstrip("_0123456789") or "property"
    quantity = tests.quantity
    return kind(
        name=name or f"{tag}_fitted",
        title=f"{quantity[:1].upper()}{quantity[1:]}, fitted to {len(y)} tests of {count} groups",
        quantity=quantity,
        unit=tests.unit,
        status="fitted by the user",
        source=(f"the user's own tests: column {target}",),
        check=_check(tests, choice),
        domain="the tests it was fitted to",
        ranges=ranges,
        error=float(scores.loc[choice.kind, "RMSE"]),
        error_basis=f"RMSE on held-out groups, {count} groups",
        essential=tuple(n for n in ranges if is_element(n) and ranges[n][0] > 0),
        fitted=True,
        note=words,
        kind=choice.kind,
        scatter=choice.solved.scatter,
        between=choice.solved.between,
        freedom=choice.solved.freedom,
        furthest=float(choice.solved.leverage(choice.columns).max()),
        scores=scores,
        held_out=_held_out(tests, choice),
        learning=choice.learning,
        leakage=choice.leakage,
        together=together,
        influence=influence.table,
        robust=influence.robust,
        counts={"tests": len(y), "groups": count, "group": tests.group_name},
        remarks=tuple(remarks),
        verdict=words,
        **form,
    )


def register(relation: Relation, replace: bool = False) -> Relation:
    """Put a relation into the catalogue, so that its name is known everywhere.

    Parameters
    ----------
    relation : Relation
        As `fit_property` or `Linear` make it.
    replace : bool
        Whether it may take the place of one of the same name.

    Returns
    -------
    Relation
        The same one.

    Raises
    ------
    InputError
        Where the name is taken.

    Examples
    --------
    >>> mine = CATALOGUE["pren_16n"].variant("pren_of_ours")
    >>> register(mine).name in CATALOGUE
    True
    >>> CATALOGUE.remove("pren_of_ours")
    """
    if not isinstance(relation, Relation):
        raise InputError("relation to register", "made by fit_property or Linear", relation)
    taken = relation.name in CATALOGUE
    if replace and taken and CATALOGUE[relation.name].status != "fitted by the user":
        raise InputError("name to replace", "one of a user's own relations", relation.name)
    return CATALOGUE.add(relation, replace=replace)


def fitted_from(card: PathLike | Mapping[str, Any]) -> FittedProperty:
    """Read a fitted property from its card.

    Parameters
    ----------
    card : path of a JSON file, or the mapping that `FittedProperty.card` returns

    Returns
    -------
    FittedProperty

    Raises
    ------
    InputError
        Where it is no such card, or a part of it is missing.

    Examples
    --------
    >>> fitted_from({"name": "strength"})  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    gradekit.InputError: card · must be what save() of a fitted property wrote · got {...
    """
    data = read_card(card)
    kind = FittedFunction if "algebra" in data else FittedSum
    return kind(**card_parts(data, kind))


def _held_out(tests: Tests, choice: FormChoice) -> pd.DataFrame:
    held = choice.held
    # Scores are in units of scatter x scale, so that an interval widens where the fit is unsure.
    score = np.abs(held["predicted"] - tests.y) / (choice.solved.scatter * held["scale"])
    table = held.assign(group=tests.groups, measured=tests.y, score=score)
    return table[["group", "fold", "measured", "predicted", "score"]]


def _check(tests: Tests, choice: FormChoice) -> Check:
    """Return the value of the fit for the test nearest to the median."""
    one = int(np.argmin(np.abs(tests.y - np.median(tests.y))))
    composition = {e: float(v) for e, v in tests.batch.iloc[one].items() if np.isfinite(v)}
    given = {c: float(np.broadcast_to(v, tests.y.shape)[one]) for c, v in tests.given.items()}
    value = float(choice.solved.predict(choice.columns)[one])
    return Check(composition, value, conditions=given, tolerance=tolerance_of(value))


def _ranges(tests: Tests, peer: Relation | None) -> dict[str, tuple[float, float]]:
    """Return the span of each input in the tests."""
    names = probe(tests.terms).inputs if peer is None else peer.inputs
    known = tests.columns | tests.given
    return {n: (float(np.min(known[n])), float(np.max(known[n]))) for n in names if n in known}
