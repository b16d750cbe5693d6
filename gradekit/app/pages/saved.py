"""One file of HTML that goes on answering without Python, without a server, without a network."""

from __future__ import annotations

import base64
import datetime
import hashlib
import math
import os
import sys
from functools import cache
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element

from gradekit.app.pages.content import Group, PageContent
from gradekit.app.pages.model import engine, json_text
from gradekit.core.files import write_whole
from gradekit.core.flags import Flag, flag_words
from gradekit.core.markup import Html, inline, number
from gradekit.core.pages import render
from gradekit.diagrams.constitution import Diagram
from gradekit.pictures.draw import background
from gradekit.pictures.marks import Mark
from gradekit.pictures.overlay import overlay
from gradekit.relations.declaration import CONDITIONS
from gradekit.relations.evaluate import evaluate

__all__ = ["CAUTIONS", "page_text", "save_page"]

WIDTH = 640
#: What stands on every page; the caution of each diagram comes with it.
CAUTIONS = (
    "Values are computed from published relations, inside and outside the ranges for which they "
    "were made; what is to be said of each stands beside it.",
    "No value here replaces a test, a certificate, a design code or the standard in force, nor the "
    "judgement of a licensed engineer where safety rests on it.",
)


def save_page(content: PageContent, path: str | os.PathLike[str]) -> Path:
    """Write a page and return its path.

    Parameters
    ----------
    content : PageContent
    path : path of an HTML file
    """
    return write_whole(path, page_text(content))


def page_text(content: PageContent) -> str:
    """Return a page as text: readable without scripts, live with them, asking nothing of anyone."""
    result = evaluate(dict(content.metal), list(content.relations), **_conditions(content))
    (heat,) = result.heats.index
    values, flags, errors = result.row(heat)
    rows = [
        {
            "name": r.name,
            "title": r.title,
            "exact": repr(float(v)) if math.isfinite(v) else "",
            "value": number(float(v), 4),
            "unit": "" if r.unit == "1" else r.unit,
            "error": number(float(e), 3) if math.isfinite(e) else "",
            "status": r.status,
            "words": Flag(int(f) & ~int(Flag.RANGE_NOT_STATED)).words(),
            "formula": r.formula,
            "domain": r.domain,
            "basis": r.error_basis,
            "citation": r.citation,
        }
        for r, v, f, e in zip(content.relations, values, flags, errors, strict=True)
    ]
    charts = [_chart(drawn, content) for drawn in content.diagrams]
    script = _script(content, [chart["data"] for chart in charts])
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    return render(
        "app/pages/explorer.html",
        title=content.title,
        answer=content.lead,
        groups=[_boxes(group) for group in content.groups],
        charts=charts,
        place=f"{content.diagrams[0].title}. {content.diagrams[0].caution}." if charts else "",
        rows=rows,
        cautions=[*CAUTIONS, *(f"{d.title}: {d.caution}." for d in content.diagrams)],
        version=sys.modules["gradekit"].__version__,
        date=datetime.date.today().isoformat(),
        css=Html(_text("explorer.css")),
        script=Html(script),
        script_hash=f"sha256-{digest}",
    )


def _script(content: PageContent, charts: list[dict]) -> str:
    spec: dict[str, Any] = {
        "kind": content.kind,
        "lead": content.lead,
        "relations": [r.name for r in content.relations],
        "charts": charts,
        "heats": {name: dict(contents) for name, contents in content.heats.items()},
        "flagWords": flag_words(),
    }
    script = engine(content.relations, content.diagrams)
    return f"\n'use strict';\n{script}\nconst page={json_text(spec)};\n{_text('explorer.js')}"


def _chart(drawn: Diagram, content: PageContent) -> dict:
    picture, to_px = background(drawn, WIDTH)
    spot = drawn.spots(dict(content.metal))[0]
    marks = [Mark(spot.x, spot.y, "trial")] if math.isfinite(spot.x + spot.y) else []
    layer: Element = overlay(to_px, marks, words=content.lead or drawn.title)
    layer.set("class", "moving")
    return {
        "name": drawn.name,
        "title": drawn.title,
        "picture": inline(picture),
        "overlay": inline(layer),
        "data": {
            "name": drawn.name,
            "width": to_px.width,
            "box": list(to_px.box),
            "x": list(to_px.x_range),
            "y": list(to_px.y_range),
        },
    }


def _boxes(group: Group) -> dict:
    boxes = []
    for field in group.fields:
        value = group.values.get(field.name)
        name = CONDITIONS.get(field.name, field.label or field.name)
        if group.key in ("first", "second", "wire"):
            name = f"{field.name}, {group.title}"
        boxes.append(
            {
                "key": field.name,
                "name": name,
                "label": field.label or field.name,
                "title": field.title,
                "step": field.step,
                "value": "" if value is None or not math.isfinite(value) else f"{value:.12g}",
            }
        )
    return {"key": group.key, "title": group.title, "boxes": boxes}


def _conditions(content: PageContent) -> dict[str, float]:
    given = {}
    for group in content.groups:
        if group.key == "conditions":
            given = {k: v for k, v in group.values.items() if v is not None and math.isfinite(v)}
    return given


@cache
def _text(name: str) -> str:
    return Path(__file__).with_name(name).read_text(encoding="utf-8")
