"""A user's own tests as a relation: fitted, tested on heats it never saw, and said how sure."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np
import pandas as pd

from gradekit import regression as rg
from gradekit.composition import as_batch
from gradekit.conformal import Conformal, check_level, held_out_coverage
from gradekit.elements import is_element
from gradekit.errors import InputError, said
from gradekit.evaluate import evaluate, resolve
from gradekit.files import write_whole
from gradekit.fit_table import Tests, read_tests
from gradekit.html import escape, number, panel, table
from gradekit.relation import Check, Linear, Relation
from gradekit.relations import CATALOGUE

__all__ = ["FittedProperty", "fit_property", "fitted_from", "register"]

_TOGETHER = 0.90  # correlation from which two terms are said to move together
_TABLES = ("scores", "held_out", "learning", "leakage")


@dataclass(frozen=True, kw_only=True, eq=False)
class FittedProperty(Linear):
    """A linear relation fitted to a user's tests.

    Attributes
    ----------
    kind : str
        'ridge', 'Bayesian ridge', or 'recalibrated' with the name of a published relation.
    covariance : ndarray, shape (terms + 1, terms + 1)
        Of intercept and coefficients.
    scatter : float
        Standard deviation of a test of a new heat about the true mean, unit of the relation.
    between : float
        Share of that variance that lies between heats.
    freedom : float
    furthest : float
        The largest leverage among the tests: the hull of the data.
    scores : DataFrame
        MAE, RMSE and bias on held-out groups with 90 % intervals, a row a candidate.
    held_out : DataFrame
        A row a test: group, fold, measured, predicted without its group, score.
    learning : DataFrame
        MAE on held-out groups of fits made on fewer groups.
    leakage : DataFrame
        The MAE that a split by rows would claim beside the one on whole groups.
    together : tuple of (term, term, correlation)
    counts : mapping
    remarks : tuple of str
    verdict : str
        Whether the table supports the model at all.
    """

    kind: str
    covariance: np.ndarray
    scatter: float
    between: float
    freedom: float
    furthest: float
    scores: pd.DataFrame
    held_out: pd.DataFrame
    learning: pd.DataFrame
    leakage: pd.DataFrame
    together: tuple
    counts: dict
    remarks: tuple[str, ...]
    verdict: str

    @cached_property
    def conformal(self) -> Conformal:
        """The held-out scores, each group counting once."""
        return Conformal.of(self.held_out["score"], self.held_out["group"])

    @cached_property
    def coefficients(self) -> pd.DataFrame:
        """Coefficients with standard error, 90 % interval and what is to be said of each."""
        from scipy.stats import t

        names = ["constant", *self.terms]
        value = np.array([self.intercept, *self.terms.values()])
        error = np.sqrt(np.diag(self.covariance))
        reach = t.ppf(0.95, self.freedom) * error
        words = [""]
        for term in self.terms:
            partners = [b if a == term else a for a, b, _ in self.together if term in (a, b)]
            words.append(
                f"moves together with {', '.join(partners)}: its own effect is not supported"
                if partners
                else ""
            )
        for k in range(1, len(names)):
            if not words[k] and abs(value[k]) < reach[k]:
                words[k] = "may be nothing: the interval holds 0"
        return pd.DataFrame(
            {
                "coefficient": value,
                "standard error": error,
                "low": value - reach,
                "high": value + reach,
                "remark": words,
            },
            index=pd.Index(names, name="term"),
        )

    @cached_property
    def folds(self) -> pd.DataFrame:
        """MAE, bias and number of tests of each held-out fold."""
        table = self.held_out.assign(error=lambda h: h["predicted"] - h["measured"])
        grouped = table.groupby("fold")
        return pd.DataFrame(
            {
                "groups": grouped["group"].nunique(),
                "tests": grouped.size(),
                "MAE": grouped["error"].agg(lambda e: e.abs().mean()),
                "bias": grouped["error"].mean(),
            }
        )

    def coverage(self, levels: Iterable[float] = (0.5, 0.6, 0.7, 0.8, 0.9)) -> pd.Series:
        """Return the share of held-out tests inside the interval of each level.

        Each group is judged by the errors of the others, and counts once.
        """
        levels = list(levels)
        found = held_out_coverage(self.held_out["score"], self.held_out["group"], levels)
        return pd.Series(found, index=pd.Index(levels, name="level"), name="covered")

    def effects(self, level: float = 0.90, points: int = 25) -> pd.DataFrame:
        """Return what each input does over its range, the others in the middle of theirs.

        Returns
        -------
        DataFrame
            `input`, `x`, `effect` against the middle of the range, and its band `low`, `high`.
        """
        from scipy.stats import t

        check_level(level)
        inputs = [n for n in self.inputs if n in self.ranges]
        middle = {n: sum(self.ranges[n]) / 2 for n in inputs}
        reach = t.ppf((1 + level) / 2, self.freedom)
        parts = []
        for name in inputs:
            x = np.linspace(*self.ranges[name], points)
            here = self.term_values({**middle, name: x})
            base = self.term_values(middle)
            moved = np.column_stack(
                [np.broadcast_to(here[k] - base[k], x.shape) for k in self.terms]
            )
            effect = moved @ np.array(list(self.terms.values()))
            inner = self.covariance[1:, 1:]
            half = reach * np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", moved, inner, moved), 0))
            parts.append(
                pd.DataFrame(
                    {"input": name, "x": x, "effect": effect, "low": effect - half}
                    | {"high": effect + half}
                )
            )
        return pd.concat(parts, ignore_index=True)

    def interval(self, heats: object, level: float = 0.90, **conditions: object) -> pd.DataFrame:
        """Return the value of each heat with an interval for one test of it.

        Parameters
        ----------
        heats : anything `as_batch` takes
            wt%.
        level : float
            Share of tests of new heats that lie inside, such as 0.90.
        **conditions
            As for `evaluate`.

        Returns
        -------
        DataFrame, indexed by heat
            `value`, `low`, `high` in the unit of the relation, `leverage` (variance of the fitted
            mean over that of a test; the interval widens with it) and `flag` in words, which says
            where a heat lies outside the data.

        Raises
        ------
        InputError
            Where the heats tested are too few for the level.
        """
        quantile = self.conformal.at(level)
        result = evaluate(heats, self, **conditions)
        value = result.values[self.name].to_numpy()
        space = {e: result.heats.get(e, pd.Series(0.0, result.heats.index)) for e in self.elements}
        space = {e: np.nan_to_num(np.asarray(v, dtype=float)) for e, v in space.items()}
        if "Fe" in self.elements:
            space["Fe"] = 100.0 - np.nansum(result.heats.to_numpy(), axis=1)
        space |= {c: np.broadcast_to(result.conditions.get(c, np.nan), value.shape)
                  for c in self.conditions}  # fmt: skip
        with np.errstate(all="ignore"):
            amounts = self.term_values(space)
        x = np.column_stack([np.broadcast_to(amounts[t], value.shape) for t in self.terms])
        reach = rg.leverage(x, self.covariance, self.scatter)
        reach = np.where(np.isnan(value), np.nan, reach)
        half = quantile * self.scatter * np.sqrt(1.0 + reach)
        words = []
        for heat, far in zip(result.heats.index, reach > self.furthest, strict=True):
            said_ = [result.words(heat, self.name)]
            if far:
                said_.append("a mixture of contents outside the hull of the data")
            words.append("; ".join(w for w in said_ if w))
        return pd.DataFrame(
            {
                "value": value,
                "low": value - half,
                "high": value + half,
                "leverage": reach,
                "flag": words,
            },
            index=result.heats.index,
        )

    def card(self) -> dict:
        """Return everything about the fit as plain data, to be written as JSON."""
        return {
            "card": "fitted property, 1",
            "name": self.name,
            "title": self.title,
            "quantity": self.quantity,
            "unit": self.unit,
            "family": self.family,
            "source": list(self.source),
            "domain": self.domain,
            "note": self.note,
            "kind": self.kind,
            "intercept": self.intercept,
            "terms": dict(self.terms),
            "covariance": self.covariance.tolist(),
            "scatter": self.scatter,
            "between": self.between,
            "freedom": self.freedom,
            "furthest": self.furthest,
            "ranges": {k: list(v) for k, v in self.ranges.items()},
            "essential": list(self.essential or ()),
            "error": self.error,
            "error_basis": self.error_basis,
            "check": {
                "composition": dict(self.check.composition),
                "conditions": dict(self.check.conditions),
                "value": self.check.value,
            },
            "together": [list(t) for t in self.together],
            "counts": dict(self.counts),
            "remarks": list(self.remarks),
            "verdict": self.verdict,
            **{
                key: json.loads(getattr(self, key).to_json(orient="split", double_precision=12))
                for key in _TABLES
            },
        }

    def save(self, path: str | os.PathLike) -> Path:
        """Write the card as JSON and return its path; `fitted_from` reads it."""
        return write_whole(path, json.dumps(self.card(), indent=1, ensure_ascii=False) + "\n")

    def _repr_html_(self) -> str:
        lines = "".join(f"<li>{escape(r)}</li>" for r in self.remarks)
        counts = (
            f"{self.counts['tests']} tests of {self.counts['groups']} groups"
            f" ({self.counts['group']}); {self.kind}; scatter of one test"
            f" {number(self.scatter, 3)} {self.unit}, of which {100 * self.between:.0f} % of the"
            f" variance lies between groups."
        )
        shown = self.scores[["MAE", "MAE low", "MAE high", "RMSE", "bias", "what it is"]]
        spans = pd.DataFrame(
            {k: {"from": low, "to": high} for k, (low, high) in self.ranges.items()}
        ).T
        return panel(
            f"<p>{escape(self.verdict)}</p><p>{escape(counts)}</p><p>{escape(self.formula)}</p>",
            table(self.coefficients, f"Coefficients, {self.unit} per unit of the term",
                  wide=["remark"]),
            table(shown, f"On groups held out, {self.unit} (interval 90 %)", digits=3,
                  wide=["what it is"]),
            table(self.leakage, f"MAE by the way of splitting, {self.unit}", digits=3),
            table(self.learning.set_index("groups"), "Learning curve: MAE against groups used",
                  digits=3),
            table(spans, "Range of the tests", digits=4),
            f"<ul>{lines}</ul>" if lines else "",
            lead=self.title,
        )  # fmt: skip


def fit_property(
    frame: object,
    target: str,
    terms: Iterable[str] | None = None,
    groups: object = None,
    conditions: object = (),
    name: str | None = None,
    unit: str | None = None,
    published: Iterable[object] | None = None,
) -> FittedProperty:
    """Fit a property to tests, and try the fit on heats that it never saw.

    Parameters
    ----------
    frame : DataFrame, or path of a CSV or XLSX file
        A row a test: elements in wt%, the target, conditions, and a column that says which rows
        belong together.
    target : str
        Column of measured values, its unit at the end of its name (`proof_strength_MPa`).
    terms : list of str, optional
        Such as `["C", "N", "grain_size_um^-0.5", "Cr*Mo"]`; by default every element and
        condition that varies.
    groups : str or one label a row
        Rows held out together: the heat, laboratory or publication. Where such a column is
        visible, it must be named.
    conditions : names, or mapping of condition to column or number
        As `{"temperature_C": "test_temperature_C", "delta_ferrite_pct": 1}`. Columns named as a
        condition are found by themselves; a number serves published relations only.
    name, unit : str, optional
        By default made of the name of the target.
    published : names or relations, optional
        To compare with and to recalibrate; by default all of the same quantity that have a
        value for every row. A linear one of another unit, such as a pitting index for a pitting
        temperature, is recalibrated only.

    Returns
    -------
    FittedProperty
        A linear relation for `evaluate`, `explain`, `catalogue`, limits of a `Brief`, and by
        name after `register`. Outside the tests its values carry the flag OUTSIDE_DATA.

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
    quantity = re.sub(r"_[^_]+$", "", target).replace("_", " ") if tests.unit else target
    x, y, labels = tests.x, tests.y, tests.groups
    peers = _published(tests, quantity, published)
    held, about = {}, {}
    for kind in rg.KINDS:
        held[kind] = rg.cross_validate(x, y, labels, kind)
        about[kind] = f"{len(tests.terms)} terms, penalty by " + (
            "groups held out inside" if kind == "ridge" else "the evidence"
        )
    for peer, value in peers.items():
        if isinstance(peer, Linear):
            kind = f"recalibrated {peer.name}"
            held[kind] = rg.cross_validate(value[:, None], y, labels, "plain")
            about[kind] = "the published relation with a bias and a slope of these tests"
    errors = {kind: h["predicted"].to_numpy() - y for kind, h in held.items()}
    chosen = min(errors, key=lambda kind: np.mean(np.abs(errors[kind])))
    about[chosen] += "; taken"

    mean_only = rg.predict_held_out(x, y, labels, lambda a, b, new: np.mean(b)) - y
    trees = rg.predict_held_out(x, y, labels, rg.boosted) - y
    errors |= {"boosted trees": trees, "mean only": mean_only}
    about["boosted trees"] = _trees_words(rg.better(trees, errors[chosen], labels))
    about["mean only"] = "knows nothing but the mean of the tests"
    for peer, value in peers.items():
        if peer.unit != tests.unit:
            continue  # it can only be recalibrated
        errors[peer.name] = value - y
        about[peer.name] = f"as published ({peer.status}), not fitted to these tests"
    scores = pd.DataFrame({kind: rg.score(e, labels) for kind, e in errors.items()}).T
    scores["what it is"] = pd.Series(about)
    scores.index.name = "candidate"

    peer = next((p for p in peers if chosen == f"recalibrated {p.name}"), None)
    kind_x, how = (x, chosen) if peer is None else (peers[peer][:, None], "plain")
    solved = rg.solve(kind_x, y, labels, how)
    intercept, coefficients, covariance = _as_terms(solved, tests.terms, peer)
    space = {**tests.columns, **{c: np.broadcast_to(v, y.shape) for c, v in tests.given.items()}}
    inputs = dict(zip(tests.terms, x.T, strict=True)) if peer is None else peer.term_values(space)
    best = held[chosen]
    # Scores are in units of scatter x scale, so that an interval widens where the fit is unsure.
    score = np.abs(best["predicted"].to_numpy() - y) / (solved.scatter * best["scale"].to_numpy())
    held_out = pd.DataFrame(
        {
            "group": labels,
            "fold": best["fold"].to_numpy(),
            "measured": y,
            "predicted": best["predicted"].to_numpy(),
            "score": score,
        }
    )
    rows = np.array([f"row {i}" for i in range(len(y))])
    leakage = pd.DataFrame(
        {
            "whole groups": {
                chosen: np.abs(errors[chosen]).mean(), "boosted trees": np.abs(trees).mean(),
            },
            "split by rows (wrong)": {
                chosen: np.abs(
                    rg.cross_validate(kind_x, y, rows, how)["predicted"].to_numpy() - y
                ).mean(),
                "boosted trees": np.abs(
                    rg.predict_held_out(x, y, rows, rg.boosted) - y
                ).mean(),
            },
        }
    ).rename_axis("candidate")  # fmt: skip
    together = _together(tests) if peer is None else ()
    full = np.column_stack([np.broadcast_to(inputs[t], y.shape) for t in coefficients])
    furthest = float(rg.leverage(full, covariance, solved.scatter).max())
    count = len(np.unique(labels))
    words = _verdict(errors, chosen, labels, count, len(tests.terms), tests.unit)
    remarks = [_pair_words(pair) for pair in together]
    if peer is not None:
        remarks.append("the covariance is that of a bias and a slope")
    remarks += [about["boosted trees"][:1].upper() + about["boosted trees"][1:]]
    remarks += tests.notes
    ranges = _ranges(tests, coefficients, together)
    one = int(np.argmin(np.abs(y - np.median(y))))
    composition = {e: float(v) for e, v in tests.batch.iloc[one].items() if np.isfinite(v)}
    given = {c: float(np.broadcast_to(v, y.shape)[one]) for c, v in tests.given.items()}
    value = intercept + sum(c * inputs[t][one] for t, c in coefficients.items())
    elements = {e for e in ranges if is_element(e)}
    tag = re.sub(r"[^a-z0-9]+", "_", quantity.lower()).strip("_") or "property"
    return FittedProperty(
        name=name or f"{tag}_fitted",
        title=f"{quantity.capitalize()}, fitted to {len(y)} tests of {count} groups",
        quantity=quantity,
        unit=tests.unit,
        status="fitted by the user",
        source=(f"the user's own tests: column {target}",),
        check=Check(
            composition, float(value), conditions=given, tolerance=1e-6 * abs(value) + 1e-9
        ),
        domain="the tests it was fitted to",
        ranges=ranges,
        error=float(scores.loc[chosen, "RMSE"]),
        error_basis=f"RMSE on held-out groups, {count} groups",
        essential=tuple(e for e in elements if ranges[e][0] > 0),
        fitted=True,
        note=words,
        intercept=float(intercept),
        terms={t: float(c) for t, c in coefficients.items()},
        kind=chosen,
        covariance=covariance,
        scatter=solved.scatter,
        between=solved.between,
        freedom=solved.freedom,
        furthest=furthest,
        scores=scores,
        held_out=held_out,
        learning=rg.learning_curve(kind_x, y, labels, how),
        leakage=leakage,
        together=together,
        counts={"tests": len(y), "groups": count, "group": tests.group_name},
        remarks=tuple(remarks),
        verdict=words,
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


def fitted_from(card: object) -> FittedProperty:
    """Read a fitted property from its card.

    Parameters
    ----------
    card : path of a JSON file, or the mapping that `FittedProperty.card` returns

    Returns
    -------
    FittedProperty
    """
    if isinstance(card, (str, os.PathLike)):
        try:
            card = json.loads(Path(card).read_text("utf-8"))
        except (OSError, ValueError) as error:
            raise InputError("card", "a JSON file that save() wrote", said(str(error))) from None
    if not isinstance(card, dict) or card.get("card") != "fitted property, 1":
        raise InputError("card", "what save() of a fitted property wrote", card)
    data = {k: v for k, v in card.items() if k != "card"}
    for key in _TABLES:
        data[key] = pd.DataFrame(**data[key])
    for key in ("scores", "leakage"):
        data[key].index.name = "candidate"
    data["held_out"]["group"] = data["held_out"]["group"].astype(str)
    data |= {
        "source": tuple(data["source"]),
        "remarks": tuple(data["remarks"]),
        "essential": tuple(data["essential"]),
        "together": tuple(tuple(t) for t in data["together"]),
        "covariance": np.array(data["covariance"], dtype=float),
        "ranges": {k: tuple(v) for k, v in data["ranges"].items()},
        "check": Check(**data["check"], tolerance=1e-6 * abs(data["check"]["value"]) + 1e-9),
    }
    return FittedProperty(status="fitted by the user", fitted=True, **data)


def _published(tests: Tests, quantity: str, asked: Iterable[object] | None) -> dict:
    """Return published relations that have a value for every row, with these values."""
    if asked is None:
        names = CATALOGUE.quantities().get(quantity, [])
        names = [n for n in names if CATALOGUE[n].status != "fitted by the user"]
    else:
        names = list(asked) if not isinstance(asked, (str, Relation)) else [asked]
    if not names:
        return {}
    batch = tests.batch.set_axis([f"row {i}" for i in range(len(tests.batch))])
    batch = as_batch(batch.dropna(axis=1, how="all"))
    found = evaluate(batch, names, **tests.given)
    peers = {}
    for relation in resolve(names):
        value = found.values[relation.name].to_numpy()
        comparable = relation.unit == tests.unit or (
            asked is not None and relation.form == "linear"
        )
        if np.isfinite(value).all() and comparable:
            peers[relation] = value
        elif asked is not None:
            word = found.words("row 0", relation.name) or f"unit {relation.unit}"
            tests.notes.append(f"{relation.name} not compared: no value in every row ({word})")
    return peers


def _as_terms(solved: rg.Solved, terms: list[str], peer: Linear | None) -> tuple:
    if peer is None:
        return solved.beta[0], dict(zip(terms, solved.beta[1:], strict=True)), solved.covariance
    bias, slope = solved.beta
    spread = np.zeros((len(peer.terms) + 1, 2))
    spread[0] = 1.0, peer.intercept
    spread[1:, 1] = list(peer.terms.values())
    coefficients = {t: slope * c for t, c in peer.terms.items()}
    return bias + slope * peer.intercept, coefficients, spread @ solved.covariance @ spread.T


def _together(tests: Tests) -> tuple:
    """Return pairs of terms that move together from group to group."""
    means = pd.DataFrame(tests.x, columns=tests.terms).groupby(tests.groups).mean()
    r = means.corr().to_numpy()
    return tuple(
        (a, b, round(float(r[i, j]), 3))
        for i, a in enumerate(tests.terms)
        for j, b in enumerate(tests.terms)
        if i < j and abs(r[i, j]) > _TOGETHER
    )


def _pair_words(pair: tuple) -> str:
    a, b, r = pair
    way = "move together" if r > 0 else "move against each other"
    return (
        f"{a} and {b} {way} here (r = {r:.2f}): their separate effects are not supported by these"
        " heats, only what they do when they move so"
    )


def _ranges(tests: Tests, coefficients: dict, together: tuple) -> dict:
    """Return the span of each input, and of what two inputs that move together leave free."""
    names = dict.fromkeys(n.partition("^")[0] for term in coefficients for n in term.split("*"))
    ranges = {}
    for name in names:
        column = tests.columns.get(name)
        if column is not None:
            ranges[name] = (float(np.min(column)), float(np.max(column)))
    for a, b, _ in together:
        if is_element(a) and is_element(b):
            x, y = tests.columns[a], tests.columns[b]
            # The line of both, so that neither is favoured; as a sum of contents it is a limit
            # that a brief can keep.
            slope = np.sign(np.cov(x, y)[0, 1]) * np.std(y) / np.std(x)
            slope = float(f"{slope:.3g}")
            rest = y - slope * x
            key = f"{b} - {slope:g}*{a}" if slope > 0 else f"{b} + {-slope:g}*{a}"
            ranges[key] = tuple(float(f"{v:.6g}") for v in (rest.min(), rest.max()))
    return ranges


def _trees_words(share: float) -> str:
    if share > 0.95:
        return (
            f"boosted trees do better on held-out groups ({100 * share:.0f} % of resampled sets):"
            " the law is no sum of these terms. They are not taken, for they have no coefficients"
            " and no value beyond the tests; look for the missing term"
        )
    return (
        "boosted trees are no clear gain on held-out groups (better in"
        f" {100 * share:.0f} % of resampled sets), so a sum of terms is taken"
    )


def _verdict(errors: dict, chosen: str, groups, count: int, terms: int, unit: str) -> str:
    sure = rg.better(errors[chosen], errors["mean only"], groups)
    mine, mean = (float(np.mean(np.abs(errors[k]))) for k in (chosen, "mean only"))
    figures = (
        f"held-out MAE {number(mine, 3)} {unit} against {number(mean, 3)} {unit} of the mean alone"
    )
    if sure < 0.95:
        return (
            f"The table does not support a model: {figures}, better in only {100 * sure:.0f} % of"
            " resampled sets of groups. Use the mean."
        )
    if count < 3 * terms and chosen in rg.KINDS:
        return (
            f"The table supports the sum as a whole ({figures}), hardly its single coefficients:"
            f" {count} groups for {terms} terms."
        )
    return f"The table supports the model: {figures}, on {count} groups."
