"""How an answer is shown: lines that always stand beside an aim, tables, the picture."""

from __future__ import annotations

from xml.etree.ElementTree import Element

import numpy as np

from gradekit.core.markup import Html, Part, details, items, number, table
from gradekit.design.answer import DesignAnswer
from gradekit.design.certainty import REACHED, percent
from gradekit.design.prices import COST, TOTAL
from gradekit.design.sketches import bar_sketch

_CAUTION = (
    "An estimate from published relations, not a certificate: standards, codes and a licensed "
    "engineer decide, and a heat is accepted on its own analysis and tests."
)


def headline(design: DesignAnswer) -> str:
    """Say whether the brief is met and how surely."""
    return " ".join(lead_lines(design))


def lead_lines(design: DesignAnswer) -> list[str]:
    """Return the headline in its lines: what speaks against the aim, then how surely it is met."""
    if not design.feasible:
        return [f"The brief cannot be met. {design.why_not.summary}"]
    against = [f"Caution: {'; '.join(design.cautions)}."] if design.cautions else []
    if design.proof is None:
        return [
            *against,
            "Met on average only: no scatter of heats was given, so how many heats keep the brief "
            "is not known",
        ]
    share, *_ = design.proof.all()
    errors, *_ = design.proof.all(with_error=True)
    reached = design.confidence is not None and share >= design.confidence - REACHED
    met = "Met" if reached else "Met in part" if design.confidence else "Met on average only"
    return [
        *against,
        f"{met}: {percent(share)} of heats keep every limit if the relations are right, "
        f"{percent(errors)} with their published errors counted",
    ]


def answer_lines(design: DesignAnswer) -> list[str]:
    """Return what always stands beside an aim: route, certainty, prices, caution."""
    solution = design.solution
    remarks = [f"Route: {design.route}."]
    if design.feasible and np.isfinite(solution.floor) and not design.proven:
        remarks.append(
            f"What keeps the linear limits alone costs {number(solution.floor, 5)} {design.unit} "
            f"at least, so at most {number(solution.value - solution.floor, 3)} could be left to "
            "gain."
        )
    if design.confidence is None:
        remarks.append("No guard bands: at a limit a heat is as likely to fall short as to pass.")
    elif design.problem.z:
        whom = "all limits together" if design.together else "each limit by itself"
        counted = any(d.error for d in design.problem.constraints if d.kind != "family")
        remarks.append(
            f"Guard bands for {percent(design.confidence)} of heats, {whom}, published errors "
            f"{'' if counted else 'not '}counted: scatter is paid in every heat, the error of a "
            "relation once for the steel."
        )
    if design.problem.reach:
        many = "" if design.problem.reach == 1 else "s"
        remarks.append(
            f"The window reaches at least {number(design.problem.reach)} standard deviation{many} "
            "of each element to either side, as far as the written decimals allow."
        )
    if design.scatter is not None:
        remarks += [f"Scatter: {design.scatter.basis}.", *design.scatter.notes]
        if design.proof is not None:
            _, low, high = design.proof.all()
            inside = design.certainty.loc["inside the window", "share"]
            remarks.append(
                f"Of {design.proof.drawn:,} virtual heats {percent(low)} to {percent(high)} keep "
                f"every limit, at 95 % confidence; {percent(inside)} fall inside the window, and "
                "one outside it may still keep every limit. window_sd= asks for a wider one."
            )
    if design.prices is not None:
        remarks.append(design.prices.warning)
    return [*remarks, _CAUTION]


def text(design: DesignAnswer) -> str:
    """Return the answer as plain text."""
    if not design.feasible:
        return "\n".join(
            [headline(design), design.why_not.words, *answer_lines(design), *design.flags]
        )
    value = f"{design.problem.aim.title}: {number(design.solution.value, 5)} {design.unit}"
    parts = [headline(design), "", design.window.to_string(), "", value.strip()]
    return "\n".join([*parts, *answer_lines(design), *design.flags])


def pages(design: DesignAnswer) -> list[Part]:
    """Return the parts of the answer as a page shows them."""
    notes = details("Flags and notes", items([*answer_lines(design), *design.flags]))
    if not design.feasible:
        return [*design.why_not.pages(), notes]
    shown = design.limits.drop(columns=["flags"])
    named = shown["kind"] == "limit"
    binds = (shown["slack"] == 0) | (shown["shadow price"] > 0)
    rest = shown[~named & ~binds].drop(columns=["shadow price"])
    sheet = design.sheet.round({"scatter": 4, "room": 1, "reserve": 1}).dropna(axis=1, how="all")
    return [
        _value(design),
        window_bars(design),
        table(
            sheet,
            "Aim and window as written, wt%; room in standard deviations, reserve in tolerances",
        ),
        details(
            "Limits of the brief and whatever else binds",
            table(shown[named | binds].drop(columns=["kind"]), "At the optimum", wide=["origin"]),
        ),
        details(
            "What each constraint costs that binds",
            table(design.shadow_prices, "Shadow prices", wide=["words"]),
        ),
        _costs(design),
        details("How surely each limit is kept", _sure(design)),
        details(
            "Bounds, standards and ranges that do not bind",
            table(rest, "At the optimum", wide=["origin"]),
        ),
        notes,
    ]


def _sure(design: DesignAnswer) -> Html:
    sure = design.certainty[["share", "low", "high", "share with error"]]
    if sure.empty:
        return Html()
    all_kept = (sure[["share", "share with error"]] == 1.0).all(axis=1)
    caption = "Virtual heats that keep each limit, %, with 95 % interval"
    if all_kept.any():
        caption += f"; the {all_kept.sum()} constraints that every one of them keeps are left out"
    return table((100 * sure[~all_kept]).round(2), caption)


def _costs(design: DesignAnswer) -> Part:
    parts = design.cost_parts
    if parts.empty:
        return Html()
    caption = f"Cost of the aim in parts, {design.prices.unit if design.prices else ''}"
    return details(
        "What it costs, in parts", table(parts, caption, wide=["counted", "source"], digits=3)
    )


def _value(design: DesignAnswer) -> str:
    aim = design.problem.aim
    words = f"Least: {aim.title}, {number(design.solution.value, 5)} {design.unit}".strip()
    if design.prices is not None and aim.key not in (COST, TOTAL):
        words += f"; cost {number(design.cost, 5)} {design.prices.unit}"
    if design.problem.making:
        words += f", of it making {number(design.making_cost, 3)}"
    return f"{words}."


def window_bars(design: DesignAnswer) -> Element:
    """Return the picture of the window: each element within what its own limits leave."""
    texts = design.sheet[["min", "aim", "max"]].agg(" · ".join, axis=1)
    rows = [
        (f"{element}, wt%", span, (low, high if np.isfinite(high) else span[1]), aim, text)
        for (element, low, aim, high), span, text in zip(
            design.window.itertuples(), _spans(design), texts, strict=True
        )
    ]
    return bar_sketch(rows, "Window and aim of each element within what its own limits leave")


def _spans(design: DesignAnswer) -> list[tuple[float, float]]:
    """The lowest and highest content that the constraints on each element alone leave."""
    kinds = [constraint.kind for constraint in design.problem.constraints]
    low, high = design.problem.only(k for k, kind in enumerate(kinds) if kind != "range").box()
    low = np.minimum(low, design.window["min"])
    high = np.fmax(high, design.window["max"].fillna(0.0))
    return list(zip(low, np.where(high > low, high, low + 1e-3), strict=True))
