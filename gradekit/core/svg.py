"""The same picture in fewer letters: what an SVG says twice, or to nobody, goes."""

from __future__ import annotations

import re
from collections import Counter
from itertools import count

__all__ = ["compact", "document"]

_TAG = re.compile(r"<[^>]*>")
_STEP = re.compile(r"[A-Za-z]|-?[\d.]+")
# So many letters a rule of its own must save.
_WORTH = 20


def compact(svg: str) -> str:
    """Return an SVG without bare groups, with two decimals a coordinate and terse paths.

    Parameters
    ----------
    svg : str
        Or what stands inside of one.

    Examples
    --------
    >>> compact('<g><path d="M 1.2345 2.00 L 3 -4.5 L 5 6 z " style="fill: none"/></g>')
    '<path d="M1.23 2 3-4.5 5 6z" style="fill:none"/>'
    """
    return _without_bare_groups(_TAG.sub(_terse, svg))


def document(svg: str) -> str:
    """Return an SVG that stands in no page: repeated styles are rules, names are short.

    Inside of a page its rules would reach other elements, and its names would meet others.
    """
    svg = re.sub(r"<(title|desc)\b[^>]*>.*?</\1>", "", svg, flags=re.S)
    names = (f"i{k}" for k in count())
    short = {old: next(names) for old in re.findall(r'<[^>]*\bid="([^"]*)"', svg)}
    # Names before rules, for a rule may hold a name; quotes last.
    svg = _with_rules(_TAG.sub(lambda tag: _alone(tag[0], short), svg))
    return _TAG.sub(lambda tag: tag[0] if "'" in tag[0] else tag[0].replace('"', "'"), svg)


def _alone(tag: str, short: dict[str, str]) -> str:
    """A tag with short names, and nothing for those who hear a page."""
    tag = re.sub(r""" (?:aria-\w+|role)=(["']).*?\1""", "", tag)
    tag = re.sub(r' xmlns:xlink="[^"]*"', "", tag).replace(" xlink:href=", " href=")
    tag = re.sub(r'\bid="([^"]*)"', lambda m: f'id="{short[m[1]]}"', tag)
    return re.sub(r'(href="|url\()#([^")]*)', lambda m: f"{m[1]}#{short.get(m[2], m[2])}", tag)


def _terse(tag: re.Match) -> str:
    """A tag in fewer letters; what is written between tags stays."""
    text = re.sub(r"(?<![\w#.])-?\d+\.\d+", _rounded, tag[0])
    text = re.sub(r' style="([^"]*)"', lambda m: f' style="{_tight(m[1])}"', text)
    return re.sub(r'(?<= d=")[^"]*', lambda m: _path(m[0]), text)


def _rounded(found: re.Match) -> str:
    text = f"{float(found[0]):.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def _tight(style: str) -> str:
    return re.sub(r"([:;,]) +", r"\1", style).strip("; ")


def _path(data: str) -> str:
    """A path that names a way of going only where it changes, as the letters M L C … go on."""
    out, going = "", ""
    for step in _STEP.findall(data):
        if step.isalpha():
            if step != going or step in "Mm":
                out, going = out + step, {"M": "L", "m": "l"}.get(step, step)
        else:
            out += step if out[-1:].isalpha() or step[0] == "-" else f" {step}"
    return out


def _without_bare_groups(svg: str) -> str:
    parts, kept, done = [], [], 0
    for tag in re.finditer(r"<g\b[^>]*>|</g>", svg):
        if tag[0].endswith("/>"):
            continue
        keeps = kept.pop() if tag[0] == "</g>" else tag[0] != "<g>"
        if tag[0] != "</g>":
            kept.append(keeps)
        if not keeps:
            parts.append(svg[done : tag.start()])
            done = tag.end()
    return "".join(parts) + svg[done:]


def _with_rules(svg: str) -> str:
    """Write each style that comes often once, as a rule."""
    styles = Counter(re.findall(r'<[^>]* style="([^"]*)"', svg))
    often = [s for s, n in styles.items() if (n - 1) * len(s) - 4 * n > _WORTH]
    rules = ""
    for k, style in enumerate(often):
        svg = svg.replace(f' style="{style}"', f' class="c{k}"')
        rules += f".c{k}{{{style}}}"
    head = svg.index(">") + 1
    return f"{svg[:head]}<style>{rules}</style>{svg[head:]}" if rules else svg
