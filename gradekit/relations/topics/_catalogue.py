"""The catalogue that the topic modules fill, and sums of relations already in it."""

from gradekit.relations.collection import Catalogue
from gradekit.relations.declaration import Linear
from gradekit.relations.judgements import judged, measured_error, measured_words

CATALOGUE = Catalogue({name: (measured_error(name), measured_words(name)) for name in judged()})


def mix(*parts: tuple[float, Linear], intercept: float = 0.0) -> dict:
    """Return intercept and terms of a weighted sum of linear relations, free of float noise."""
    terms: dict[str, float] = {}
    for weight, relation in parts:
        intercept += weight * relation.intercept
        for term, coefficient in relation.terms.items():
            terms[term] = terms.get(term, 0.0) + weight * coefficient
    return {
        "terms": {term: round(value, 10) for term, value in terms.items()},
        "intercept": round(intercept, 10),
    }
