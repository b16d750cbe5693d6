"""The catalogue that the topic modules fill, and sums of relations already in it."""

from typing import Any

from gradekit.relations.collection import Catalogue
from gradekit.relations.declaration import Linear, Relation
from gradekit.relations.judgements import judged_errors, measured_error, measured_words

CATALOGUE = Catalogue(
    {name: (measured_error(name), measured_words(name)) for name in judged_errors()}
)


def mix(*parts: tuple[float, Relation], intercept: float = 0.0) -> dict[str, Any]:
    """Return intercept and terms of a weighted sum of linear relations, free of float noise."""
    terms: dict[str, float] = {}
    for weight, relation in parts:
        assert isinstance(relation, Linear)
        intercept += weight * relation.intercept
        for term, coefficient in relation.terms.items():
            terms[term] = terms.get(term, 0.0) + weight * coefficient
    return {
        "terms": {term: round(value, 10) for term, value in terms.items()},
        "intercept": round(intercept, 10),
    }
