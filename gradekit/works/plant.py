"""What the works can do: limits that the user edits, read from one table.

A plant says only what its table says: whatever needs a line that is missing is 'not assessed' and
names it. `typical_plant` is a works as text books describe it, each line marked *typical*; a walk
of the route takes its lines where the user's own table has none.
"""

from __future__ import annotations

import difflib
import os
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import Any, TypeAlias

import numpy as np
import pandas as pd

from gradekit.core.aliases import TableLike
from gradekit.core.errors import NOTHING, InputError, one_of
from gradekit.core.markup import details, items, panel, table
from gradekit.core.units import converted
from gradekit.core.units import usual as usual_unit
from gradekit.core.usertable import UserTable, read_number, user_table
from gradekit.heats.certificates.units import known_units, unit_factor
from gradekit.works.tables import Cited, process_table

_COLUMNS = ("step", "parameter", "value", "unit")


@dataclass(frozen=True)
class Plant:
    """Limits of the works, each under the name 'step.parameter'.

    Attributes
    ----------
    limits : DataFrame indexed by name
        Columns `value`, `unit` and `note`; `changed` makes a plant with others.
    remarks : tuple of str
        What was decided or left out while the table was read.
    path : str
        Of the file it was read from, '' where there was none.

    Examples
    --------
    >>> plant = as_plant({"caster.superheat_max": (45, "C")})
    >>> plant.get("caster.superheat_max", "C")
    45.0
    >>> plant.gap("caster.superheat_max", "caster.pressure")
    'the plant table has no caster.pressure'
    """

    limits: pd.DataFrame
    remarks: tuple[str, ...] = ()
    path: str = ""

    @cached_property
    def by_name(self) -> dict[str, dict]:
        """The lines of the table; a walk looks up a hundred of them."""
        return self.limits.to_dict("index")

    def get(self, name: str, unit: str) -> float:
        """Return one limit, NaN where the table has none.

        Parameters
        ----------
        name : str
            'step.parameter', as in 'caster.superheat_max'.
        unit : str
            The unit that the caller computes in; another that measures the same is converted.

        Raises
        ------
        InputError
            The table states the limit in a unit of something else.
        """
        line = self.by_name.get(name)
        if line is None:
            return float("nan")
        if line["unit"] == unit:
            return float(line["value"])
        return self._converted(name, float(line["value"]), line["unit"], unit)

    @staticmethod
    def _converted(name: str, value: float, given: str, asked: str) -> float:
        if asked == "wt%":
            content = unit_factor(given)
            there = None if content is None else content[0] * value
        else:
            there = converted(value, given, asked)
        if there is None:
            must_be = known_units if asked == "wt%" else usual_unit(asked)
            raise InputError(f"unit of {name} in the plant table", must_be, given)
        return there

    def gap(self, *names: str) -> str:
        """Say which of these limits are missing; '' where none is."""
        gone = [n for n in names if n not in self.by_name or np.isnan(self.by_name[n]["value"])]
        if not gone:
            return ""
        return f"the plant table has no {', '.join(gone)}"

    def cite(self, *names: str) -> str:
        """Return the plant table as a source, and whether these lines are typical or invented.

        Examples
        --------
        >>> typical_plant().cite("caster.pressure")
        'plant table (typical)'
        """
        notes = [str(self.by_name[n]["note"]) for n in names if n in self.by_name]
        marks = [m for m in ("typical", "invented") if any(m in n for n in notes)]
        return "plant table" + (f" ({', '.join(marks)})" if marks else "")

    def line(self, name: str, unit: str) -> Cited:
        """Return one limit as it is judged by: with its source, or what is missing.

        Examples
        --------
        >>> typical_plant().line("caster.superheat_max", "C")
        Cited(value=45.0, unit='C', source='plant table (typical)', status='', gap='')
        """
        return Cited(self.get(name, unit), unit, self.cite(name), gap=self.gap(name))

    @property
    def typical(self) -> str:
        """How many lines are those of a typical works, in words; '' where none is."""
        count = sum("typical" in str(line["note"]) for line in self.by_name.values())
        if not count:
            return ""
        return (
            f"{count} of {len(self.by_name)} lines of the plant table are those of a typical "
            "works, not of yours: give your own as plant="
        )

    def changed(self, **limits: float) -> Plant:
        """Return a plant with some values changed, for a what-if; '.' is written '__'.

        Examples
        --------
        >>> plant = as_plant({"caster.pressure": (1, "atm")})
        >>> plant.changed(caster__pressure=2.5).get("caster.pressure", "atm")
        2.5
        """
        names, values = self.limits.index, self.limits["value"].to_numpy(copy=True)
        for key, value in limits.items():
            name = key.replace("__", ".")
            one_of("limit of the plant", name, names, "one of the table")
            values[names.get_loc(name)] = read_number(value, f"value of {name}", "a number")
        return replace(self, limits=self.limits.assign(value=values))

    def scatter(self) -> pd.Series:
        """Return the standard deviation from heat to heat of each element, wt%."""
        rows = self.limits[self.limits.index.str.startswith("scatter.")]
        return pd.Series(
            [self.get(name, "wt%") for name in rows.index],
            rows.index.str.removeprefix("scatter."), dtype=float, name="value",
        )  # fmt: skip

    def _repr_html_(self) -> str:
        steps = len({name.partition(".")[0] for name in self.limits.index})
        return panel(
            table(self.limits, "What the works can do", wide=["note"]),
            details("Understood while reading", items(self.remarks)),
            lead=f"{len(self.limits)} limits of {steps} steps of the works",
        )


def read_plant(path: str | os.PathLike) -> Plant:
    """Read the limits of the works.

    Parameters
    ----------
    path : path of a CSV file
        Columns `step`, `parameter`, `value`, `unit` and, if wanted, `note`; an empty value means
        not known.

    Returns
    -------
    Plant

    Raises
    ------
    InputError
        No such file, a column missing, a value that is no number, a line that stands twice.

    Examples
    --------
    >>> read_plant("data/plant.csv").get("caster.pressure", "atm")
    1.0
    """
    return _from_table(path)


#: Whatever `as_plant` makes a plant of.
PlantLike: TypeAlias = Plant | TableLike


def typical_plant(own: PlantLike | None = None) -> Plant:
    """Return a works as text books describe it, or the user's own with its gaps filled so.

    Parameters
    ----------
    own : Plant, path, table or mapping, optional
        Its lines replace those of the typical works, a blank value too; a list that is numbered
        (the gas ladder, the grits) is replaced as a whole.

    Returns
    -------
    Plant
        The note of every line that is not the user's begins with 'typical'.

    Raises
    ------
    InputError
        As `read_plant`.

    Notes
    -----
    Trade practice, from memory: a converter of 1 atm, a slab caster, a reversing hot mill, an
    annealing and pickling line, a cluster mill.

    Examples
    --------
    >>> typical_plant().get("caster.superheat_max", "C")
    45.0
    >>> mine = typical_plant({"caster.superheat_max": (40, "C")})
    >>> mine.get("caster.superheat_max", "C"), mine.cite("caster.superheat_max", "caster.pressure")
    (40.0, 'plant table (typical)')
    """
    usual = _typical()
    if own is None:
        return usual
    mine = as_plant(own)
    told = {_listed(name) for name in mine.limits.index}
    rest = [name for name in usual.limits.index if _listed(name) not in told]
    return replace(mine, limits=pd.concat([mine.limits, usual.limits.loc[rest]]))


def _listed(name: str) -> str:
    """Return one name for all lines of a numbered list."""
    return "converter gas" if "_step_" in name else name.rstrip("0123456789")


@cache
def _typical() -> Plant:
    rows = process_table("typical_plant")
    names, units = rows["step"] + "." + rows["parameter"], rows["unit"].astype(str)
    return Plant(_limits(names.tolist(), rows["value"], units.tolist(), rows["note"].tolist()))


def as_plant(source: TableLike) -> Plant:
    """Return a Plant of whatever describes one.

    Parameters
    ----------
    source : Plant, path, DataFrame with the columns of the file, mapping of 'step.parameter' to
        (value, unit), or None for a works of which nothing is known
    """
    if isinstance(source, Plant):
        return source
    if source is None or isinstance(source, Mapping):
        rows = []
        for name, given in dict(source or {}).items():
            step, dot, parameter = str(name).partition(".")
            if not dot or not isinstance(given, tuple) or len(given) != 2:
                raise InputError("limit of the plant", "{'step.parameter': (value, 'unit')}",
                                 {name: given})  # fmt: skip
            rows.append((step, parameter, *given))
        if not rows:
            return Plant(_limits([], [], [], []))
        source = pd.DataFrame(rows, columns=list(_COLUMNS))
    if not isinstance(source, (str, os.PathLike, pd.DataFrame)):
        raise InputError("plant", "a path, a table, a mapping, a Plant or None", source)
    return _from_table(source)


def _check_lines(rows: UserTable, names: list[str], units: list[str]) -> None:
    """Refuse a slip of a known limit and a unit that does not measure it; remark on the others."""
    usual = _typical().limits["unit"]
    known = {_listed(name) for name in usual.index}
    for row, (name, unit) in enumerate(zip(names, units, strict=True)):
        if name in usual.index:
            same = unit == usual[name] or (usual[name] == "1" and unit in ("", "-"))
            if not same and converted(0.0, unit, usual[name]) is None and unit_factor(unit) is None:
                what = f"{rows.place(row, 'unit')}, unit of {name}"
                raise InputError(what, usual_unit(usual[name]), unit or NOTHING)
        elif _listed(name) not in known and not name.startswith(("scatter.", "analysis.")):
            slips = difflib.get_close_matches(name, usual.index, n=1, cutoff=0.92)
            if slips and slips[0].split(".")[0] == name.split(".")[0]:
                what = rows.place(row, "parameter")
                raise InputError(what, "the name of a limit that is used", name, slips[0])
            rows.remarks.append(f"{rows.source}: {name} is not used")


def _from_table(source: str | os.PathLike | pd.DataFrame) -> Plant:
    rows = user_table(source, "plant table", _COLUMNS, ("note",))
    pairs = zip(rows.words("step"), rows.words("parameter"), strict=True)
    names = [f"{step}.{parameter}" for step, parameter in pairs]
    rows.once("parameter", names)
    values = rows.numbers("value", lambda row: f"value of {names[row]}")
    _check_lines(rows, names, rows.words("unit"))
    limits = _limits(names, values, rows.words("unit"), rows.words("note"))
    path = "" if isinstance(source, pd.DataFrame) else os.fspath(source)
    return Plant(limits, tuple(rows.remarks), path)


def _limits(names: list[str], values: Any, units: list[str], notes: list[str]) -> pd.DataFrame:
    table = {"value": np.asarray(values, dtype=float), "unit": units, "note": notes}
    return pd.DataFrame(table, pd.Index(names, name="limit", dtype=object))
