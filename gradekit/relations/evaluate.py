"""Values of relations for a batch, with a flag for each value and its reason in words."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

import numpy as np
import pandas as pd

from gradekit.core.aliases import Given, HeatsLike, Label
from gradekit.core.errors import InputError, nearest, one_of, said
from gradekit.core.flags import OUT, Flag
from gradekit.core.lazy import lazy_frame, mapped
from gradekit.core.markup import details, evidence_line, number, panel, table
from gradekit.heats.batch import as_batch
from gradekit.heats.notes import bounded
from gradekit.relations.declaration import CONDITIONS, Relation
from gradekit.relations.listing import Named, catalogue, resolve
from gradekit.relations.plan import plan_for
from gradekit.relations.reasons import HeatGiven, reasons
from gradekit.relations.steels import families_by_votes, family_codes, with_family
from gradekit.relations.topics import CATALOGUE

# So many columns of numbers stand side by side on a page.
_ACROSS = 8


class Result:
    """Values, flags and standard errors of relations for a batch.

    Attributes
    ----------
    values : DataFrame, shape (heats, relations)
        Each column in the unit of its relation; NaN where there is no value.
    flags : DataFrame of int, same shape
        `gradekit.Flag` bits.
    standard_error : DataFrame, same shape
        NaN where no error figure is known.
    """

    def __init__(self, batch, relations, values, flags, conditions):
        self.heats: pd.DataFrame = batch
        self.relations: tuple[Relation, ...] = relations
        self.conditions: dict = conditions
        self._values, self._flags = values, flags
        self._latest: HeatGiven | None = None

    @cached_property
    def names(self) -> pd.Index:
        """Names of the relations."""
        return pd.Index([r.name for r in self.relations], name="relation")

    @cached_property
    def values(self) -> pd.DataFrame:
        return self._frame(self._values)

    @cached_property
    def flags(self) -> pd.DataFrame:
        return self._frame(self._flags)

    @cached_property
    def standard_error(self) -> pd.DataFrame:
        errors = [r.error_at(v) for r, v in zip(self.relations, self._values, strict=True)]
        return self._frame(np.array(errors).reshape(self._values.shape))

    def only(self, places: np.ndarray) -> Result:
        """Return the relations at these places, in their order."""
        relations = tuple(self.relations[i] for i in places)
        return Result(
            self.heats, relations, self._values[places], self._flags[places], self.conditions
        )

    def row(self, heat: Label) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Return values, flags and standard errors of one heat, by relation.

        For what is asked for at each step of an explorer: no table is made.

        Parameters
        ----------
        heat : label of the batch

        Returns
        -------
        three ndarrays, shape (relations,)
            As a row of `values`, `flags` and `standard_error`.

        Raises
        ------
        InputError
            A heat that is not in this result.

        Examples
        --------
        >>> values, flags, errors = evaluate({"Cr": 18.2, "N": 0.05}, "pren_16n").row("heat 1")
        >>> values.tolist(), errors.tolist()
        ([19.0], [nan])
        """
        at = self._at(heat)
        values = self._values[:, at]
        errors = [r.error_at(v) for r, v in zip(self.relations, values, strict=True)]
        return values, self._flags[:, at], np.array(errors, dtype=float)

    def column(self, name: str) -> tuple[np.ndarray, np.ndarray]:
        """Return values and flags of one relation, by heat, without a table.

        Parameters
        ----------
        name : name of a relation

        Returns
        -------
        two ndarrays, shape (heats,)
            As a column of `values` (unit of the relation) and of `flags`; to be read, not written.

        Raises
        ------
        InputError
            A relation that is not in this result.

        Examples
        --------
        >>> result = evaluate({"Cr": [18.2, 17.0], "N": [0.05, 0]}, "pren_16n")
        >>> values, flags = result.column("pren_16n")
        >>> values.tolist()
        [19.0, 17.0]
        """
        row = self._row_of(name)
        return self._values[row], self._flags[row]

    def given(self, heat: Label) -> dict[str, np.float64]:
        """Return what the relations are given for one heat, by name.

        Parameters
        ----------
        heat : label of the batch

        Returns
        -------
        dict
            Contents and the balance `Fe` in wt%, 0 for what is not reported; conditions in the
            unit of their name, those alone that were given.

        Raises
        ------
        InputError
            A heat that is not in this result.

        Examples
        --------
        >>> result = evaluate({"Cr": 18.0, "N": 0.05}, "pren_16n")
        >>> {name: float(amount) for name, amount in result.given("heat 1").items()}
        {'Cr': 18.0, 'Mo': 0.0, 'N': 0.05, 'Fe': 81.95}
        """
        return dict(self._given(heat).amounts)

    def _given(self, heat: Label) -> HeatGiven:
        # Relation after relation is asked about the same heat.
        if self._latest is None or self._latest.heat != heat:
            at = self._at(heat)
            contents = self._contents[at]
            amounts = dict.fromkeys(plan_for(self.relations).elements, np.float64(0.0))
            # numpy's own numbers, by which a formula divides without raising
            amounts |= zip(self.heats.columns, np.nan_to_num(contents), strict=True)
            amounts["Fe"] = 100.0 - np.nansum(contents)
            conditions = ((c, v if v.ndim == 0 else v[at]) for c, v in self.conditions.items())
            amounts |= {name: np.float64(value) for name, value in conditions}
            family = self.families.iloc[at]
            self._latest = HeatGiven(self.heats, heat, at, contents, amounts, family)
        return self._latest

    @cached_property
    def families(self) -> pd.Series:
        """Family of each heat, against which the families of the relations were held."""
        return families_by_votes(self.heats)

    @cached_property
    def _contents(self) -> np.ndarray:
        return self.heats.to_numpy()

    def _frame(self, array: np.ndarray) -> pd.DataFrame:
        return pd.DataFrame(array.T, index=self.heats.index, columns=self.names, copy=False)

    def words(self, heat: Label, name: str) -> str:
        """Say in words what is to be said about one value.

        Parameters
        ----------
        heat : label of the batch
        name : name of a relation

        Returns
        -------
        str
            '' where nothing is to be said.
        """
        row, given = self._row_of(name), self._given(heat)
        value, flags = float(self._values[row, given.at]), int(self._flags[row, given.at])
        formulas = plan_for(self.relations).formulas
        return "; ".join(reasons(self.relations[row], value, flags, given, formulas))

    def _at(self, heat: Label) -> int:
        index = self.heats.index
        one_of("heat", heat, index, "one of this result")
        return index.get_loc(heat)

    def _row_of(self, name: str) -> int:
        one_of("relation", name, self._rows, "one of this result")
        return self._rows[name]

    @cached_property
    def _rows(self) -> dict[str, int]:
        return {relation.name: i for i, relation in enumerate(self.relations)}

    @cached_property
    def spread(self) -> pd.DataFrame:
        """Lowest and highest value a heat gets, and how many give one: of those that hold, and `of
        all`."""
        inside = self.values.where(self.holds)
        return pd.DataFrame(
            {
                "low": inside.min(axis=1),
                "high": inside.max(axis=1),
                "relations": inside.notna().sum(axis=1),
                "low of all": self.values.min(axis=1),
                "high of all": self.values.max(axis=1),
                "relations of all": self.values.notna().sum(axis=1),
            }
        )

    @cached_property
    def holds(self) -> pd.DataFrame:
        """Whether a relation holds for a heat: made from steels of its family, inside its range."""
        return self._frame(((self._flags & OUT) == 0) & np.isfinite(self._values))

    def long(self) -> pd.DataFrame:
        """Return one row a value: heat, relation, value, unit, error, status and flag in words."""
        rows = [
            {
                "heat": heat,
                "relation": r.name,
                "title": r.title,
                "value": self.values.at[heat, r.name],
                "unit": r.unit,
                "standard_error": self.standard_error.at[heat, r.name],
                "status": r.status,
                "flag": self.words(heat, r.name),
            }
            for heat in self.heats.index
            for r in self.relations
        ]
        return pd.DataFrame(rows)

    def tables(self) -> dict[str, pd.DataFrame]:
        """Return what there is to write: heats, values, flags in words, and the relations used."""
        bits, at = np.unique(self._flags, return_inverse=True)
        words = np.array([Flag(int(b)).words() for b in bits], dtype=object)
        return {
            "heats": self.heats,
            "values": self.values,
            "flags": self._frame(words[at].reshape(self._flags.shape)),
            "relations": catalogue(self.relations),
        }

    def _repr_html_(self) -> str:
        counts = (self.flags & int(~Flag.RANGE_NOT_STATED & ~Flag.ASSUMED_ZERO)).astype(bool)
        if len(self.heats) == 1:
            frame = self.long().drop(columns=["heat"]).set_index("relation")
            frame = frame.rename(columns={"standard_error": "±", "status": "evidence"})
            shown = table(frame, "One row a relation; ± is one standard error", wide=["flag"])
            rests = evidence_line(frame["evidence"]) if len(frame) > 1 else ""
            return panel(
                shown, rests, lead=self._words(int((counts & self.values.notna()).to_numpy().sum()))
            )
        each = pd.DataFrame(
            {
                "unit": [r.unit for r in self.relations],
                "evidence": [r.status for r in self.relations],
                "heats with a reservation": counts.sum(),
            },
            index=self.names,
        )
        if len(self.relations) > _ACROSS:
            heats = self.values.index[: _ACROSS // 2]
            shown = table(
                each.join(self.values.loc[heats].T.set_axis(map(str, heats), axis=1)),
                f"One row a relation, first {len(heats)} of {len(self.heats)} heats",
            )
            lead = f"{len(self.relations)} relations of {len(self.heats)} heats"
            return panel(shown, evidence_line(each["evidence"], "relations"), lead=lead)
        many = f"{int(counts.any(axis=1).sum())} of {len(self.heats)} heats with a reservation"
        return panel(
            table(self.values, "Values of each heat", units=dict(each["unit"]), rows=80),
            details("Evidence, and reservations by relation", table(each, "One row a relation")),
            lead=f"{', '.join(dict.fromkeys(r.quantity for r in self.relations))}: {many}",
        )

    def _words(self, flagged: int) -> str:
        """The values of one heat in a sentence."""
        heat = self.heats.index[0]
        if len(self.relations) > 1:
            none = int(self.values.isna().to_numpy().sum())
            many = f"{len(self.relations) - none} values of {heat}"
            many += f", {flagged} with a reservation" if flagged else ""
            return many + (f"; no value from {none} of {len(self.relations)}" if none else "")
        (relation,) = self.relations
        if self.values.isna().iloc[0, 0]:
            return f"{relation.title} of {heat}: no value"
        value = f"{number(float(self.values.iloc[0, 0]))}{relation.unit_behind}"
        reserved = ", with a reservation" if flagged else ""
        return f"{relation.title} of {heat}: {value}{reserved}"

    def __repr__(self) -> str:
        size = f"{len(self.heats)} x {len(self.relations)}"
        return f"Result, heats x relations: {size}\n{self.values!r}"


def evaluate(
    heats: HeatsLike,
    names: Named = None,
    *,
    family: str | Mapping | pd.Series | None = None,
    **conditions: Given,
) -> Result:
    """Evaluate relations on heats.

    Parameters
    ----------
    heats : anything `as_batch` takes
        Compositions in wt%. A dask DataFrame or a Parquet data set is worked on part by part.
    names : str, Relation, or list of these, optional
        Names of relations or quantities; all relations by default.
    family : str, or a Series or mapping with one a heat, optional
        What the user knows of the steel, as `gk.family` names it; else its votes tell.
    **conditions
        Conditions with their unit in the name, such as `temperature_C=20`,
        `grain_size_um=30`; one value for all, or one value a heat.

    Returns
    -------
    Result
        `.values`, `.flags`, `.standard_error`, `.words(heat, name)`. Of a dask DataFrame or a
        Parquet data set a lazy DataFrame: a column a relation, and its flags in `<name> flags`.

    Raises
    ------
    InputError
        Unknown relation, family or condition, or wrong number of condition values.

    Examples
    --------
    >>> r = evaluate({"Cr": 18.2, "Ni": 8.1, "Mo": 0.3, "N": 0.05}, "pren_16n")
    >>> float(r.values.iloc[0, 0].round(2)), r.words("heat 1", "pren_16n")
    (19.99, 'range not stated in figures')
    """
    if (parts := lazy_frame(heats)) is not None:
        return mapped(parts, _values_and_flags, names=names, family=family, **conditions)
    batch = as_batch(heats)
    known = batch if family is None else with_family(batch, family)
    return evaluate_batch(known, names, **conditions)


def _values_and_flags(
    part: pd.DataFrame, names: Named, family: str | Mapping | pd.Series | None, **conditions: Given
) -> pd.DataFrame:
    result = evaluate(part, names, family=family, **conditions)
    return pd.concat([result.values, result.flags.add_suffix(" flags")], axis=1)


def evaluate_batch(batch: pd.DataFrame, names: Named = None, **conditions: Given) -> Result:
    """Evaluate as `evaluate` does, on a batch that the border has checked."""
    relations = resolve(names)
    given = conditions_of(batch, conditions)
    columns = {name: i for i, name in enumerate(batch.columns)}
    plan = plan_for(relations)
    codes = family_codes(batch) if plan.families else None
    values, flags = plan.run(batch.to_numpy(), columns, given, bounded(batch), codes)
    return Result(batch, relations, values, flags, given)


def spread(heats: HeatsLike, quantity: str, **conditions: Given) -> Result:
    """Evaluate every relation of one quantity side by side.

    Parameters
    ----------
    heats : anything `as_batch` takes
        Compositions in wt%.
    quantity : str
        As in `catalogue()['quantity']`, such as 'Md30'.
    **conditions
        As for `evaluate`.

    Returns
    -------
    Result
        Those that hold for most of the heats come first; `.spread` tells the lowest and highest
        value of each heat by those that hold for it.

    Raises
    ------
    InputError
        A quantity or condition that is not known, or heats that cannot be read.

    Examples
    --------
    >>> heat = {"C": .05, "Cr": 18.2, "Ni": 8.1, "Mn": 1.4, "Si": .4, "N": .05}
    >>> r = spread(heat, "Md30", grain_size_astm=8)
    >>> len(r.relations), int(r.spread["relations"].iloc[0])
    (4, 4)
    """
    quantities = CATALOGUE.quantities()
    # `estimate` writes its quantities with underscores.
    quantity = quantity if quantity in quantities else str(quantity).replace("_", " ")
    if quantity not in quantities:
        close = nearest(quantity, quantities) or "'proof strength', 'Md30', 'ferrite number'"
        raise InputError("quantity", "one of gk.catalogue()['quantity']", quantity, close)
    result = evaluate(heats, quantities[quantity], **conditions)
    first = np.argsort(-result.holds.to_numpy().sum(axis=0), kind="stable")
    return result.only(first)


def conditions_of(batch: pd.DataFrame, given: Mapping[str, Given]) -> dict[str, np.ndarray]:
    """Return conditions as arrays, one value or one a heat; what is None is left out."""
    return {k: _condition(k, v, batch) for k, v in given.items() if v is not None}


def _condition(name: str, value: Given, batch: pd.DataFrame) -> np.ndarray:
    one_of("condition", name, CONDITIONS)
    if isinstance(value, Mapping):
        value = pd.Series(value)
    if isinstance(value, pd.Series):
        value = value.reindex(batch.index)
    try:
        array = np.asarray(value, dtype=float)
    except (TypeError, ValueError):
        raise InputError(name, f"a number ({CONDITIONS[name]})", value) from None
    if array.ndim > 1 or (array.ndim == 1 and len(array) != len(batch)):
        raise InputError(
            name, f"one value, or one for each of {len(batch)} heats", said(f"{array.shape}")
        )
    return array
