"""The controls that the panels are built from."""
