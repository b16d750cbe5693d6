"""What a service asks of a steel, criterion by criterion."""

from gradekit.core.rooms import open_room

open_room(
    __name__,
    {
        "candidate": "works_grade",
        "comparison": "compare_grades",
        "exposure": "Atmosphere",
        "needs": "Service",
        "stock": "read_stock",
    },
)
