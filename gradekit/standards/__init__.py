"""Grades of the standards: their limits, heats judged against them, what certificates claim."""
