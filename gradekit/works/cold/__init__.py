"""Cold rolling and temper."""
