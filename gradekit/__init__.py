"""From the composition of a stainless steel to what a grade designer has to answer."""

from __future__ import annotations

from importlib import import_module

from gradekit.composition import about, as_batch, bounds, messages
from gradekit.diagram import Diagram, diagram, load_diagram
from gradekit.draw import draw
from gradekit.elements import to_atomic_percent, to_weight_percent
from gradekit.errors import InputError
from gradekit.estimate import estimate
from gradekit.evaluate import Result, catalogue, evaluate, spread
from gradekit.explain import explain
from gradekit.flags import Flag
from gradekit.grades import grades
from gradekit.relation import Check, Function, Linear
from gradekit.solidification import solidification

__version__ = "0.1.0"

# Public names that load on first use, with their module. A name that is also the name of its
# module cannot wait (the module would stand in its place) and is imported above.
_LATER: dict[str, str] = {
    "Atmosphere": "service.exposure",
    "Brief": "design",
    "Certificate": "certificate",
    "Design": "design",
    "Plant": "route.plant",
    "Prices": "cost",
    "Route": "route.assess",
    "Scatter": "scatter",
    "Service": "service.needs",
    "aod_path": "draw_route",
    "assess_route": "route.assess",
    "brief_explorer": "app.brief_explorer",
    "buttering": "dilution",
    "casting_temperatures": "route.casting",
    "certifiable": "grade_check",
    "certificate_box": "app.certificate_box",
    "charge": "route.charging",
    "check_grade": "grade_check",
    "claims": "cells",
    "cold_map": "draw_route",
    "cold_schedule": "route.cold_rolling",
    "common_window": "grade_windows",
    "compare_grades": "compare",
    "contributions": "app.contributions",
    "course": "app.lesson",
    "design_grade": "design",
    "duplex_phases": "route.duplex_phases",
    "estimate_scatter": "scatter",
    "exercise_set": "lessons.sets",
    "explorer": "app.explorer",
    "finish": "route.finishing",
    "fit_chart": "draw_fit",
    "fit_property": "fit",
    "fitted_from": "fit",
    "flow_stress": "route.flow",
    "grade": "grades",
    "grain_after": "route.grain_growth",
    "hot_schedule": "route.hot_schedule",
    "internal_window": "grade_guard",
    "laboratory_sd": "grade_guard",
    "martensite": "route.martensite",
    "nearest_grades": "grade_near",
    "nitrogen": "route.gas",
    "nitrogen_map": "draw_route",
    "read_certificate": "certificate",
    "printed_limits": "notes",
    "read_heats": "reading",
    "read_heats_text": "reading",
    "read_plant": "route.plant",
    "read_prices": "cost",
    "read_scatter": "scatter",
    "refine": "route.aod",
    "register": "fit",
    "route_chart": "draw_route",
    "route_conditions": "route.assess",
    "route_explorer": "app.route_explorer",
    "rules": "grade_windows",
    "solidification_limits": "solidification",
    "teacher_page": "lessons.pages",
    "substitution": "app.substitution",
    "walk_route": "route.assess",
    "weld": "dilution",
    "weld_explorer": "app.weld_explorer",
    "what_separates": "grade_near",
    "window": "grade_windows",
    "works_grade": "service.candidate",
    "write_heats": "writing",
    "write_tables": "writing",
}

__all__ = [
    "Check",
    "Diagram",
    "Flag",
    "Function",
    "InputError",
    "Linear",
    "Result",
    "about",
    "as_batch",
    "bounds",
    "catalogue",
    "diagram",
    "draw",
    "estimate",
    "evaluate",
    "explain",
    "grades",
    "load_diagram",
    "messages",
    "solidification",
    "spread",
    "to_atomic_percent",
    "to_weight_percent",
    *_LATER,
]


def __getattr__(name: str) -> object:
    if name not in _LATER:
        raise AttributeError(f"gradekit has no public name '{name}'; it has {', '.join(__all__)}")
    found = getattr(import_module(f"gradekit.{_LATER[name]}"), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
