"""Working backwards: from a brief to an aim and a window that heats keep."""

from gradekit.core.rooms import open_room

open_room(
    __name__,
    {
        "backwards": "design_grade",
        "brief": "Brief",
        "result": "Design",
        "prices": "Prices read_prices",
        "screen.run": "screen survivors_of",
        "trials": "next_trials",
    },
)
