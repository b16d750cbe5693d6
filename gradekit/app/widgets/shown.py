"""How a live thing is shown: a widget, and beneath it what is read where no kernel runs."""

from __future__ import annotations

from threading import Timer
from typing import Any

import ipywidgets as widgets
from IPython import get_ipython
from IPython.display import DisplayHandle, display

from gradekit.app import views
from gradekit.app.widgets.turns import in_turn

#: Seconds without a change after which the still picture beneath a panel is made again.
REST = 1.5


class Shown:
    """Base of everything that lives in a notebook; its root has the class `gk-live`.

    A subclass defines `_repr_html_` and calls `arrange` with what stands on the page.
    """

    title = ""
    root: widgets.DOMWidget
    _still: DisplayHandle | None = None
    _later: Timer | None = None

    def arrange(self, *parts: widgets.Widget, look: str = "") -> None:
        """Put widgets one below the other, with a style that hides the still picture meanwhile."""
        style = widgets.HTML()
        self.root = widgets.VBox([style, *parts])
        if look:
            self.root.add_class(look)
        style.value = views.style(hide=self._still_class)

    @property
    def _still_class(self) -> str:
        return f"gk-still-{self.root.model_id}"

    def _repr_html_(self) -> str:
        raise NotImplementedError

    def _repr_mimebundle_(self, **kwargs: Any) -> dict:
        bundle = self.root.add_class("gk-live")._repr_mimebundle_(**kwargs)
        return {**bundle, "text/html": self._repr_html_(), "text/plain": repr(self)}

    def _ipython_display_(self) -> None:
        # Two outputs: where the first is dead ('model not found'), the second is read instead.
        live = self.root.add_class("gk-live")._repr_mimebundle_()
        display({**live, "text/html": views.ABOUT_LIVE, "text/plain": repr(self)}, raw=True)
        self._still = display(self._still_page(), raw=True, display_id=True)

    def _still_page(self) -> dict[str, str]:
        page = f'{views.NO_ERROR}<div class="{self._still_class}">{self._repr_html_()}</div>'
        return {"text/html": page, "text/plain": ""}

    def moved(self) -> None:
        """Note that something else is shown: once the page rests, the still picture follows.

        A notebook that is saved and opened again then shows the last answer. What code has changed
        is left as it was displayed, so that a notebook that is run gives the same each time.
        """
        if self._still is None or not _asked_by_page():
            return
        if self._later is not None:
            self._later.cancel()
        self._later = Timer(REST, in_turn(self._renew))
        self._later.daemon = True
        self._later.start()

    def _renew(self) -> None:
        if self._still is not None:
            self._still.update(self._still_page(), raw=True)

    def __repr__(self) -> str:
        return f"{self.title} (live where a kernel runs)"


def _asked_by_page() -> bool:
    """Tell whether a control in a page asked for what is done now, and not a cell that runs."""
    kernel = getattr(get_ipython(), "kernel", None)
    asked = kernel.get_parent() if kernel is not None else {}
    return str(asked.get("header", {}).get("msg_type", "")).startswith("comm")
