"""Tables and panels of a notebook: escaped by construction, readable without a kernel.

Whatever is not `Html` is escaped on its way into a page. Colours follow the page (light or dark);
meaning is carried by words and a sign. A table that is too wide for its place stacks into cards.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache
from typing import NamedTuple
from urllib.parse import quote
from xml.etree.ElementTree import Element

import numpy as np
import pandas as pd

from gradekit.core.aliases import Label
from gradekit.core.sources import STATUSES
from gradekit.core.svg import document, escape, spoken, write
from gradekit.core.verdicts import SIGNS, Verdict

#: The sign before each evidence word: the fuller the square, the nearer to the publication.
_RESTS_ON = {
    "verified": "■",
    "secondary": "◧",
    "memory": "□",
    "conflicting": "≠",
    "heuristic": "~",
    "reconstruction": "≈",
    "computed-from-data": "∑",
    "fitted by the user": "∑",
}
# What a data address may hold as it is, in quotes.
_PLAIN = " =/:;,.()+*!~-_'"
STYLE = """<style>
.gk{font:13px/1.45 var(--jp-ui-font-family,system-ui,sans-serif);
 color:var(--jp-ui-font-color1,inherit);container-type:inline-size;
 max-width:100%;overflow-x:auto;margin:.4em 0}
.gk table{border-collapse:collapse;margin:.3em 0;font-variant-numeric:tabular-nums}
.gk caption{text-align:left;font-weight:600;padding:.2em 0}
.gk th,.gk td{padding:.15em .6em;text-align:right;border-bottom:1px solid rgba(128,128,128,.3);
 white-space:nowrap;vertical-align:top}
.gk thead th{border-bottom:2px solid rgba(128,128,128,.6);white-space:normal;vertical-align:bottom}
.gk td.t,.gk th.t,.gk.gk tbody th{text-align:left;white-space:normal;overflow-wrap:break-word}
.gk td.t{overflow-wrap:anywhere;min-width:5.5em}.gk td.n{white-space:nowrap;min-width:0}
.gk tbody th{max-width:20em}.gk td.w{min-width:9em;max-width:44em}
.gk .d{font-size:12px}.gk .d :is(th,td){padding:.15em .25em}
.gk .s,.gk .e{opacity:.75;font-size:12px}.gk .e{white-space:nowrap}
.gk .lead{font-size:15px;font-weight:600}.gk p,.gk li{max-width:75em}
.gk p{margin:.4em 0}.gk ul,.gk ol{margin:.2em 0 .2em 1.2em;padding:0}
.gk summary{cursor:pointer;padding:.15em 0}
@media screen{@container (max-width:840px){
 .gk :is(table,tbody,caption){display:block}
 .gk thead{position:absolute;height:1px;width:1px;overflow:hidden;clip-path:inset(50%)}
 .gk tr{display:flex;flex-flow:row wrap;gap:0 1em;padding:.25em 0;
  border-bottom:1px solid rgba(128,128,128,.3)}
 .gk table :is(th,td){border:0;padding:0;box-sizing:border-box;
  text-align:left;min-width:0;max-width:100%;white-space:normal}.gk.gk tbody th{text-align:left}
 .gk td:empty{display:none}.gk :is(tbody th,td.w){flex:0 0 100%;max-width:100%}
 .gk td[data-h]::before{content:attr(data-h)" ";opacity:.8}
 .gk td[data-h]::before{content:attr(data-h)" "/""}
}}
@media print{.gk{overflow:visible}.gk,.gk *{color:#000!important}.gk :is(table,.d,.s){font-size:9px}
 .gk th,.gk td{white-space:normal;min-width:0!important;padding:.1em .2em!important}}
</style>""".replace(
    "\n", ""
)  # every result brings it along: a line each is room in a saved notebook


class Html(str):
    """Text that is markup already; all other text is escaped where it enters a page."""

    __slots__ = ()

    def __html__(self) -> str:  # what Jinja2 asks for
        return self


class Moving(NamedTuple):
    """Parts that a page which computes changes in place; its scripts find them by their name."""

    name: str
    parts: tuple[str | Element, ...]


#: What a page is put together of: plain text is a paragraph, an element is a picture.
Part = str | Element | Moving


def tag(name: str, *inside: object, **attributes: object) -> Html:
    """Return an element; texts in it are escaped.

    Parameters
    ----------
    name : str
    *inside : Html, texts or numbers
    **attributes
        `class_` for `class`; what is None is left out.

    Examples
    --------
    >>> tag("p", "Cr < 18, ", tag("b", "Ni"), class_="s")
    '<p class="s">Cr &lt; 18, <b>Ni</b></p>'
    """
    own = "".join([
        f' {key.rstrip("_").replace("_", "-")}="{escape(str(value))}"'
        for key, value in attributes.items()
        if value is not None
    ])  # fmt: skip
    return Html(f"<{name}{own}>{''.join(map(_inert, inside))}</{name}>")


def _inert(part: object) -> str:
    return part if isinstance(part, Html) else escape(str(part))


def flow(parts: Iterable[Part], draw: Callable[[Element], Html] | None = None) -> Html:
    """Return parts one below the other: markup as it is, texts as paragraphs, pictures drawn.

    Parameters
    ----------
    parts : iterable of Html, str and Element
        An empty text is left out.
    draw : callable
        `picture` by default, or `inline`.
    """
    draw = draw or picture
    return Html("".join(
        draw(part) if isinstance(part, Element)
        else tag("div", flow(part.parts, draw), data_of=part.name) if isinstance(part, Moving)
        else part if isinstance(part, Html)
        else f"<p>{escape(part)}</p>"
        for part in parts if isinstance(part, Element) or part
    ))  # fmt: skip


def askable(text: object, name: str) -> Html:
    """Return a number that a reader may press in a live page; elsewhere it is plain text.

    Parameters
    ----------
    text : what is shown
    name : str
        What is asked for when it is pressed.
    """
    return tag("span", text, data_number=name)


def small(text: str) -> Html:
    """Return a remark in small letters, nothing for an empty one."""
    return tag("p", text, class_="s") if text else Html()


def items(lines: Iterable[object], kind: str = "ul") -> Html:
    """Return a list, nothing for an empty one.

    Examples
    --------
    >>> items(["one", "two"])
    '<ul><li>one</li><li>two</li></ul>'
    """
    inside = [tag("li", line) for line in lines]
    return tag(kind, *inside) if inside else Html()


def details(summary: str, *parts: Part) -> Html:
    """Return parts behind a line that opens them, nothing if all of them are empty."""
    inside = flow(parts)
    return tag("details", tag("summary", summary), inside) if inside else Html()


@cache
def evidence(word: str) -> Html:
    """Return the mark that says what a number rests on: a small sign and the word.

    Examples
    --------
    >>> evidence("memory")[:16], evidence("memory")[-15:]
    ('<span class="e" ', '□ memory</span>')
    """
    if not word:
        return Html()
    return tag("span", _with_sign(word), class_="e", title=STATUSES.get(word))


def _with_sign(word: str) -> str:
    return f"{_RESTS_ON.get(word, '')} {word}".strip()


def evidence_words(word: str) -> str:
    """Return an evidence word with its sign and what it means, '' for none.

    Examples
    --------
    >>> evidence_words("secondary")
    '◧ secondary: read in a publication that quotes the source'
    """
    return ": ".join(filter(None, (_with_sign(word), STATUSES.get(word))))


def evidence_line(words: Iterable[str], what: str = "numbers") -> Html:
    """Say once for a page how many of its numbers rest on what.

    Examples
    --------
    >>> evidence_line(["memory", "verified", "memory"], "limits")
    '<p class="s">What 3 limits rest on: 2 memory, 1 verified.</p>'
    """
    counts = Counter(word for word in words if word)
    told = ", ".join(f"{n} {word}" for word, n in counts.most_common())
    return small(f"What {counts.total()} {what} rest on: {told}." if told else "")


def number(value: float | None, digits: int = 4) -> str:
    """Return a number with so many significant digits, an em dash where there is none.

    Examples
    --------
    >>> number(18.2345), number(1434.6), number(float("nan")), number(-3.0)
    ('18.23', '1435', '—', '−3')
    """
    if value is None or (isinstance(value, (float, np.floating)) and not math.isfinite(value)):
        return "—"
    if isinstance(value, (bool, np.bool_)):
        return "yes" if value else "no"
    if isinstance(value, (int, np.integer)):
        return str(int(value)).replace("-", "−")
    size = abs(value)
    text = f"{value:.0f}" if size >= 10 ** (digits - 1) else f"{value:.{digits}g}"
    if "e" in text and size >= 1e-4:
        text = f"{value:.{digits}f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text.replace("-", "−")


def exact(value: float | None) -> str:
    """Return a number with all its digits, '' where there is none.

    Examples
    --------
    >>> exact(0.1 + 0.2), exact(float("nan"))
    ('0.30000000000000004', '')
    """
    return repr(float(value)) if value is not None and math.isfinite(value) else ""


def inline(drawn: Element) -> Html:
    """Return a picture as a part of the page itself."""
    return Html(write(drawn))


def picture(drawn: Element, words: str = "") -> Html:
    """Return a picture as an image element, with what it shows in words.

    A notebook that is not trusted yet, as every one is in a fresh clone, shows an image but only
    the letters of an SVG that stands in the page itself.

    Examples
    --------
    >>> from gradekit.core.svg import drawing
    >>> picture(drawing(8, 6), "nothing")[:28]
    '<img alt="nothing" width="8"'
    """
    width = drawn.get("viewBox", "").split()[2]
    content = quote(document(drawn), safe=_PLAIN)
    words = escape(words or spoken(drawn))
    size = f'width="{width}" style="max-width:100%;height:auto"'
    return Html(f'<img alt="{words}" {size} src="data:image/svg+xml,{content}">')


def verdict(word: Verdict) -> str:
    """Return a verdict with its sign.

    Examples
    --------
    >>> verdict("ok"), verdict("not assessed")
    ('✓ ok', '○ not assessed')
    """
    return f"{SIGNS[word]} {word}"


def table(
    frame: pd.DataFrame,
    caption: str,
    *,
    units: Mapping[str, str] | None = None,
    digits: int = 4,
    wide: Iterable[str] = (),
    rows: int = 200,
    index: bool = True,
) -> Html:
    """Return a table with caption and header scopes; every text in it is inert.

    Parameters
    ----------
    frame : DataFrame
        Numbers are shown with `digits` significant digits, texts as they are. Columns named
        `evidence` or `status` show their words with a sign, `verdict` too. A column of empty texts
        is left out.
    caption : str
    units : mapping of column to unit, optional
    wide : names of columns with long texts
    rows : int
        Most rows shown; the caption says what is left out.
    index : bool
        Whether the index heads each row.
    """
    if not len(frame):
        return Html()
    units, wide = units or {}, set(wide)
    shown = frame.iloc[:rows]
    if len(frame) > rows:
        caption = f"{caption} (first {rows} of {len(frame)} rows)"
    columns = [
        Column(
            name=name,
            values=_with_signs(name, shown.iloc[:, at].tolist()),
            text=not pd.api.types.is_numeric_dtype(dtype),
            unit=units.get(name, ""),
            wide=name in wide,
        )
        for at, (name, dtype) in enumerate(shown.dtypes.items())
    ]
    columns = [one for one in columns if not one.text or any(v != "" for v in one.values)]
    head = frame.index.name or ""
    return columns_table(columns, caption, shown.index if index else None, head, digits)


def _breakable(label: Label) -> str:
    """A label whose long name may break at its underscores."""
    text = _inert(label)
    return (
        text.replace("_", "_<wbr>") if len(text) > _SHORT and not isinstance(label, Html) else text
    )


#: The words of these columns stand with their sign.
_SIGNED: dict[Label, tuple[Mapping, Callable]] = {
    **dict.fromkeys(("evidence", "status"), (STATUSES, evidence)),
    "verdict": (SIGNS, verdict),
}


def _with_signs(name: Label, values: list) -> list:
    words, shown = _SIGNED.get(name, ((), str))
    return [shown(value) if value in words else value for value in values]


# More columns than these stand closer together.
_MANY = 6
# Where a notebook is not trusted yet, style sheets are taken out of it, but not these.
_LEFT, _BOLD = ' style="text-align:left"', "font-weight:600"
# A text of so many letters stands on one line.
_SHORT = 13
# How the names of columns end in their unit, where not in its own letters.
_ENDINGS = {"": "", "1": "", "°C": "_C", "%": "_pct", "kN m": "_kNm", "1/s": "_1_s", "wt%": "_pct"}


class Column(NamedTuple):
    """One column of a table.

    Parameters
    ----------
    name : what stands above it
    values : numbers, texts or Html
    text : bool
        Whether it holds texts, which stand at the left and may wrap.
    unit : str
        Stands under the name.
    wide : bool
        Whether its texts are long.
    exact : list of numbers, optional
        Stand with all their digits in the cells, as `data-value`, for whoever reads the page.
    """

    name: Label
    values: list
    text: bool = False
    unit: str = ""
    wide: bool = False
    exact: list | None = None

    @property
    def head(self) -> str:
        """Its heading as HTML."""
        unit = f'<br><span class="s">{escape(self.unit)}</span>' if self.unit else ""
        kind = f'{_LEFT} class="t"' if self.text else ""
        return f'<th scope="col"{kind}>{escape(self.title)}{unit}</th>'

    @property
    def title(self) -> str:
        """Its name as one reads it: the unit stands below."""
        return (
            str(self.name).removesuffix(_ENDINGS.get(self.unit, f"_{self.unit}")).replace("_", " ")
        )

    def cells(self, digits: int) -> list[str]:
        """Its cells as HTML, which know their heading for a narrow page."""
        short = self.text and all(len(str(v)) <= _SHORT for v in self.values)
        kind = "t w" if self.wide else "t n" if short else "t" if self.text else ""
        kind = f'{"" if short else _LEFT} class="{kind}"' if kind else ""
        name = escape(f"{self.title} {self.unit}".strip())
        start = f'<td{kind} data-h="{name}"' if name else f"<td{kind}"
        shown = (_breakable(v) if isinstance(v, str) else number(v, digits) for v in self.values)
        if self.exact is None:
            return [f"{start}>{text}</td>" for text in shown]
        pairs = zip(self.exact, shown, strict=True)
        return [f'{start} data-value="{exact(value)}">{text}</td>' for value, text in pairs]


def columns_table(
    columns: Iterable[Column],
    caption: str,
    labels: Iterable[Label] | None = None,
    head: str = "",
    digits: int = 4,
    relations: Sequence[str] = (),
    **attributes: object,
) -> Html:
    """Return a table as `table` does, of columns and without pandas.

    Parameters
    ----------
    columns : iterable of Column, of one length
    caption : str
    labels : iterable, optional
        What heads each row; nothing does if they are left out.
    head : str
        What stands above the labels.
    digits : int
        Significant digits of the numbers.
    relations : names, optional
        Of the relations that the rows are about, which they carry as `data-relation`.
    **attributes
        Of the table element.

    Returns
    -------
    Html

    Examples
    --------
    >>> columns_table([Column("Cr", [18.2])], "wt%", ["H1"])[-73:]
    '<tr><th scope="row">H1</th><td data-h="Cr">18.2</td></tr></tbody></table>'
    """
    columns = list(columns)
    heads, parts = [one.head for one in columns], [one.cells(digits) for one in columns]
    if labels is not None:
        heads.insert(0, f'<th scope="col" class="t">{escape(head)}</th>')
        parts.insert(0, [f'<th scope="row">{_breakable(label)}</th>' for label in labels])
    rows = ["".join(row) for row in zip(*parts, strict=True)]
    marks = [f' data-relation="{escape(name)}"' for name in relations] or [""] * len(rows)
    body = "".join(f"<tr{mark}>{row}</tr>" for mark, row in zip(marks, rows, strict=True))
    inside = Html(f"<thead><tr>{''.join(heads)}</tr></thead><tbody>{body}</tbody>")
    if len(columns) > _MANY:
        attributes["class_"] = f"{attributes.get('class_', '')} d".strip()
    return tag("table", tag("caption", caption) if caption else "", inside, **attributes)


def leads(*lines: str) -> Html:
    """Return the answer in a sentence; what is to be known before it stands above, in small."""
    *above, answer = lines
    small_bold = f"{_BOLD};font-size:13px"
    first = [tag("p", line, style=small_bold, class_="lead") for line in above]
    return Html("".join([*first, tag("p", answer, style=_BOLD, class_="lead")]))


def panel(*parts: Part, lead: str | Sequence[str] = "") -> Html:
    """Return parts in one block with the style of the library.

    Parameters
    ----------
    *parts : Html, str, Element
        As in `flow`: the table of the answer first, then what stands behind `details`.
    lead : str, or several
        The answer in one sentence, which stands first, after what is to be known before it.
    """
    first = leads(*([lead] if isinstance(lead, str) else lead)) if lead else ""
    return Html(f'{STYLE}<div class="gk">{first}{flow(parts)}</div>')
