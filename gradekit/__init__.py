"""From the composition of a stainless steel to what a grade designer has to answer."""

from __future__ import annotations

import sys
from importlib import import_module
from types import ModuleType

from gradekit.core.elements import to_atomic_percent, to_weight_percent
from gradekit.core.errors import InputError
from gradekit.core.flags import Flag
from gradekit.diagrams import readings as _readings  # noqa: F401  (declares them)
from gradekit.heats.batch import about, as_batch, bounds, messages
from gradekit.relations.declaration import Check, Function, Linear
from gradekit.relations.evaluate import Result, evaluate, spread
from gradekit.relations.explain import explain
from gradekit.relations.listing import catalogue

__version__ = "0.1.0"

# Public names that load on first use, with their module, so that `import gradekit` costs little
# more than `import pandas`.
_LATER: dict[str, str] = {
    "Atmosphere": "service.exposure",
    "Brief": "design.backwards",
    "Certificate": "standards.certificate",
    "Design": "design.backwards",
    "Diagram": "diagrams.constitution",
    "Plant": "works.plant",
    "Prices": "design.prices",
    "Route": "works.walk",
    "Scatter": "heats.scatter",
    "Service": "service.needs",
    "aod_path": "pictures.route_charts",
    "assess_route": "works.walk",
    "brief_explorer": "app.panels.brief",
    "buttering": "diagrams.dilution",
    "calibrate": "properties.calibrate.calibrate",
    "casting_temperatures": "works.cast.casting",
    "certifiable": "standards.check",
    "certificate_box": "app.panels.certificate_box",
    "charge": "works.melt.charging",
    "check_grade": "standards.check",
    "claims": "heats.certificates.cells",
    "cold_map": "pictures.route_charts",
    "cold_schedule": "works.cold.cold_rolling",
    "common_window": "standards.windows",
    "compare_grades": "service.comparison",
    "contributions": "app.panels.contributions",
    "course": "app.panels.course",
    "design_grade": "design.backwards",
    "diagram": "diagrams.constitution",
    "draw": "pictures.draw",
    "duplex_phases": "works.anneal.duplex_phases",
    "estimate": "properties.estimate.best",
    "estimate_chart": "pictures.temperature_chart",
    "estimate_scatter": "heats.scatter",
    "exercise_set": "lessons.sets",
    "explorer": "app.panels.composition",
    "finish": "works.finish.finishing",
    "fit_chart": "pictures.fit_chart",
    "fit_property": "properties.fit.fitted",
    "fitted_from": "properties.fit.fitted",
    "flow_stress": "works.hot.flow",
    "grade": "standards.grades",
    "grades": "standards.grades",
    "grain_after": "works.anneal.grain_growth",
    "hot_schedule": "works.hot.hot_schedule",
    "internal_window": "standards.guard",
    "laboratory_sd": "standards.guard",
    "load_diagram": "diagrams.constitution",
    "martensite": "works.cold.martensite",
    "model_card": "properties.estimate.cards",
    "nearest_grades": "standards.nearest",
    "nitrogen": "works.melt.gas",
    "nitrogen_map": "pictures.route_charts",
    "printed_limits": "heats.notes",
    "reading_report": "heats.report",
    "read_certificate": "standards.certificate",
    "read_heats": "heats.reading",
    "read_heats_text": "heats.reading",
    "read_plant": "works.plant",
    "read_prices": "design.prices",
    "read_scatter": "heats.scatter",
    "refine": "works.melt.aod",
    "register": "properties.fit.fitted",
    "route_chart": "pictures.route_charts",
    "route_conditions": "works.walk",
    "route_explorer": "app.panels.route",
    "rules": "standards.windows",
    "solidification": "diagrams.solidification",
    "solidification_limits": "diagrams.criteria",
    "substitution": "app.panels.substitution",
    "teacher_page": "lessons.pages",
    "typical_analysis": "standards.grades",
    "walk_route": "works.walk",
    "weld": "diagrams.dilution",
    "weld_explorer": "app.panels.weld",
    "what_separates": "standards.nearest",
    "why": "relations.why",
    "window": "standards.windows",
    "works_grade": "service.candidate",
    "write_heats": "heats.writing",
    "write_tables": "heats.writing",
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
