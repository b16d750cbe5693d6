"""How far heats of one practice lie apart: a covariance of contents, from the works' own heats.

Every grade with enough heats gives deviations from its own mean; they are pooled, and the
correlations are shrunk towards none, because a few dozen heats cannot fix a whole matrix.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeAlias, cast

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, HeatsLike, PathLike
from gradekit.core.elements import require_element
from gradekit.core.errors import InputError, said
from gradekit.core.files import as_path
from gradekit.core.markup import details, items, panel, table
from gradekit.core.usertable import user_table
from gradekit.heats.batch import as_batch
from gradekit.heats.certificates.cells import grade_columns
from gradekit.heats.notes import about, bounds

#: Fewer heats of a grade do not fix its scatter.
ENOUGH = 15
_PLANT = ("step", "parameter", "value")


@dataclass(frozen=True, eq=False)
class Scatter:
    """How far heats lie from their aim.

    Attributes
    ----------
    covariance : DataFrame, elements x elements
        From heat to heat, wt% squared.
    analysis : Series, elements
        Standard deviation of one analysis, wt%; 0 where it is in the covariance already.
    basis : str
        In words, what it rests on.
    notes : tuple of str
    experience : DataFrame or None
        Lowest and highest content of the heats it was estimated from.
    centre : Series or None
        Mean content of the heats that it rests on.
    by_hand : tuple of str
        Elements whose standard deviation the user set.
    """

    covariance: pd.DataFrame
    analysis: pd.Series
    basis: str
    notes: tuple[str, ...] = ()
    experience: pd.DataFrame | None = None
    centre: pd.Series | None = None
    by_hand: tuple[str, ...] = ()

    @property
    def sd(self) -> pd.Series:
        """Standard deviation from heat to heat, wt%, with the analysis in it."""
        total = pd.Series(np.diag(self.total(list(self.elements))), index=self.elements)
        return np.sqrt(total)

    @property
    def elements(self) -> pd.Index:
        """Elements whose scatter is known."""
        return self.covariance.index.union(self.analysis.index, sort=False)

    def total(self, elements: list[str]) -> np.ndarray:
        """Return the covariance of these elements, 0 where none is known, wt% squared."""
        size = len(elements)
        at = self.covariance.index.get_indexer(elements)
        known = np.flatnonzero(at >= 0)
        matrix = np.zeros((size, size))
        matrix[np.ix_(known, known)] = self.covariance.to_numpy()[np.ix_(at[known], at[known])]
        at = self.analysis.index.get_indexer(elements)
        known = np.flatnonzero(at >= 0)
        matrix[known, known] += self.analysis.to_numpy()[at[known]] ** 2
        return matrix

    def but(self, **sd: float) -> Scatter:
        """Return the scatter with other standard deviations, the correlations kept.

        Examples
        --------
        >>> float(as_scatter({"Cr": 0.12, "Mn": 0.10}).but(Mn=0.25).sd["Mn"])
        0.25
        """
        new = _deviations(sd, "standard deviation")
        names = list(dict.fromkeys([*self.covariance.index, *new]))
        old = self.covariance.reindex(index=names, columns=names, fill_value=0.0)
        before = np.sqrt(np.diag(old))
        now = np.array([new.get(e, b) for e, b in zip(names, before, strict=True)])
        scale = np.divide(now, before, out=np.zeros_like(now), where=before > 0)
        matrix = old.to_numpy() * np.outer(scale, scale)
        matrix[np.diag_indices(len(names))] = now**2
        told = f"standard deviation of {', '.join(new)} given by hand"
        return replace(
            self,
            covariance=pd.DataFrame(matrix, names, names),
            notes=(*self.notes, told),
            by_hand=(*self.by_hand, *new),
        )

    def _repr_html_(self) -> str:
        sd = np.sqrt(np.diag(self.covariance))
        shown = pd.DataFrame({"sd, heat to heat": sd}, index=self.covariance.index)
        if self.analysis.any():  # else the scatter from heat to heat holds it, and 0 would be wrong
            shown["sd, analysis"] = self.analysis.reindex(shown.index).fillna(0.0)
        correlation = self.covariance / np.outer(sd, sd)
        return panel(
            table(shown, "Standard deviations, wt%", digits=2),
            items(self.notes),
            details("Correlation from heat to heat", table(correlation.round(2), "", digits=2)),
            lead=f"Scatter of heats: {self.basis}",
        )


#: Whatever `as_scatter` makes a scatter of.
ScatterLike: TypeAlias = Scatter | HeatsLike
#: Standard deviations by element, wt%; None where none are known.
Deviations: TypeAlias = Mapping[Any, Any] | pd.Series | None


def as_scatter(source: ScatterLike, analysis: Deviations = None) -> Scatter:
    """Make a scatter of standard deviations, a covariance, a file, or a table of heats.

    Parameters
    ----------
    source : Scatter, dict or Series of standard deviations, square DataFrame of elements, path
        of a table of plant figures, or anything else that `as_batch` takes: heats to estimate
        from.
    analysis : dict or Series, optional
        Standard deviation of one analysis, wt%, where the source does not hold it.

    Examples
    --------
    >>> as_scatter({"Cr": 0.12, "Ni": 0.08}).covariance.loc["Cr", "Cr"].round(6)
    np.float64(0.0144)
    """
    own = pd.Series(_deviations(analysis, "analysis"), dtype=float)
    if isinstance(source, (str, os.PathLike)) and not is_heats(source):
        source = read_scatter(source)
    if isinstance(source, Scatter):
        return replace(source, analysis=own) if len(own) else source
    if isinstance(source, (Mapping, pd.Series)):
        sd = _deviations(source, "scatter")
        names = list(sd)
        square = pd.DataFrame(np.diag([v**2 for v in sd.values()]), names, names)
        return Scatter(square, own, "standard deviations given by the user, no correlation")
    if isinstance(source, pd.DataFrame) and not is_heats(source):
        return Scatter(_covariance(source), own, "covariance given by the user")
    return estimate_scatter(source, analysis=analysis)


def is_heats(source: ScatterLike | None) -> bool:
    """Tell whether a source of scatter is heats to estimate it from."""
    if source is None or isinstance(source, (Scatter, Mapping, pd.Series)):
        return False
    if isinstance(source, pd.DataFrame):
        return list(source.index) != list(source.columns)
    return not (isinstance(source, (str, os.PathLike)) and _is_plant(source))


def estimate_scatter(
    heats: HeatsLike,
    groups: Given = None,
    otherwise: Scatter | PathLike | Deviations = None,
    analysis: Deviations = None,
    enough: int = ENOUGH,
) -> Scatter:
    """Estimate the scatter from heat to heat from a table of heats.

    Parameters
    ----------
    heats : anything `as_batch` takes
        The certificates' analyses: their own error is in the scatter already.
    groups : Series, list, or name of a column that came with the heats, optional
        The practice of each heat. By default the first word of the column `grade`, else one
        practice for all.
    otherwise : dict, Series, or path of a table of plant figures, optional
        Standard deviations, wt%, for what the heats cannot tell.
    analysis : dict or Series, optional
        Standard deviation of one analysis to be added, where the heats were analysed better than
        the heats to come will be.
    enough : int
        A grade with fewer heats takes no part.

    Returns
    -------
    Scatter
        Deviations from each grade's mean, pooled; correlations shrunk by the rule of Ledoit and
        Wolf on standardised deviations. Elements reported in fewer than `enough` heats are taken
        from `otherwise`. A bound '<x' counts as x, so traces look steadier than they are; the
        notes say where.

    Raises
    ------
    InputError
        No grade has enough heats and `otherwise` is not given.

    Examples
    --------
    >>> heats = {"Cr": [18.0, 18.2, 18.1], "Ni": [8.0, 8.2, 8.3]}
    >>> found = estimate_scatter(heats, enough=3)
    >>> round(float(found.sd["Cr"]), 3), found.basis
    (0.1, 'all heats (3 heats); correlations shrunk by ...')
    """
    batch = as_batch(heats)
    labels = practices(batch, groups)
    fallback = _fallback(otherwise)
    counts = labels.value_counts()
    used = [g for g in counts.index if counts[g] >= enough]
    short = {g: int(n) for g, n in counts.items() if g not in used}
    if not used:
        if not fallback:
            raise InputError(
                "heats a grade",
                f"at least {enough} in one grade, or otherwise= standard deviations",
                said(", ".join(f"{g}: {n}" for g, n in short.items())),
            )
        plain = as_scatter(fallback, analysis)
        told = f"no grade has {enough} heats: only the standard deviations given are used"
        return replace(plain, notes=(told,))
    chosen = batch[labels.isin(used).to_numpy()]
    own = labels[labels.isin(used).to_numpy()]
    centred = chosen - chosen.groupby(own.to_numpy()).transform("mean")
    reported = centred.notna().sum()
    names = [e for e in batch.columns if reported[e] >= enough and centred[e].abs().max() > 0]
    if not names and not fallback:
        raise InputError(
            "heats of one grade",
            "such that differ in some content, or otherwise= standard deviations",
            said("identical heats"),
        )
    matrix, shrinkage = _pooled(centred[names], own) if names else (np.zeros((0, 0)), 0.0)
    notes = []
    if short:
        few = ", ".join(f"{g} ({n})" for g, n in short.items())
        notes.append(f"left out, fewer than {enough} heats: {few}")
    marked = bounds(chosen)[names].ne("").sum()
    marked = [f"{e} ({n})" for e, n in marked.items() if n]
    if marked:
        notes.append(
            "bounds counted at their upper end, so the scatter reads low: " + ", ".join(marked)
        )
    extra = {e: sd for e, sd in fallback.items() if e not in names}
    if extra:
        notes.append(f"standard deviation given by the user: {', '.join(extra)}")
    full = [*names, *extra]
    square = pd.DataFrame(0.0, full, full)
    square.loc[names, names] = matrix
    for element, sd in extra.items():
        square.loc[element, element] = sd**2
    grades = ", ".join(f"{g} ({counts[g]} heats)" for g in used)
    return Scatter(
        square,
        pd.Series(_deviations(analysis, "analysis"), dtype=float),
        f"{grades}; correlations shrunk by {shrinkage:.0%}",
        tuple(notes),
        batch.agg(["min", "max"]).T,
        chosen.mean(),
        tuple(extra),
    )


def read_scatter(path: PathLike) -> Scatter:
    """Read standard deviations from a table of plant figures.

    Parameters
    ----------
    path : path of a CSV file
        Columns `step`, `parameter`, `value`; steps `scatter` and `analysis`, parameters element
        symbols, values in wt%.

    Returns
    -------
    Scatter
        Standard deviations in wt%, from heat to heat and of one analysis; no correlation.

    Raises
    ------
    InputError
        No such file, a column missing, an element that is none, a value that is no number.

    Examples
    --------
    >>> round(float(read_scatter("data/plant.csv").sd["Cr"]), 3)
    0.134
    """
    figures = user_table(as_path(path), "plant figures", _PLANT, ("unit", "note"))
    elements = figures.words("parameter")
    values = figures.numbers("value", lambda row: f"value of {elements[row]}")
    by_step: dict[str, dict] = {"scatter": {}, "analysis": {}}
    for step, element, value in zip(figures.words("step"), elements, values, strict=True):
        if step in by_step:
            by_step[step][element] = value
    sd = as_scatter(by_step["scatter"], by_step["analysis"])
    told = f"standard deviations of {figures.source}, no correlation"
    return replace(sd, basis=told, notes=(*sd.notes, *figures.remarks))


def _is_plant(path: str | os.PathLike) -> bool:
    """Tell whether a file has the columns of plant figures."""
    if isinstance(path, str) and ("\n" in path or "\r" in path):
        return False
    try:
        user_table(path, "plant figures", _PLANT, ("unit", "note"))
    except InputError:
        return False
    return True


def _pooled(centred: pd.DataFrame, groups: pd.Series) -> tuple[np.ndarray, float]:
    """Covariance of deviations from group means, and by how much its correlations were shrunk."""
    from sklearn.covariance import ledoit_wolf

    known = centred.notna()
    means = known.groupby(groups.to_numpy()).any().sum()  # a mean for each group costs one degree
    sd = np.sqrt((centred**2).sum() / (known.sum() - means).clip(lower=1))
    # A content not reported says nothing: 0 in a correlation, and not counted in its deviation.
    standard = (centred / sd).fillna(0.0).to_numpy()
    correlation, shrinkage = ledoit_wolf(standard, assume_centered=True)
    size = np.sqrt(np.diag(correlation))
    correlation = correlation / np.outer(size, size)
    return correlation * np.outer(sd, sd), float(shrinkage)


def practices(heats: HeatsLike, groups: Given = None) -> pd.Series:
    """Return the practice of each heat: the first word of its grade, the works' own name.

    Parameters
    ----------
    heats : anything `as_batch` takes
    groups : Series, list, or name of a column that came with the heats, optional
        By default the column of the grade: headed so in the languages of laboratories, or most of
        whose entries name a steel by number; without one all heats are one practice.

    Returns
    -------
    Series of str, indexed by heat

    Raises
    ------
    InputError
        A column that is not there, or not one label a heat.

    Examples
    --------
    >>> practices([{"heat": "A", "Werkstoff": "BF22 1.4462", "Cr": 22.4}])["A"]
    'BF22'
    """
    batch = as_batch(heats)
    told = about(batch)
    if groups is None:
        named = grade_columns(told)
        groups = named[0] if named else pd.Series("all heats", index=batch.index)
    if isinstance(groups, str):
        if groups not in told:
            raise InputError("groups", f"one of {list(told)}", groups)
        # The works' name of a practice; the designations that follow change from heat to heat.
        texts = [g.split() if isinstance(g, str) else [] for g in told[groups]]
        first = [words[0] if words else "no grade" for words in texts]
        return pd.Series(first, index=batch.index)
    labels = list(cast(Sequence, groups))
    if len(labels) != len(batch):
        raise InputError("groups", f"one for each of {len(batch)} heats", said(str(len(labels))))
    return pd.Series(labels, index=batch.index).astype(str)


def _fallback(otherwise: Scatter | PathLike | Deviations) -> dict[str, float]:
    if otherwise is None:
        return {}
    if isinstance(otherwise, (str, os.PathLike)):
        return read_scatter(otherwise).sd.to_dict()
    if isinstance(otherwise, Scatter):
        return otherwise.sd.to_dict()
    return _deviations(otherwise, "otherwise")


def _deviations(source: Deviations, what: str) -> dict[str, float]:
    if source is None:
        return {}
    if not isinstance(source, (Mapping, pd.Series)):
        raise InputError(what, "standard deviations by element, as in {'Cr': 0.12}", source)
    sizes = {}
    for element, value in source.items():
        name = require_element(element, f"{what}, element")
        try:
            size = float(value)
        except (TypeError, ValueError):
            size = np.nan
        if not (np.isfinite(size) and size >= 0):
            raise InputError(f"{what} of {name}", "a standard deviation, 0 or more, wt%", value)
        sizes[name] = size
    return sizes


def _covariance(square: pd.DataFrame) -> pd.DataFrame:
    names = [require_element(e, "covariance, element") for e in square.index]
    matrix = square.to_numpy(dtype=float)
    if not np.isfinite(matrix).all() or not np.allclose(matrix, matrix.T, atol=1e-12):
        raise InputError("covariance", "a symmetric table of numbers", said("another table"))
    lowest = np.linalg.eigvalsh(matrix).min() if len(names) else 0.0
    if lowest < -1e-9 * max(1e-12, np.abs(matrix).max()):
        raise InputError(
            "covariance", "one that no sum can make negative", said(f"eigenvalue {lowest:.3g}")
        )
    return pd.DataFrame(matrix, names, names)
