"""Every published relation, declared once, one module a topic; values, shares and reasons."""

from gradekit.core.rooms import open_room

open_room(
    __name__,
    {
        "declaration": "Bands Check Function Linear",
        "evaluate": "Result evaluate spread",
        "explain": "explain",
        "listing": "catalogue weights",
        "why": "why",
    },
)
