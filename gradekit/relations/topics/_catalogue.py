"""The catalogue that the topic modules fill."""

from gradekit.relations.collection import Catalogue
from gradekit.relations.judgements import judged_errors, measured_error, measured_words

CATALOGUE = Catalogue(
    {name: (measured_error(name), measured_words(name)) for name in judged_errors()}
)
