"""Exercises for the student, made from the catalogue so that no answer can go stale."""

from gradekit.core.rooms import open_room

open_room(
    __name__,
    {
        "pages": "lesson_plan teacher_page",
        "scenes.plays": "scene",
        "sets": "exercise_set",
        "trial_works": "TrialWorks compare_plans learnt",
    },
)
