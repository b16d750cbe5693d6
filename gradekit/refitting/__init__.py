"""Making the model cards from the measured tables: trees, scales, judgements, and their text."""
