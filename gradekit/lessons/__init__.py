"""Exercises for the student, made from the catalogue so that no answer can go stale."""
