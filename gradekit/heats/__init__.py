"""Heats: one batch of compositions, what travels beside it, reading and writing it."""
