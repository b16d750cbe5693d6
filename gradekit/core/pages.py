"""How a result finds the page that shows it, without importing the room of pages.

A result lives on a lower floor than the pages made of it. Its own methods (`report`, the table of
a notebook) ask for their page here, and the module is loaded when it is first asked for.
"""

from importlib import import_module
from types import ModuleType

__all__ = ["page"]

_PAGES = {"substitution": "gradekit.sheets.substitution"}


def page(name: str) -> ModuleType:
    """Return the module that lays out a page.

    Examples
    --------
    >>> page("substitution").__name__
    'gradekit.sheets.substitution'
    """
    return import_module(_PAGES[name])
