"""Pictures of a fit: measured against predicted, what is left, coverage, effects, learning."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from gradekit.core.errors import InputError, one_of
from gradekit.core.markup import number
from gradekit.pictures.canvas import beside, sheet
from gradekit.pictures.curves import lines
from gradekit.pictures.figure import Figure
from gradekit.pictures.style import COLOURS, INK, QUIET
from gradekit.properties.fit.forms import FittedProperty

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_WIDTH = 620
# Room that the views of the terms need beyond it, and each of them.
_MORE, _LEAST_VIEW = 100, 170
_LEVELS = (0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9)


def fit_chart(
    fitted: FittedProperty, kind: str = "measured", level: float = 0.90, *, width: int | None = None
) -> Figure:
    """Draw one view of a fit.

    Parameters
    ----------
    fitted : FittedProperty
    kind : str
        'measured': measured against predicted, each test by a fit that never saw its group;
        'residuals': what is left, against the prediction; 'coverage': share of held-out tests
        inside the interval of each level; 'effects': what each term does over its range, with
        its band; 'learning': error against the number of groups used; 'influence': what is left
        of each test against its leverage. Tests that stand apart or move a coefficient alone are
        ringed and named.
    level : float
        Of the intervals and bands.
    width : int, optional
        Pixels; by default as wide as the kind of view needs on a screen.

    Returns
    -------
    Figure

    Raises
    ------
    InputError
        Anything but a fit, or a view that does not exist.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> import pandas as pd
    >>> from gradekit.properties.fit.fitted import fit_property
    >>> tests = pd.DataFrame({"heat": [f"H{i}" for i in range(30)], "N": rng.uniform(0, .2, 30)})
    >>> tests["proof_strength_MPa"] = 200 + 500 * tests.N + rng.normal(0, 3, 30)
    >>> fit_chart(fit_property(tests, "proof_strength_MPa", groups="heat"), "learning").title
    'The more groups, the smaller the error'
    """
    if not isinstance(fitted, FittedProperty):
        raise InputError("fit to draw", "what gk.fit_property returns", fitted)
    one_of("kind of chart", kind, _CHARTS)
    return _CHARTS[kind](fitted, level, width or _WIDTH + _MORE * (kind == "effects"))


def _measured(fitted: FittedProperty, level: float, width: int) -> Figure:
    held, unit = fitted.held_out, fitted.unit
    predicted, measured = held["predicted"].to_numpy(), held["measured"].to_numpy()
    half = _half(fitted, level)
    outside = np.abs(measured - predicted) > half
    title = "Measured against predicted, each heat unseen"
    foot = (
        f"{len(held)} tests; the band is the typical interval of one test at {100 * level:.0f} %."
        f" Squares lie outside their own: {int(outside.sum())} tests.{_named(fitted)}"
    )
    with sheet(
        width, round(width / 1.55), title, foot,
        xlabel=f"predicted without its heat, {unit}", ylabel=f"measured, {unit}",
    ) as (figure, axes):  # fmt: skip
        _tests(axes, fitted, predicted, measured, outside)
        ends = np.array(
            [min(predicted.min(), measured.min()), max(predicted.max(), measured.max())]
        )
        ends += np.array([-0.04, 0.04]) * np.ptp(ends)
        axes.plot(ends, ends, color=INK, lw=1.2)
        typical = float(np.median(half))
        axes.fill_between(
            ends, ends - typical, ends + typical, color=COLOURS[0], alpha=0.10, lw=0, zorder=0
        )
        axes.set(xlim=ends, ylim=ends)
    mae = fitted.scores.loc[fitted.kind, "MAE"]
    return Figure(figure, title, f"Mean error {number(float(mae), 3)} {unit}. {foot}")


def _residuals(fitted: FittedProperty, level: float, width: int) -> Figure:
    held, unit = fitted.held_out, fitted.unit
    predicted = held["predicted"].to_numpy()
    left = held["measured"].to_numpy() - predicted
    half = _half(fitted, level)
    title = "What the fit leaves, each heat unseen"
    foot = (
        "Tests of one group are joined: where they lie together, it has something of its own. A"
        f" bend would mean that a term is missing.{_named(fitted)}"
    )
    with sheet(
        width, 280, title, foot, xlabel=f"predicted, {unit}",
        ylabel=f"measured less predicted, {unit}",
    ) as (figure, axes):  # fmt: skip
        for _, rows in held.assign(left=left).groupby("group"):
            axes.plot(rows["predicted"], rows["left"], color=QUIET, lw=0.8, alpha=0.6)
        _tests(axes, fitted, predicted, left, np.abs(left) > half)
        axes.axhline(0, color=INK, lw=1.2)
    words = f"From {number(float(left.min()), 3)} to {number(float(left.max()), 3)} {unit}. {foot}"
    return Figure(figure, title, words)


def _coverage(fitted: FittedProperty, _level: float, width: int) -> Figure:
    groups = fitted.counts["groups"]
    levels = [p for p in _LEVELS if p <= (groups - 1) / groups]
    covered = fitted.coverage(levels)
    band = 1.645 * np.sqrt(np.array(levels) * (1 - np.array(levels)) / groups)
    title = "Do the intervals hold what they promise?"
    foot = (
        f"{groups} groups, each judged by the errors of the others and counted once. Band: chance"
        " alone at 90 %, if every group were one test."
    )
    x = 100 * np.array(levels)
    with sheet(
        width, 320, title, foot, xlabel="promised, % of tests", ylabel="inside, % of tests"
    ) as (figure, axes):
        axes.fill_between(x, x - 100 * band, x + 100 * band, color=QUIET, alpha=0.14, lw=0)
        axes.plot(x, x, color=INK, lw=1.2)
        axes.plot(x, 100 * covered, "o-", color=COLOURS[0])
    words = ", ".join(
        f"{100 * p:.0f} % promised, {100 * c:.0f} % inside" for p, c in covered.items()
    )
    return Figure(figure, title, f"{words}. {foot}")


def _effects(fitted: FittedProperty, level: float, width: int) -> Figure:
    bands = fitted.effects(level)
    terms = list(dict.fromkeys(bands["input"]))
    paired = {t for a, b, _ in fitted.together for t in (a, b)}
    title = "What each input does on its own, by this fit"
    foot = (
        f"From the middle of the tests, over their range, bands at {100 * level:.0f} %. Marked *:"
        " moves together with another, so that its own effect is not supported."
    )
    columns = min(max(1, width // _LEAST_VIEW), 3, len(terms))
    rows = -(-len(terms) // columns)
    with sheet(width, 170 * rows, title, foot, bottom=8) as (figure, axes):
        box = axes.get_position()
        axes.remove()
        low, high = bands["low"].min(), bands["high"].max()
        for k, term in enumerate(terms):
            part = bands[bands["input"] == term]
            row, column = divmod(k, columns)
            small = figure.add_axes(
                (
                    box.x0 + box.width * (column + 0.06) / columns,
                    box.y1 - box.height * (row + 0.72) / rows,
                    box.width * 0.86 / columns,
                    box.height * 0.66 / rows,
                )
            )
            small.fill_between(
                part["x"], part["low"], part["high"], color=COLOURS[0], alpha=0.16, lw=0
            )
            small.plot(part["x"], part["effect"], color=COLOURS[0])
            small.axhline(0, color=INK, lw=0.8)
            small.set(ylim=(low, high), xlabel=f"{term}{' *' if term in paired else ''}")
            small.tick_params(labelsize=10)
            small.locator_params(axis="x", nbins=4)
            small.grid()
            if column:
                small.set_yticklabels([])
            else:
                small.set_ylabel(fitted.unit)
    words = ". ".join(
        f"{t}: {number(float(p['effect'].iloc[0]), 3)} to {number(float(p['effect'].iloc[-1]), 3)}"
        f" {fitted.unit}"
        for t, p in bands.groupby("input", sort=False)
    )
    return Figure(figure, title, f"{words}. {foot}")


def _learning(fitted: FittedProperty, _level: float, width: int) -> Figure:
    curve = fitted.learning
    mean = float(fitted.scores.loc["mean only", "MAE"])
    return lines(
        curve["groups"],
        {"held-out MAE": curve["MAE"]},
        xlabel=f"groups used ({fitted.counts['group']})",
        ylabel=f"MAE, {fitted.unit}",
        title="The more groups, the smaller the error",
        levels={"the mean alone": mean},
        foot="Where the curve is flat, more heats of this kind would not help; a new term might.",
        width=width,
        height=260,
    )


def _influence(fitted: FittedProperty, _level: float, width: int) -> Figure:
    table, unit = fitted.influence, fitted.unit
    title = "Which tests the fit rests on"
    foot = (
        "To the right: analyses unlike the others, which the fit follows. Far from 0: tests that it"
        f" does not follow. Squares: Cook's distance above 4 / {len(table)} tests.{_named(fitted)}"
    )
    x, y = table["leverage"].to_numpy(), table["left"].to_numpy()
    with sheet(
        width, 300, title, foot, xlabel="leverage", ylabel=f"measured less fitted, {unit}"
    ) as (figure, axes):
        _tests(axes, fitted, x, y, table["Cook"].to_numpy() > 4.0 / len(table))
        axes.axhline(0, color=INK, lw=1.2)
    most = table.loc[table["Cook"].idxmax()]
    words = f"Largest Cook's distance {number(float(most['Cook']), 2)}, {most['test']}. {foot}"
    return Figure(figure, title, words)


def _named(fitted: FittedProperty) -> str:
    """Say what a ring is, where there is one."""
    ringed = fitted.influence["says"].ne("").any()
    return " Ringed: a test that stands apart, or moves a coefficient alone." if ringed else ""


def _tests(
    axes: Axes, fitted: FittedProperty, x: np.ndarray, y: np.ndarray, outside: np.ndarray
) -> None:
    """Draw the tests, and ring and name the four with most influence of which something is said."""
    for mask, marker, colour in ((~outside, "o", COLOURS[0]), (outside, "s", COLOURS[1])):
        axes.scatter(
            x[mask], y[mask], s=26, marker=marker, color=colour, alpha=0.8, lw=0.6,
            edgecolor="white", zorder=3,
        )  # fmt: skip
    said = fitted.influence[fitted.influence["says"].ne("")].nlargest(4, "Cook")
    middle = float(np.mean(axes.get_xlim()))
    for i, test in said["test"].items():
        k = int(i)
        axes.scatter(x[k], y[k], s=110, facecolor="none", edgecolor=COLOURS[1], lw=1.6, zorder=4)
        right = x[k] <= middle
        beside(
            axes, test.removeprefix("specimen ").removeprefix("the test of "), (x[k], y[k]),
            (9 if right else -9, 0), fontsize=10, va="center", ha="left" if right else "right",
            color=INK,
        )  # fmt: skip


def _half(fitted: FittedProperty, level: float) -> np.ndarray:
    """Return half the interval of each held-out test, by the fit that did not see it."""
    held = fitted.held_out
    error = np.abs(held["measured"] - held["predicted"]).to_numpy()
    score = held["score"].to_numpy()
    unit = np.divide(error, score, out=np.full(len(score), fitted.scatter), where=score > 0)
    return fitted.conformal.at(level) * unit


#: The views, with what draws them.
_CHARTS = {
    "measured": _measured,
    "residuals": _residuals,
    "coverage": _coverage,
    "effects": _effects,
    "learning": _learning,
    "influence": _influence,
}
