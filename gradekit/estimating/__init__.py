"""How each property is estimated: by a model card, by a published relation, or not at all."""
