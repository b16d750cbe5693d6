"""Tables and panels as HTML strings: escaped, captioned, readable without a kernel.

Colours follow the page (light or dark); meaning is carried by words and a sign.
"""

from __future__ import annotations

import html as _html
import math
import re
from collections.abc import Iterable, Mapping
from typing import NamedTuple
from urllib.parse import quote

import numpy as np
import pandas as pd

from gradekit.core.svg import document
from gradekit.core.verdicts import SIGNS, Verdict

__all__ = [
    "Column",
    "columns_table",
    "escape",
    "images",
    "number",
    "panel",
    "picture",
    "table",
    "verdict",
]

# What a data address may hold as it is, in quotes.
_PLAIN = " =/:;,.()+*!~-_'"
STYLE = """<style>
.gk{font:13px/1.45 var(--jp-ui-font-family,system-ui,sans-serif);
 color:var(--jp-ui-font-color1,inherit);
 max-width:100%;overflow-x:auto;margin:.4em 0}
.gk table{border-collapse:collapse;margin:.3em 0;font-variant-numeric:tabular-nums}
.gk caption{text-align:left;font-weight:600;padding:.2em 0}
.gk th,.gk td{padding:.15em .7em;text-align:right;border-bottom:1px solid rgba(128,128,128,.3);
 white-space:nowrap;vertical-align:top}
.gk thead th{border-bottom:2px solid rgba(128,128,128,.6);white-space:normal;vertical-align:bottom}
.gk td.t,.gk th.t,.gk tbody th{text-align:left}
.gk td.w{white-space:normal;min-width:16em;max-width:44em}
.gk .s{opacity:.75;font-size:12px}.gk .lead{font-size:15px;font-weight:600}
.gk ul{margin:.2em 0 .2em 1.2em;padding:0}
@media(max-width:900px){.gk tbody th,.gk td.t{white-space:normal;min-width:5em}}
@media print{.gk{overflow:visible}.gk,.gk *{color:#000!important}.gk table{font-size:9px}
 .gk th,.gk td{white-space:normal;min-width:0!important;padding:.1em .3em!important}}
</style>"""


def escape(value: object) -> str:
    """Return `value` as text that no browser takes for markup.

    Examples
    --------
    >>> escape("<b>H1</b>")
    '&lt;b&gt;H1&lt;/b&gt;'
    """
    return _html.escape(str(value), quote=True)


def number(value: object, digits: int = 4) -> str:
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


def picture(svg: str, words: str = "") -> str:
    """Return an SVG as an image element, with what it shows in words.

    A notebook that is not trusted yet, as every one is in a fresh clone, shows an image but only
    the letters of an SVG that stands in the page itself.

    Parameters
    ----------
    svg : str
        With a `viewBox` from 0 0.
    words : str, optional
        By default the labels and descriptions in the SVG.

    Examples
    --------
    >>> picture('<svg viewBox="0 0 8 6"></svg>', "nothing")[:46]
    '<img alt="nothing" width="8" src="data:image/s'
    """
    width, height = re.search(r"""viewBox=["']0 0 ([\d.]+) ([\d.]+)""", svg).groups()
    said = re.findall(r"""aria-label=(["'])(.*?)\1|<desc[^>]*>([^<]*)<""", svg)
    words = words or _html.unescape(" ".join(label or told for _, label, told in said))
    # An image has the size it states, and knows nothing of the colours of the page around it.
    head, rest = svg[: svg.index(">")], svg[svg.index(">") :]
    head = re.sub(r"(?:max-)?(?:width|height): ?[\w.%]+;? ?", "", head)
    head = re.sub(r""" (?:width|height)=["'][^"']*["']""", "", head)
    space = "" if "xmlns=" in head else ' xmlns="http://www.w3.org/2000/svg"'
    head = head.replace("<svg", f'<svg{space} width="{width}" height="{height}"', 1)
    # Nobody hears what is said inside of an image.
    content = quote(document(head + rest).replace("currentColor", "#777"), safe=_PLAIN)
    return f'<img alt="{escape(words)}" width="{width}" src="data:image/svg+xml,{content}">'


def images(page: str) -> str:
    """Return a page with each SVG in it as an image; see `picture`."""
    parts, depth, done, begin = [], 0, 0, 0
    for tag in re.finditer(r"<(/?)svg\b[^>]*>", page):
        depth += -1 if tag[1] else 1
        if depth == 1 and not tag[1]:
            begin = tag.start()
        elif depth == 0:
            parts += [page[done:begin], picture(page[begin : tag.end()])]
            done = tag.end()
    return "".join(parts) + page[done:]


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
) -> str:
    """Return a table with caption and header scopes; every text in it is inert.

    Parameters
    ----------
    frame : DataFrame
        Numbers are shown with `digits` significant digits, texts as they are.
    caption : str
    units : mapping of column to unit, optional
    wide : names of columns whose text may wrap
    rows : int
        Most rows shown; the caption says what is left out.
    index : bool
        Whether the index heads each row.
    """
    units, wide = units or {}, set(wide)
    shown = frame.iloc[:rows]
    if len(frame) > rows:
        caption = f"{caption} (first {rows} of {len(frame)} rows)"
    columns = [
        Column(
            name=name,
            values=shown.iloc[:, at].tolist(),
            text=not pd.api.types.is_numeric_dtype(dtype),
            unit=units.get(name, ""),
            wide=name in wide,
        )
        for at, (name, dtype) in enumerate(shown.dtypes.items())
    ]
    head = frame.index.name or ""
    return columns_table(columns, caption, shown.index if index else None, head, digits)


class Column(NamedTuple):
    """One column of a table.

    Parameters
    ----------
    name : what stands above it
    values : numbers or texts
    text : bool
        Whether it holds texts, which stand at the left.
    unit : str
        Stands under the name.
    wide : bool
        Whether its texts may wrap.
    """

    name: object
    values: list
    text: bool = False
    unit: str = ""
    wide: bool = False

    @property
    def head(self) -> str:
        """Its heading as HTML."""
        unit = f'<br><span class="s">{escape(self.unit)}</span>' if self.unit else ""
        kind = ' class="t"' if self.text else ""
        return f'<th scope="col"{kind}>{escape(self.name)}{unit}</th>'

    @property
    def cell(self) -> str:
        """The beginning of each of its cells."""
        kind = ' class="t w"' if self.wide else ' class="t"' if self.text else ""
        return f"<td{kind}>"


def columns_table(
    columns: Iterable[Column],
    caption: str,
    labels: Iterable[object] | None = None,
    head: str = "",
    digits: int = 4,
) -> str:
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

    Returns
    -------
    str

    Examples
    --------
    >>> columns_table([Column("Cr", [18.2])], "wt%", ["H1"])[-61:]
    '<tr><th scope="row">H1</th><td>18.2</td></tr></tbody></table>'
    """
    columns = list(columns)
    top = "" if labels is None else f'<th scope="col" class="t">{escape(head)}</th>'
    top += "".join(one.head for one in columns)
    starts = [one.cell for one in columns]
    rows = list(zip(*(one.values for one in columns), strict=True))
    if labels is None:
        heads = [""] * len(rows)
    else:
        heads = [f'<th scope="row">{escape(label)}</th>' for label in labels]
    body = []
    for cells, row in zip(heads, rows if columns else [()] * len(heads), strict=True):
        for start, value in zip(starts, row, strict=True):
            text = escape(value) if isinstance(value, str) else number(value, digits)
            cells += f"{start}{text}</td>"
        body.append(f"<tr>{cells}</tr>")
    return (
        f"<table><caption>{escape(caption)}</caption><thead><tr>{top}</tr></thead>"
        f"<tbody>{''.join(body)}</tbody></table>"
    )


def panel(*parts: str, lead: str = "") -> str:
    """Return parts in one block with the style of the library; `lead` is the first line.

    An SVG in it becomes an image.
    """
    first = f'<p class="lead">{escape(lead)}</p>' if lead else ""
    return f'{STYLE}<div class="gk">{first}{images("".join(parts))}</div>'
