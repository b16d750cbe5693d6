"""What the explorers show: pictures and tables of one step, live or still. No widgets here."""

from __future__ import annotations

from typing import NamedTuple
from xml.etree.ElementTree import Element

from gradekit.core.markup import STYLE as TABLE_STYLE
from gradekit.core.markup import Html, Part, flow, inline, panel, small, tag
from gradekit.core.svg import stacked

REVIVE = (
    "This is a picture of the panel. To bring it to life, run the notebook: "
    "Run ▸ Run All Cells (in the page view, load the page again)."
)
ASLEEP = (
    "△ The kernel of this panel has ended: these are its last values. To bring it to life, run "
    "the notebook: Run ▸ Run All Cells."
)
ALONE = (
    "△ The kernel of this panel has ended. Values still follow what you type; to save, undo or "
    "copy, run the notebook: Run ▸ Run All Cells."
)
# A panel whose kernel is gone says 'model not found' above its still picture, which says it better.
NO_ERROR = (
    "<style>.jp-OutputArea-child:has(+.jp-OutputArea-child [class^=gk-still-])>"
    ".jupyter-widgets:not(:has(*)){display:none}</style>"
)
ABOUT_LIVE = '<p class="gk-about-live">A live panel stands here while the notebook runs.</p>'

VALUES = """<style>
.gk-values th[scope=row]{white-space:normal;min-width:11em}.gk-values code{font-weight:400}
.gk .gk-values td.w{min-width:13em}.gk .gk-values th,.gk .gk-values td{padding:.15em .5em}
.gk-spread{max-width:44em;margin:.3em 0 .8em}.gk-spread p{margin:.1em 0}
</style>"""
#: Numbers that are asked where they come from, and what stands below the one that is open.
ASKED = """<style>
.gk .gk-asked{all:unset;cursor:pointer;border-bottom:1px dotted currentColor;font:inherit;
 pointer-events:auto}
.gk .gk-asked:hover,.gk .gk-asked[aria-expanded=true]{border-bottom-style:solid}
.gk-values td:nth-child(2) .gk-asked{font-weight:700}
.gk .gk-about>td,div.gk-about{text-align:left;white-space:normal;line-height:1.45;
 padding:.4em .8em .8em;border-left:3px solid #3b82c4;pointer-events:auto}
.gk-about svg{max-width:100%;height:auto}.gk-about>td{flex:0 0 100%}
.gk .gk-told{display:grid;grid-template-columns:fit-content(11em) minmax(0,1fr);gap:.1em .8em;
 margin:.4em 0}
.gk .gk-told :is(dt,dd){float:none;width:auto;margin:0;padding:0;overflow-wrap:anywhere}
.gk .gk-told dt{font-weight:600}
@container (max-width:32em){.gk .gk-told{display:block}.gk .gk-told dd{margin:0 0 .3em .8em}}
</style>"""
# The moving part is one string: its wrappers are taken out of the layout, so that the overlay
# lies over the background and the tables go beneath, wherever the page is wide enough for both.
# What rests and what moves of a chart fill one box of one largest width, whatever their own styles
# say, so that a mark stands where the axes say. `.gk-live.gk-live` outweighs the styles of still
# pictures, which may come later in the page.
_LARGEST_CHART = 860
_STYLE = """<style>
.gk-panel,.gk-live{container-type:inline-size;width:100%;
 color:var(--jp-ui-font-color1,inherit)}
.gk-live.gk-live :focus-visible{outline:2px solid #3b82c4!important;outline-offset:1px}
.gk-live.gk-live .gk th,.gk-live.gk-live .gk td,.gk-live.gk-live .gk .gk-said .n{white-space:normal}
@container (min-width:46em){.gk-live.gk-live .gk-tables :is(th,td){padding:.15em .45em}
 .gk-live.gk-live .gk-tables td.t{min-width:5.3em}.gk-live.gk-live .gk td.w{min-width:9em}}
.gk-live .widget-html-content{min-width:0}
.gk-panel .gk-stage{display:grid;grid-template-columns:minmax(18em,25em) minmax(0,1fr);
 gap:.4em 1.2em;align-items:start}
.gk-panel .gk-side{grid-area:1/1;display:block;max-height:80vh;overflow:hidden auto}
.gk-panel .gk-moving{display:contents}
.gk-panel .gk-background,.gk-panel .gk-overlay{grid-area:1/2;margin:0;width:100%;
 max-width:__CHART__px}
.gk-panel .gk-background .widget-html-content{line-height:0;padding:0}
.gk-panel .gk-foot{grid-area:2/1/auto/-1}
.gk-panel .gk-tables{grid-area:3/1/auto/-1;min-width:0;overflow-x:auto}
.gk-overlay{line-height:0;pointer-events:none;position:relative;z-index:1}
.gk-background svg,.gk-overlay svg{width:100%;height:auto;display:block}
.gk-background svg svg{height:100%}
.gk-background svg,.gk-stage:has(.gk-background svg) .gk-overlay>svg{max-width:none!important}
.gk-panel .gk-controls .jupyter-button{align-self:flex-start}
.gk-panel .gk-bar{display:flex;flex-flow:row wrap;align-items:center;gap:.1em .2em}
.gk-live .jupyter-widgets-disconnected::before{display:none}
.gk-live.jupyter-widgets-disconnected:not(:has(.gk-drawn))>*,
.gk-live.jupyter-widgets-disconnected .gk-foot{pointer-events:none}
.gk-live.jupyter-widgets-disconnected:has(.gk-drawn)::before{content:"__ALONE__"!important}
.gk-live.jupyter-widgets-disconnected::before{content:"__ASLEEP__";
 display:block;color:inherit;font:600 13px/1.45 var(--jp-ui-font-family,sans-serif);
 padding:.3em .6em;border-left:3px solid #c0392b;align-self:stretch}
[data-jp-theme-light=false] .gk-live .widget-dropdown>select{appearance:auto;
 background-image:none;color-scheme:dark}
@media print{.gk-live,.gk-live *{color:#000!important}
 .gk-panel.gk-panel :is(.gk-side,.gk-overlay){max-height:none;overflow:visible}}
@container (max-width:46em){
 .gk-panel .gk-stage{grid-template-columns:minmax(0,1fr)}
 .gk-panel .gk-background,.gk-panel .gk-overlay{grid-area:1/1}
 .gk-background svg,.gk-overlay svg{max-height:max(45vh,13em)}
 .gk-panel .gk-overlay{max-height:max(47vh,14em);overflow:hidden auto}
 .gk-overlay:has(.lead) svg{max-height:max(23vh,10em)}
 .gk-stage:not(:has(.gk-background svg)) .gk-overlay{pointer-events:auto}
 .gk-panel .gk-side{grid-area:2/1;max-height:max(35vh,14em)}
 .gk-panel .gk-controls{display:block;columns:18em 2;column-gap:1.2em}
 .gk-panel .gk-controls>*{break-inside:avoid}.gk-panel .gk-controls>:only-child{column-span:all}
 .gk-panel .gk-foot{grid-area:4/1/auto/-1}
 .gk-panel .gk-tables{grid-area:5/1/auto/-1}
}
</style>"""


def style(hide: str = "") -> str:
    """Return the style of a panel; `hide` is the class of its still picture."""
    hidden = f"<style>.{hide}{{display:none}}</style>" if hide else ""
    return (
        TABLE_STYLE
        + VALUES
        + ASKED
        + _STYLE.replace("__CHART__", str(_LARGEST_CHART))
        .replace("__ASLEEP__", ASLEEP)
        .replace("__ALONE__", ALONE)
        + hidden
    )


class View(NamedTuple):
    """What a panel shows at one step.

    Parameters
    ----------
    figure : tuple of Html, str and Element
        Laid over the background if there is one, else beside the controls.
    below : tuple of the same
        Beneath controls and figure: tables and remarks.
    place : str
        Class of the block of `below`.
    """

    figure: tuple[Part, ...] = ()
    below: tuple[Part, ...] = ()
    place: str = "gk-tables"


def live(view: View) -> str:
    """Return the moving part of a panel as one string of HTML and SVG."""
    figure = tag("div", flow(view.figure, inline), class_="gk-overlay") if view.figure else ""
    # Where it must be scrolled sideways the keyboard can do so.
    name = "answer" if view.place == "gk-answer" else "values"
    return figure + tag(
        "div", flow(view.below, inline), class_=f"gk {view.place}", role="region",
        aria_label=name, tabindex=0,
    )  # fmt: skip


def still(title: str, background: Element | None, view: View) -> str:
    """Return a panel as a page without a kernel shows it.

    Its pictures are images, which a notebook shows even while it is not trusted.
    """
    figure = view.figure
    if background is not None:
        layers = [part for part in figure if isinstance(part, Element)]
        texts = [part for part in figure if not isinstance(part, Element)]
        figure = (stacked(background, *layers), *texts)
    return Html(VALUES + panel(*figure, *view.below, small(REVIVE), lead=title))
