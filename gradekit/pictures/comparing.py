"""Charts that compare: values with their intervals, predictions with measurements."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from gradekit.core.aliases import HeatsLike, Numbers
from gradekit.core.errors import NOTHING, InputError, said
from gradekit.core.flags import Flag
from gradekit.core.markup import number
from gradekit.pictures.canvas import FOOT, beside, sheet, shorten
from gradekit.pictures.figure import Figure
from gradekit.pictures.style import QUIET, WIDTH, style_of
from gradekit.relations.evaluate import Result

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_LABEL = 40


def intervals(
    values: Result | pd.DataFrame | Mapping,
    *,
    title: str = "",
    unit: str = "",
    foot: str = "",
    limits: tuple[float | None, float | None] | None = None,
    width: int = WIDTH,
) -> Figure:
    """Draw values with their errors or intervals side by side.

    Parameters
    ----------
    values : Result, DataFrame, or mapping of a name to a DataFrame
        A Result of one quantity: one row a relation, one mark a heat, bars of one standard error.
        A DataFrame: one row a label, columns `value` and, where known, `low` and `high` or
        `error`, and `flag` in words. A value that is flagged stands as a hollow mark.
    title, unit, foot : str
    limits : (low, high), optional
        Wanted range, drawn as lines across.
    width : int
        Pixels.

    Returns
    -------
    Figure

    Raises
    ------
    InputError
        Values of several quantities, or none.

    Examples
    --------
    >>> table = pd.DataFrame({"value": [19.1, 21], "error": [1, float("nan")]}, index=["a", "b"])
    >>> intervals(table, title="PREN").description
    'Values. a: 19.1 (18.1 to 20.1); b: 21.'
    """
    if isinstance(values, Result):
        units = {r.unit for r in values.relations}
        if len(units) > 1:
            raise InputError("values", "of one quantity", said(f"units {', '.join(units)}"))
        unit = unit or units.pop().removeprefix("1")  # a plain number has no unit
        title = title or values.relations[0].quantity.capitalize()
        foot = foot or "Bars: one standard error, where known. Hollow: flagged, see the table."
        sets = {str(heat): _of_result(values, heat) for heat in values.heats.index}
    else:
        sets = dict(values) if isinstance(values, Mapping) else {"": values}
    sets = {name: _with_ends(one) for name, one in sets.items()}
    labels = list(dict.fromkeys(label for one in sets.values() for label in one.index))
    if not labels:
        raise InputError("values", "at least one row", NOTHING)
    step = 0.7 / len(sets)
    with sheet(
        width, int(len(labels) * (16 + 12 * len(sets))) + 8, title, foot, xlabel=unit, right=30,
        rows=[shorten(label, _LABEL) for label in labels], legend=list(sets),
        above=16 if limits else 0,
    ) as (figure, axes):  # fmt: skip
        for k, one in enumerate(sets.values()):
            _one_set(axes, one, labels, k, (k - (len(sets) - 1) / 2) * step)
        for limit, words in zip(limits or (), ("at least", "at most"), strict=False):
            if limit is not None:
                axes.axvline(limit, color=QUIET, lw=1.2, ls=(0, (5, 3)))
                beside(
                    axes, f"{words} {number(limit)}", (limit, 1), (0, 3), ha="center", color=QUIET,
                    xycoords=("data", "axes fraction"), fontsize=FOOT,
                )  # fmt: skip
        axes.margins(x=0.06)
    words = "; ".join(
        f"{name + ', ' if name else ''}{label}: {_interval_words(row)}"
        for name, one in sets.items()
        for label, row in one.iterrows()
    )
    return Figure(figure, title, f"Values{f' in {unit}' if unit else ''}. {words}.")


def _one_set(axes: Axes, one: pd.DataFrame, labels: list, style: int, shift: float) -> None:
    colour, marker = style_of(style)
    for label, row in one.iterrows():
        y = labels.index(label) + shift
        if np.isfinite(row["low"]) and np.isfinite(row["high"]):
            axes.plot([row["low"], row["high"]], [y, y], color=colour, lw=2.2, alpha=0.75)
        if np.isfinite(row["value"]):
            axes.plot(
                row["value"], y, ls="none", marker=marker, ms=8.5, mew=1.6, mec=colour,
                mfc="white" if row["flag"] else colour,
            )  # fmt: skip


def _interval_words(row: pd.Series) -> str:
    text = number(row["value"], 3)
    if np.isfinite(row["low"]) and np.isfinite(row["high"]):
        text += f" ({number(row['low'], 3)} to {number(row['high'], 3)})"
    return text + (", flagged" if row["flag"] else "")


def _of_result(result: Result, heat: HeatsLike) -> pd.DataFrame:
    # That no range is stated is no reason to doubt the value more than its neighbours.
    quiet = int(Flag.RANGE_NOT_STATED)
    return pd.DataFrame(
        {
            "value": result.values.loc[heat],
            "error": result.standard_error.loc[heat],
            "flag": [Flag(int(f) & ~quiet).words() for f in result.flags.loc[heat]],
        }
    )


def _with_ends(one: Any) -> pd.DataFrame:
    if not isinstance(one, pd.DataFrame) or "value" not in one:
        raise InputError("values", "a Result or a table with the column 'value'", one)
    out = pd.DataFrame({"value": one["value"].astype(float)})
    error = one["error"].astype(float) if "error" in one else np.nan
    out["low"] = one["low"].astype(float) if "low" in one else out["value"] - error
    out["high"] = one["high"].astype(float) if "high" in one else out["value"] + error
    out["flag"] = one["flag"].fillna("").astype(str) if "flag" in one else ""
    return out


def scatter_fit(
    measured: Numbers,
    predicted: Numbers,
    *,
    title: str = "Predicted against measured",
    unit: str = "",
    group: Iterable | None = None,
    error: float | None = None,
    foot: str = "",
    width: int = 560,
) -> Figure:
    """Draw predictions against measurements, with the line of equality.

    Parameters
    ----------
    measured, predicted : array-like, shape (n,)
    title, unit, foot : str
    group : array-like, optional
        One value a point: shape and colour, named in a legend.
    error : float, optional
        Half width of a pale band about the line, in the unit.
    width : int
        Pixels.

    Returns
    -------
    Figure
        Its description holds count, bias (predicted - measured) and root mean square error.

    Raises
    ------
    InputError
        Lists of different lengths, or without a pair of numbers.

    Examples
    --------
    >>> scatter_fit([280, 300, 310], [290, 295, 320], unit="MPa").description
    'Predicted against measured, 3 points: bias 5 MPa, root mean square error 8.66 MPa.'
    """
    x, y = (np.asarray(a, dtype=float).ravel() for a in (measured, predicted))
    if x.shape != y.shape:
        raise InputError("predicted", f"{len(x)} values, as measured", said(f"{len(y)}"))
    groups = np.full(len(x), "") if group is None else np.array([str(g) for g in group])
    if len(groups) != len(x):
        raise InputError("group", f"one value for each of {len(x)} points", said(f"{len(groups)}"))
    known = np.isfinite(x) & np.isfinite(y)
    if not known.any():
        raise InputError("measured and predicted", "at least one pair of numbers", NOTHING)
    x, y, groups = x[known], y[known], groups[known]
    off, behind = y - x, f" {unit}" if unit else ""
    facts = (
        f"{len(x)} points: bias {number(float(off.mean()), 3)}{behind}, root mean square error "
        f"{number(float(np.sqrt((off**2).mean())), 3)}{behind}"
    )
    names = list(dict.fromkeys(groups))
    tail = f", {unit}" if unit else ""
    ends = np.array([min(x.min(), y.min()), max(x.max(), y.max())])
    ends = ends + np.array([-0.05, 0.05]) * (np.ptp(ends) or 1.0)
    with sheet(
        width, width - 62 - 24, title, f"{facts}. {foot}", legend=names,
        xlabel=f"measured{tail}", ylabel=f"predicted{tail}",
    ) as (figure, axes):  # fmt: skip
        if error:
            axes.fill_between(ends, ends - error, ends + error, color="#e9edf1", lw=0)
        axes.plot(ends, ends, color=QUIET, lw=1.2)
        size = 7 if len(x) <= 80 else 5
        for k, name in enumerate(names):
            own, (colour, marker) = groups == name, style_of(k)
            axes.plot(
                x[own], y[own], ls="none", marker=marker, ms=size, mfc=colour, mec="white", mew=0.7
            )
        axes.set(xlim=ends, ylim=ends)
        axes.set_aspect("equal")
    return Figure(figure, title, f"{title}, {facts}." + (f" {foot}" if foot else ""))
