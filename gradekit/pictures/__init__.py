"""Every drawing; matplotlib is imported here only."""
