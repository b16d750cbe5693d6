"""The printable sheet that answers a substitution: one HTML page, or a PDF made of it."""

from __future__ import annotations

import datetime
import json
import os
import sys
from pathlib import Path

from gradekit.core.errors import InputError, nearest
from gradekit.core.files import write_whole
from gradekit.core.markup import escape, number, verdict
from gradekit.core.sources import STATUSES
from gradekit.pictures.answer import Bar, ladder, property_bars
from gradekit.pictures.window_chart import windows_chart
from gradekit.service.exposure import CLASSES, class_of, classify, figures_of, grades_of_class
from gradekit.service.finding import Finding
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


def write_answer(comparison: object, path: str | os.PathLike, paper: str = "A4") -> Path:
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


def answer_page(comparison: object, paper: str = "A4") -> str:
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
    asked = f"<p>{escape(c.service.question)}</p>" if c.service.question.strip() else ""
    more = f" and {len(c.candidates) - 3} more" if len(c.candidates) > 3 else ""
    title = f"{', '.join(s.name for s in c.candidates[:3])}{more} instead of {c.reference.name}"
    head = ", ".join(filter(None, (c.customer, datetime.date.today().isoformat())))
    sections = [
        ("The question", f"{asked}<p>{escape(_service_words(c))}</p>"),
        ("The short answer", _short_answer(c)),
        ("Criterion by criterion", _matrix(c)),
        ("In pictures", _pictures(c)),
        ("Why", _reasons(c)),
        ("What was not assessed", _open_points(c)),
        ("Cautions", f"<ul class='cautions'>{_cautions(c)}</ul>"),
        ("How this was made", f"<div class='end'>{_provenance(c, paper)}</div>"),
    ]
    body = "".join(f"<section><h2>{name}</h2>{text}</section>" for name, text in sections)
    wide, high = PAPERS[paper]
    style = Path(__file__).with_name("substitution.css").read_text(encoding="utf-8")
    return (
        "<!DOCTYPE html>\n<html lang='en'><head><meta charset='utf-8'>"
        "<meta name='viewport' content='width=device-width,initial-scale=1'>"
        "<meta http-equiv='Content-Security-Policy' content=\"default-src 'none'; "
        "style-src 'unsafe-inline'\">"
        f"<title>{escape(title)}</title>"
        f"<style>@page{{size:{wide}mm {high}mm;margin:12mm 14mm}}\n{style}</style></head><body>"
        "<main><header><p class='kind'>Answer to a substitution · "
        f"<b style='text-transform:none'>{escape(head)}</b></p><h1>{escape(title)}</h1>"
        f"</header>{body}</main></body></html>\n"
    )


def answer_block(comparison: object) -> str:
    """Return the answer as it stands in a notebook or panel: all of the sheet but the pictures."""
    c = comparison
    parts = [_short_answer(c), _matrix(c), _reasons(c)]
    return f"{_BLOCK}<div class='gk-said'>{''.join(parts)}</div>"


_BLOCK = """<style>
.gk .gk-said th,.gk .gk-said td{white-space:normal;text-align:left;padding:.2em .8em .2em 0}
.gk .gk-said .n{white-space:nowrap}.gk .gk-said .q,.gk .gk-said .who{opacity:.8}
.gk .gk-said .short{list-style:none;margin:.3em 0;padding:.5em .9em;border:1px solid currentColor;
 border-left-width:4px}
.gk .gk-said .short li{margin:.25em 0}
</style>"""


# --- words -----------------------------------------------------------------------------------


def _service_words(c: object) -> str:
    s, place = c.service, c.service.atmosphere
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


def _short_answer(c: object) -> str:
    lines = [f"<li><b>{escape(c.present_shortfall)}.</b></li>"] if c.present_shortfall else []
    for name, row in c.decisive.iterrows():
        line = f"<b>{escape(row['sign'])} {escape(name)}: {escape(row['answer'])}.</b>"
        if row["decisive"] != "none":
            too = f" ({row['beside now']})" if row["beside now"] else ""
            line += f" Decisive: {escape(row['decisive'] + too)}."
        if row["what would change it"]:
            line += f" What would change it: {escape(row['what would change it'])}."
        change = row["cost difference"]
        if change == change:
            plus = "+" if change > 0 else ""
            line += f" Alloy cost {plus}{number(change, 3)} {escape(c.cost_unit)}"
            line += f" ({escape(c.cost_basis)})."
        lines.append(f"<li>{line}</li>")
    return f"<ul class='short'>{''.join(lines)}</ul><p class='who'>{escape(WHO)}</p>"


def _matrix(c: object) -> str:
    columns = {**c.findings, f"{c.reference.name} (now)": c.baseline}
    head = "".join(f"<th scope='col'>{escape(n)}</th>" for n in columns)
    body = []
    for criterion in c.criteria:
        own = [
            next((f for f in found if f.criterion == criterion), None) for found in columns.values()
        ]
        body.append(
            f"<tr><th scope='row'>{escape(criterion)}</th>"
            f"{''.join(f'<td>{_cell(f)}</td>' for f in own)}"
            f"<td>{escape(', '.join(_evidence(own)) or '–')}</td></tr>"
        )
    caption = (
        "✓ ok, △ caution, ✕ stop, ○ not assessed, – none; figure / asked by place or grade now"
    )
    return (
        f"<table class='matrix'><caption>{escape(caption)}</caption><thead><tr>"
        f"<th scope='col'>criterion</th>{head}"
        f"<th scope='col'>evidence</th></tr></thead><tbody>{''.join(body)}</tbody></table>"
    )


def _evidence(found: list[Finding | None]) -> list[str]:
    """Evidence words of what was assessed: an open point rests on none."""
    words = (f.status for f in found if f is not None and f.verdict != "not assessed")
    return [word for word in dict.fromkeys(words) if word]


def _cell(f: Finding | None) -> str:
    if f is None:
        return "–"
    if f.number is None or f.limit is None:
        return escape(verdict(f.verdict))
    return f"{escape(verdict(f.verdict))} <span class='q n'>{escape(figures_of(f, '/'))}</span>"


def _reasons(c: object) -> str:
    """What is not plainly met, once for all grades of which the same is to be said."""
    said: dict[tuple, list[str]] = {}
    for name, found in c.findings.items():
        for f in found:
            if f.verdict != "ok":
                said.setdefault((f.criterion, f.verdict, f.reason, f.remedy), []).append(name)
    lines = sorted(said.items(), key=lambda item: c.criteria.index(item[0][0]))
    body = "".join(
        f"<tr><th scope='row'>{escape(criterion)}</th><td>{escape(', '.join(names))}</td>"
        f"<td>{escape(verdict(word))}</td><td>{escape(reason)}</td>"
        f"<td>{escape(remedy) or '–'}</td></tr>"
        for (criterion, word, reason, remedy), names in lines
    )
    # what is met by a rule of our own must be said, too: no standard stands behind it
    notes = [
        f"{name}, {f.criterion}, met: {f.reason}."
        for name, found in c.findings.items()
        for f in found
        if f.verdict == "ok" and f.status == "heuristic"
    ]
    notes += [f"{s.name}: {r}." for s in (c.reference, *c.candidates) for r in s.remarks]
    told = "".join(f"<p class='small'>{escape(n)}</p>" for n in notes)
    if not body:
        return f"<p>Every criterion is met.</p>{told}"
    return (
        "<table class='why'><caption>What is not plainly met</caption><thead><tr>"
        "<th scope='col'>criterion</th><th scope='col'>grade</th><th scope='col'>verdict</th>"
        "<th scope='col'>reason</th><th scope='col'>what would change it</th></tr></thead>"
        f"<tbody>{body}</tbody></table>{told}"
    )


def _open_points(c: object) -> str:
    open_: dict[str, list[str]] = {}
    for name, found in c.findings.items():
        for f in found:
            if f.verdict == "not assessed":
                open_.setdefault(f.criterion, []).append(name)
    items = [f"<b>{escape(k)}</b> ({escape(', '.join(names))})" for k, names in open_.items()]
    return f"<p>{'; '.join(items)}.</p>" if items else "<p>Nothing that was asked.</p>"


def _cautions(c: object) -> str:
    s, every = c.service, c.findings.values()
    holds = {
        "always": True,
        "water": s.water != "none" or s.atmosphere is not None,
        "memory": any(f.status not in ("verified", "") for found in every for f in found),
        "pressure": s.pressure,
        "sour": s.sour,
        "pool": s.atmosphere is not None and s.atmosphere.pool != "no",
        "brittle": s.temperature_max_C is not None,
        "weld": s.welded,
        "food": s.food_contact,
        "skin": s.skin_contact != "none",
        "prices": c.prices is not None,
    }
    found = [r["text"] for r in rows("cautions") if holds[r["when"]]]
    if c.prices is not None:
        found.append(f"Prices: {c.prices.warning}.")
    return "".join(f"<li>{escape(text)}</li>" for text in found)


def _provenance(c: object, paper: str) -> str:
    words = {w for found in (*c.findings.values(), c.baseline) for w in _evidence(found)}
    held = {f.criterion: f.source for found in c.findings.values() for f in found if f.source}
    sources = "; ".join(f"{escape(k)}: {escape(v)}" for k, v in held.items())
    meant = "; ".join(f"<b>{escape(w)}</b>: {escape(STATUSES[w])}" for w in sorted(words))
    version = sys.modules["gradekit"].__version__
    inputs = json.dumps({**c.inputs, "paper": paper}, ensure_ascii=False)
    return (
        f"<p>gradekit {escape(version)}, {datetime.date.today().isoformat()}. "
        f"Evidence words: {meant}.</p>"
        f"<p>Sources: {sources}.</p>"
        "<p>Inputs that give this answer again with <code>gk.compare_grades</code>:</p>"
        f"<pre>{escape(inputs)}</pre>"
    )


# --- pictures --------------------------------------------------------------------------------


def _pictures(c: object) -> str:
    steels = (c.reference, *c.candidates)[:_MOST_DRAWN]
    left = []
    if c.service.atmosphere is not None:
        asked = classify(c.service.atmosphere).crc
        own = [(s.name, class_of(s.number)) for s in steels]
        svg = ladder([(k, grades_of_class()[k]) for k in CLASSES], asked, own)
        left.append(_figure(svg, "Corrosion class of the place (hatched) and of each steel"))
    groups = [
        ("Pitting index, poorest to richest", "", [_index(s) for s in steels]),
        ("Least proof strength", "MPa", [_least(s, c.service, "rp02") for s in steels]),
        ("Least elongation", "%", [_least(s, c.service, "elongation") for s in steels]),
    ]
    words = "The index ranks steels inside one family only; least values are the standard's"
    left.append(_figure(property_bars(groups), words))
    chart = windows_chart("schaeffler_1949", [(s.name, s.least, s.most) for s in steels])
    right = _figure(chart, "From the leanest to the richest end of each window; a reconstruction")
    return f"<div class='pictures'><div>{''.join(left)}</div>{right}</div>"


def _figure(svg: str, caption: str) -> str:
    return f"<figure>{svg}<figcaption>{escape(caption)}.</figcaption></figure>"


def _index(steel: object) -> Bar:
    low = steel.pitting_index
    if low is None:
        return Bar(steel.name, None, None, "not used")
    high = steel.pitting_index_most
    words = f"{low:.1f} to {high:.1f}" if high > low else f"{low:.1f}"
    return Bar(steel.name, low, high, f"{words} ({steel.family})")


def _least(steel: object, service: object, key: str) -> Bar:
    value = (steel.properties(service.form, service.thickness_mm) or {}).get(key)
    return Bar(steel.name, value, value, "none held" if value is None else f"{value:g}")


# --- the PDF ---------------------------------------------------------------------------------
