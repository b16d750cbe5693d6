"""Rooms of the library whose public names load on first use and stand in `help` a line each."""

from __future__ import annotations

import inspect
import sys
from collections.abc import Mapping
from importlib import import_module
from types import ModuleType
from typing import Any

from gradekit.core.errors import nearest


class _Room(ModuleType):
    """A package as its users see it: its public names, whatever its modules are called."""

    def __getattr__(self, name: str) -> Any:
        public = self.__dict__.get("_public", {})
        if name in self.__dict__.get("_rooms", ()):
            return import_module(f"{self.__name__}.{name}")
        if name not in public:
            close = nearest(name, public)
            hint = f"; nearest {close}" if close else ""
            raise AttributeError(f"{self.__name__} has no public name '{name}'{hint}")
        value = getattr(import_module(public[name]), name)
        self.__dict__[name] = value
        return value

    def __setattr__(self, name: str, value: object) -> None:
        # the import system hangs every submodule on its package, also under a public name
        if not (name in self.__dict__.get("_public", ()) and isinstance(value, ModuleType)):
            super().__setattr__(name, value)

    def __dir__(self) -> list[str]:
        return sorted([*self.__dict__.get("_public", ()), *self.__dict__.get("_rooms", ())])

    @property
    def __doc__(self) -> str | None:  # type: ignore[override]
        names = dir(self)
        width = max(map(len, names), default=0)
        lines = [f"{n:{width}}  {_summary(getattr(self, n))}" for n in names]
        return "\n".join([self.__dict__["__doc__"], "", *lines])


def _summary(value: object) -> str:
    if isinstance(value, _Room):  # its own line only: the rest would load all that is in it
        return value.__dict__["__doc__"].partition("\n")[0]
    return (inspect.getdoc(value) or "").partition("\n")[0]


def open_room(package: str, public: Mapping[str, str], rooms: str = "") -> list[str]:
    """Give a package public names that load when they are first asked for.

    Parameters
    ----------
    package : str
        Its `__name__`, said in its `__init__`.
    public : mapping of module to names
        The module or room inside the package, and what of its names is public, in one text.
    rooms : str
        Rooms inside that are public too.

    Returns
    -------
    list of str
        The public names.

    Examples
    --------
    >>> import gradekit.works
    >>> "hot_schedule" in dir(gradekit.works)
    True
    """
    room = sys.modules[package]
    room.__class__ = _Room
    names = {n: f"{package}.{module}" for module, some in public.items() for n in some.split()}
    room.__dict__.update(_public=names, _rooms=rooms.split())
    return list(names)
