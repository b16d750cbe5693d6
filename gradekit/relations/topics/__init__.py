"""The published relations, a module a topic; importing a topic declares its relations."""

from gradekit.relations.topics import (  # noqa: F401
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
