"""One file of HTML that goes on answering without Python, without a server, without a network."""

from __future__ import annotations

import base64
import datetime
import hashlib
import math
import sys
from collections.abc import Mapping
from typing import Any
from xml.etree.ElementTree import Element

from gradekit.app.pages.drawing import CHART_WIDTH, START, Group, PageContent, script, spec_of
from gradekit.app.pages.model import text_of
from gradekit.app.views import ASKED, VALUES
from gradekit.app.widgets.numbers import Field
from gradekit.core.markup import Html, flow, inline
from gradekit.core.pages import render
from gradekit.diagrams.constitution import Diagram
from gradekit.pictures.draw import background
from gradekit.pictures.marks import Mark
from gradekit.pictures.overlay import overlay
from gradekit.relations.declaration import CONDITIONS

#: What stands on every page; the caution of each diagram comes with it.
PAGE_CAUTIONS = (
    "Values are computed from published relations, inside and outside the ranges for which they "
    "were made; what is to be said of each stands beside it.",
    "No value here replaces a test, a certificate, a design code or the standard in force, nor the "
    "judgement of a licensed engineer where safety rests on it.",
)


def page_text(content: PageContent) -> str:
    """Return a page as text: readable without scripts, live with them, asking nothing of anyone."""
    return render(
        "app/pages/explorer.html",
        title=content.title,
        one=shown("explorer", content),
        relations=content.relations,
        cautions=[*PAGE_CAUTIONS, *(f"{d.title}: {d.caution}." for d in content.diagrams)],
        **inlined("explorer.css", script=explorers_script({"explorer": content})),
    )


def explorers_script(contents: Mapping[str, PageContent]) -> str:
    """Return the script that brings explorers to life, each in the place of its key."""
    specs = {key: _spec(one) for key, one in contents.items()}
    return script([*contents.values()], {"explorers": specs}, "saved.js")


def shown(key: str, content: PageContent) -> dict[str, Any]:
    """Return what `explorer_part.html` shows of an explorer, as it stands without scripts."""
    first = content.diagrams[0] if content.diagrams else None
    return {
        "key": key,
        "title": content.title,
        "answer": content.lead,
        "groups": [_boxes(group) for group in content.groups],
        "charts": [_chart(drawn, content) for drawn in content.diagrams],
        "figure": Html() if first else flow(content.view.figure, inline),
        "below": flow(content.view.below, inline),
        "caution": f"{first.title}. {first.caution}." if first else "",
    }


def inlined(*styles: str, **scripts: str) -> dict[str, Any]:
    """Return what a page holds: scripts and the policy that lets these alone run, styles, date."""
    texts = {name: f"\n'use strict';\n{text}" for name, text in scripts.items()}
    digests = (hashlib.sha256(text.encode()).digest() for text in texts.values())
    return {
        **{name: Html(text) for name, text in texts.items()},
        "scripts": " ".join(f"'sha256-{base64.b64encode(d).decode()}'" for d in digests),
        "css": Html("".join(map(text_of, styles))),
        "values_style": Html(VALUES + ASKED),
        "version": sys.modules["gradekit"].__version__,
        "date": datetime.date.today().isoformat(),
    }


def _spec(content: PageContent) -> dict[str, Any]:
    spec = spec_of(content) | {"reference": START}
    if content.heats:
        spec["heats"] = {name: dict(contents) for name, contents in content.heats.items()}
    if parts := [group for group in content.groups if group.heat]:
        spec["names"] = {group.key: group.heat for group in parts}
        spec["blank"] = dict.fromkeys(f.name for group in parts for f in group.fields)
    return spec


def _chart(drawn: Diagram, content: PageContent) -> dict:
    picture, to_px = background(drawn, CHART_WIDTH)
    spot = drawn.spots(dict(content.metal))[0]
    marks = [Mark(spot.x, spot.y, "trial")] if math.isfinite(spot.x + spot.y) else []
    layer: Element = overlay(to_px, marks, words=content.lead or drawn.title)
    layer.set("class", "moving")
    pictures = {"picture": inline(picture), "overlay": inline(layer)}
    return {"name": drawn.name, "title": drawn.title, **pictures}


def _boxes(group: Group) -> dict:
    title = f"{group.title}: {group.heat}" if group.heat else group.title
    boxes = [_box(field, group) for field in group.fields]
    return {"key": group.key, "title": title, "boxes": boxes}


def _box(field: Field, group: Group) -> dict:
    value = group.values.get(field.name)
    name = CONDITIONS.get(field.name, field.label or field.name)
    return {
        "key": field.name,
        "name": f"{field.name}, {group.title}" if group.heat else name,
        "label": field.label or field.name,
        "title": field.title,
        "step": field.step,
        "unit": field.unit,
        "least": "" if field.least is None else f"{field.least:g}",
        "most": "" if field.most is None else f"{field.most:g}",
        "value": "" if value is None or not math.isfinite(value) else f"{value:.12g}",
    }
