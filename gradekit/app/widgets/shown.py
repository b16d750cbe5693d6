"""How a live thing is shown: a widget, and beneath it what is read where no kernel runs."""

from __future__ import annotations

import ipywidgets as widgets
from IPython.display import display

from gradekit.app import views

__all__ = ["Shown"]


class Shown:
    """Base of everything that lives in a notebook; its root has the class `gk-live`.

    A subclass sets `root` (a widget), defines `_repr_html_`, and puts
    `views.style(hide=self._still_class)` into an HTML widget of its own, so that the still picture
    is hidden while it lives.
    """

    title = ""
    root: widgets.Widget | None = None

    @property
    def _still_class(self) -> str:
        return f"gk-still-{self.root.model_id}"

    def _repr_html_(self) -> str:
        raise NotImplementedError

    def _repr_mimebundle_(self, **kwargs: object) -> dict:
        bundle = self.root.add_class("gk-live")._repr_mimebundle_(**kwargs)
        return {**bundle, "text/html": self._repr_html_(), "text/plain": repr(self)}

    def _ipython_display_(self) -> None:
        # Two outputs: where the first is dead ('model not found'), the second is read instead.
        live = self.root.add_class("gk-live")._repr_mimebundle_()
        display({**live, "text/html": views.ABOUT_LIVE, "text/plain": repr(self)}, raw=True)
        display({"text/html": f'<div class="{self._still_class}">{self._repr_html_()}</div>',
                 "text/plain": ""}, raw=True)  # fmt: skip

    def __repr__(self) -> str:
        return f"{self.title} (live where a kernel runs)"
