"""The printable sheet that answers a substitution: one HTML page, or a PDF made of it."""

from __future__ import annotations

import datetime
import os
import re
import sys
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from xml.etree.ElementTree import Element

from gradekit.core.errors import InputError, nearest, one_of
from gradekit.core.files import write_whole
from gradekit.core.markup import (
    Column,
    Html,
    Part,
    askable,
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
from gradekit.service.exposure import (
    CLASSES,
    Atmosphere,
    class_of,
    classify,
    figures_of,
    grades_of_class,
)
from gradekit.service.figures import names_elsewhere
from gradekit.service.finding import Finding
from gradekit.service.needs import Service
from gradekit.service.tables import rows
from gradekit.sheets.language import Tongue, tongue
from gradekit.sheets.printing import printed

#: What the cost of a steel is asked for by, before its name.
COST_ROW = "alloy cost"
#: Papers, with width and height in mm.
PAPERS = {"A4": (210, 297), "Letter": (215.9, 279.4)}
WHO = (
    "No comparison decides on a material. The customer's engineer, the design code and the "
    "standard in force decide, on the heat's own certificate and, where said, on tests."
)
_MOST_DRAWN, _MOST_LINES, _MOST_NAMED = 5, 10, 4
_MANY = 3  # candidates for which the first page is set smaller
_SYSTEMS = ("EN", "UNS", "common", "JIS", "GOST", "GB")  # of the sheet
_ENGLISH = tongue("en")


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
        No customer or question; another ending or paper; a PDF where no browser is installed: HTML
        is always to be had, and any browser prints it.
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

    Raises
    ------
    InputError
        No customer or no question: nobody could tell to whom and to what the sheet is an answer.
        Another paper, a language without words, a sender's file that is not there.
    """
    c = comparison
    given = {"customer=": c.customer, "Service(question=)": c.service.question}
    if lacking := [name for name, text in given.items() if not text.strip()]:
        must_be = "for a named customer, with the question in words"
        known = "gk.compare_grades(..., gk.Service(question=...), customer=...)"
        raise InputError("sheet", must_be, f"no {' and no '.join(lacking)}", known)
    one_of("paper", paper, PAPERS)
    t = tongue(language)
    more = f" {t('and more')}" if len(c.candidates) > _MOST_NAMED else ""
    names = ", ".join(steel.name for steel in c.candidates[:_MOST_NAMED])
    today = datetime.date.today().isoformat()
    every = [*(f for _, f in _each(c)), *c.baseline]
    insteads = t("instead of")
    return render(
        "sheets/substitution.html",
        language=language,
        t=t,
        title=f"{names}{more} {insteads} {c.reference.name}",
        paper=PAPERS[paper],
        sender=_sender(sender),
        many=len(c.candidates) >= _MANY,
        head=", ".join(filter(None, (c.customer, c.service.case, today))),
        today=today,
        version=sys.modules["gradekit"].__version__,
        question=c.service.question.strip(),
        service=t(_service_words(c.service)),
        short_answer=_short_answer(c, t),
        matrix=_matrix(c, t, most=_MOST_LINES),
        figures=_figures(c, t),
        names=_names(c, t),
        surcharge=_surcharge(c, t),
        pictures=_pictures(c),
        reservations={n: t(why) for n, why in _reservations(c).items()},
        reasons=_reasons(c, t, assessed=True),
        notes=[t(note) for note in _notes(c)],
        not_assessed={k: (g, t(r)) for k, (g, r) in _not_assessed(c).items()},
        cautions=[t(text) for text in _cautions(c)],
        evidence={t(word): t(STATUSES[word]) for word in sorted(_evidence(every))},
        sources={f.criterion: f.source for _, f in _each(c) if f.source},
    )


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
    return [
        _BLOCK,
        _short_answer(c, asks=True),
        _matrix(c, asks=True),
        details("Why", _reasons(c), *notes),
    ]


_BLOCK = Html("""<style>
.gk .q,.gk .who{opacity:.8}
.gk .short{list-style:none;margin:.3em 0;padding:.5em .9em;border:1px solid currentColor;
 border-left-width:4px}
.gk .short li{margin:.25em 0}
</style>""")


# --- words -----------------------------------------------------------------------------------


def _service_words(s: Service) -> str:
    salt = "" if s.chloride_mg_l is None else f" with {s.chloride_mg_l:g} mg/l chloride"
    asked: list[tuple[object, str]] = [
        (True, f"{s.form}, {s.thickness_mm:g} mm"),
        (True, _weld_words(s)),
        (s.temper, f"temper {s.temper}"),
        (s.finish, f"finish {s.finish}"),
        (s.atmosphere is not None, _place_words(s)),
        (s.water != "none", f"{s.water}{salt} at {s.water_temperature_C:g} °C, {s.contact}"),
        (s.free_chlorine_mg_l is not None, f"free chlorine {s.free_chlorine_mg_l} mg/l"),
        (s.chemicals, f"chemicals: {s.chemicals}"),
        (s.temperature_max_C is not None, _heat_words(s)),
        (s.temperature_min_C is not None, f"down to {s.temperature_min_C or 0:g} °C"),
        (s.forming != "none", s.forming),
        (s.magnetism != "any", f"{s.magnetism} wanted"),
        (s.skin_contact != "none", f"on the skin: {s.skin_contact}"),
        (s.food_contact, "food contact"),
        (s.pressure, "pressure equipment"),
        (s.sour, "sour service"),
        (s.load_bearing, "load-bearing"),
        (s.chosen_for, f"the present grade was chosen for: {s.chosen_for}"),
    ]
    return f"Service as understood: {'; '.join(words for holds, words in asked if holds)}"


def _place_words(s: Service) -> str:
    place = s.atmosphere
    if place is None:
        return ""
    if place.pool != "no":
        return f"above an indoor pool ({place.pool})"
    if place.indoors:
        return "indoors"
    where = "road tunnel with de-icing salt" if place.salted_tunnel else "outdoors"
    near = place.salted_road_km < Atmosphere().salted_road_km
    road = f", {place.salted_road_km:g} km from a salted road" if near else ""
    return f"{where}, {place.sea_km:g} km from the sea{road}, SO2 {place.so2}"


def _weld_words(s: Service) -> str:
    after = "annealed after it" if s.annealed else "not annealed after it"
    return f"welded, {after}" if s.welded else "not welded"


def _heat_words(s: Service) -> str:
    long = "for years" if s.hot_hours is None else f"for {s.hot_hours:g} h"
    gas = "air" if s.gas == "air" else f"{s.gas} gas"
    return f"up to {s.temperature_max_C or 0:g} °C in {gas} {long}"


def _short_answer(c: Comparison, t: Tongue = _ENGLISH, asks: bool = False) -> Html:
    lines = [tag("b", f"{t(c.present_shortfall)}.")] if c.present_shortfall else []
    for name, row in c.decisive.iterrows():
        more = []
        if row["decisive"] != "none":
            too = f" ({t(row['beside now'])})" if row["beside now"] else ""
            decided = f" {t('and')} ".join(t(k) for k in row["decisive"].split(" and "))
            more.append(f"{t('Decisive')}: {decided}{too}.")
        if row["what would change it"]:
            more.append(f"{t('What would change it')}: {t(row['what would change it'])}.")
        if row["not assessed"] and len(c.candidates) < _MANY:
            more.append(f"{t('Open')}: {t(row['not assessed'])}.")
        change = row["cost difference"]
        if change == change:
            plus = "+" if change > 0 else ""
            cost: str = f"{plus}{number(change, 3)} {c.cost_unit}"
            cost = askable(cost, f"{COST_ROW}: {name}") if asks else cost
            more.append(tag("span", f"{t('Alloy cost')} ", cost, f" ({t(c.cost_basis)})."))
        answer = tag("b", f"{row['sign']} {name}: {t(row['answer'])}.")
        told = [part for words in more for part in (" ", words)][1:]
        lines.append(Html(f"{answer} {tag('span', *told)}"))
    listed = tag("ul", *(tag("li", line) for line in lines), class_="short")
    return Html(listed + tag("p", t(WHO), class_="who"))


def _table(
    t: Tongue, caption: str, head: str, labels: Iterable[str], columns: Mapping[str, Iterable[str]],
    class_: str, wide: str = "",
) -> Html:  # fmt: skip
    """A table of translated texts, under labels that are translated here."""
    made = [Column(name, [*cells], text=True, wide=name == wide) for name, cells in columns.items()]
    return columns_table(made, caption, map(t, labels), t(head), class_=class_)


def _figures(c: Comparison, t: Tongue) -> Html:
    table = c.figures
    columns = {name: [_minus(t(v)) for v in table[name]] for name in table}
    star = "; *: beyond the heats measured" if "*" in "".join(table.to_numpy().ravel()) else ""
    caption = t(f"Figures side by side{star}")
    return _table(t, caption, "figure", table.index, columns, "figures")


def _minus(text: str) -> str:
    """A hyphen before a figure as the sign that it is."""
    return re.sub(r"(?<![\w.])-(?=\d)", "−", text)


def _names(c: Comparison, t: Tongue) -> Html:
    every = {steel.name: names_elsewhere(steel) for steel in c.steels}
    known = dict.fromkeys(system for names in every.values() for system in names)
    systems = [s for s in known if s in _SYSTEMS]
    columns = {name: [t(names.get(s) or "–") for s in systems] for name, names in every.items()}
    return _table(t, t("Names in other standards"), "system", systems, columns, "names")


def _surcharge(c: Comparison, t: Tongue) -> Html:
    table = c.surcharge
    if table.empty:
        return Html("")
    columns = {t(n): [_minus(t(v)) for v in table[n]] for n in table}
    caption = t("Alloy surcharge: lowest contents, and what each difference costs")
    if c.prices:
        caption += f" ({t(f'prices of {c.prices.date}')})"
    return _table(t, caption, "element", table.index, columns, "names")


def answers(c: Comparison) -> dict[str, list[Finding]]:
    """Return the findings by the name of each steel, those of the present grade last."""
    return {**c.findings, f"{c.reference.name} (now)": c.baseline}


def _matrix(
    c: Comparison, t: Tongue = _ENGLISH, most: int | None = None, asks: bool = False
) -> Html:
    kept = c.criteria
    if most is not None and len(kept) > most:
        # what is plainly met by all tells least: it goes first
        plain = [k for k in kept if {f.verdict for own in c.findings.values() for f in own
                                     if f.criterion == k} == {"ok"}]  # fmt: skip
        dropped = set(plain[::-1][: len(kept) - most])
        kept = [k for k in kept if k not in dropped][:most]
    steels = answers(c)
    grid = {
        name: [next((f for f in own if f.criterion == k), None) for k in kept]
        for name, own in steels.items()
    }
    columns: dict[str, list[str]] = {
        t(name): [_cell(f, t, name if asks else "") for f in own] for name, own in grid.items()
    }
    columns[t("evidence")] = [
        ", ".join(map(t, _evidence(own))) or "–" for own in zip(*grid.values(), strict=True)
    ]
    caption = (
        "✓ ok, △ caution, ✕ stop, ○ not assessed, – none; "
        "figure / required by place or present grade"
    )
    return _table(t, t(caption), "criterion", kept, columns, "matrix")


def _evidence(findings: Iterable[Finding | None]) -> list[str]:
    """Evidence words of what was assessed: an open point rests on none."""
    words = (f.status for f in findings if f is not None and f.verdict != "not assessed")
    return [word for word in dict.fromkeys(words) if word]


def _cell(f: Finding | None, t: Tongue, steel: str = "") -> str:
    """A verdict with its figures; of a steel that is named they can be asked, else the verdict."""
    if f is None:
        return "–"
    word, name = t(verdict(f.verdict)), f"{f.criterion}: {steel}"
    if f.number is None or f.limit is None:
        return askable(word, name) if steel else word
    figures = t(figures_of(f, "/"))
    shown = tag("span", askable(figures, name) if steel else figures, class_="q n")
    return Html(f"{tag('span', word)} {shown}")


def _reservations(c: Comparison) -> dict[str, str]:
    """For each steel with any, why: what stops it, else what decides, and the window of a dual."""
    reservations = {}
    for name, row in c.decisive.iterrows():
        stops = [f.reason for f in c.findings[name] if f.verdict == "stop"]
        # the window that a dual name leaves is part of the answer
        dual = [f.reason for f in c.findings[name] if f.criterion == "dual certification"]
        why = [*(stops[:2] or ([row["why"]] if row["decisive"] != "none" else [])), *dual]
        if why:
            reservations[name] = "; ".join(dict.fromkeys(why))
    return reservations


def _reasons(c: Comparison, t: Tongue = _ENGLISH, *, assessed: bool = False) -> Html:
    """What is not plainly met, once for all grades to which the same applies; behind the answer
    without what decides, which it has told already."""
    grades: dict[Finding, list[str]] = {}
    silent = ("ok", "not assessed") if assessed else ("ok",)
    for name, f in _each(c):
        decides = assessed and f.reason == c.decisive.at[name, "why"]
        if not decides and f.verdict not in silent:
            same = Finding(f.verdict, f.reason, remedy=f.remedy, criterion=f.criterion)
            grades.setdefault(same, []).append(name)
    if not grades:
        return tag("p", t("Every criterion is met."))
    rows = sorted(grades.items(), key=lambda row: c.criteria.index(row[0].criterion))
    columns = {
        "grade": [", ".join(names) for _, names in rows],
        "verdict": [t(verdict(f.verdict)) for f, _ in rows],
        "reason": [t(f.reason) for f, _ in rows],
        "what would change it": [t(f.remedy) or "–" for f, _ in rows],
    }
    labels = [f.criterion for f, _ in rows]
    caption, heads = t("What is not plainly met"), {t(head): own for head, own in columns.items()}
    return _table(t, caption, "criterion", labels, heads, "why", wide=t("reason"))


def _each(c: Comparison) -> Iterator[tuple[str, Finding]]:
    """Every finding, with the name of its steel."""
    return ((name, f) for name, own in c.findings.items() for f in own)


def _notes(c: Comparison) -> list[str]:
    """Criteria met by a rule of our own, behind which no standard stands, and other remarks."""
    notes = [
        f"{name}, {f.criterion}, met: {f.reason}."
        for name, f in _each(c) if f.verdict == "ok" and f.status == "heuristic"
    ]  # fmt: skip
    return notes + [f"{s.name}: {r}." for s in c.steels for r in s.remarks]


def _not_assessed(c: Comparison) -> dict[str, tuple[list[str], str]]:
    """Grades by the criterion that is open for them, with what would settle it."""
    grades: dict[str, tuple[list[str], str]] = {}
    for name, f in _each(c):
        if f.verdict == "not assessed" and f.remedy:
            grades.setdefault(f.criterion, ([], f.remedy))[0].append(name)
    return grades


def _cautions(c: Comparison) -> list[str]:
    s = c.service
    holds = {
        "always": True,
        "water": s.water != "none" or s.atmosphere is not None,
        "memory": any(f.status not in ("verified", "") for _, f in _each(c)),
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
    steels = c.steels[:_MOST_DRAWN]
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
    value = steel.minimum(key, service)
    return Bar(steel.name, value, value, "none held" if value is None else f"{value:g}")
