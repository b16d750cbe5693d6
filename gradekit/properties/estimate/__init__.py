"""The best supported estimate of a property."""
