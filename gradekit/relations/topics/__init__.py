"""The published relations, a module a topic."""
