"""The parts of a fit: the table, its units and groups, the kinds tried, words and card."""
