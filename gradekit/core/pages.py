"""Pages to print or mail, filled from templates, and the way from a result to its page.

A result lives on a lower floor than the pages made of it. Its own methods (`report`, the table of
a notebook) ask for their page here, and the module is loaded when it is first asked for.
"""

from __future__ import annotations

from functools import cache
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING

from gradekit.core.markup import STYLE, Html, inline, verdict

if TYPE_CHECKING:
    from jinja2 import Environment

_PAGES = {"substitution": "gradekit.sheets.substitution"}


def page(name: str) -> ModuleType:
    """Return the module that lays out a page.

    Examples
    --------
    >>> page("substitution").__name__
    'gradekit.sheets.substitution'
    """
    return import_module(_PAGES[name])


def render(template: str, **values: object) -> Html:
    """Return a whole HTML page that fetches nothing; every text in it is escaped.

    Parameters
    ----------
    template : str
        Path below `gradekit/`; it extends `core/page.html`.
    **values
        What the template names; markup is `Html`.

    Examples
    --------
    >>> "<title>Cr &lt; 18</title>" in render("core/page.html", title="Cr < 18")
    True
    """
    return Html(_environment().get_template(template).render(**values))


@cache
def _environment() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(Path(__file__).parents[1]), autoescape=True, trim_blocks=True,
        lstrip_blocks=True, keep_trailing_newline=True,
        undefined=StrictUndefined,
    )  # fmt: skip
    environment.globals["table_style"] = Html(STYLE)
    environment.filters |= {"inline": inline, "verdict": verdict}
    return environment
