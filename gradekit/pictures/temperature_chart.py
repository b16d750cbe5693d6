"""A property against test temperature: what measured heats let one expect, and where they end."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, HeatsLike, Numbers
from gradekit.core.errors import InputError, one_of, said
from gradekit.core.flags import Flag
from gradekit.core.markup import number
from gradekit.heats.batch import as_batch
from gradekit.pictures.canvas import sheet
from gradekit.pictures.curves import end_names, room_for_ends
from gradekit.pictures.figure import Figure
from gradekit.pictures.style import COLOURS, WIDTH, style_of
from gradekit.properties.estimate.best import QUANTITIES, estimate
from gradekit.properties.estimate.cards import Card, model_card
from gradekit.properties.estimate.tensile import tensile
from gradekit.relations.topics import CATALOGUE

if TYPE_CHECKING:
    from matplotlib.axes import Axes

_MOST_HEATS = 4
_POINTS = 50
_EVERY = 6  # a mark at each so many points
_HEIGHT = 340


def estimate_chart(
    heats: HeatsLike,
    quantity: str = "proof_strength",
    level: float = 0.90,
    temperatures: Numbers = None,
    *,
    width: int = WIDTH,
    **conditions: Given,
) -> Figure:
    """Draw an estimate of up to four heats against test temperature.

    Parameters
    ----------
    heats : anything `as_batch` takes
        One to four. The first has its interval drawn as a band.
    quantity : str
        'proof_strength', 'tensile_strength' or 'elongation'.
    level : float
        Share of new heats that shall lie inside the band, 0.5 to 0.99.
    temperatures : array-like, optional
        °C; by default the range of the measured tests.
    width : int
        Pixels.
    **conditions
        As for `gk.estimate`: `solution_temperature_C`, `grain_size_um`, ...; one value, or one a
        heat.

    Returns
    -------
    Figure
        A curve is dashed and its marks hollow where the heat or the temperature lies outside the
        measured heats; the foot says what is outside.

    Raises
    ------
    InputError
        A quantity that has no estimate against temperature, more than four heats, a heat of a
        family that no measured heats support, or one that lacks C, Cr or Ni.

    Examples
    --------
    >>> heat = {"C": .05, "Si": .5, "Mn": 1.4, "Cr": 18.2, "Ni": 9.1, "Mo": .2, "N": .05}
    >>> estimate_chart(heat, "tensile_strength").title
    'Tensile strength against test temperature'
    """
    quantity = str(quantity).strip().lower().replace(" ", "_")
    hot = [name for name, (_, make, *_) in QUANTITIES.items() if make is tensile]
    must_be = f"one that measured heats tell at every temperature: {', '.join(hot)}"
    one_of("quantity", quantity, hot, must_be)
    if "temperature_C" in conditions:
        raise InputError(
            "temperature_C", "left out: `temperatures` says over which", conditions["temperature_C"]
        )
    batch = as_batch(heats)
    if not 0 < len(batch) <= _MOST_HEATS:
        raise InputError("heats", f"1 to {_MOST_HEATS} for one chart", said(f"{len(batch)} heats"))
    unit = estimate(batch, quantity, level, **conditions).unit  # refuses what it does not know
    card = _card(quantity, conditions)
    x = _temperatures(card, temperatures)
    tables = _over(batch, quantity, level, x, conditions)
    for heat, table in tables.items():
        _refuse_unsupported(heat, table)
    foot = _foot(batch, tables, card, level, conditions)
    return _drawn(tables, x, card, unit, level, foot, width)


def _card(quantity: str, conditions: dict) -> Card:
    """The card that answers; of two, the one that knows less of the heats."""
    told = conditions.get("solution_temperature_C")
    known = told is not None and np.isfinite(np.asarray(told, dtype=float)).all()
    return model_card(quantity if known else f"{quantity}_by_composition")


def _temperatures(card: Card, given: Numbers | None) -> np.ndarray:
    """Return rising temperatures."""
    try:
        x = np.unique(
            np.asarray(card.data["range"]["temperature_C"] if given is None else given, float)
        )
    except (TypeError, ValueError):
        x = np.empty(0)
    if len(x) < 2 or not np.isfinite(x).all():
        raise InputError("temperatures", "at least two different numbers, °C", given)
    return np.linspace(x[0], x[-1], _POINTS) if given is None else x


def _over(
    batch: pd.DataFrame, quantity: str, level: float, x: np.ndarray, conditions: dict
) -> dict[str, pd.DataFrame]:
    """Return the estimate of each heat at each temperature."""
    tables = {}
    for k, heat in enumerate(batch.index):
        own = {
            name: value.get(heat) if isinstance(value, pd.Series) else value
            if np.ndim(value) == 0 else np.broadcast_to(value, len(batch))[k]
            for name, value in conditions.items()
        }  # fmt: skip
        rows = batch.iloc[[k] * len(x)].set_axis(range(len(x)))
        tables[str(heat)] = estimate(rows, quantity, level, temperature_C=x, **own)
    return tables


def _refuse_unsupported(heat: str, table: pd.DataFrame) -> None:
    last = table.iloc[-1]
    if int(last["flag"]) & Flag.NO_SUPPORT:
        raise InputError(f"heat '{heat}'", "of a family with measured heats", said(last["basis"]))
    if not np.isfinite(table["value"]).all():
        lacking = said(Flag(int(last["flag"])).words())
        raise InputError(f"heat '{heat}'", "with all that an estimate needs: C, Cr, Ni", lacking)


def _outside(table: pd.DataFrame) -> np.ndarray:
    return (table["flag"].to_numpy() & int(Flag.OUTSIDE_DATA)) > 0


def _foot(batch: pd.DataFrame, tables: dict, card: Card, level: float, conditions: dict) -> str:
    data, score = card.data, card.data["held_out"]
    text = (
        f"Rests on {data['heats']} measured heats ({data['what']}); on heats held out the mean "
        f"error is {score['mae']:.3g} {data['unit']}, {score['mae_room']:.3g} at room temperature. "
        f"Band: interval of {next(iter(tables))} at {100 * level:g} %."
    )
    if data["shift"]:
        relation = data["shift"]["relation"]
        status = CATALOGUE[relation].status
        text += f" Effect of nitrogen and grain size: {relation} ({status})."
    if any(_outside(table).any() for table in tables.values()):
        told = {name: value for name, value in conditions.items() if name in card.inputs}
        words = card.outside(batch.reindex(columns=card.inputs).assign(**told))
        why = [
            f"{heat}: {w.removeprefix('; ')}" for heat, w in zip(tables, words, strict=True) if w
        ]
        text += " Dashed and hollow: outside what was measured"
        text += f" ({', '.join(why)})." if why else "."
    return f"{text} Dimensioning goes by the values of the code."


def _drawn(
    tables: dict, x: np.ndarray, card: Card, unit: str, level: float, foot: str, width: int
) -> Figure:
    name = card.data["quantity"].replace("_", " ")
    title = f"{name.capitalize()} against test temperature"
    with sheet(
        width, _HEIGHT, title, foot, xlabel="test temperature, °C", ylabel=f"{name}, {unit}",
        left=66, right=room_for_ends(tables) + 30,
    ) as (figure, axes):  # fmt: skip
        band = next(iter(tables.values()))
        axes.fill_between(x, band["low"], band["high"], color=COLOURS[0], alpha=0.14, lw=0)
        for k, table in enumerate(tables.values()):
            _curve(axes, x, table["value"].to_numpy(), _outside(table), k)
        axes.set(xlim=(x[0], x[-1]))
        axes.set_ylim(bottom=0)
        end_names(axes, {h: t["value"].to_numpy() for h, t in tables.items()}, _HEIGHT, shapes=True)
    words = " ".join(_in_words(heat, table, x, unit, level) for heat, table in tables.items())
    return Figure(figure, title, f"{words} {foot}")


def _curve(axes: Axes, x: np.ndarray, y: np.ndarray, outside: np.ndarray, k: int) -> None:
    colour, marker = style_of(k)
    dashed = outside.copy()  # with the neighbours inside, so that no gap opens
    dashed[1:] |= outside[:-1]
    dashed[:-1] |= outside[1:]
    axes.plot(x, np.where(outside, np.nan, y), color=colour)
    axes.plot(x, np.where(dashed, y, np.nan), color=colour, ls=(0, (6, 2)))
    marked = np.arange(2 + k, len(x), _EVERY)  # not at the same places, or marks would hide marks
    for hollow in (False, True):
        at = marked[outside[marked] == hollow]
        axes.plot(
            x[at], y[at], ls="none", marker=marker, ms=6.5, mec=colour,
            mfc="white" if hollow else colour,
        )  # fmt: skip


def _in_words(heat: str, table: pd.DataFrame, x: np.ndarray, unit: str, level: float) -> str:
    ends = ", ".join(
        f"{number(row['value'], 3)} {unit} ({number(row['low'], 3)} to {number(row['high'], 3)}) "
        f"at {at:g} °C"
        for at, row in ((x[0], table.iloc[0]), (x[-1], table.iloc[-1]))
    )
    return f"{heat}: {ends}; interval at {100 * level:g} %."
