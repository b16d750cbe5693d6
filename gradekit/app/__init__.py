"""Explorers: state (data), views (strings), controls and panels (widgets); computes nothing.

How an explorer is made is told in `gradekit.app.widgets.panel`.
"""

from gradekit.core.rooms import open_room

open_room(
    __name__,
    {
        "pages.course_page": "course_page",
        "panels.brief": "brief_explorer",
        "panels.certificate_box": "certificate_box",
        "panels.chapter": "chapter_explorer",
        "panels.class_report": "class_report",
        "panels.composition": "explorer",
        "panels.contributions": "contributions",
        "panels.course": "course",
        "panels.heats_box": "heats_box",
        "panels.route": "route_explorer",
        "panels.substitution": "substitution",
        "panels.weld": "weld_explorer",
    },
)
