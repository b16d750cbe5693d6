"""Every published relation, declared once, one module a topic."""

from gradekit.relations import (  # noqa: F401  (importing a topic declares its relations)
    diagram_readings,
    equivalents,
    ferrite,
    melt,
    physical,
    pitting,
    precipitation,
    route,
    stability,
    strength,
)
from gradekit.relations._catalogue import CATALOGUE

__all__ = ["CATALOGUE"]
