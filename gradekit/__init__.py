"""From the composition of a stainless steel to what a grade designer has to answer."""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType

from gradekit.composition import about, as_batch, bounds, messages
from gradekit.elements import to_atomic_percent, to_weight_percent
from gradekit.errors import InputError
from gradekit.evaluate import Result, evaluate, spread
from gradekit.explain import explain
from gradekit.flags import Flag
from gradekit.listing import catalogue
from gradekit.relation import Check, Function, Linear

__version__ = "0.1.0"

# Public names that load on first use, with their module, so that `import gradekit` costs little
# more than `import pandas`.
_LATER: dict[str, str] = {
    "Atmosphere": "service.exposure",
    "Brief": "design",
    "Certificate": "certificate",
    "Design": "design",
    "Diagram": "diagram",
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
    "diagram": "diagram",
    "draw": "draw",
    "duplex_phases": "route.duplex_phases",
    "estimate": "estimate",
    "estimate_chart": "draw_estimate",
    "estimate_scatter": "scatter",
    "exercise_set": "lessons.sets",
    "explorer": "app.explorer",
    "finish": "route.finishing",
    "fit_chart": "draw_fit",
    "fit_property": "fit",
    "fitted_from": "fit",
    "flow_stress": "route.flow",
    "grade": "grades",
    "grades": "grades",
    "grain_after": "route.grain_growth",
    "hot_schedule": "route.hot_schedule",
    "internal_window": "grade_guard",
    "laboratory_sd": "grade_guard",
    "load_diagram": "diagram",
    "martensite": "route.martensite",
    "model_card": "models",
    "nearest_grades": "grade_near",
    "nitrogen": "route.gas",
    "nitrogen_map": "draw_route",
    "printed_limits": "notes",
    "read_certificate": "certificate",
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
    "solidification": "solidification",
    "solidification_limits": "solidification_criteria",
    "substitution": "app.substitution",
    "teacher_page": "lessons.pages",
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


class _Face(ModuleType):
    """The package as its users see it: `gk.diagram` is the function, not the module it lives in."""

    def __setattr__(self, name: str, value: object) -> None:
        # the import system hangs every submodule on its package, also under a public name
        if not (name in _LATER and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Face
