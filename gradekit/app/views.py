"""What the explorers show, as strings of HTML and SVG. Nothing here knows of widgets."""

from __future__ import annotations

import re

from gradekit.core.markup import STYLE as TABLE_STYLE
from gradekit.core.markup import escape, images

__all__ = ["ABOUT_LIVE", "foldable", "overlay", "stacked", "still", "style", "tables"]

_OVERLAY = re.compile(r'<div class="gk-overlay">(.*?)</div>', re.S)
_TABLE = re.compile(r"<thead\b.*?</thead>|<tr\b.*?</tr>", re.S)
_HEAD = re.compile(r"<th\b[^>]*>(.*?)</th>", re.S)
_CELL = re.compile(r"<(t[dh])\b")
_TAG = re.compile(r"<[^>]*>")
REVIVE = (
    "This is a picture of the panel. To bring it to life, run the notebook: "
    "Run ▸ Run All Cells (in the page view, load the page again)."
)
ASLEEP = (
    "△ The kernel of this panel has ended: these are its last values. To bring it to life, run "
    "the notebook: Run ▸ Run All Cells."
)
ABOUT_LIVE = '<p class="gk-about-live">A live panel stands here while the notebook runs.</p>'

# Where it must be scrolled sideways the keyboard can do so.
_TABLES = '<div class="gk gk-tables" role="region" aria-label="values" tabindex="0">'
_VALUES = """<style>
.gk-values th[scope=row]{white-space:normal;min-width:11em}.gk-values code{font-weight:400}
.gk .gk-values td.w{min-width:13em}.gk .gk-values th,.gk .gk-values td{padding:.15em .5em}
.gk-spread{max-width:44em;margin:.3em 0 .8em}.gk-spread p{margin:.1em 0}
</style>"""
# The moving part is one string: its wrappers are taken out of the layout, so that the overlay
# lies over the background and the tables go beneath, wherever the page is wide enough for both.
# `.gk-live.gk-live` outweighs the styles of still pictures, which may come later in the page.
_STYLE = """<style>
.gk-panel,.gk-live{container-type:inline-size;width:100%;
 color:var(--jp-ui-font-color1,inherit)}
.gk-live.gk-live :focus-visible{outline:2px solid #3b82c4!important;outline-offset:1px}
.gk-live.gk-live .gk th,.gk-live.gk-live .gk td,.gk-live.gk-live .gk .gk-said .n{white-space:normal}
.gk-live.gk-live .gk-tables :is(th,td){padding:.15em .45em}
.gk-live.gk-live .gk-tables td.t{min-width:5.3em}.gk-live.gk-live .gk td.w{min-width:9em}
.gk-live .widget-html-content{min-width:0}
.gk-panel .gk-stage{display:grid;grid-template-columns:minmax(18em,25em) minmax(0,1fr);
 gap:.4em 1.2em;align-items:start}
.gk-panel .gk-controls{grid-area:1/1}
.gk-panel .gk-moving{display:contents}
.gk-panel .gk-background,.gk-panel .gk-overlay{grid-area:1/2;margin:0}
.gk-panel .gk-background .widget-html-content{line-height:0;padding:0}
.gk-panel .gk-foot{grid-area:2/1/auto/-1}
.gk-panel .gk-tables{grid-area:3/1/auto/-1;min-width:0;overflow-x:auto}
.gk-overlay{line-height:0;pointer-events:none;position:relative;z-index:1}
.gk-background svg,.gk-overlay svg{width:100%;height:auto;display:block}
.gk-background svg svg{height:100%}
.gk-panel .gk-controls .jupyter-button{align-self:flex-start}
.gk-panel .gk-bar{display:flex;flex-flow:row wrap;align-items:center;gap:.1em .2em}
.gk-live .jupyter-widgets-disconnected::before{display:none}
.gk-live.jupyter-widgets-disconnected>*{pointer-events:none}
.gk-live.jupyter-widgets-disconnected::before{content:"__ASLEEP__";
 display:block;color:inherit;font:600 13px/1.45 var(--jp-ui-font-family,sans-serif);
 padding:.3em .6em;border-left:3px solid #c0392b;align-self:stretch}
[data-jp-theme-light=false] .gk-live .widget-dropdown>select{appearance:auto;
 background-image:none;color-scheme:dark}
@media print{.gk-live,.gk-live *{color:#000!important}}
@container (max-width:46em){
 .gk-panel .gk-stage{grid-template-columns:minmax(0,1fr)}
 .gk-panel .gk-background,.gk-panel .gk-overlay{grid-area:1/1}
 .gk-background svg,.gk-overlay svg{max-height:62vh}
 .gk-panel .gk-controls{grid-area:2/1;display:block;columns:18em 2;column-gap:1.2em}
 .gk-panel .gk-controls>*{break-inside:avoid}.gk-panel .gk-controls>:only-child{column-span:all}
 .gk-panel .gk-foot{grid-area:4/1/auto/-1}
 .gk-panel .gk-tables{grid-area:5/1/auto/-1}
 .gk-live.gk-live .gk :is(table,tbody,caption){display:block}
 .gk-live.gk-live .gk thead{position:absolute;height:1px;width:1px;overflow:hidden;
  clip-path:inset(50%)}
 .gk-live.gk-live .gk tr{display:flex;flex-flow:row wrap;gap:0 1em;padding:.25em 0;
  border-bottom:1px solid rgba(128,128,128,.3)}
 .gk-live.gk-live .gk :is(th,td):is(*,.gk-tables *){border:0;padding:0;text-align:left}
 .gk-live.gk-live .gk :is(th[scope=row],td.t,td.w){min-width:0}
 .gk-live.gk-live .gk td:empty{display:none}
 .gk-live.gk-live .gk :is(th[scope=row],td.w){flex:0 0 100%}
 .gk-live.gk-live .gk td[data-h]::before{content:attr(data-h)" ";opacity:.8}
 .gk-live.gk-live .gk td[data-h]::before{content:attr(data-h)" "/""}
}
</style>"""


def style(hide: str = "") -> str:
    """Return the style of a panel; `hide` is the class of its still picture."""
    hidden = f"<style>.{hide}{{display:none}}</style>" if hide else ""
    return TABLE_STYLE + _VALUES + _STYLE.replace("__ASLEEP__", ASLEEP) + hidden


def overlay(svg: str) -> str:
    """Return an SVG to be laid over the background."""
    return f'<div class="gk-overlay">{svg}</div>'


def stacked(*layers: str) -> str:
    """Return SVGs of one size as one SVG, the last on top."""
    box = re.search(r'viewBox="[^"]*"', layers[0]).group()
    return f'<svg xmlns="http://www.w3.org/2000/svg" role="none" {box}>{"".join(layers)}</svg>'


def tables(*parts: str) -> str:
    """Return tables and remarks that go beneath controls and figure."""
    return f"{_TABLES}{''.join(parts)}</div>"


def foldable(page: str) -> str:
    """Return a page whose cells know the heads of their columns.

    Where it is too narrow for a table, each row stands as a few lines, and the heads before the
    values in them.

    Examples
    --------
    >>> foldable("<thead><tr><th>heat</th><th>Cr<br>wt%</th></tr></thead>"
    ...          "<tr><th>H1</th><td>18</td></tr>").partition("</thead>")[2]
    '<tr><th>H1</th><td data-h="Cr wt%">18</td></tr>'
    """
    heads: list[str] = []

    def mend(found: re.Match) -> str:
        nonlocal heads
        row = found.group()
        if row.startswith("<thead"):
            heads = [_TAG.sub(" ", head).replace("  ", " ").strip() for head in _HEAD.findall(row)]
            return row
        names = iter(heads)

        def headed(cell: re.Match) -> str:
            name = next(names, "")
            return f'<td data-h="{name}"' if cell[1] == "td" and name else cell.group()

        return _CELL.sub(headed, row)

    return _TABLE.sub(mend, page)


def still(title: str, background: str, moving: str) -> str:
    """Return a panel as a page without a kernel shows it.

    Its pictures are images, which a notebook shows even while it is not trusted.
    """
    lead, found, rest = moving.partition(_TABLES)
    if background:
        figure = stacked(background, *_OVERLAY.findall(lead)) + _OVERLAY.sub("", lead)
    else:
        figure = lead
    return (
        f'{TABLE_STYLE}{_VALUES}<div class="gk"><p class="lead">{escape(title)}</p>'
        f"{images(figure + found + rest)}"
        f'<p class="s">{REVIVE}</p></div>'
    )
