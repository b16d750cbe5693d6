"""From the composition of a stainless steel to what a grade designer has to answer."""

from gradekit.core.errors import InputError
from gradekit.core.flags import Flag
from gradekit.core.rooms import open_room
from gradekit.heats.batch import as_batch
from gradekit.heats.notes import about, messages
from gradekit.relations.collection import declared_later

__version__ = "0.2.0"

# A reading of a diagram is a relation too, declared by the room of the diagrams.
declared_later("gradekit.diagrams.readings")

__all__ = [
    "Flag",
    "InputError",
    "about",
    "as_batch",
    "messages",
    *open_room(
        __name__,
        {
            "app": "class_report course course_page explorer substitution",
            "design": "Brief design_grade next_trials read_prices screen",
            "diagrams": "diagram load_diagram",
            "heats": "read_heats reading_report write_heats",
            "pictures": "draw",
            "properties": "calibrate estimate fit_property",
            "relations": "catalogue evaluate explain spread why",
            "service": "Service compare_grades",
            "standards": "check_grade family grade grades",
            "works": "assess_route read_plant typical_plant walk_route",
        },
        "app design diagrams families heats lessons pictures properties relations service sheets"
        " standards works",
    ),
]
