"""One step at a time, whatever threads of the kernel the messages of a page come on.

With its subshells a kernel may hand what was typed to one thread and a press of a button to
another. Started by our launcher JupyterLab asks for none, which keeps them in order, too.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from threading import RLock
from typing import Any

_TURN = RLock()


def in_turn(action: Callable) -> Callable:
    """Return an action that waits until the one before it is done, of whatever panel.

    Examples
    --------
    >>> in_turn(max)(2, 3)
    3
    """

    @wraps(action)
    def step(*arguments: Any) -> Any:
        with _TURN:
            return action(*arguments)

    return step
