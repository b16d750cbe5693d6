"""Every composition of a space held against a brief."""
