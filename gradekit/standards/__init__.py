"""Grades of the standards: their limits, heats judged against them, what certificates claim."""

from gradekit.core.rooms import open_room

open_room(
    __name__,
    {
        "certificate": "Certificate read_certificate",
        "check": "certifiable check_grade",
        "grades": "grade grades typical_analysis",
        "guard": "internal_window laboratory_sd",
        "nearest": "nearest_grades what_separates",
        "room_left": "room_left",
        "steel": "family",
        "windows": "common_window rules window",
    },
)
