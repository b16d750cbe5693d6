"""Correct a published relation, or weigh several, by a works' own measurements."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from gradekit.core.aliases import Given, TableLike
from gradekit.core.errors import InputError
from gradekit.properties.calibrate.pairs import Pairs, pair_with
from gradekit.properties.calibrate.published import Calibration, calibration_of
from gradekit.properties.calibrate.stack import Stack, stack_of
from gradekit.properties.fit.table import Measured, read_measured
from gradekit.relations.declaration import Relation
from gradekit.relations.listing import resolve
from gradekit.relations.topics import CATALOGUE


def calibrate(
    relation: str | Relation,
    tests: TableLike,
    target: str,
    groups: Given = None,
    *,
    slope: bool = False,
    terms: Iterable[str] = (),
    name: str | None = None,
    **conditions: Given,
) -> Calibration | Stack:
    """Correct a published relation by measurements of one's own heats.

    The correction is a Bayesian linear model: before any test an offset is zero give or take the
    published standard error; the tests, which count by heat, move it as far as they can carry.

    Parameters
    ----------
    relation : str or Relation
        Name of a relation, or of a quantity such as 'Md30': then each published form is corrected
        and they are weighted by how well each foretells a heat from the others.
    tests : DataFrame, or path of a CSV or XLSX file
        A row a test: contents in wt%, the measured column, conditions if they differ.
    target : str
        The measured column; a unit at the end of its name must be the relation's.
    groups : str or one label a row, optional
        The heat of each test; must be named where a column of heats is visible.
    slope : bool
        Whether the published value may also grow faster or slower than published.
    terms : elements, optional
        Contents whose coefficients may differ from the published ones.
    name : str, optional
        By default the name of the relation with `_calibrated`.
    **conditions
        As for `evaluate`: a number, one value a row, or the name of a column.

    Returns
    -------
    Calibration, or Stack for a quantity
        A relation for `evaluate`, `explain`, `why`, limits of a `Brief`, and by name after
        `register`. `.offset` (`value low high`, 90 %, unit of the relation) is what is added to the
        published value, `.covariance` belongs to all parts, `.errors` compares published and
        corrected on heats left out one at a time, `.sentence` says it in words; of a quantity
        `.weights` has the weight of each form. Outside the tests values carry OUTSIDE_DATA.

    Raises
    ------
    InputError
        No such relation or column, no test with a published value, another unit or strengths in
        ksi, heats that are visible and not named.

    Examples
    --------
    >>> import pandas as pd
    >>> from gradekit.relations.evaluate import evaluate
    >>> rng = np.random.default_rng(4)
    >>> heats = [{"heat": f"H{k}", "C": .05, "Si": .5, "Mn": 1.5, "Cr": 18.2, "Ni": 7 + k / 5,
    ...           "N": .04, "Mo": .2, "Cu": .3, "Nb": 0.0} for k in range(10)]
    >>> tests = pd.DataFrame(heats)
    >>> by_book = evaluate(tests.drop(columns="heat"), "md30_nohara_1977", grain_size_astm=8)
    >>> tests["Md30_C"] = by_book.values["md30_nohara_1977"].to_numpy() - 12 + rng.normal(0, 4, 10)
    >>> own = calibrate("md30_nohara_1977", tests, "Md30_C", groups="heat", grain_size_astm=8)
    >>> bool(own.offset["low"] < -12 < own.offset["high"] < 0)
    True
    """
    measured = read_measured(tests, target, groups, conditions)
    terms = tuple([terms] if isinstance(terms, str) else terms)
    if isinstance(relation, Relation) or relation in CATALOGUE:
        (one,) = resolve(relation)
        return calibration_of(one, _pairs(measured, one, terms), slope, terms, measured.notes, name)
    members, refused = [], {}
    forms = resolve(relation)
    for form in forms:
        try:
            pairs = _pairs(measured, form, terms)
        except InputError as error:
            refused[form.name] = f"{error.must_be}: {error.got}"
            continue
        if len(pairs.y) < len(measured.y):
            refused[form.name] = "; ".join(pairs.left_out)
        elif pairs.foreign > 0.5:  # most of the tests are of steels that it was not made for
            refused[form.name] = "made for another family of steels"
        else:
            members.append(calibration_of(form, pairs, slope, terms, measured.notes))
    return stack_of(forms[0].quantity, members, refused, name)


def _pairs(measured: Measured, relation: Relation, terms: tuple[str, ...]) -> Pairs:
    pairs = pair_with(measured, relation)
    for term in terms:
        if term not in pairs.columns or np.ptp(pairs.columns[term]) < 1e-9:
            known = ", ".join(n for n, c in pairs.columns.items() if np.ptp(c) > 0)
            raise InputError("terms", f"inputs that vary among the tests: {known}", term)
    return pairs
