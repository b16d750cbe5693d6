"""From the composition of a stainless steel to what a grade designer has to answer."""

from gradekit.composition import about, as_batch, bounds, messages
from gradekit.elements import to_atomic_percent, to_weight_percent
from gradekit.errors import InputError
from gradekit.evaluate import Result, catalogue, evaluate, spread
from gradekit.explain import explain
from gradekit.flags import Flag
from gradekit.relation import Check, Function, Linear

__version__ = "0.1.0"

__all__ = [
    "Check",
    "Flag",
    "Function",
    "InputError",
    "Linear",
    "Result",
    "about",
    "as_batch",
    "bounds",
    "catalogue",
    "evaluate",
    "explain",
    "messages",
    "spread",
    "to_atomic_percent",
    "to_weight_percent",
]
