"""The printable sheet that answers a substitution: one HTML page, or a PDF made of it."""

from __future__ import annotations

import datetime
import os
import re
import sys
from collections.abc import Iterable, Mapping
from pathlib import Path
from xml.etree.ElementTree import Element

from gradekit.core.errors import InputError, nearest
from gradekit.core.files import write_whole
from gradekit.core.json_text import read_json
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
from gradekit.service.figures import names_elsewhere
from gradekit.service.finding import Finding
from gradekit.service.needs import Service
from gradekit.service.tables import rows
from gradekit.sheets.printing import printed

__all__ = ["LANGUAGES", "PAPERS", "answer_block", "answer_page", "write_answer"]

#: Papers, with width and height in mm.
PAPERS = {"A4": (210, 297), "Letter": (215.9, 279.4)}
_TABLES = {p.stem.removeprefix("words_"): p for p in Path(__file__).parent.glob("words_*.json")}
#: Languages of the fixed words: English, and each that has a words table.
LANGUAGES = ("en", *sorted(_TABLES))
WHO = (
    "No comparison decides on a material. The customer's engineer, the design code and the "
    "standard in force decide, on the heat's own certificate and, where said, on tests."
)
_MOST_DRAWN, _MOST_LINES = 5, 10
_SYSTEMS = ("EN", "UNS", "common", "JIS", "GOST", "GB")  # of the sheet
NOTHING_SAID: Mapping[str, str] = {}  # no words of another language


def write_answer(
    comparison: Comparison,
    path: str | os.PathLike,
    paper: str = "A4",
    *,
    sender: str | os.PathLike | None = None,
    language: str = "en",
) -> Path:
    """Write the answer to a substitution as a printable sheet.

    Parameters
    ----------
    comparison : Comparison
        From `compare_grades`.
    path : path
        Ending `.html`, or `.pdf` where a Chromium or Chrome is installed.
    paper : 'A4' or 'Letter'
    sender, language
        As for `answer_page`.

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
    page = answer_page(comparison, paper, sender=sender, language=language)
    return write_whole(path, page if kind == ".html" else printed(page))


def answer_page(
    comparison: Comparison,
    paper: str = "A4",
    *,
    sender: str | os.PathLike | None = None,
    language: str = "en",
) -> str:
    """Return the sheet as one HTML page that fetches nothing.

    The first page is the answer: question, answer, a short table, reservations, what must be
    checked. Figures, names, pictures, cautions and sources stand behind it.

    Parameters
    ----------
    comparison : Comparison
    paper : 'A4' or 'Letter'
    sender : path, optional
        A text file with the sender's own head, a line a line.
    language : str
        Of the fixed words, 'en' or the name of a table `words_<language>.json` beside the template.

    Returns
    -------
    str
    """
    if paper not in PAPERS:
        raise InputError("paper", ", ".join(PAPERS), paper, nearest(str(paper), PAPERS))
    c, own_words = comparison, _words(language)
    more = f" and {len(c.candidates) - 3} more" if len(c.candidates) > 3 else ""
    names = ", ".join(steel.name for steel in c.candidates[:3])
    today = datetime.date.today().isoformat()
    every = [f for findings in (*c.findings.values(), c.baseline) for f in findings]
    insteads = own_words.get("instead of", "instead of")
    return render(
        "sheets/substitution.html",
        language=language,
        t=lambda text: own_words.get(text, text),
        title=f"{names}{more} {insteads} {c.reference.name}",
        paper=PAPERS[paper],
        sender=_sender(sender),
        head=", ".join(filter(None, (c.customer, c.service.case, today))),
        today=today,
        version=sys.modules["gradekit"].__version__,
        question=c.service.question.strip(),
        service=_service_words(c.service),
        short_answer=_short_answer(c, own_words),
        matrix=_matrix(c, own_words, most=_MOST_LINES),
        figures=_figures(c, own_words),
        names=_names(c, own_words),
        pictures=_pictures(c),
        reservations=_reservations(c),
        reasons=_reasons(c, own_words, assessed=True),
        notes=_notes(c),
        not_assessed=_not_assessed(c),
        cautions=_cautions(c),
        evidence={word: STATUSES[word] for word in sorted(_evidence(every))},
        sources={f.criterion: f.source for own in c.findings.values() for f in own if f.source},
    )


def _words(language: str) -> dict[str, str]:
    """The fixed words of the sheet in another language; a word without one stays English."""
    if language not in LANGUAGES:
        known = ", ".join(LANGUAGES)
        raise InputError("language", known, language, nearest(str(language), LANGUAGES))
    return {} if language == "en" else read_json(_TABLES[language])


def _sender(path: str | os.PathLike | None) -> list[str]:
    if path is None:
        return []
    try:
        return Path(path).read_text("utf-8").strip().splitlines()
    except (OSError, UnicodeDecodeError) as error:
        raise InputError("sender", "a text file that is there", type(error).__name__) from None


def answer_block(comparison: Comparison) -> list[Part]:
    """Return the answer as it stands in a notebook or panel: all of the sheet but the pictures."""
    c = comparison
    notes = [small(note) for note in _notes(c)]
    return [_BLOCK, _short_answer(c), _matrix(c), details("Why", _reasons(c), *notes)]


_BLOCK = Html("""<style>
.gk .q,.gk .who{opacity:.8}
.gk .short{list-style:none;margin:.3em 0;padding:.5em .9em;border:1px solid currentColor;
 border-left-width:4px}
.gk .short li{margin:.25em 0}
</style>""")


# --- words -----------------------------------------------------------------------------------


def _service_words(s: Service) -> str:
    place = s.atmosphere
    told = [f"{s.form}, {s.thickness_mm:g} mm", _weld_words(s)]
    if s.temper:
        told.append(f"temper {s.temper}")
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
        told.append(f"{s.water}{salt} at {s.water_temperature_C:g} °C, {s.contact}")
    told += [
        words
        for given, words in (
            (s.free_chlorine_mg_l, f"free chlorine {s.free_chlorine_mg_l} mg/l"),
            (s.chemicals or None, f"chemicals: {s.chemicals}"),
            (s.temperature_max_C, _heat_words(s)),
            (s.temperature_min_C, f"down to {s.temperature_min_C} °C"),
            (s.forming != "none" or None, s.forming),
            (s.magnetism != "any" or None, f"{s.magnetism} wanted"),
            (s.skin_contact != "none" or None, f"on the skin: {s.skin_contact}"),
            (s.food_contact or None, "food contact"),
            (s.pressure or None, "pressure equipment"),
            (s.sour or None, "sour service"),
            (s.load_bearing or None, "load-bearing"),
            (s.chosen_for or None, f"the present grade was chosen for {s.chosen_for}"),
        )
        if given is not None
    ]
    return f"Service as understood: {'; '.join(told)}."


def _weld_words(s: Service) -> str:
    after = "annealed after it" if s.annealed else "not annealed after it"
    return f"welded, {after}" if s.welded else "not welded"


def _heat_words(s: Service) -> str:
    long = "for years" if s.hot_hours is None else f"for {s.hot_hours:g} h"
    gas = "air" if s.gas == "air" else f"{s.gas} gas"
    return f"up to {s.temperature_max_C} °C in {gas} {long}"


def _short_answer(c: Comparison, words: Mapping[str, str] = NOTHING_SAID) -> Html:
    lines = [tag("b", f"{c.present_shortfall}.")] if c.present_shortfall else []
    for name, row in c.decisive.iterrows():
        more = []
        if row["decisive"] != "none":
            too = f" ({row['beside now']})" if row["beside now"] else ""
            decisive = words.get("Decisive", "Decisive")
            more.append(f"{decisive}: {_told(row['decisive'], words)}{too}.")
        if row["what would change it"]:
            helps = words.get("What would change it", "What would change it")
            more.append(f"{helps}: {row['what would change it']}.")
        change = row["cost difference"]
        if change == change:
            plus = "+" if change > 0 else ""
            more.append(f"Alloy cost {plus}{number(change, 3)} {c.cost_unit} ({c.cost_basis}).")
        answer = tag("b", f"{row['sign']} {name}: {_told(row['answer'], words)}.")
        lines.append(Html(f"{answer} {tag('span', ' '.join(more))}"))
    listed = tag("ul", *(tag("li", line) for line in lines), class_="short")
    return Html(listed + tag("p", words.get(WHO, WHO), class_="who"))


def _told(text: str, words: Mapping[str, str]) -> str:
    """A composed text with the parts that are known in the language."""
    for part in sorted(words, key=len, reverse=True):
        text = re.sub(rf"\b{re.escape(part)}\b", words[part], text)
    return text


def _figures(c: Comparison, words: Mapping[str, str]) -> Html:
    table = c.figures
    columns = [Column(name, [_told(v, words) for v in table[name]], text=True) for name in table]
    labels = [words.get(label, label) for label in table.index]
    caption = words.get("Figures side by side", "Figures side by side")
    return columns_table(columns, caption, labels, words.get("figure", "figure"), class_="figures")


def _names(c: Comparison, words: Mapping[str, str]) -> Html:
    every = {steel.name: names_elsewhere(steel) for steel in (c.reference, *c.candidates)}
    told = dict.fromkeys(s for names in every.values() for s in names)
    systems = [s for s in told if s in _SYSTEMS]
    columns = [
        Column(name, [names.get(s) or "–" for s in systems], text=True)
        for name, names in every.items()
    ]
    caption = words.get("Names in other standards", "Names in other standards")
    systems = [words.get(s, s) for s in systems]
    return columns_table(columns, caption, systems, words.get("system", "system"), class_="names")


def _matrix(
    c: Comparison, words: Mapping[str, str] = NOTHING_SAID, most: int | None = None
) -> Html:
    kept = c.criteria
    if most is not None and len(kept) > most:
        # what is plainly met by all tells least: it goes first
        plain = [k for k in kept if {f.verdict for own in c.findings.values() for f in own
                                     if f.criterion == k} == {"ok"}]  # fmt: skip
        dropped = set(plain[::-1][: len(kept) - most])
        kept = [k for k in kept if k not in dropped][:most]
    steels = {**c.findings, f"{c.reference.name} (now)": c.baseline}
    grid = {
        name: [next((f for f in own if f.criterion == k), None) for k in kept]
        for name, own in steels.items()
    }
    rests_on = [", ".join(_evidence(own)) or "–" for own in zip(*grid.values(), strict=True)]
    columns = [
        Column(_told(name, words), [_cell(f, words) for f in own], text=True)
        for name, own in grid.items()
    ]
    caption = (
        "✓ ok, △ caution, ✕ stop, ○ not assessed, – none; "
        "figure / required by place or present grade"
    )
    columns.append(Column(words.get("evidence", "evidence"), rests_on, text=True))
    labels = [words.get(k, k) for k in kept]
    head = words.get("criterion", "criterion")
    return columns_table(columns, words.get(caption, caption), labels, head, class_="matrix")


def _evidence(findings: Iterable[Finding | None]) -> list[str]:
    """Evidence words of what was assessed: an open point rests on none."""
    words = (f.status for f in findings if f is not None and f.verdict != "not assessed")
    return [word for word in dict.fromkeys(words) if word]


def _cell(f: Finding | None, words: Mapping[str, str]) -> str:
    if f is None:
        return "–"
    word = _told(verdict(f.verdict), words)
    if f.number is None or f.limit is None:
        return word
    return Html(f"{tag('span', word)} {tag('span', figures_of(f, '/'), class_='q n')}")


def _reservations(c: Comparison) -> dict[str, str]:
    """For each steel with any, why: what stops it, else what decides."""
    found = {}
    for name, row in c.decisive.iterrows():
        stops = [f.reason for f in c.findings[name] if f.verdict == "stop"]
        if why := "; ".join(stops[:2]) or (row["why"] if row["decisive"] != "none" else ""):
            found[name] = why
    return found


def _reasons(
    c: Comparison, words: Mapping[str, str] = NOTHING_SAID, *, assessed: bool = False
) -> Html:
    """What is not plainly met, once for all grades to which the same applies."""
    grades: dict[Finding, list[str]] = {}
    for name, own in c.findings.items():
        for f in own:
            if f.verdict not in ("ok", "not assessed" if assessed else "ok"):
                same = Finding(f.criterion, f.verdict, f.reason, remedy=f.remedy)
                grades.setdefault(same, []).append(name)
    rows = sorted(grades.items(), key=lambda row: c.criteria.index(row[0].criterion))
    if not rows:
        return tag("p", "Every criterion is met.")
    columns = [
        Column(words.get(head, head), cells, text=True, wide=head == "reason")
        for head, cells in (
            ("grade", [", ".join(names) for _, names in rows]),
            ("verdict", [_told(verdict(f.verdict), words) for f, _ in rows]),
            ("reason", [f.reason for f, _ in rows]),
            ("what would change it", [f.remedy or "–" for f, _ in rows]),
        )
    ]
    caption = words.get("What is not plainly met", "What is not plainly met")
    labels = [words.get(f.criterion, f.criterion) for f, _ in rows]
    head = words.get("criterion", "criterion")
    return columns_table(columns, caption, labels, head, class_="why")


def _notes(c: Comparison) -> list[str]:
    """Criteria met by a rule of our own, behind which no standard stands, and other remarks."""
    notes = [
        f"{name}, {f.criterion}, met: {f.reason}."
        for name, own in c.findings.items()
        for f in own
        if f.verdict == "ok" and f.status == "heuristic"
    ]
    return notes + [f"{s.name}: {r}." for s in (c.reference, *c.candidates) for r in s.remarks]


def _not_assessed(c: Comparison) -> dict[str, tuple[list[str], str]]:
    """Grades by the criterion that is open for them, with what would settle it."""
    grades: dict[str, tuple[list[str], str]] = {}
    for name, own in c.findings.items():
        for f in own:
            if f.verdict == "not assessed" and f.remedy:
                grades.setdefault(f.criterion, ([], f.remedy))[0].append(name)
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
    return texts + ([f"Prices: {c.prices.warning}."] if c.prices and c.prices.warning else [])


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
