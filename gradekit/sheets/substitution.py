"""The printable sheet that answers a substitution: one HTML page, or a PDF made of it."""

from __future__ import annotations

import datetime
import json
import os
import sys
from collections.abc import Iterable
from pathlib import Path
from xml.etree.ElementTree import Element

from gradekit.core.errors import InputError, nearest
from gradekit.core.files import write_whole
from gradekit.core.markup import (
    Column,
    Html,
    Part,
    columns_table,
    details,
    number,
    small,
    tag,
    verdict,
)
from gradekit.core.pages import render
from gradekit.core.sources import STATUSES
from gradekit.pictures.answer import Bar, ladder, property_bars
from gradekit.pictures.window_chart import windows_chart
from gradekit.service.candidate import Candidate
from gradekit.service.comparison import Comparison
from gradekit.service.exposure import CLASSES, class_of, classify, figures_of, grades_of_class
from gradekit.service.finding import Finding
from gradekit.service.needs import Service
from gradekit.service.tables import rows
from gradekit.sheets.printing import printed

__all__ = ["PAPERS", "answer_block", "answer_page", "write_answer"]

#: Papers, with width and height in mm.
PAPERS = {"A4": (210, 297), "Letter": (215.9, 279.4)}
WHO = (
    "No comparison decides on a material. The customer's engineer, the design code and the "
    "standard in force decide, on the heat's own certificate and, where said, on tests."
)
_MOST_DRAWN = 5


def write_answer(comparison: Comparison, path: str | os.PathLike, paper: str = "A4") -> Path:
    """Write the answer to a substitution as a printable sheet.

    Parameters
    ----------
    comparison : Comparison
        From `compare_grades`.
    path : path
        Ending `.html`, or `.pdf` where a Chromium or Chrome is installed.
    paper : 'A4' or 'Letter'

    Returns
    -------
    Path

    Raises
    ------
    InputError
        Another ending or paper; a PDF where no browser is installed: HTML is always to be had,
        and any browser prints it.
    """
    path = Path(path)
    kind = path.suffix.lower()
    if kind not in (".html", ".pdf"):
        close = nearest(kind, (".html", ".pdf")) if kind else None
        raise InputError(f"ending of '{path.name}'", ".html or .pdf", kind or "none", close)
    page = answer_page(comparison, paper)
    return write_whole(path, page if kind == ".html" else printed(page))


def answer_page(comparison: Comparison, paper: str = "A4") -> str:
    """Return the sheet as one HTML page that fetches nothing.

    Parameters
    ----------
    comparison : Comparison
    paper : 'A4' or 'Letter'

    Returns
    -------
    str
    """
    if paper not in PAPERS:
        raise InputError("paper", ", ".join(PAPERS), paper, nearest(str(paper), PAPERS))
    c = comparison
    more = f" and {len(c.candidates) - 3} more" if len(c.candidates) > 3 else ""
    names = ", ".join(steel.name for steel in c.candidates[:3])
    today = datetime.date.today().isoformat()
    every = [f for findings in (*c.findings.values(), c.baseline) for f in findings]
    return render(
        "sheets/substitution.html",
        title=f"{names}{more} instead of {c.reference.name}",
        paper=PAPERS[paper],
        head=", ".join(filter(None, (c.customer, today))),
        today=today,
        version=sys.modules["gradekit"].__version__,
        question=c.service.question.strip(),
        service=_service_words(c.service),
        short_answer=_short_answer(c),
        matrix=_matrix(c),
        pictures=_pictures(c),
        reasons=_reasons(c),
        notes=_notes(c),
        not_assessed=_not_assessed(c),
        cautions=_cautions(c),
        evidence={word: STATUSES[word] for word in sorted(_evidence(every))},
        sources={f.criterion: f.source for own in c.findings.values() for f in own if f.source},
        inputs=json.dumps({**c.inputs, "paper": paper}, ensure_ascii=False),
    )


def answer_block(comparison: Comparison) -> list[Part]:
    """Return the answer as it stands in a notebook or panel: all of the sheet but the pictures."""
    c = comparison
    notes = [small(note) for note in _notes(c)]
    return [_BLOCK, _short_answer(c), _matrix(c), details("Why", _reasons(c), *notes)]


_BLOCK = Html("""<style>
.gk .q,.gk .who{opacity:.8}.gk .n{white-space:nowrap}
.gk .short{list-style:none;margin:.3em 0;padding:.5em .9em;border:1px solid currentColor;
 border-left-width:4px}
.gk .short li{margin:.25em 0}
</style>""")


# --- words -----------------------------------------------------------------------------------


def _service_words(s: Service) -> str:
    place = s.atmosphere
    told = [f"{s.form}, {s.thickness_mm:g} mm", "welded" if s.welded else "not welded"]
    if s.finish:
        told.append(f"finish {s.finish}")
    if place is not None and place.pool != "no":
        told.append(f"above an indoor pool ({place.pool})")
    elif place is not None and place.indoors:
        told.append("indoors")
    elif place is not None:
        told.append(f"outdoors, {place.sea_km:g} km from the sea, SO2 {place.so2}")
    if s.water != "none":
        salt = "" if s.chloride_mg_l is None else f" with {s.chloride_mg_l:g} mg/l chloride"
        told.append(f"{s.water}{salt} at {s.water_temperature_C:g} °C")
    told += [
        words
        for given, words in (
            (s.free_chlorine_mg_l, f"free chlorine {s.free_chlorine_mg_l} mg/l"),
            (s.chemicals or None, f"chemicals: {s.chemicals}"),
            (s.temperature_max_C, f"up to {s.temperature_max_C} °C in air"),
            (s.temperature_min_C, f"down to {s.temperature_min_C} °C"),
            (s.forming != "none" or None, s.forming),
            (s.magnetism != "any" or None, f"{s.magnetism} wanted"),
            (s.skin_contact != "none" or None, f"on the skin: {s.skin_contact}"),
            (s.food_contact or None, "food contact"),
            (s.pressure or None, "pressure equipment"),
            (s.sour or None, "sour service"),
            (s.load_bearing or None, "load-bearing"),
        )
        if given is not None
    ]
    return f"Service as understood: {'; '.join(told)}."


def _short_answer(c: Comparison) -> Html:
    lines = [tag("b", f"{c.present_shortfall}.")] if c.present_shortfall else []
    for name, row in c.decisive.iterrows():
        more = []
        if row["decisive"] != "none":
            too = f" ({row['beside now']})" if row["beside now"] else ""
            more.append(f"Decisive: {row['decisive']}{too}.")
        if row["what would change it"]:
            more.append(f"What would change it: {row['what would change it']}.")
        change = row["cost difference"]
        if change == change:
            plus = "+" if change > 0 else ""
            more.append(f"Alloy cost {plus}{number(change, 3)} {c.cost_unit} ({c.cost_basis}).")
        answer = tag("b", f"{row['sign']} {name}: {row['answer']}.")
        lines.append(Html(f"{answer} {tag('span', ' '.join(more))}"))
    listed = tag("ul", *(tag("li", line) for line in lines), class_="short")
    return Html(listed + tag("p", WHO, class_="who"))


def _matrix(c: Comparison) -> Html:
    steels = {**c.findings, f"{c.reference.name} (now)": c.baseline}
    grid = {
        name: [next((f for f in own if f.criterion == k), None) for k in c.criteria]
        for name, own in steels.items()
    }
    rests_on = [", ".join(_evidence(own)) or "–" for own in zip(*grid.values(), strict=True)]
    columns = [Column(name, [_cell(f) for f in own], text=True) for name, own in grid.items()]
    caption = (
        "✓ ok, △ caution, ✕ stop, ○ not assessed, – none; "
        "figure / required by place or present grade"
    )
    columns.append(Column("evidence", rests_on, text=True))
    return columns_table(columns, caption, c.criteria, "criterion", class_="matrix")


def _evidence(findings: Iterable[Finding | None]) -> list[str]:
    """Evidence words of what was assessed: an open point rests on none."""
    words = (f.status for f in findings if f is not None and f.verdict != "not assessed")
    return [word for word in dict.fromkeys(words) if word]


def _cell(f: Finding | None) -> str:
    if f is None:
        return "–"
    word = verdict(f.verdict)
    if f.number is None or f.limit is None:
        return word
    return Html(f"{tag('span', word)} {tag('span', figures_of(f, '/'), class_='q n')}")


def _reasons(c: Comparison) -> Html:
    """What is not plainly met, once for all grades to which the same applies."""
    grades: dict[Finding, list[str]] = {}
    for name, own in c.findings.items():
        for f in own:
            if f.verdict != "ok":
                same = Finding(f.criterion, f.verdict, f.reason, remedy=f.remedy)
                grades.setdefault(same, []).append(name)
    rows = sorted(grades.items(), key=lambda row: c.criteria.index(row[0].criterion))
    if not rows:
        return tag("p", "Every criterion is met.")
    columns = [
        Column("grade", [", ".join(names) for _, names in rows], text=True),
        Column("verdict", [verdict(f.verdict) for f, _ in rows], text=True),
        Column("reason", [f.reason for f, _ in rows], text=True, wide=True),
        Column("what would change it", [f.remedy or "–" for f, _ in rows], text=True),
    ]
    caption = "What is not plainly met"
    labels = [f.criterion for f, _ in rows]
    return columns_table(columns, caption, labels, "criterion", class_="why")


def _notes(c: Comparison) -> list[str]:
    """Criteria met by a rule of our own, behind which no standard stands, and other remarks."""
    notes = [
        f"{name}, {f.criterion}, met: {f.reason}."
        for name, own in c.findings.items()
        for f in own
        if f.verdict == "ok" and f.status == "heuristic"
    ]
    return notes + [f"{s.name}: {r}." for s in (c.reference, *c.candidates) for r in s.remarks]


def _not_assessed(c: Comparison) -> dict[str, list[str]]:
    grades: dict[str, list[str]] = {}
    for name, own in c.findings.items():
        for f in own:
            if f.verdict == "not assessed":
                grades.setdefault(f.criterion, []).append(name)
    return grades


def _cautions(c: Comparison) -> list[str]:
    s, every = c.service, c.findings.values()
    holds = {
        "always": True,
        "water": s.water != "none" or s.atmosphere is not None,
        "memory": any(f.status not in ("verified", "") for own in every for f in own),
        "pressure": s.pressure,
        "sour": s.sour,
        "pool": s.atmosphere is not None and s.atmosphere.pool != "no",
        "brittle": s.temperature_max_C is not None,
        "weld": s.welded,
        "food": s.food_contact,
        "skin": s.skin_contact != "none",
        "prices": c.prices is not None,
    }
    texts = [r["text"] for r in rows("cautions") if holds[r["when"]]]
    return texts + ([f"Prices: {c.prices.warning}."] if c.prices is not None else [])


# --- pictures --------------------------------------------------------------------------------


def _pictures(c: Comparison) -> list[tuple[Element, str]]:
    """Pictures with their captions; the last one stands at the right."""
    steels = (c.reference, *c.candidates)[:_MOST_DRAWN]
    pictures = []
    if c.service.atmosphere is not None:
        required = classify(c.service.atmosphere).crc
        own = [(s.name, class_of(s.number)) for s in steels]
        drawn = ladder([(k, grades_of_class()[k]) for k in CLASSES], required, own)
        pictures.append((drawn, "Corrosion class of the place (hatched) and of each steel"))
    groups = [
        ("Pitting index, poorest to richest", "", [_index(s) for s in steels]),
        ("Least proof strength", "MPa", [_least(s, c.service, "rp02") for s in steels]),
        ("Least elongation", "%", [_least(s, c.service, "elongation") for s in steels]),
    ]
    words = "The index ranks steels inside one family only; least values are the standard's"
    pictures.append((property_bars(groups), words))
    chart = windows_chart("schaeffler_1949", [(s.name, s.least, s.most) for s in steels])
    words = "From the leanest to the richest end of each window; a reconstruction"
    return [*pictures, (chart, words)]


def _index(steel: Candidate) -> Bar:
    low = steel.pitting_index
    high = steel.pitting_index_most
    if low is None or high is None:
        return Bar(steel.name, None, None, "not used")
    words = f"{low:.1f} to {high:.1f}" if high > low else f"{low:.1f}"
    return Bar(steel.name, low, high, f"{words} ({steel.family})")


def _least(steel: Candidate, service: Service, key: str) -> Bar:
    value = (steel.properties(service.form, service.thickness_mm) or {}).get(key)
    return Bar(steel.name, value, value, "none held" if value is None else f"{value:g}")
