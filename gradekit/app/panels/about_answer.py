"""What a number of a substitution rests on: reason, source, evidence, and what was judged."""

from __future__ import annotations

from gradekit.app.panels.about_number import about_relations, told_list
from gradekit.core.markup import Html, evidence_words, number, table, verdict
from gradekit.relations.topics import CATALOGUE
from gradekit.service.candidate import Candidate
from gradekit.service.comparison import Comparison
from gradekit.service.exposure import figures_of
from gradekit.sheets.substitution import COST_ROW, answers


def about_answer(comparison: Comparison, name: str) -> Html:
    """Return what is told of a number of the answer, nothing for one that does not stand there.

    Parameters
    ----------
    comparison : Comparison
    name : str
        As `gradekit.core.markup.askable` was given it: a criterion and a steel, or the cost of one.
    """
    what, _, whom = name.partition(": ")
    findings = answers(comparison)
    if whom not in findings:
        return Html()
    steels = [*comparison.candidates, comparison.reference]
    steel = dict(zip(findings, steels, strict=True))[whom]
    if what == COST_ROW:
        return table(comparison.surcharge, f"Element by element, {comparison.cost_basis}")
    finding = next((f for f in findings[whom] if f.criterion == what), None)
    if finding is None:
        return Html()
    figures = finding.number is not None and finding.limit is not None
    lines = told_list([
        (f"{what.capitalize()}, {whom}", verdict(finding.verdict)),
        ("Figure", f"{figures_of(finding, 'against')} asked" if figures else ""),
        ("Why", finding.reason),
        ("What would change it", finding.remedy),
        ("Evidence", evidence_words(finding.status)),
        ("Source", finding.source),
        ("Judged", _contents(steel)),
    ])  # fmt: skip
    if what != "pitting index" or steel.pitting_index is None:
        return lines
    contents = {**steel.least, **steel.poorest}
    return about_relations([CATALOGUE[steel.index_name]], contents, {}, None, lines)


def _contents(steel: Candidate) -> str:
    """The contents that the steel was judged by, wt%."""
    told = []
    for element in {**steel.least, **steel.most}:
        low, high = steel.least.get(element, 0.0), steel.most.get(element)
        if high is None:
            told.append(f"{element} {number(low)} at least")
        elif low == high:
            told.append(f"{element} {number(low)}")
        else:
            span = f"{number(low)} to {number(high)}" if low else f"up to {number(high)}"
            told.append(f"{element} {span}")
    whose = "as analysed" if steel.is_heat else f"limits of {steel.title} ({steel.status})"
    return f"{', '.join(told)} wt%, {whose}" if told else whose
