"""Constitution diagrams: geometry, placing, reading, dilution, solidification."""

from gradekit.core.rooms import open_room

open_room(
    __name__,
    {
        "constitution": "Diagram diagram load_diagram",
        "criteria": "solidification_limits",
        "dilution": "buttering weld",
        "solidification": "solidification",
    },
)
