"""Making the model cards from the measured tables."""
