"""Annealing and pickling."""
