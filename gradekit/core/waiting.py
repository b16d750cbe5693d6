"""A bar for work that takes long: in a notebook on the page, elsewhere a line."""

from __future__ import annotations

import sys
import time
from typing import Any

#: Seconds after which somebody who waits is shown how far it is.
PATIENCE = 3.0
_LENGTH = 24


class Waiting:
    """Shows how far a piece of work is, once it takes longer than three seconds.

    Parameters
    ----------
    what : str
        The work, in a few words.

    Examples
    --------
    >>> told = Waiting("reading")
    >>> told("claims", 0.5)
    >>> told.line
    'reading: ############------------ 50 % · claims'
    """

    def __init__(self, what: str):
        self.what, self.line = what, ""
        self._begin, self._shown = time.monotonic(), False
        self._handle: Any = None

    def __call__(self, step: str, share: float) -> None:
        """Note what is done next and which share is done; 1.0 takes the bar away."""
        full = round(_LENGTH * share)
        bar = "#" * full + "-" * (_LENGTH - full)
        self.line = f"{self.what}: {bar} {100 * share:.0f} % · {step}"
        over = share >= 1.0
        if not self._shown and (over or time.monotonic() - self._begin < PATIENCE):
            return
        self._shown = True
        if not self._in_page("" if over else self.line):
            print("\n" if over else f"\r{self.line:79.79}", end="", file=sys.stderr, flush=True)

    def _in_page(self, text: str) -> bool:
        """Show the line in the notebook that runs, and return whether there is one."""
        shell = getattr(sys.modules.get("IPython"), "get_ipython", lambda: None)()
        if shell is None or not hasattr(shell, "kernel"):
            return False
        from IPython.display import display

        page = {"text/plain": text}
        if self._handle is None:
            self._handle = display(page, raw=True, display_id=True)
        else:
            self._handle.update(page, raw=True)
        return True
