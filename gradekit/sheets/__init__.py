"""Pages to print or to mail."""
