"""The report of a fit: verdict, coefficients, what it is worth beside others, range and hull."""

from __future__ import annotations

import pandas as pd

from gradekit.core.markup import Html, details, items, number, panel, table, tag
from gradekit.properties.fit.property import Fit

_SCORES = ("MAE", "RMSE", "bias")


def fit_page(fit: Fit) -> Html:
    """Return the report of a fit as HTML, the verdict first."""
    counts = (
        f"{fit.counts['tests']} tests of {fit.counts['groups']} groups"
        f" ({fit.counts['group']}); {fit.kind}; scatter of one test"
        f" {number(fit.scatter, 3)} {fit.unit}, of which {100 * fit.between:.0f} % of the"
        f" variance lies between groups."
    )
    hull = (
        f"Hull: a heat whose leverage is above {number(fit.furthest, 3)} is a mixture unlike"
        " any tested; there and outside the ranges the interval widens and says so."
    )
    unit = f", {fit.unit}" if fit.unit else ""
    errors = pd.DataFrame(
        {name: _with_interval(fit.scores, name) for name in _SCORES}, index=fit.scores.index
    )
    spans = pd.DataFrame({k: {"from": low, "to": high} for k, (low, high) in fit.ranges.items()}).T
    return panel(
        tag("p", fit.title, class_="s"),
        table(fit.coefficients, f"Coefficients{unit} per unit of the term", wide=["remark"]),
        fit.short,
        items(fit.remarks),
        details(
            "How well it predicts groups that it did not see",
            counts,
            table(errors, f"Errors on groups held out{unit}, with intervals at 90 %"),
            table(fit.scores[["what it is"]], "What the candidates are", wide=["what it is"]),
            table(fit.leakage, f"MAE by the way of splitting{unit}", digits=3),
            table(fit.learning.set_index("groups"), f"Learning curve{unit}", digits=3),
        ),
        details(
            "Which tests it rests on",
            table(
                fit.influence.nlargest(8, "Cook").set_index("test"),
                f"The eight tests with the largest Cook's distance{unit}",
                wide=["says"],
            ),
        ),
        details("Where it holds", table(spans, "Range of the tests", digits=4), hull),
        lead=fit.verdict,
    )


def _with_interval(scores: pd.DataFrame, name: str) -> list[str]:
    ends = scores[[name, f"{name} low", f"{name} high"]].to_numpy(dtype=float)
    return [f"{number(v, 3)} ({number(low, 3)} to {number(high, 3)})" for v, low, high in ends]
