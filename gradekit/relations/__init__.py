"""Every published relation, declared once, one module a topic."""

from gradekit.relations.topics import (  # noqa: F401  (importing a topic declares its relations)
    equivalents,
    ferrite,
    melt,
    physical,
    pitting,
    precipitation,
    stability,
    strength,
    works,
)
from gradekit.relations.topics._catalogue import CATALOGUE

__all__ = ["CATALOGUE"]
