"""How many relations are evaluated on many heats at once.

The linear ones are one matrix product. Everything is written relation by relation into arrays
kept for the purpose, in chunks of heats that stay in the cache; pandas takes such arrays as they
are. Ranges are looked at once per element and spread to the relations that use them.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from types import SimpleNamespace
from typing import NamedTuple

import numpy as np

from gradekit.core.elements import is_element
from gradekit.core.errors import InputError
from gradekit.core.flags import Flag
from gradekit.core.formula import Formula
from gradekit.relations.declaration import CONDITIONS, ESSENTIAL, Linear, Relation
from gradekit.relations.groups import FAMILIES
from gradekit.relations.topics import CATALOGUE

CHUNK = 20_000
FLAG_TYPE = np.uint16
# numpy takes bits of its own type only; the names are those of Flag.
_BIT = SimpleNamespace(**{str(flag.name): FLAG_TYPE(flag) for flag in Flag})
# Without what these stand for there is no value.
_GONE = _BIT.MISSING | _BIT.CONDITION_MISSING


@lru_cache(maxsize=64)
def plan_for(relations: tuple[Relation, ...]) -> Plan:
    """Return the plan of these relations, made once."""
    return Plan(relations)


class Plan:
    """Everything about a set of relations that does not depend on the heats."""

    def __init__(self, relations: tuple[Relation, ...]):
        self.relations = relations
        self.formulas = _range_formulas(relations)
        names = dict.fromkeys(e for r in relations for e in r.elements)
        names |= dict.fromkeys(k for r in relations for k in r.ranges if is_element(k))
        names |= dict.fromkeys(
            n for f in self.formulas.values() for n in f.names if n not in CONDITIONS
        )
        self.needs_balance = "Fe" in names
        self.elements = [n for n in names if n != "Fe"]
        at = {e: i for i, e in enumerate(self.elements)}

        # Iron is what all contents leave, also those that no relation here asks for.
        self.linear = [
            i
            for i, r in enumerate(relations)
            if isinstance(r, Linear) and r.plain and "Fe" not in r.terms
        ]
        self.others = [i for i in range(len(relations)) if i not in set(self.linear)]
        self.weights = np.zeros((len(self.linear), len(self.elements)))
        self.intercepts = np.zeros(len(self.linear))
        for row, i in enumerate(self.linear):
            relation = relations[i]
            assert isinstance(relation, Linear)
            self.intercepts[row] = relation.intercept
            for element, coefficient in relation.terms.items():
                self.weights[row, at[element]] = coefficient

        # By the bit that a relation gets where it is not told: what it asks for, and who asks.
        self.asked: dict[np.uint16, dict[str, list[int]]] = {
            _BIT.MISSING: {}, _BIT.ASSUMED_ZERO: {}, _BIT.CONDITION_MISSING: {}
        }  # fmt: skip
        for i, relation in enumerate(relations):
            for name in relation.inputs:
                needed = _BIT.MISSING if name in relation.required else _BIT.ASSUMED_ZERO
                bit = _BIT.CONDITION_MISSING if name in CONDITIONS else needed
                self.asked[bit].setdefault(name, []).append(i)
        self.unstated = [i for i, r in enumerate(relations) if not r.ranges]
        self.ends = [
            i for i, r in enumerate(relations) if r.floor is not None or r.ceiling is not None
        ]
        alike: dict[tuple[str, ...], list[int]] = {}
        for i, relation in enumerate(relations):
            if relation.families:
                alike.setdefault(relation.families, []).append(i)
        # The bit of each family by its code, for the relations that were made from the same steels.
        self.families = [(_other_than(made_from), rows) for made_from, rows in alike.items()]
        limits = _limits(relations)
        self.content_limits = [(k, rows) for k, rows in limits.items() if k.key in at]
        self.other_limits = [(k, rows) for k, rows in limits.items() if k.key not in at]
        keys = [key for key, _ in self.content_limits]
        self.limited = np.array([at[key.key] for key in keys], dtype=int)
        self.least = np.array([-np.inf if k.low is None else k.low for k in keys])
        self.most = np.array([np.inf if k.high is None else k.high for k in keys])
        # The flags that each relation gets where a content is beyond an end for every heat.
        self.below_bits = np.zeros((len(keys), len(relations)), dtype=FLAG_TYPE)
        self.above_bits = np.zeros_like(self.below_bits)
        for at_limit, (limit, rows) in enumerate(self.content_limits):
            self.below_bits[at_limit, rows] = limit.bits(_BIT.BELOW_RANGE)
            self.above_bits[at_limit, rows] = limit.bits(_BIT.ABOVE_RANGE)

    def run(
        self,
        contents: np.ndarray,
        columns: Mapping[str, int],
        conditions: Mapping[str, np.ndarray],
        bounded: Mapping[str, np.ndarray],
        codes: np.ndarray | None = None,
    ) -> tuple[np.ndarray, np.ndarray]:
        """Return values and flags, each of shape (relations, heats).

        `codes` are those of the families of the heats; asked for where `families` is not empty.
        """
        heats = len(contents)
        values = np.empty((len(self.relations), heats))
        flags = np.empty((len(self.relations), heats), dtype=FLAG_TYPE)
        base = self._base_flags(columns, conditions)
        if codes is not None and heats and (codes == codes[0]).all():
            for bits, rows in self.families:
                base[rows] |= bits[codes[0]]
            codes = None  # said of all at once
        for start in range(0, heats, CHUNK):
            part = slice(start, min(start + CHUNK, heats))
            flags[:, part] = base[:, None]
            if codes is not None:
                for bits, rows in self.families:
                    marked = bits[codes[part]]
                    for i in rows:
                        flags[i, part] |= marked
            self._chunk(
                contents[part],
                columns,
                {c: v if v.ndim == 0 else v[part] for c, v in conditions.items()},
                {e: mask[part] for e, mask in bounded.items()},
                values[:, part],
                flags[:, part],
            )
        return values, flags

    def _base_flags(self, columns: Mapping, conditions: Mapping) -> np.ndarray:
        base = np.zeros(len(self.relations), dtype=FLAG_TYPE)
        base[self.unstated] |= _BIT.RANGE_NOT_STATED
        given = {*columns, *conditions, "Fe"}
        for bit, asked in self.asked.items():
            for name in asked.keys() - given:
                base[asked[name]] |= bit
        return base

    def _chunk(self, contents, columns, conditions, bounded, values, flags) -> None:
        heats = len(contents)
        amounts = np.zeros((len(self.elements), heats))
        unknown: dict[str, np.ndarray] = {}
        for row, element in enumerate(self.elements):
            if element in columns:
                amounts[row] = contents[:, columns[element]]
        holes = np.isnan(amounts)
        if holes.any():
            for row in np.flatnonzero(holes.any(axis=1)).tolist():
                unknown[self.elements[row]] = holes[row]
            amounts[holes] = 0.0
        space: dict[str, np.ndarray] = dict(zip(self.elements, amounts, strict=True))
        if self.needs_balance:
            space["Fe"] = 100.0 - np.nansum(contents, axis=1)
        space |= conditions

        if self.linear:
            product = self.weights @ amounts
            product += self.intercepts[:, None]
            values[self.linear] = product
        with np.errstate(all="ignore"):
            self._functions(space, values, flags)
            self._absences(unknown, bounded, conditions, values, flags)
            self._scale_ends(values, flags)
            self._ranges(space, amounts, unknown, values, flags)

    def _functions(self, space: Mapping, values: np.ndarray, flags: np.ndarray) -> None:
        for i in self.others:
            relation = self.relations[i]
            known = all(map(space.__contains__, relation.conditions))
            # Without a condition there is no value: `_absences` says so for all heats at once.
            values[i] = relation.value(space) if known else 0.0
        # What is not finite makes its sum not finite; no second table is made of a large batch.
        for i in np.flatnonzero(~np.isfinite(values.sum(axis=1))).tolist():
            wrong = ~np.isfinite(values[i])
            values[i, wrong] = np.nan
            flags[i, wrong] |= _BIT.UNDEFINED

    def _absences(self, unknown, bounded, conditions, values, flags) -> None:
        for i in np.flatnonzero(flags[:, 0] & _GONE).tolist():
            values[i] = np.nan
            flags[i] &= ~_BIT.UNDEFINED
        holes = unknown | {
            condition: np.broadcast_to(np.isnan(given), values.shape[1:])
            for condition, given in conditions.items()
            if np.isnan(given).any()
        }
        for bit, asked in self.asked.items():
            for name in asked.keys() & holes.keys():
                mask = holes[name]
                for i in asked[name]:
                    flags[i, mask] |= bit
                    if bit & _GONE:
                        values[i, mask] = np.nan
                        flags[i, mask] &= ~_BIT.UNDEFINED
            for name in asked.keys() & bounded.keys():
                flags[np.ix_(asked[name], bounded[name])] |= _BIT.BOUND

    def _scale_ends(self, values: np.ndarray, flags: np.ndarray) -> None:
        for i in self.ends:
            relation = self.relations[i]
            for end, beyond in ((relation.floor, np.less), (relation.ceiling, np.greater)):
                if end is None:
                    continue
                mask = beyond(values[i], end)
                if mask.any():
                    values[i, mask] = end
                    flags[i, mask] |= _BIT.CLAMPED

    def _ranges(self, space: Mapping, amounts: np.ndarray, unknown, values, flags) -> None:
        # Most ranges hold for every heat, and most of the others for none: the least and the most
        # of each content tell. What is left is looked at heat by heat, and so is an element that
        # some heat does not report, which is 0 here.
        lowest, highest = amounts.min(axis=1)[self.limited], amounts.max(axis=1)[self.limited]
        below, above = lowest < self.least, highest > self.most
        told = ~np.isin(self.limited, [self.elements.index(e) for e in unknown])
        all_below, all_above = told & (highest < self.least), told & (lowest > self.most)
        bits = np.bitwise_or.reduce(self.below_bits[all_below], axis=0)
        bits |= np.bitwise_or.reduce(self.above_bits[all_above], axis=0)
        for i in np.flatnonzero(bits).tolist():
            flags[i] |= bits[i]
        for at in np.flatnonzero((below & ~all_below) | (above & ~all_above)).tolist():
            limit, rows = self.content_limits[at]
            _mark(_blanked(space[limit.key], unknown.get(limit.key)), limit, rows, flags)
        for limit, rows in self.other_limits:
            if limit.key == "value":
                for i in rows:
                    _mark(values[i], limit, [i], flags)
            elif limit.key in self.formulas:
                formula = self.formulas[limit.key]
                if any(n not in space for n in formula.names):
                    continue
                # Here as in the value itself, an unknown element counts as zero.
                holes = [unknown[n] for n in formula.names if n in unknown and n in ESSENTIAL]
                hole = np.logical_or.reduce(holes) if holes else None
                _mark(_blanked(formula.on(space), hole), limit, rows, flags)
            elif limit.key in space:
                _mark(space[limit.key], limit, rows, flags)


class _Limit(NamedTuple):
    """An end or two of a range; `fitted` where they are those of the data of a fit."""

    key: str
    low: float | None
    high: float | None
    fitted: bool

    def bits(self, beyond: np.uint16) -> np.uint16:
        """Return the flags of a value beyond an end."""
        return beyond | _BIT.OUTSIDE_DATA if self.fitted else beyond


def _blanked(x: np.ndarray, hole: np.ndarray | None) -> np.ndarray:
    return x if hole is None else np.where(hole, np.nan, x)


def _mark(x: np.ndarray, limit: _Limit, rows: list[int], flags: np.ndarray) -> None:
    for end, beyond, bit in (
        (limit.low, np.less, _BIT.BELOW_RANGE),
        (limit.high, np.greater, _BIT.ABOVE_RANGE),
    ):
        if end is None:
            continue
        mask = beyond(x, end)
        if mask.any():
            marked = np.broadcast_to(mask, flags.shape[1:]) * limit.bits(bit)
            for i in rows:
                flags[i] |= marked


def _limits(relations: tuple[Relation, ...]) -> dict[_Limit, list[int]]:
    """Return each limit there is with the relations that share it."""
    limits: dict[_Limit, list[int]] = {}
    for i, relation in enumerate(relations):
        for key, (low, high) in relation.ranges.items():
            limits.setdefault(_Limit(key, low, high, relation.fitted), []).append(i)
    return limits


def _range_formulas(relations: tuple[Relation, ...]) -> dict[str, Formula]:
    keys = dict.fromkeys(k for r in relations for k in r.ranges)
    # A relation may name itself, also where the catalogue does not know it.
    known = {r.name: r.formula for r in (*relations, *CATALOGUE.values())}
    formulas = {
        key: Formula(key, known)
        for key in keys
        if key != "value" and key not in CONDITIONS and not is_element(key)
    }
    for key, formula in formulas.items():
        if not all(name in CONDITIONS or is_element(name) for name in formula.names):
            raise InputError("range of a relation", "of elements, conditions and relations", key)
    return formulas


def _other_than(made_from: tuple[str, ...]) -> np.ndarray:
    """Return by code of family the bit that its steels get; none where the family is not known."""
    other = np.array([False, *(family not in made_from for family in FAMILIES)])
    return np.where(other, _BIT.OTHER_FAMILY, FLAG_TYPE(0))
